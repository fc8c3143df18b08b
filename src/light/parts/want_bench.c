// SPDX-License-Identifier: Apache-2.0
#include "light/parts/want_bench.h"

#include <setjmp.h>
#include <cmocka.h>

void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

void make_reading(struct pc_reading *r, int lights, int places, double lx[][4], double dial_ratio)
{
    *r = (struct pc_reading){.place_count = places, .light_count = lights, .emitter_count = lights};
    for (int i = 0; i < lights; i++) {
        struct pc_reading_light *l = &r->light[i];
        *l = (struct pc_reading_light){.emitter_count = 1,
                                       .emitter = {i},
                                       .dial_ratio = dial_ratio,
                                       .kelvin_K = NAN,
                                       .curve = pc_curve_straight()};
        snprintf(l->name, sizeof l->name, "P%d", i + 1);
        r->emitter[i].light = i;
        r->emitter[i].cct_K = NAN;
    }
    for (int p = 0; p < places; p++) {
        for (int k = 0; k < 3; k++) {
            for (int i = 0; i < lights; i++)
                r->emitter[i].xyz[p][k] = lx[i][p];
            r->ambient_xyz[p][k] = lx[lights][p];
        }
    }
}

void make_flagged_key(struct pc_reading *r)
{
    make_reading(r, 1, 2, (double[][4]){{3500, 0}, {700, 700}}, 1);
}
