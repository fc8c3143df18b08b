// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/curve.h"

#include "light/lamp/knots_priv.h"

static const double STRAIGHT_TOLERANCE_PCT = 15.0;

struct pc_curve pc_curve_straight(void)
{
    return (struct pc_curve){.points = 0, .tolerance_pct = STRAIGHT_TOLERANCE_PCT};
}

// In log dial (x) and log light (y); x = 0 is full dial.
static struct pc_knots knots_from_curve(const struct pc_curve *curve)
{
    PC_ASSERT(curve->points <= PC_CURVE_POINTS_MAX);
    struct pc_knots knots = {.count = curve->points};
    for (int i = 0; i < knots.count; i++) {
        knots.x[i] = log(curve->dial_ratio[i]);
        knots.y[i] = log(curve->light_ratio[i]);
    }
    pc_knots_tangents(&knots);
    return knots;
}

double pc_curve_light(const struct pc_curve *curve, double dial_ratio)
{
    double dial = fmin(fmax(dial_ratio, 0.0), 1.0);
    if (curve->points == 0 || dial == 0.0)
        return dial;
    struct pc_knots knots = knots_from_curve(curve);
    return exp(pc_knots_at(&knots, log(dial)) - pc_knots_at(&knots, 0.0));
}

double pc_curve_dial(const struct pc_curve *curve, double light_ratio)
{
    double light = fmin(fmax(light_ratio, 0.0), 1.0);
    if (curve->points == 0 || light == 0.0)
        return light;
    struct pc_knots knots = knots_from_curve(curve);
    return fmin(exp(pc_knots_find(&knots, log(light) + pc_knots_at(&knots, 0.0))), 1.0);
}
