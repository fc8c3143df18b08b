// SPDX-License-Identifier: Apache-2.0
// Who lights what, and how surely, on a tripod.
#include "light/parts/answers.h"
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

void shares_and_their_tolerances_hold(void **state)
{
    (void)state;
    int from, count, failed = 0, figures = 0, outside = 0;
    seeds_asked(&from, &count, 8);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, NULL);
        b->shots = sim_series_job(&b->setup, 1.0, b->shot);
        bench_shoot(b);
        struct pc_answers answers;
        struct pc_dials now;
        if (bench_parts(b) != PC_OK || bench_read(b, false) != PC_OK) {
            print_message("seed %d: %s: %s\n", seed, b->err.place, b->err.text);
            failed++;
            bench_end(b);
            continue;
        }
        pc_reading_dials_now(&b->reading, &now);
        pc_answers_make(&b->parts, &b->reading, &now, PC_NO_PLACE, NULL, &answers);
        double shares[2][SIM_LIGHTS_MAX];
        true_shares(b, SIM_PLACE_HERO, shares[0]);
        true_shares(b, SIM_PLACE_SURFACE, shares[1]);
        for (int i = 0; i < b->reading.light_count; i++) {
            int light = sim_light_of(b, b->reading.light[i].name);
            for (int p = 0; p < 2; p++) {
                double truth = shares[p][light];
                struct pc_figure got = answers.light[i].share_ratio[p];
                figures++;
                if (fabs(got.value - truth) > got.tolerance + 0.002) {
                    outside++;
                    print_message("seed %d: %s at %s: %.4f +- %.4f, truly %.4f\n", seed,
                                  b->reading.light[i].name, b->reading.place[p].name, got.value,
                                  got.tolerance, truth);
                }
            }
        }
        bench_end(b);
    }
    print_message("shares: %d of %d outside their tolerance\n", outside, figures);
    judge("shares read", failed, count, 2);
    if (outside * 20 > figures)
        fail_msg("%d of %d shares lie outside their 95 %% tolerance", outside, figures);
}
