// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/floor.h"

#include "base/units.h"

double pc_advise_floor_stops(double key_lx, double ambient_lx)
{
    if (!(key_lx >= 0 && ambient_lx >= 0 && key_lx + ambient_lx > 0))
        return (double)NAN;
    return pc_ev_from_ratio((key_lx + ambient_lx) / ambient_lx);
}

double pc_advise_floor_ambient_lx(double key_lx, double stops)
{
    return stops > 0 && key_lx >= 0 ? key_lx / (pc_ratio_from_ev(stops) - 1) : (double)NAN;
}
