// SPDX-License-Identifier: Apache-2.0
// Daylight at the hero where many places or suns are to be gone through and no tolerance is asked for. Pure;
// safe from any thread.
#ifndef PC_LIGHT_SKY_DAYLIGHT_QUICK_H
#define PC_LIGHT_SKY_DAYLIGHT_QUICK_H

#include "light/sky/daylight.h"

// The skies with the sun at one place, gone through once for all places. The sun is up.
struct pc_daylight_skies {
    struct pc_sun sun;
    int day_of_year;
    double outside_sr[2]; // horizontal integrals of the overcast and the clear sky
};

struct pc_daylight_skies pc_daylight_skies_of(const struct pc_sun *sun, int day_of_year);

// As pc_daylight_at gives them without tolerances, within 3 % of it (fewer points across an opening). place
// has passed pc_opening_check.
void pc_daylight_quick(const struct pc_daylight_place *place, const struct pc_daylight_skies *skies,
                       double *overcast_lx, double *clear_lx);

#endif
