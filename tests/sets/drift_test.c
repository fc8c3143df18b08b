// SPDX-License-Identifier: Apache-2.0
// A window that changes while the set is taken.
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

static void drift_some(struct sim_setup *setup, int seed)
{
    setup->window.drift_ratio = (seed % 2 ? 1.0 : -1.0) * (0.04 + 0.01 * (seed % 10));
    setup->window.drift_s = setup->step_s * (setup->light_count + 1);
}

static void drift_much(struct sim_setup *setup, int seed)
{
    setup->window.drift_ratio = (seed % 2 ? 0.20 : -0.19) - 0.01 * (seed % 5) * (seed % 2 ? -1.0 : 1.0);
    setup->window.drift_s = setup->step_s * (setup->light_count + 1);
}

void a_drifting_window_is_taken_off(void **state)
{
    (void)state;
    int from, count, failed = 0;
    seeds_asked(&from, &count, 6);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, drift_some);
        b->shots = sim_series_job(&b->setup, 1.0, b->shot);
        bench_shoot(b);
        struct sim_shot shot;
        struct misses m = {.median_ev = INFINITY};
        sim_shot_held_out(&b->setup, (uint64_t)seed, false, &shot);
        double true_pct = 100.0 * b->setup.window.drift_ratio;
        if (bench_parts(b) == PC_OK && bench_read(b, false) == PC_OK)
            held_out(b, &shot, &m);
        bool good = m.median_ev <= MEDIAN_EV && m.worst_twentieth_ev <= WORST_TWENTIETH_EV &&
                    fabs(b->parts.drift_pct - true_pct) < 1.0;
        if (!good)
            print_message("seed %d: drift %.1f %% read as %.1f %%, median %.3f EV, 95 %% %.3f EV %s\n", seed,
                          true_pct, b->parts.drift_pct, m.median_ev, m.worst_twentieth_ev, b->err.text);
        failed += !good;
        bench_end(b);
    }
    judge("drift taken off", failed, count, 2);
}

void too_much_drift_is_refused_by_name(void **state)
{
    (void)state;
    int from, count, failed = 0;
    seeds_asked(&from, &count, 4);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, drift_much);
        b->shots = sim_series_job(&b->setup, 1.0, b->shot);
        bench_shoot(b);
        enum pc_status status = bench_parts(b);
        bool good = status == PC_BAD_INPUT && strstr(b->err.text, "window changed by") != NULL &&
                    strstr(b->err.place, b->shot[0].name) != NULL &&
                    strstr(b->err.place, b->shot[b->shots - 1].name) != NULL;
        if (!good)
            print_message("seed %d: %d %s: %s\n", seed, (int)status, b->err.place, b->err.text);
        failed += !good;
        bench_end(b);
    }
    judge("too much drift refused", failed, count, 2);
}
