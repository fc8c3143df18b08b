// SPDX-License-Identifier: Apache-2.0
// Two lights made one, mixtures, gels and food; each tolerance judged by drawing its inputs.
#include "light/lamp/match.h"

#include "base/units.h"
#include "image/colour/colour.h"
#include "light/lamp/food.h"
#include "tests/monte_carlo.h"

static void near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.10g, want %.10g within %g", what, got, want, within);
}

static void a_panel_under_a_blue_sky(void **state)
{
    (void)state;
    // 1e6 / 5300 - 1e6 / 7500 = 55.35; at its limit 1e6 / 6500 - 1e6 / 7500 = 20.51.
    struct pc_match m = pc_match_kelvin(5300, 100, 2700, 6500, 7500, 225);
    near("apart", m.apart_mired, 55.35, 0.005);
    near("set", m.set_K, 6500, 0);
    near("left", m.left_mired, 20.51, 0.005);
    assert_true(m.at_limit);
    m = pc_match_kelvin(5300, 100, 2700, 6500, 3200, 0);
    near("apart", m.apart_mired, 1e6 / 5300 - 312.5, 1e-9);
    near("set", m.set_K, 3200, 0);
    near("left", m.left_mired, 0, 1e-9);
    assert_false(m.at_limit);
    m = pc_match_kelvin(5600, 100, 5600, 5600, 3200, 0); // one colour only
    near("set", m.set_K, 5600, 0);
    near("left", m.left_mired, m.apart_mired, 1e-9);
}

// The whole public answer as a function of its inputs, for judging.
static bool match_of(const void *given, const double x[], double y[])
{
    (void)given;
    // The lamp is wrong by one ratio at all its settings.
    struct pc_match m = pc_match_kelvin(5300 * x[0], 0, 2700 * x[0], 6500 * x[0], x[1], 0);
    y[0] = m.apart_mired;
    y[1] = m.left_mired;
    return true;
}

static void what_a_match_is_good_to(void **state)
{
    (void)state;
    static const double others_K[] = {7500, 6600, 2500};
    for (size_t i = 0; i < PC_COUNT(others_K); i++) {
        double within_K = 0.03 * others_K[i];
        struct pc_match m = pc_match_kelvin(5300, 100, 2700, 6500, others_K[i], within_K);
        const double x[] = {1, others_K[i]}, within[] = {100.0 / 5300, within_K},
                     stated[] = {m.apart_mired_tolerance, m.left_mired_tolerance};
        mc_judge("match", match_of, NULL, 2, x, within, 2, stated);
    }
}

// A mix by hand: chromaticities of Planck's radiators weighed with Y / y.
static void mixtures_of_light(void **state)
{
    (void)state;
    struct pc_mix_light two[2] = {{1000, 100, 5300, 100, 0, 0.003}, {1000, 100, 7500, 225, 0, 0.003}};
    struct pc_mix mix;
    assert_true(pc_mix_lights(2, two, &mix));
    double a[2], b[2], xy[2], xyz[3], uv[2], K, duv;
    pc_colour_planck_xy(5300, a);
    pc_colour_planck_xy(7500, b);
    double wa = 1000 / a[1], wb = 1000 / b[1];
    for (int c = 0; c < 2; c++)
        xy[c] = (wa * a[c] + wb * b[c]) / (wa + wb);
    pc_colour_xyz_from_xy(xy, 1, xyz);
    pc_colour_uv_from_xyz(xyz, uv);
    assert_true(pc_colour_cct_from_uv(uv, &K, &duv));
    near("CCT", mix.cct_K, K, 0.5);
    near("CCT", mix.cct_K, 6245, 3); // half and half of 5300 and 7500 K, computed elsewhere
    near("tint", mix.duv, duv, 1e-6);
    near("half", mix.share_ratio[0], 0.5, 1e-12);
    near("a stop", mix.shadow_ev[0], 1, 1e-12);
    // One light alone stays what it is, on and off the locus.
    for (double K1 = 2000; K1 < 12000; K1 += 700) {
        struct pc_mix_light one = {500, 0, K1, 0, -0.004, 0};
        assert_true(pc_mix_lights(1, &one, &mix));
        near("alone", mix.cct_K, K1, 2e-4 * K1);
        near("alone", mix.duv, -0.004, 1e-5);
        assert_true(isinf(mix.shadow_ev[0]));
    }
    // By lux: 3500, 3500 and 750; 3500, 900 and 750.
    struct pc_mix_light three[3] = {
        {3500, 350, NAN, NAN, 0, 0}, {3500, 350, NAN, NAN, 0, 0}, {750, 75, NAN, NAN, 0, 0}};
    assert_true(pc_mix_lights(3, three, &mix));
    near("share", 100 * mix.share_ratio[1], 45, 0.5);
    assert_true(isnan(mix.cct_K));
    three[1].lx = 900;
    assert_true(pc_mix_lights(3, three, &mix));
    near("share", 100 * mix.share_ratio[0], 68, 0.5);
    near("share", 100 * mix.share_ratio[1], 17, 0.5);
    struct pc_mix_light none = {0, 0, 5000, 0, 0, 0};
    assert_false(pc_mix_lights(1, &none, &mix));
    // D65: xy 0.31271, 0.32902 lie 0.0032 above the locus.
    near("daylight", pc_mix_daylight_duv(6504), 0.0032, 1e-4);
    assert_true(isnan(pc_mix_daylight_duv(3500)));
}

static bool mix_of(const void *given, const double x[], double y[])
{
    (void)given;
    struct pc_mix_light l[3] = {
        {x[0], 0, x[1], 0, x[2], 0}, {x[3], 0, x[4], 0, x[5], 0}, {x[6], 0, x[7], 0, x[8], 0}};
    struct pc_mix mix;
    if (!pc_mix_lights(3, l, &mix))
        return false;
    y[0] = mix.lx;
    y[1] = mix.cct_K;
    y[2] = mix.duv;
    for (int i = 0; i < 3; i++) {
        y[3 + i] = mix.share_ratio[i];
        y[6 + i] = mix.shadow_ev[i];
    }
    return true;
}

static void what_a_mixture_is_good_to(void **state)
{
    (void)state;
    const struct pc_mix_light l[3] = {{3500, 350, 5300, 100, 0, 0.003},
                                      {900, 90, 2900, 100, 0.002, 0.003},
                                      {750, 110, 7500, 225, 0.003, 0.003}};
    struct pc_mix mix;
    assert_true(pc_mix_lights(3, l, &mix));
    double x[9], within[9], stated[9] = {mix.lx_tolerance, mix.cct_K_tolerance, mix.duv_tolerance};
    for (int i = 0; i < 3; i++) {
        x[3 * i] = l[i].lx;
        x[3 * i + 1] = l[i].K;
        x[3 * i + 2] = l[i].duv;
        within[3 * i] = l[i].lx_tolerance;
        within[3 * i + 1] = l[i].K_tolerance;
        within[3 * i + 2] = l[i].duv_tolerance;
        stated[3 + i] = mix.share_ratio_tolerance[i];
        stated[6 + i] = mix.shadow_ev_tolerance[i];
    }
    mc_judge("mix", mix_of, NULL, 9, x, within, 9, stated);
}

// Blue pump and phosphor, as a lamp's maker might draw it.
static struct pc_spectrum panel(void)
{
    struct pc_spectrum s;
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++) {
        double nm = PC_SPECTRUM_FIRST_NM + PC_SPECTRUM_STEP_NM * i;
        s.value[i] = 0.9 * exp(-0.5 * pow((nm - 452) / 9, 2)) + 0.75 * exp(-0.5 * pow((nm - 590) / 62, 2)) +
                     0.15 * exp(-0.5 * pow((nm - 510) / 28, 2));
    }
    return s;
}

static void gels(void **state)
{
    (void)state;
    struct pc_gel gel;
    struct pc_spectrum bulb = pc_spectrum_planck(3200);
    // Tungsten to 4300 K: 1e6/4300 - 1e6/3200 = -79.9 mired; a perfect gel keeps it on the locus, nearly.
    assert_true(pc_gel_towards(&bulb, 1, 3, 4300, 130, 0, 0.003, &gel));
    near("gel", gel.mired, -79.9, 4);
    near("tint", gel.left_duv, 0, 0.001);
    assert_true(gel.loss_ev > 0.3 && gel.loss_ev < 1.5);
    assert_true(pc_gel_towards(&bulb, 0, 0, 3200, 0, 0.004, 0, &gel));
    near("none", gel.mired, 0, 0.1);
    near("no loss", gel.loss_ev, 0, 0.01);
    near("the other's tint", gel.left_duv, -0.004, 1e-4);
    struct pc_spectrum cool = panel(), seen;
    double K, duv;
    assert_true(pc_gel_towards(&cool, 1, 3, 3200, 100, 0, 0.003, &gel));
    seen = pc_spectrum_gel(&cool, gel.mired, NULL);
    assert_true(pc_spectrum_cct(&seen, &K, &duv));
    near("there", K, 3200, 1);
    near("its tint", duv, gel.left_duv, 1e-6);
    struct pc_spectrum green = {{0}};
    green.value[30] = 1;
    assert_false(pc_gel_towards(&green, 0, 0, 3200, 0, 0, 0, &gel));
}

static bool gel_of(const void *given, const double x[], double y[])
{
    struct pc_spectrum seen = pc_spectrum_misread(given, x[0], x[1]);
    struct pc_gel gel;
    if (!pc_gel_towards(&seen, 0, 0, x[2], 0, x[3], 0, &gel))
        return false;
    y[0] = gel.mired;
    y[1] = gel.loss_ev;
    y[2] = gel.left_duv;
    return true;
}

static void what_a_gel_is_good_to(void **state)
{
    (void)state;
    struct pc_spectrum light = panel();
    struct pc_gel gel;
    assert_true(pc_gel_towards(&light, 1, 3, 3200, 100, 0, 0.003, &gel));
    const double x[] = {0, 0, 3200, 0}, within[] = {1, 0.03, 100, 0.003},
                 stated[] = {gel.mired_tolerance, gel.loss_ev_tolerance, gel.left_duv_tolerance};
    mc_judge("gel", gel_of, &light, 4, x, within, 3, stated);
}

static void foods_under_light(void **state)
{
    (void)state;
    struct pc_food_change change[PC_FOODS];
    struct pc_spectrum light = pc_spectrum_planck(3000);
    assert_true(pc_food_changes(&light, 1, 3, change));
    for (int i = 0; i < PC_FOODS; i++)
        near(pc_foods[i].name, change[i].de2000, 0, 0.02);
    light = panel(); // short of deep red: red food is duller
    assert_true(pc_food_changes(&light, 1, 3, change));
    assert_true(change[0].de2000 > 1 && change[0].chroma < 0);
    for (int i = 0; i < PC_FOODS; i++)
        print_message("# %s dE %.2f chroma %+.1f hue %+.1f lightness %+.1f\n", pc_foods[i].name,
                      change[i].de2000, change[i].chroma, change[i].hue_deg, change[i].lightness);
}

static bool foods_of(const void *given, const double x[], double y[])
{
    struct pc_spectrum seen = pc_spectrum_misread(given, x[0], x[1]);
    struct pc_food_change change[PC_FOODS];
    // The made foods come from the whole call once; the drawing needs only the light to differ.
    static struct pc_spectrum made[PC_FOODS];
    static bool ready;
    for (int i = 0; !ready && i < PC_FOODS; i++)
        assert_true(pc_spectrum_smoothest(pc_foods[i].lab, &made[i]));
    ready = true;
    for (int i = 0; i < PC_FOODS; i++) {
        double a[3], b[3];
        if (!pc_spectrum_change(&seen, &made[i], &change[i].de2000, a, b))
            return false;
        y[i] = change[i].de2000;
    }
    return true;
}

static void what_a_change_of_food_is_good_to(void **state)
{
    (void)state;
    struct pc_spectrum lights[] = {panel(), pc_spectrum_planck(3000)};
    for (size_t k = 0; k < PC_COUNT(lights); k++) {
        struct pc_food_change change[PC_FOODS];
        assert_true(pc_food_changes(&lights[k], 1, 3, change));
        double stated[PC_FOODS];
        for (int i = 0; i < PC_FOODS; i++)
            stated[i] = change[i].de2000_tolerance;
        const double x[] = {0, 0}, within[] = {1, 0.03};
        mc_judge("food", foods_of, &lights[k], 2, x, within, PC_FOODS, stated);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_panel_under_a_blue_sky),
        cmocka_unit_test(what_a_match_is_good_to),
        cmocka_unit_test(mixtures_of_light),
        cmocka_unit_test(what_a_mixture_is_good_to),
        cmocka_unit_test(gels),
        cmocka_unit_test(what_a_gel_is_good_to),
        cmocka_unit_test(foods_under_light),
        cmocka_unit_test(what_a_change_of_food_is_good_to),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
