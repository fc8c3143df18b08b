// SPDX-License-Identifier: Apache-2.0
// What a light gives at dials between those of its frames.
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

static void bent_dials(struct sim_setup *setup, int seed)
{
    setup->light_count = 1;
    setup->light[0].sag_ratio = 0.0;
    setup->light[0].emitters = 1;
    setup->light[0].flash = false;
    setup->light[0].curve = (enum sim_curve)(seed % 3);
    setup->light[0].curve_shape = seed % 3 == SIM_CURVE_POWER ? 1.3 + 0.1 * (seed % 10) : 0.1 * (seed % 10);
    setup->window.drift_ratio = 0.0;
}

void a_dial_curve_from_six_frames_foretells_the_rest(void **state)
{
    (void)state;
    static const double dials[6] = {0.1, 0.25, 0.4, 0.6, 0.8, 1.0};
    int from, count, failed = 0;
    seeds_asked(&from, &count, 9);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, bent_dials);
        struct sim_shot job[SIM_SHOTS_MAX];
        sim_series_job(&b->setup, 1.0, job);
        b->shot[b->shots++] = job[0];
        for (int i = 0; i < 6; i++) {
            struct sim_shot *shot = &b->shot[b->shots++];
            *shot = job[1];
            shot->dial_ratio[0] = dials[i];
            shot->time_s = b->setup.step_s * (i + 1);
            shot->noise_seed += (uint64_t)i + 100;
            snprintf(shot->name, sizeof shot->name, "dial-%02.0f", 100.0 * dials[i]);
        }
        b->shot[b->shots] = job[2];
        b->shot[b->shots++].time_s = b->setup.step_s * 7;
        bench_shoot(b);
        double worst = INFINITY;
        if (bench_parts(b) == PC_OK && bench_read(b, false) == PC_OK) {
            worst = 0.0;
            for (double dial = 0.12; dial < 1.0; dial += 0.02) {
                double truth =
                    sim_light_curve(&b->setup.light[0], dial) / sim_light_curve(&b->setup.light[0], 1.0);
                worst = fmax(worst, fabs(pc_curve_light(&b->reading.light[0].curve, dial) / truth - 1.0));
            }
        }
        bool good = worst <= 0.03 && b->reading.light[0].curve.points >= 4;
        if (!good)
            print_message("seed %d: curve %d shape %.2f, worst %.1f %% %s\n", seed,
                          (int)b->setup.light[0].curve, b->setup.light[0].curve_shape, 100.0 * worst,
                          b->err.text);
        failed += !good;
        bench_end(b);
    }
    judge("dial curves", failed, count, 2);
}
