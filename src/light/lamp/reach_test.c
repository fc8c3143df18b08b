// SPDX-License-Identifier: Apache-2.0
// A lamp at a distance, bare, with a barn door, behind a scrim; each tolerance judged by drawing its inputs.
#include "light/lamp/reach.h"

#include "base/units.h"
#include "light/lamp/area.h"
#include "tests/monte_carlo.h"

static void near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.10g, want %.10g within %g", what, got, want, within);
}

static const struct pc_reach_given P1 = {.width_m = .3,
                                         .height_m = .3,
                                         .size_m_tolerance = .01,
                                         .at_1m = 2900,
                                         .at_1m_tolerance = 290,
                                         .light_ratio = 1,
                                         .distance_m = .9,
                                         .distance_m_tolerance = .01,
                                         .edge_m = .05,
                                         .edge_m_tolerance = .01};

static void a_panel_at_a_distance(void **state)
{
    (void)state;
    struct pc_reach r;
    assert_true(pc_reach_lamp(&P1, &r));
    // A point would give 2900 / 0.81 = 3580; a panel as large as a third of the distance gives 0.6 % less,
    // 2900 times the ratio of two squares seen from 0.9 and 1 m (each by plain sums in area_test.c).
    near("lx", r.light, 3580, 0.01 * 3580);
    near("lx", r.light, 2900 * pc_reach_axis_lx(false, .3, .3, .9) / pc_reach_axis_lx(false, .3, .3, 1),
         1e-9);
    near("point", r.point_over_pct, 100 * (3580.2469 / r.light - 1), 1e-6);
    near("looks", r.wide_deg, 2 * atan(.15 / .9) * 180 / PC_PI, 1e-9);
    near("penumbra", r.penumbra_m, .3 * .05 / .85, 1e-12);
    // 10 % from the sheet, 2.2 % from the tape.
    near("tolerance", r.light_tolerance / r.light, hypot(.1, .0225), 0.002);
    struct pc_reach_given bad = P1;
    bad.edge_m = .95;
    assert_false(pc_reach_lamp(&bad, &r));
    bad = P1;
    bad.distance_m = 0;
    assert_false(pc_reach_lamp(&bad, &r));
    // A disc in closed form.
    struct pc_reach_given bowl = P1;
    bowl.round = true;
    bowl.distance_m = 2;
    assert_true(pc_reach_lamp(&bowl, &r));
    near("bowl", r.over_1m_ratio, (.0225 + 1) / (.0225 + 4), 1e-12);
}

static bool reach_of(const void *given, const double x[], double y[])
{
    struct pc_reach_given g = *(const struct pc_reach_given *)given;
    g.width_m = x[0];
    g.height_m = x[1];
    g.at_1m = x[2];
    g.light_ratio = x[3];
    g.distance_m = x[4];
    g.edge_m = x[5];
    struct pc_reach r;
    if (!pc_reach_lamp(&g, &r))
        return false;
    y[0] = r.light;
    y[1] = r.over_1m_ratio;
    y[2] = r.wide_deg;
    y[3] = r.high_deg;
    y[4] = r.penumbra_m;
    y[5] = r.fnumber;
    return true;
}

static void what_a_reach_is_good_to(void **state)
{
    (void)state;
    struct pc_reach_given strip = P1;
    strip.width_m = .6;
    strip.height_m = .2;
    strip.light_ratio = .55;
    strip.light_ratio_tolerance = .08;
    const struct pc_reach_given *const all[] = {&P1, &strip};
    for (size_t i = 0; i < PC_COUNT(all); i++) {
        const struct pc_reach_given *g = all[i];
        struct pc_reach r;
        assert_true(pc_reach_lamp(g, &r));
        const double x[] = {g->width_m, g->height_m, g->at_1m, g->light_ratio, g->distance_m, g->edge_m};
        const double within[] = {g->size_m_tolerance,      g->size_m_tolerance,     g->at_1m_tolerance,
                                 g->light_ratio_tolerance, g->distance_m_tolerance, g->edge_m_tolerance};
        const double stated[] = {r.light_tolerance,    r.over_1m_ratio_tolerance, r.wide_deg_tolerance,
                                 r.high_deg_tolerance, r.penumbra_m_tolerance,    r.fnumber_tolerance};
        mc_judge("reach", reach_of, g, 6, x, within, 6, stated);
    }
}

static const struct pc_door_given STRAIGHT = {.width_m = .3,
                                              .width_m_tolerance = .01,
                                              .blade_m = .15,
                                              .blade_m_tolerance = .005,
                                              .open_deg = 100,
                                              .open_deg_tolerance = 3,
                                              .distance_m = .9,
                                              .distance_m_tolerance = .01};

// What the light on the plane is by clipping the panel at the blade: whole, half and none where the door
// says.
static void a_door_cuts_where_it_says(void **state)
{
    (void)state;
    for (double open = 60; open < 150; open += 15) {
        struct pc_door_given given = STRAIGHT;
        struct pc_door door;
        given.open_deg = open;
        assert_true(pc_reach_door(&given, &door));
        double edge_x = .15 - .15 * cos(pc_rad_from_deg(open)),
               edge_z = .9 - .15 * sin(pc_rad_from_deg(open));
        const struct pc_blade blade = {{.15, 0, .9}, {{edge_x, -1, edge_z}, {edge_x, 1, edge_z}}};
        struct pc_polygon panel =
            pc_polygon_rectangle((const double[]){0, 0, .9}, (const double[]){0, 0, -1}, .3, .3);
        const struct {
            double x_m, seen_m;
        } at[] = {{door.full_m - 1e-4, .3}, {door.half_m, .15}, {door.dark_m + 1e-4, 0}};
        for (size_t i = 0; i < PC_COUNT(at); i++) {
            const double place[3] = {at[i].x_m, 0, 0};
            struct pc_polygon seen = pc_polygon_behind_blades(&panel, &blade, 1, place);
            double low = 1, high = -1;
            for (int k = 0; k < seen.corners; k++) {
                low = fmin(low, seen.corner_m[k][0]);
                high = fmax(high, seen.corner_m[k][0]);
            }
            near("seen width", seen.corners < 3 ? 0 : high - low, at[i].seen_m, 1e-3);
        }
        // Between full and dark lies the soft edge of the blade: source width over its distance.
        near("soft edge", door.dark_m - door.full_m,
             pc_penumbra_m(.3, .9, .9 - .15 * sin(pc_rad_from_deg(open))), 1e-9);
    }
    struct pc_door_given bad = STRAIGHT;
    struct pc_door door;
    bad.distance_m = .1;
    assert_false(pc_reach_door(&bad, &door));
    bad = STRAIGHT;
    bad.open_deg = 180;
    bad.open_deg_tolerance = 0;
    assert_true(pc_reach_door(&bad, &door) && isinf(door.full_m));
}

static bool door_of(const void *given, const double x[], double y[])
{
    (void)given;
    const struct pc_door_given g = {.width_m = x[0], .blade_m = x[1], .open_deg = x[2], .distance_m = x[3]};
    struct pc_door d;
    if (!pc_reach_door(&g, &d))
        return false;
    y[0] = d.full_m;
    y[1] = d.half_m;
    y[2] = d.dark_m;
    return true;
}

static void what_a_door_is_good_to(void **state)
{
    (void)state;
    const struct pc_door_given *g = &STRAIGHT;
    struct pc_door d;
    assert_true(pc_reach_door(g, &d));
    const double x[] = {g->width_m, g->blade_m, g->open_deg, g->distance_m};
    const double within[] = {g->width_m_tolerance, g->blade_m_tolerance, g->open_deg_tolerance,
                             g->distance_m_tolerance};
    const double stated[] = {d.full_m_tolerance, d.half_m_tolerance, d.dark_m_tolerance};
    mc_judge("door", door_of, NULL, 4, x, within, 3, stated);
}

static const struct pc_cloth_given SCRIM = {.side_m = 1.1,
                                            .side_m_tolerance = .02,
                                            .before_m = .5,
                                            .before_m_tolerance = .02,
                                            .loss_ev = 4.0 / 3,
                                            .loss_ev_tolerance = .2,
                                            .direct_ratio = .25,
                                            .direct_ratio_tolerance = .2};

static void a_panel_behind_a_scrim(void **state)
{
    (void)state;
    struct pc_cloth r;
    struct pc_reach bare;
    struct pc_cloth_given glass = SCRIM;
    assert_true(pc_reach_lamp(&P1, &bare));
    // All straight through: the bare lamp less the cloth's stops.
    glass.direct_ratio = 1;
    assert_true(pc_reach_cloth(&P1, &glass, &r));
    near("glass", r.light, bare.light * exp2(-4.0 / 3), 1e-6 * bare.light);
    near("glass", r.lost_ev, 4.0 / 3, 1e-9);
    // All strewn: a sum over the cloth, the lamp as a point, is within what the lamp's size does.
    struct pc_cloth_given silk = SCRIM;
    silk.direct_ratio = 0;
    assert_true(pc_reach_cloth(&P1, &silk, &r));
    enum { N = 100 };
    double sum = 0, cd = 2900;
    for (int i = 0; i < N; i++)
        for (int j = 0; j < N; j++) {
            double x = 1.1 * ((i + .5) / N - .5), y = 1.1 * ((j + .5) / N - .5), r2 = x * x + y * y;
            double lit = cd * .4 * .4 / ((r2 + .16) * (r2 + .16)); // two cosines, from 0.4 m behind
            sum += lit * exp2(-4.0 / 3) / PC_PI * .25 * 1.1 * 1.1 / N / N / ((r2 + .25) * (r2 + .25));
        }
    near("silk", r.light, sum, .06 * sum);
    // A point h = 0.4 m behind lights the cloth by (1 + (x/h)^2)^-2; from -u h to u h that is as wide as
    // h (u / (1 + u^2) + atan u).
    struct pc_reach_given small = P1;
    small.width_m = small.height_m = .02;
    assert_true(pc_reach_cloth(&small, &silk, &r));
    double u = .55 / .4, lit_m = .4 * (u / (1 + u * u) + atan(u));
    near("looks", r.wide_deg, 2 * atan(.5 * lit_m / .5) * 180 / PC_PI, .005 * r.wide_deg);
    near("soft", r.penumbra_m, .05 / .45 * tan(.5 * r.wide_deg * PC_PI / 180), 1e-9);
    struct pc_reach_given bowl = P1;
    bowl.round = true;
    assert_true(pc_reach_cloth(&bowl, &SCRIM, &r));
    silk.before_m = .95;
    assert_false(pc_reach_cloth(&P1, &silk, &r));
    // Sixteen corners stand for a disc.
    struct pc_polygon round = pc_polygon_round((const double[]){.1, .2, 1}, (const double[]){0, 0, -1}, .5);
    const struct pc_receiver place = {{0, 0, 0}, {0, 0, 1}};
    double disc = pc_disc_lx((const double[]){.1, .2, 1}, (const double[]){0, 0, -1}, .25, &place);
    near("round", pc_polygon_lx(&round, &place), disc, 2e-4 * disc);
}

static bool cloth_of(const void *given, const double x[], double y[])
{
    (void)given;
    struct pc_reach_given g = P1;
    g.width_m = x[0];
    g.height_m = x[1];
    g.at_1m = x[2];
    g.distance_m = x[3];
    g.edge_m = x[4];
    g.size_m_tolerance = g.at_1m_tolerance = g.distance_m_tolerance = g.edge_m_tolerance = 0;
    const struct pc_cloth_given c = {.side_m = x[5], .before_m = x[6], .loss_ev = x[7], .direct_ratio = x[8]};
    struct pc_cloth r;
    if (!pc_reach_cloth(&g, &c, &r))
        return false;
    y[0] = r.light;
    y[1] = r.lost_ev;
    y[2] = r.wide_deg;
    y[3] = r.penumbra_m;
    return true;
}

static void what_a_scrim_is_good_to(void **state)
{
    (void)state;
    const struct pc_reach_given *g = &P1;
    const struct pc_cloth_given *c = &SCRIM;
    struct pc_cloth r;
    assert_true(pc_reach_cloth(g, c, &r));
    const double x[] = {g->width_m, g->height_m, g->at_1m,   g->distance_m,  g->edge_m,
                        c->side_m,  c->before_m, c->loss_ev, c->direct_ratio};
    const double within[] = {g->size_m_tolerance,     g->size_m_tolerance,  g->at_1m_tolerance,
                             g->distance_m_tolerance, g->edge_m_tolerance,  c->side_m_tolerance,
                             c->before_m_tolerance,   c->loss_ev_tolerance, c->direct_ratio_tolerance};
    const double stated[] = {r.light_tolerance, r.lost_ev_tolerance, r.wide_deg_tolerance,
                             r.penumbra_m_tolerance};
    mc_judge("scrim", cloth_of, NULL, 9, x, within, 4, stated);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_panel_at_a_distance),     cmocka_unit_test(what_a_reach_is_good_to),
        cmocka_unit_test(a_door_cuts_where_it_says), cmocka_unit_test(what_a_door_is_good_to),
        cmocka_unit_test(a_panel_behind_a_scrim),    cmocka_unit_test(what_a_scrim_is_good_to),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
