// SPDX-License-Identifier: Apache-2.0
// Something on the table that was touched between two frames.
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

static void with_napkin(struct sim_setup *setup, int seed)
{
    (void)seed;
    setup->table.napkin.there = true;
}

void a_nudged_napkin_is_found(void **state)
{
    (void)state;
    int from, count, failed = 0;
    seeds_asked(&from, &count, 12);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, with_napkin);
        b->shots = sim_series_job(&b->setup, 1.0, b->shot);
        double angle = seed * 2.4;
        sim_series_nudge(b->shot, b->shots, 1 + seed % (b->shots - 1), 4.0 * cos(angle), 4.0 * sin(angle));
        bench_shoot(b);
        double x, y;
        bool seen = sim_place_px(b->scene, &b->shot[0], SIM_PLACE_NAPKIN, &x, &y), good = !seen;
        enum pc_status status = bench_parts(b);
        for (int i = 0; i < b->parts.moved_count; i++)
            good = good || (fabs(b->parts.moved[i].x_px - x) < b->parts.moved[i].width_px &&
                            fabs(b->parts.moved[i].y_px - y) < b->parts.moved[i].height_px);
        good = good && status == PC_OK;
        if (!good)
            print_message("seed %d: nudge at %.0f,%.0f not found (%d found) %s\n", seed, x, y,
                          b->parts.moved_count, b->err.text);
        failed += !good;
        bench_end(b);
    }
    judge("a 4 px nudge found", failed, count, 5);
}
