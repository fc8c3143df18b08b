// SPDX-License-Identifier: Apache-2.0
// The picture maker's light against closed forms that are not its own.
#include "sim_priv.h"

#include <setjmp.h>
#include <cmocka.h>

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

static const struct sim_vec origin, up = {0, 0, 1};

// Parallel rectangle a x b over one corner at height c:
// E/L = 1/2 [X/sqrt(1+X^2) atan(Y/sqrt(1+X^2)) + Y/sqrt(1+Y^2) atan(X/sqrt(1+Y^2))], X = a/c, Y = b/c.
static void a_rectangle_overhead_is_the_corner_formula(void **state)
{
    (void)state;
    static const double cases[][4] = {{1, 1, 1, 0.435209876},
                                      {0.3, 0.15, 1, 0.041893261},
                                      {2, 0.5, 0.7, 0.447813244},
                                      {0.6, 0.6, 0.5, 0.503231878}};
    for (size_t i = 0; i < PC_COUNT(cases); i++) {
        double a = cases[i][0], b = cases[i][1], c = cases[i][2], X = a / c, Y = b / c;
        const struct sim_vec corner[4] = {{0, 0, c}, {a, 0, c}, {a, b, c}, {0, b, c}};
        double lx = sim_polygon_lx(corner, 4, origin, up);
        near(lx, cases[i][3], 1e-9);
        near(lx,
             0.5 * (X / sqrt(1 + X * X) * atan(Y / sqrt(1 + X * X)) +
                    Y / sqrt(1 + Y * Y) * atan(X / sqrt(1 + Y * Y))),
             1e-12);
    }
}

// Upright rectangle, height a from the receiver's plane, width b from its foot, at distance c:
// E/L = 1/2 [atan(1/Y) - Y/sqrt(X^2+Y^2) atan(1/sqrt(X^2+Y^2))], X = a/b, Y = c/b.
static void an_upright_rectangle_is_cut_at_the_horizon(void **state)
{
    (void)state;
    static const double cases[][4] = {
        {1, 1, 1, 0.175094144}, {1.2, 0.8, 2, 0.048585647}, {0.5, 2, 0.3, 0.379846370}};
    for (size_t i = 0; i < PC_COUNT(cases); i++) {
        double a = cases[i][0], b = cases[i][1], c = cases[i][2];
        const struct sim_vec corner[4] = {{0, c, 0}, {b, c, 0}, {b, c, a}, {0, c, a}};
        near(sim_polygon_lx(corner, 4, origin, up), cases[i][3], 1e-9);
        const struct sim_vec deeper[4] = {{0, c, -0.7}, {b, c, -0.7}, {b, c, a}, {0, c, a}};
        near(sim_polygon_lx(deeper, 4, origin, up), cases[i][3], 1e-9);
    }
}

// Values computed by quadrature.
static void polygons_and_panels_agree_with_quadrature(void **state)
{
    (void)state;
    const struct sim_vec triangle[3] = {{0, 0, 1}, {1, 0, 1}, {0, 1, 1}};
    near(sim_polygon_lx(triangle, 3, origin, up), 0.302299894, 1e-9);
    struct sim_panel above = sim_panel_at(sim_vec(0, 0, 1), origin, 0.6, 0.6);
    near(sim_panel_lx(&above, origin, up), 0.321610461, 1e-9);
    struct sim_panel aside = sim_panel_at(sim_vec(0, -1, 1), origin, 0.6, 0.3);
    near(sim_panel_lx(&aside, origin, up), 0.061352163, 1e-9);
    near(sim_panel_lx(&aside, sim_vec(0, -2.5, 1), sim_vec(0, 1, 0)), 0, 0);
}

// Disc: E/L = pi R^2/(R^2 + d^2) on its axis; aside by a at height h, with H = h/a, Q = R/a, Z = 1 + H^2 +
// Q^2: E/L = pi/2 [1 - (Z - 2 Q^2)/sqrt(Z^2 - 4 Q^2)]. A large panel seen through a hole, and past a disc,
// must lose and keep exactly that.
static void discs_hide_what_their_solid_angle_says(void **state)
{
    (void)state;
    struct sim_panel panel = sim_panel_at(sim_vec(0.1, 0.2, 3), sim_vec(0.1, 0.2, 0), 9, 8);
    double all = sim_panel_lx(&panel, origin, up);
    struct sim_blocker hole = {
        .kind = SIM_BLOCK_HOLE, .centre = {0, 0, 1}, .radius_m = 0.25, .tall_m = 1.1, .bound_m = 0.25};
    double through = all * sim_panel_visible(&panel, &hole, 1, -1, origin, up, 400, 0.5);
    near(through, 0.184799568, 3e-4);
    static const double cases[][4] = {{0.5, 1, 0.25, 0.123094865}, {1, 1, 0.5, 0.206963188}};
    for (size_t i = 0; i < PC_COUNT(cases); i++) {
        struct sim_blocker disc = {.kind = SIM_BLOCK_DISC,
                                   .centre = {cases[i][0], 0, cases[i][1]},
                                   .radius_m = cases[i][2],
                                   .bound_m = cases[i][2]};
        double hidden = all * (1 - sim_panel_visible(&panel, &disc, 1, -1, origin, up, 400, 0.5));
        near(hidden, cases[i][3], 3e-4);
        double H = cases[i][1] / cases[i][0], Q = cases[i][2] / cases[i][0], Z = 1 + H * H + Q * Q;
        near(hidden, SIM_PI / 2 * (1 - (Z - 2 * Q * Q) / sqrt(Z * Z - 4 * Q * Q)), 3e-4);
    }
}

// A ball of radius r at distance D whose axis is at angle t to the normal hides pi (r/D)^2 cos t (its cap is
// a cone). A rectangle hides what a panel of its own shape and place would give.
static void balls_and_rectangles_hide_their_own_light(void **state)
{
    (void)state;
    struct sim_panel panel = sim_panel_at(sim_vec(0, 0, 4), origin, 16, 14);
    double all = sim_panel_lx(&panel, origin, up);
    for (int i = 0; i < 3; i++) {
        double t = 0.35 * i, D = 1.5, r = 0.4;
        struct sim_blocker ball = {.kind = SIM_BLOCK_ELLIPSOID,
                                   .centre = {D * sin(t), 0, D * cos(t)},
                                   .radius_m = r,
                                   .tall_m = r,
                                   .bound_m = r};
        near(all * (1 - sim_panel_visible(&panel, &ball, 1, -1, origin, up, 400, 0.5)),
             SIM_PI * r * r / D / D * cos(t), 1e-3);
        // and a flatter one less
        ball.tall_m = 0.5 * r;
        double flat = all * (1 - sim_panel_visible(&panel, &ball, 1, -1, origin, up, 400, 0.5));
        if (!(flat < SIM_PI * r * r / D / D * cos(t)))
            fail_msg("a flat ball hides %g", flat);
    }
    struct sim_blocker rect = {.kind = SIM_BLOCK_RECT,
                               .centre = {0.3, -0.2, 0.5},
                               .half_u_m = 0.3,
                               .half_v_m = 0.2,
                               .cos_turn = cos(0.4),
                               .sin_turn = sin(0.4),
                               .bound_m = 0.37};
    struct sim_vec corner[4];
    for (int i = 0; i < 4; i++) {
        double u = i == 1 || i == 2 ? 0.3 : -0.3, v = i >= 2 ? 0.2 : -0.2;
        corner[i] = sim_vec(0.3 + u * cos(0.4) - v * sin(0.4), -0.2 + u * sin(0.4) + v * cos(0.4), 0.5);
    }
    near(all * (1 - sim_panel_visible(&panel, &rect, 1, -1, origin, up, 400, 0.5)),
         sim_polygon_lx(corner, 4, origin, up), 1e-3);
}

// Krystek's locus and lights made to a colour, against Planck and mixing values computed with the CIE
// observer at 1 nm (tolerances: the locus's own 1e-4 in u and v, a few kelvin).
static void lights_have_the_colour_they_are_said_to_have(void **state)
{
    (void)state;
    double uv[2], cct_K, duv, mix[3], a[3], b[3];
    sim_planck_uv(3000, uv);
    near(uv[0], 0.2505690, 1e-4);
    near(uv[1], 0.3475899, 1e-4);
    static const double planck[][3] = {{2700, 0.459860, 0.410601},
                                       {3200, 0.423361, 0.398954},
                                       {5600, 0.330199, 0.339081},
                                       {6500, 0.313527, 0.323630}};
    for (size_t i = 0; i < PC_COUNT(planck); i++)
        for (int led = 0; led < 2; led++) {
            double xyz[3];
            struct sim_bands light = sim_light_bands(planck[i][0], 0, led);
            sim_xyz_from_bands(&light, NULL, xyz);
            near(xyz[1], 1, 1e-9);
            near(xyz[0] / (xyz[0] + xyz[1] + xyz[2]), planck[i][1], 5e-4);
            near(xyz[1] / (xyz[0] + xyz[1] + xyz[2]), planck[i][2], 5e-4);
            for (int k = 0; k < SIM_BANDS; k++)
                if (!(light.v[k] > 0 && light.v[k] < 50))
                    fail_msg("%g K, led %d: band %d is %g", planck[i][0], led, k, light.v[k]);
        }
    static const double ends[][6] = {{2700, 6500, 0.25, 5010.0, -0.00461, 0},
                                     {2700, 6500, 0.5, 3953.0, -0.00638, 0},
                                     {3200, 5600, 0.5, 4137.6, -0.00259, 0}};
    for (size_t i = 0; i < PC_COUNT(ends); i++) {
        struct sim_bands warm = sim_light_bands(ends[i][0], 0, true),
                         cool = sim_light_bands(ends[i][1], 0, true);
        sim_xyz_from_bands(&warm, NULL, a);
        sim_xyz_from_bands(&cool, NULL, b);
        for (int c = 0; c < 3; c++)
            mix[c] = ends[i][2] * a[c] + (1 - ends[i][2]) * b[c];
        sim_cct_from_xyz(mix, &cct_K, &duv);
        near(cct_K, ends[i][3], 6);
        near(duv, ends[i][4], 2e-4);
    }
    struct sim_bands odd = sim_light_bands(5000, -0.005, false);
    sim_xyz_from_bands(&odd, NULL, mix);
    sim_cct_from_xyz(mix, &cct_K, &duv);
    near(cct_K, 5000, 3);
    near(duv, -0.005, 2e-5);
}

// The chart's surfaces come out as published; filters see a D65 white as green 1, and a neutral stays neutral
// through the written matrix.
static void surfaces_have_the_published_colours(void **state)
{
    (void)state;
    struct sim_setup setup;
    struct sim_scene *scene = NULL;
    sim_setup_demo(&setup);
    assert_int_equal(sim_scene_create(&setup, &scene, NULL), PC_OK);
    double matrix[3][3], neutral[3];
    for (int i = 0; i < SIM_PATCHES; i++) {
        double lab[3], miss = 0;
        sim_patch_lab(scene, i, lab);
        for (int c = 0; c < 3; c++)
            miss += pow(lab[c] - sim_chart_lab[i][c], 2);
        if (!(sqrt(miss) < 0.1))
            fail_msg("patch %d: %.2f %.2f %.2f, %.2f away", i + 1, lab[0], lab[1], lab[2], sqrt(miss));
    }
    sim_camera_matrix(scene, matrix, neutral);
    near(neutral[1], 1, 0);
    // white of D65 is green 1, through the matrix as through the filters (least squares: to a percent)
    near(matrix[1][0] * 0.95047 + matrix[1][1] + matrix[1][2] * 1.08883, 1, 0.01);
    sim_scene_destroy(scene);
}

static void dials_and_clouds_follow_their_formulas(void **state)
{
    (void)state;
    struct sim_light l = {.curve = SIM_CURVE_POWER, .curve_shape = 1.7};
    near(sim_light_curve(&l, 0.5), 0.3077861, 1e-7); // 2^-1.7
    l.curve = SIM_CURVE_DEAD;
    l.curve_shape = 0.1;
    near(sim_light_curve(&l, 0.1), 0, 0);
    near(sim_light_curve(&l, 0.55), 0.5, 1e-12);
    l.curve = SIM_CURVE_S;
    l.curve_shape = 1;
    near(sim_light_curve(&l, 0.25), 0.15625, 1e-12);
    for (int k = 0; k < 4; k++)
        for (int d = 0; d < 100; d++) {
            l.curve = (enum sim_curve)k;
            l.curve_shape = k == SIM_CURVE_POWER ? 2.2 : k == SIM_CURVE_S ? 1 : 0.1;
            double here = sim_light_curve(&l, d / 100.0), next = sim_light_curve(&l, (d + 1) / 100.0);
            if (next < here)
                fail_msg("curve %d falls at %d %%", k, d);
        }
    struct sim_setup s;
    struct sim_shot shot;
    sim_setup_demo(&s);
    s.window.drift_ratio = 0.2;
    s.window.drift_s = 100;
    s.window.cloud_ratio = 0.4;
    s.window.cloud_at_s = 50;
    s.window.cloud_s = 10;
    sim_shot_init(&s, &shot);
    shot.time_s = 50;
    near(sim_emitter_level(&s, &shot, 6), 1.1 * 0.6, 1e-12);
    shot.time_s = 60;
    near(sim_emitter_level(&s, &shot, 6), 1.12 * (1 - 0.4 * exp(-0.5)), 1e-12);
    // both emitters of P1 give curve(dial) together, mixed to the kelvin set, and sag by 5 % in the end
    shot.lit[0] = true;
    shot.dial_ratio[0] = 0.5;
    shot.kelvin_K[0] = 4000;
    shot.time_s = 1e6;
    double warm = sim_emitter_level(&s, &shot, 0), cool = sim_emitter_level(&s, &shot, 1), a[3], b[3], mix[3],
           cct_K, duv;
    near(warm + cool, 0.5 * 0.95, 1e-9);
    sim_emitter_xyz(&s, 0, a);
    sim_emitter_xyz(&s, 1, b);
    for (int c = 0; c < 3; c++)
        mix[c] = warm * a[c] + cool * b[c];
    sim_cct_from_xyz(mix, &cct_K, &duv);
    near(cct_K, 4000, 1);
    shot.time_s = s.light[0].on_since_s + 200;
    warm = sim_emitter_level(&s, &shot, 0);
    cool = sim_emitter_level(&s, &shot, 1);
    near(warm + cool, 0.5 * (1 - 0.05 * (1 - exp(-1))), 1e-9);
    shot.kelvin_K[0] = s.light[0].cct_K[0];
    near(sim_emitter_level(&s, &shot, 1), 0, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_rectangle_overhead_is_the_corner_formula),
        cmocka_unit_test(an_upright_rectangle_is_cut_at_the_horizon),
        cmocka_unit_test(polygons_and_panels_agree_with_quadrature),
        cmocka_unit_test(discs_hide_what_their_solid_angle_says),
        cmocka_unit_test(balls_and_rectangles_hide_their_own_light),
        cmocka_unit_test(lights_have_the_colour_they_are_said_to_have),
        cmocka_unit_test(surfaces_have_the_published_colours),
        cmocka_unit_test(dials_and_clouds_follow_their_formulas),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
