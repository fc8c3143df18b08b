// SPDX-License-Identifier: Apache-2.0
// What stands before a lamp: a barn door, a scrim.
#include "light/lamp/reach.h"

#include "base/tolerance.h"
#include "base/units.h"
#include "light/lamp/area.h"

enum { FULL, HALF, DARK, DOOR_ANSWERS };
enum { LIGHT, LOST, WIDE, PENUMBRA, CLOTH_ANSWERS };

// x: width, blade, open, distance.
static bool door_answer(const void *given, const double x[], double y[])
{
    (void)given;
    double half_m = 0.5 * x[0], open_rad = pc_rad_from_deg(x[2]), distance_m = x[3];
    // Opening, the edge goes from over the lamp (0) outwards.
    double edge_m = half_m - x[1] * cos(open_rad), before_m = x[1] * sin(open_rad);
    if (!(half_m > 0 && x[1] > 0 && distance_m > before_m))
        return false;
    if (!(before_m > 1e-9)) {
        y[FULL] = y[HALF] = y[DARK] = INFINITY;
        return open_rad > PC_PI / 2;
    }
    // Of the lamp's points from -half to half, each is seen up to where its ray past the edge meets the
    // plane.
    double grows = distance_m / before_m;
    y[FULL] = half_m + (edge_m - half_m) * grows;
    y[HALF] = edge_m * grows;
    y[DARK] = -half_m + (edge_m + half_m) * grows;
    return true;
}

bool pc_reach_door(const struct pc_door_given *g, struct pc_door *door)
{
    const double x[] = {g->width_m, g->blade_m, g->open_deg, g->distance_m};
    const double within[] = {g->width_m_tolerance, g->blade_m_tolerance, g->open_deg_tolerance,
                             g->distance_m_tolerance};
    double y[DOOR_ANSWERS], t[DOOR_ANSWERS];
    if (!pc_tolerance(door_answer, NULL, 4, x, within, DOOR_ANSWERS, y, t))
        return false;
    *door = (struct pc_door){y[FULL], t[FULL], y[HALF], t[HALF], y[DARK], t[DARK]};
    return true;
}

// How wide the patch is that a lamp lights on a cloth: the light across its middle, as if it were even and as
// strong as there. Simpson's rule.
static double lit_width_m(const struct pc_polygon *lamp, double before_m, double side_m)
{
    enum { STEPS = 32 };
    double sum = 0, middle = 0;
    for (int i = 0; i <= STEPS; i++) {
        const struct pc_receiver back = {{side_m * ((double)i / STEPS - 0.5), 0, before_m}, {0, 0, 1}};
        double lx = pc_polygon_lx(lamp, &back);
        sum += lx * (i == 0 || i == STEPS ? 1 : i % 2 == 1 ? 4 : 2);
        middle = i == STEPS / 2 ? lx : middle;
    }
    return sum / middle * side_m / (3 * STEPS);
}

// x: width, height, at 1 m, of that, distance, edge; side, before, loss, direct.
static bool cloth_answer(const void *given, const double x[], double y[])
{
    bool round = *(const bool *)given;
    double distance_m = x[4], edge_m = fmax(x[5], 0), side_m = x[6], before_m = x[7];
    if (!(x[0] > 0 && (round || x[1] > 0) && x[2] > 0 && x[3] >= 0 && side_m > 0 && before_m > edge_m &&
          distance_m > before_m))
        return false;
    double passed = fmin(pc_ratio_from_ev(-x[8]), 1), direct = fmin(fmax(x[9], 0), 1);
    const double lamp_m[3] = {0, 0, distance_m}, cloth_m[3] = {0, 0, before_m}, down[3] = {0, 0, -1};
    const struct pc_receiver place = {{0, 0, 0}, {0, 0, 1}};
    const struct pc_scrim_cloth kind = {passed * direct, passed * (1 - direct)};
    struct pc_polygon lamp =
        round ? pc_polygon_round(lamp_m, down, x[0]) : pc_polygon_rectangle(lamp_m, down, x[0], x[1]);
    struct pc_polygon cloth = pc_polygon_rectangle(cloth_m, down, side_m, side_m);
    double luminance = x[2] * x[3] / pc_reach_axis_lx(round, x[0], x[1], 1);
    double bare = pc_polygon_lx(&lamp, &place), through = pc_scrim_lx(&lamp, &cloth, &kind, &place);
    y[LIGHT] = luminance * through;
    y[LOST] = pc_ev_from_ratio(bare / through);
    double lit_m = lit_width_m(&lamp, before_m, side_m);
    y[WIDE] = pc_deg_from_rad(2 * atan(0.5 * lit_m / before_m));
    y[PENUMBRA] = pc_penumbra_m(lit_m, before_m, edge_m);
    return isfinite(y[LOST]);
}

bool pc_reach_cloth(const struct pc_reach_given *g, const struct pc_cloth_given *c, struct pc_cloth *reach)
{
    const double x[] = {g->width_m, g->height_m, g->at_1m,    g->light_ratio, g->distance_m,
                        g->edge_m,  c->side_m,   c->before_m, c->loss_ev,     c->direct_ratio};
    const double within[] = {g->size_m_tolerance,      g->size_m_tolerance,     g->at_1m_tolerance,
                             g->light_ratio_tolerance, g->distance_m_tolerance, g->edge_m_tolerance,
                             c->side_m_tolerance,      c->before_m_tolerance,   c->loss_ev_tolerance,
                             c->direct_ratio_tolerance};
    double y[CLOTH_ANSWERS], t[CLOTH_ANSWERS];
    if (!pc_tolerance(cloth_answer, &g->round, 10, x, within, CLOTH_ANSWERS, y, t))
        return false;
    *reach =
        (struct pc_cloth){y[LIGHT], t[LIGHT], y[LOST], t[LOST], y[WIDE], t[WIDE], y[PENUMBRA], t[PENUMBRA]};
    return true;
}
