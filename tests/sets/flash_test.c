// SPDX-License-Identifier: Apache-2.0
// Flash and steady light, each by its own clock.
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

static void one_flash(struct sim_setup *setup, int seed)
{
    straight_still_lamps(setup, seed);
    int k = seed % setup->light_count;
    double full_lx = setup->light[k].full_lx_at_1m;
    setup->light[k].flash = true;
    setup->light[k].emitters = 1;
    // One pop gives about what the panel gave in one exposure of the set.
    setup->light[k].full_lx_at_1m = full_lx * exp2(setup->shutter_thirds / 3.0);
    setup->shutters_differ = true;
}

// The set at one shutter, the flash frame among it; then all of it at a quarter of the time: the flash stays,
// the rest goes. Foretold against the noiseless truth.
void flash_and_ambient_keep_their_own_clocks(void **state)
{
    (void)state;
    int from, count, failed = 0;
    seeds_asked(&from, &count, 6);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, one_flash);
        b->shots = sim_series_job(&b->setup, 1.0, b->shot);
        bench_shoot(b);
        struct misses m = {.median_ev = INFINITY};
        if (bench_parts(b) == PC_OK && bench_read(b, false) == PC_OK) {
            struct sim_shot shot;
            sim_shot_held_out(&b->setup, (uint64_t)seed, false, &shot);
            shot.shutter_thirds = b->shot[0].shutter_thirds - 6;
            held_out(b, &shot, &m);
        }
        bool good = m.median_ev <= 0.1 && m.worst_twentieth_ev <= 0.2;
        if (!good)
            print_message("seed %d: flash set, median %.3f EV, 95 %% %.3f EV %s %s\n", seed, m.median_ev,
                          m.worst_twentieth_ev, b->err.place, b->err.text);
        failed += !good;
        bench_end(b);
    }
    judge("flash and ambient apart", failed, count, 2);
}
