// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/food.h"

#include "base/tolerance.h"
#include "base/units.h"

const struct pc_food pc_foods[PC_FOODS] = {
    {"tomato", {42, 50, 36}},
    {"leaf", {38, -22, 26}},
    {"raw meat", {38, 26, 12}},
    {"bread crust", {52, 15, 33}},
};

// As in image/colour/rendering.c: a difference has its crest at nothing.
static const double CREST = 1.15;

struct plate {
    const struct pc_spectrum *light;
    struct pc_spectrum made[PC_FOODS];
};

static bool look(const struct plate *plate, const struct pc_spectrum *light,
                 struct pc_food_change change[PC_FOODS])
{
    for (int i = 0; i < PC_FOODS; i++) {
        double wanted[3], seen[3];
        if (!pc_spectrum_change(light, &plate->made[i], &change[i].de2000, wanted, seen))
            return false;
        change[i].lightness = seen[0] - wanted[0];
        change[i].chroma = hypot(seen[1], seen[2]) - hypot(wanted[1], wanted[2]);
        double hue = pc_deg_from_rad(atan2(seen[2], seen[1]) - atan2(wanted[2], wanted[1]));
        change[i].hue_deg = hue > 180 ? hue - 360 : hue < -180 ? hue + 360 : hue;
    }
    return true;
}

static bool answer(const void *given, const double x[], double y[])
{
    const struct plate *plate = given;
    struct pc_spectrum light = pc_spectrum_misread(plate->light, x[0], x[1]);
    struct pc_food_change change[PC_FOODS];
    if (!look(plate, &light, change))
        return false;
    for (int i = 0; i < PC_FOODS; i++)
        y[i] = change[i].de2000;
    return true;
}

bool pc_food_changes(const struct pc_spectrum *light, double wavelength_tolerance_nm,
                     double tilt_tolerance_pct, struct pc_food_change change[PC_FOODS])
{
    struct plate plate = {.light = light};
    for (int i = 0; i < PC_FOODS; i++) {
        bool a_colour = pc_spectrum_smoothest(pc_foods[i].lab, &plate.made[i]);
        PC_ASSERT(a_colour);
    }
    const double x[2] = {0, 0}, within[2] = {wavelength_tolerance_nm, tilt_tolerance_pct / 100};
    double y[PC_FOODS], y_within[PC_FOODS];
    if (!look(&plate, light, change) || !pc_tolerance(answer, &plate, 2, x, within, PC_FOODS, y, y_within))
        return false;
    for (int i = 0; i < PC_FOODS; i++)
        change[i].de2000_tolerance = CREST * y_within[i];
    return true;
}
