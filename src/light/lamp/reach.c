// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/reach.h"

#include "base/tolerance.h"
#include "base/units.h"
#include "light/lamp/area.h"

enum { LIGHT, FNUMBER, OVER_1M, WIDE, HIGH, PENUMBRA, ANSWERS };

double pc_reach_axis_lx(bool round, double width_m, double height_m, double distance_m)
{
    if (!round)
        return 4 * pc_rectangle_parallel_lx(0.5 * width_m, 0.5 * height_m, distance_m);
    double r2 = 0.25 * width_m * width_m;
    return PC_PI * r2 / (r2 + distance_m * distance_m);
}

static double looks_deg(double size_m, double distance_m)
{
    return pc_deg_from_rad(2 * atan(0.5 * size_m / distance_m));
}

// x: width, height, at 1 m, of that, distance, edge.
static bool answer(const void *given, const double x[], double y[])
{
    bool round = *(const bool *)given;
    double width_m = x[0], height_m = round ? x[0] : x[1], distance_m = x[4];
    if (!(width_m > 0 && height_m > 0 && distance_m > 0 && x[2] > 0 && x[3] >= 0))
        return false;
    double ratio = pc_reach_axis_lx(round, width_m, height_m, distance_m) /
                   pc_reach_axis_lx(round, width_m, height_m, 1);
    y[LIGHT] = x[2] * x[3] * ratio;
    y[FNUMBER] = sqrt(y[LIGHT]);
    y[OVER_1M] = ratio;
    y[WIDE] = looks_deg(width_m, distance_m);
    y[HIGH] = looks_deg(height_m, distance_m);
    y[PENUMBRA] = pc_penumbra_m(fmax(width_m, height_m), distance_m, fmax(x[5], 0));
    return isfinite(y[PENUMBRA]);
}

bool pc_reach_lamp(const struct pc_reach_given *g, struct pc_reach *reach)
{
    const double x[] = {g->width_m, g->height_m, g->at_1m, g->light_ratio, g->distance_m, g->edge_m};
    const double within[] = {g->size_m_tolerance,      g->size_m_tolerance,     g->at_1m_tolerance,
                             g->light_ratio_tolerance, g->distance_m_tolerance, g->edge_m_tolerance};
    double y[ANSWERS], t[ANSWERS];
    if (!pc_tolerance(answer, &g->round, 6, x, within, ANSWERS, y, t))
        return false;
    *reach = (struct pc_reach){
        .light = y[LIGHT],
        .light_tolerance = t[LIGHT],
        .fnumber = y[FNUMBER],
        .fnumber_tolerance = t[FNUMBER],
        .over_1m_ratio = y[OVER_1M],
        .over_1m_ratio_tolerance = t[OVER_1M],
        .wide_deg = y[WIDE],
        .wide_deg_tolerance = t[WIDE],
        .high_deg = y[HIGH],
        .high_deg_tolerance = t[HIGH],
        .penumbra_m = y[PENUMBRA],
        .penumbra_m_tolerance = t[PENUMBRA],
        .point_over_pct = 100 * (1 / (g->distance_m * g->distance_m) / y[OVER_1M] - 1),
    };
    return true;
}
