// SPDX-License-Identifier: Apache-2.0
#include "light/sky/daylight_quick.h"

#include "light/sky/daylight_priv.h"

enum { QUICK_BANDS = 2 };

struct pc_daylight_skies pc_daylight_skies_of(const struct pc_sun *sun, int day_of_year)
{
    struct daylight_given given = pc_daylight_given(NULL, sun, day_of_year, QUICK_BANDS);
    return (struct pc_daylight_skies){*sun, day_of_year, {given.outside_sr[0], given.outside_sr[1]}};
}

void pc_daylight_quick(const struct pc_daylight_place *place, const struct pc_daylight_skies *skies,
                       double *overcast_lx, double *clear_lx)
{
    const struct daylight_given given = {
        place, &skies->sun, skies->day_of_year, QUICK_BANDS, {skies->outside_sr[0], skies->outside_sr[1]}};
    double x[IN_COUNT] = {0.0}, y[OUT_COUNT];
    bool answered = pc_daylight_answer(&given, x, y);
    PC_ASSERT(answered);
    *overcast_lx = y[OUT_OVERCAST];
    *clear_lx = y[OUT_CLEAR];
}
