// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/fresnel.h"

#include "base/units.h"
#include "shoot/advise/floor.h"
#include "tests/monte_carlo.h"

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

// By Snell's law and the sines and tangents of sum and difference, the other form of Fresnel's equations.
static void by_sines_and_tangents(double index, double incidence, double *across, double *in_plane)
{
    double inside = asin(sin(incidence) / index);
    *across = pow(sin(incidence - inside) / sin(incidence + inside), 2);
    *in_plane = pow(tan(incidence - inside) / tan(incidence + inside), 2);
}

static void reflectances_are_fresnels(void **state)
{
    (void)state;
    double across, in_plane, a, b;
    for (double deg = 1; deg < 90; deg += 4)
        for (double index = 1.33; index < 1.7; index += 0.11) {
            pc_fresnel(index, 0, pc_rad_from_deg(deg), &across, &in_plane);
            by_sines_and_tangents(index, pc_rad_from_deg(deg), &a, &b);
            near(across, a, 1e-12, "across");
            near(in_plane, b, 1e-12, "in the plane");
        }
    pc_fresnel(1.5, 0, 0, &across, &in_plane);
    near(across, 0.04, 1e-15, "square on");
    near(in_plane, 0.04, 1e-15, "square on");
    pc_fresnel(1.333, 0, PC_PI / 2, &across, &in_plane);
    near(across, 1, 1e-12, "grazing");
    // Square on to a metal: ((n - 1)^2 + k^2) / ((n + 1)^2 + k^2).
    pc_fresnel(2.5, 3.4, 0, &across, &in_plane);
    near(in_plane, (1.5 * 1.5 + 3.4 * 3.4) / (3.5 * 3.5 + 3.4 * 3.4), 1e-12, "metal");
    // A slab of 1.52 without loss, unpolarised, (1 - r)/(1 + r) of each: 0.91832 at 0, 0.84347 at 60, 0.61481
    // at 75.
    const double slab[][2] = {{0, 0.91832},  {30, 0.91596}, {45, 0.90253},
                              {60, 0.84347}, {75, 0.61481}, {85, 0.24565}};
    for (size_t i = 0; i < PC_COUNT(slab); i++) {
        pc_fresnel(1.52, 0, pc_rad_from_deg(slab[i][0]), &across, &in_plane);
        near(((1 - across) / (1 + across) + (1 - in_plane) / (1 + in_plane)) / 2, slab[i][1], 6e-6, "slab");
    }
}

// Water at 30 degrees of elevation: 6.0 %, 0.43 % through the filter; computed by hand with 1.333.
static void broth_through_a_polariser(void **state)
{
    (void)state;
    struct pc_gloss water = {.index = 1.333};
    struct pc_mirrored mirrored = pc_fresnel_mirrored(&water, pc_rad_from_deg(60), 0);
    near(mirrored.plain_ratio, 0.060, 0.0005, "plain");
    near(mirrored.filtered_ratio, 0.0043, 0.00005, "filtered");
    near(pc_fresnel_mirrored(&water, pc_fresnel_best_incidence_rad(&water), 0).filtered_ratio, 0, 1e-15,
         "at its best");
    near(pc_deg_from_rad(pc_fresnel_best_incidence_rad(&water)), 53.12, 0.01, "Brewster's angle of water");
    const struct pc_gloss *broth = pc_gloss_find("broth");
    assert_non_null(broth);
    mirrored = pc_fresnel_mirrored(broth, pc_rad_from_deg(60), pc_rad_from_deg(1));
    near(mirrored.plain_ratio, 0.060, mirrored.plain_ratio_tolerance, "broth");
    assert_null(pc_gloss_find("jelly"));
}

static bool mirrored_answer(const void *given, const double x[], double y[])
{
    (void)given;
    double across, in_plane;
    by_sines_and_tangents(x[0], x[1], &across, &in_plane);
    y[0] = (across + in_plane) / 2;
    y[1] = in_plane;
    return true;
}

static void tolerances_hold(void **state)
{
    (void)state;
    for (int i = 0; i < pc_gloss_count; i++)
        for (double deg = 20; deg < 85; deg += 13) {
            const struct pc_gloss *gloss = &pc_glosses[i];
            if (gloss->absorption > 0)
                continue; // of the other form
            double x[2] = {gloss->index, pc_rad_from_deg(deg)},
                   x_tolerance[2] = {gloss->index_tolerance, 0.0175};
            struct pc_mirrored mirrored = pc_fresnel_mirrored(gloss, x[1], x_tolerance[1]);
            double stated[2] = {mirrored.plain_ratio_tolerance, mirrored.filtered_ratio_tolerance};
            mc_judge(gloss->name, mirrored_answer, NULL, 2, x, x_tolerance, 2, stated);
        }
}

// Ambient of 700 lx against a key of 3500 allows log2(6) = 2.6 stops; 4 stops want 3500/15 = 233 lx.
static void the_floor_under_the_hero(void **state)
{
    (void)state;
    near(pc_advise_floor_stops(3500, 700), 2.585, 0.0005, "stops");
    near(pc_advise_floor_ambient_lx(3500, 4), 233.33, 0.005, "ambient");
    for (double stops = 0.5; stops < 9; stops += 0.5)
        near(pc_advise_floor_stops(3500, pc_advise_floor_ambient_lx(3500, stops)), stops, 1e-12,
             "there and back");
    assert_true(isinf(pc_advise_floor_stops(3500, 0)));
    assert_true(isnan(pc_advise_floor_stops(0, 0)) && isnan(pc_advise_floor_stops(-1, 700)));
    assert_true(isnan(pc_advise_floor_ambient_lx(3500, 0)) && isnan(pc_advise_floor_ambient_lx(-1, 4)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reflectances_are_fresnels),
        cmocka_unit_test(broth_through_a_polariser),
        cmocka_unit_test(tolerances_hold),
        cmocka_unit_test(the_floor_under_the_hero),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
