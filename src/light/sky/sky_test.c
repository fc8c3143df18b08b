// SPDX-License-Identifier: Apache-2.0
#include "light/sky/sky.h"

#include <setjmp.h>
#include <cmocka.h>

#include "light/sky/check_priv.h"

static double deg(double angle)
{
    return pc_rad_from_deg(angle);
}

// The quadrature of the table's makers: 0.0005.
static const double INTEGRAL_SR = 0.0005, PRINTED = 6e-6;

static void skies_spread_their_light_as_the_standard_says(void **state)
{
    (void)state;
    // Luminance at 45 degrees towards the sun and away, horizontal, vertical to the sun and away, of a sun 40
    // degrees from the zenith: computed independently from the standard's formula (quadrature 720 x 1440).
    static const struct {
        int type;
        double to_sun, away, horizontal, vertical_to_sun, vertical_away;
    } rows[] = {
        {1, 0.83258, 0.83258, 2.4495, 0.9288, 0.9288},  {2, 1.41196, 0.53465, 2.2797, 1.0455, 0.6023},
        {4, 1.53765, 0.58225, 2.5448, 1.3447, 0.7885},  {5, 1, 1, 3.1416, 1.5708, 1.5708},
        {6, 1.69587, 0.64216, 2.8548, 1.6722, 0.9905},  {7, 2.67585, 0.52618, 2.9161, 1.8388, 0.8378},
        {9, 2.16706, 0.82058, 3.8667, 2.8397, 1.7192},  {10, 3.41932, 0.67237, 3.9004, 3.0229, 1.4580},
        {11, 4.80896, 0.54727, 3.9794, 3.2263, 1.2090}, {12, 5.00212, 0.56925, 4.2812, 3.7975, 1.4941},
        {14, 6.15534, 0.47771, 4.5983, 4.7620, 1.5268},
    };
    double azimuth = deg(77), sun = deg(50);
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        near(pc_sky_luminance_ratio(rows[i].type, azimuth, deg(45), azimuth, sun), rows[i].to_sun, PRINTED);
        near(pc_sky_luminance_ratio(rows[i].type, azimuth + PC_PI, deg(45), azimuth, sun), rows[i].away,
             PRINTED);
        near(pc_sky_horizontal_sr(rows[i].type, azimuth, sun), rows[i].horizontal, INTEGRAL_SR);
        near(pc_sky_vertical_sr(rows[i].type, azimuth, azimuth, sun), rows[i].vertical_to_sun, INTEGRAL_SR);
        near(pc_sky_vertical_sr(rows[i].type, azimuth + PC_PI, azimuth, sun), rows[i].vertical_away,
             INTEGRAL_SR);
    }
    // Published in the tests of an open library: type 1 at 45 degrees, type 12 opposite a sun at 60 degrees.
    near(pc_sky_luminance_ratio(1, 0.0, deg(45), 0.0, deg(60)), 0.8325846, 5e-8);
    near(pc_sky_luminance_ratio(12, PC_PI, deg(45), 0.0, deg(60)), 0.4544524, 5e-8);
}

static void every_sky_is_one_at_the_zenith(void **state)
{
    (void)state;
    for (int type = 1; type <= PC_SKY_TYPES; type++) {
        near(pc_sky_luminance_ratio(type, 1.0, 0.5 * PC_PI, 2.0, deg(35)), 1.0, 1e-12);
        assert_non_null(pc_sky_name(type));
        // No sky is dark anywhere, the horizon included.
        for (int h = 0; h <= 90; h += 5)
            assert_true(pc_sky_luminance_ratio(type, 1.0, deg(h), 2.0, deg(35)) > 0.0);
    }
    assert_null(pc_sky_name(0));
    assert_null(pc_sky_name(PC_SKY_TYPES + 1));
}

// Closed forms: a uniform sky gives pi and pi / 2; the traditional overcast one 7 pi / 9, and upright
// 0.396178 of that (pi / 6 + 4 / 9 over 7 pi / 9).
static void plain_skies_have_closed_forms(void **state)
{
    (void)state;
    near(pc_sky_horizontal_sr(PC_SKY_UNIFORM, 0, deg(20)), PC_PI, 1e-9);
    near(pc_sky_vertical_sr(PC_SKY_UNIFORM, 0, 0, deg(20)), PC_PI / 2, 1e-4);
    near(pc_sky_horizontal_sr(PC_SKY_OVERCAST, 0, deg(20)), 7 * PC_PI / 9, 1e-9);
    near(pc_sky_vertical_sr(PC_SKY_OVERCAST, 1, 0, deg(20)), PC_PI / 6 + 4.0 / 9.0, 1e-4);
    near((PC_PI / 6 + 4.0 / 9.0) / (7 * PC_PI / 9), 0.396178, 1e-6);
}

static void air_is_thicker_towards_the_horizon(void **state)
{
    (void)state;
    // Published in the tests of an open library, to 0.001.
    near(pc_sky_air_mass(deg(90)), 1.000, 0.001);
    near(pc_sky_air_mass(deg(10)), 5.586, 0.001);
    near(pc_sky_air_mass(deg(0.1)), 36.467, 0.001);
}

static void days_have_the_light_of_the_formulas(void **state)
{
    (void)state;
    // Computed independently from the constants, for 127.5 klx outside the air: of day 93.25, when the
    // year's term is 0; day 93 is 0.015 % off.
    static const struct {
        double h_deg, clear, partly, sky_clear, sky_partly, sky_overcast;
    } rows[] = {{10, 39450.6, 1461.2, 7259.0, 8114.2, 3946.6},
                {30, 83873.9, 25859.6, 11760.2, 22800.0, 10800.0},
                {60, 100060.8, 50649.2, 15224.4, 39271.1, 18486.5}};
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_sky_light clear = pc_sky_light_at(PC_SKY_IS_CLEAR, deg(rows[i].h_deg), 93);
        struct pc_sky_light partly = pc_sky_light_at(PC_SKY_IS_PARTLY_CLOUDY, deg(rows[i].h_deg), 93);
        struct pc_sky_light overcast = pc_sky_light_at(PC_SKY_IS_OVERCAST, deg(rows[i].h_deg), 93);
        near(clear.normal_lx, rows[i].clear, 0.0003 * rows[i].clear);
        near(partly.normal_lx, rows[i].partly, 0.0003 * rows[i].partly);
        near(overcast.normal_lx, 0.0, 0.0);
        near(clear.sky_lx, rows[i].sky_clear, 0.06);
        near(partly.sky_lx, rows[i].sky_partly, 0.06);
        near(overcast.sky_lx, rows[i].sky_overcast, 0.06);
    }
    // Outside the air: 131.834 klx on day 1, 123.165 on day 185.
    double thinned = exp(-0.21 * pc_sky_air_mass(deg(90)));
    near(pc_sky_light_at(PC_SKY_IS_CLEAR, deg(90), 1).normal_lx / thinned, 131834, 1.0);
    near(pc_sky_light_at(PC_SKY_IS_CLEAR, deg(90), 185).normal_lx / thinned, 123165, 1.0);
    near(pc_sky_light_at(PC_SKY_IS_CLEAR, deg(-1), 93).sky_lx, 0.0, 0.0);
}

static void colours_pass_through_their_anchors(void **state)
{
    (void)state;
    near(pc_sky_colour_of_sun(deg(10)).cct_K, 3872, 1e-6);
    near(pc_sky_colour_of_sun(deg(10)).duv, 0.0051, 1e-12);
    near(pc_sky_colour_of_sun(deg(90)).cct_K, 5410, 1e-6);
    near(pc_sky_colour_of_sun(deg(0.5)).cct_K, 2064, 1e-6);
    // By way of the daylight locus, whose CCT is rounded.
    near(pc_sky_colour_of_clear(deg(45)).cct_K, 11494, 25);
    near(pc_sky_colour_of_overcast().cct_K, 6504, 3);
    near(pc_sky_colour_of_overcast().duv, 0.0032, 0.0002);
    // Between them it neither overshoots nor bends back.
    for (int h = 2; h < 90; h++)
        assert_true(pc_sky_colour_of_sun(deg(h)).cct_K < pc_sky_colour_of_sun(deg(h + 1)).cct_K);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(skies_spread_their_light_as_the_standard_says),
        cmocka_unit_test(every_sky_is_one_at_the_zenith),
        cmocka_unit_test(plain_skies_have_closed_forms),
        cmocka_unit_test(air_is_thicker_towards_the_horizon),
        cmocka_unit_test(days_have_the_light_of_the_formulas),
        cmocka_unit_test(colours_pass_through_their_anchors),
    };
    return cmocka_run_group_tests_name("sky", tests, NULL, NULL);
}
