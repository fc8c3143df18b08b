// SPDX-License-Identifier: Apache-2.0
// Words and figures that several checks say.
#include "shoot/check/check_priv.h"

const char *pc_check_place_name(enum pc_check_place place)
{
    static const char *const names[PC_CHECK_PLACES] = {"hero",  "surface", "grey card",
                                                       "sauce", "rim",     "front edge"};
    return names[place];
}

void pc_check_stops(double ev, char *out, size_t size)
{
    int thirds = (int)lround(3.0 * fmin(fabs(ev), 30.0));
    thirds = thirds < 1 ? 1 : thirds;
    int whole = thirds / 3, left = thirds % 3;
    if (left == 0)
        snprintf(out, size, "%d stop%s", whole, whole == 1 ? "" : "s");
    else if (whole == 0)
        snprintf(out, size, "%d/3 stop", left);
    else
        snprintf(out, size, "%d %d/3 stops", whole, left);
}

void pc_check_shutter(double s, char *out, size_t size)
{
    if (s < 0.3)
        snprintf(out, size, "1/%.0f s", 1.0 / s);
    else
        snprintf(out, size, "%.2g s", s);
}

double pc_check_Y(const struct pc_check_look *look, const double camera[3])
{
    if (!look->has_xyz || !look->has_neutral)
        return camera[look->small.channels == 3 ? 1 : 0];
    const double *row = look->xyz_from_camera[1], *neutral = look->neutral_ratio;
    return (row[0] * camera[0] + row[1] * camera[1] + row[2] * camera[2]) /
           (row[0] * neutral[0] + row[1] * neutral[1] + row[2] * neutral[2]);
}
