// SPDX-License-Identifier: Apache-2.0
// Dial curves fitted to laws whose light at every dial is known in closed form.
#include "light/parts/fit.h"

#include <setjmp.h>
#include <cmocka.h>

static const double HELD_OUT_RATIO = 0.03; // what a curve of six dials promises between them
static const double EXACT_RATIO = 1e-9;    // a power law is a straight line where the curve is drawn

static double power(double dial, double shape)
{
    return pow(dial, shape);
}

// A blend of the straight line and a smooth step.
static double s_curve(double dial, double shape)
{
    return (1.0 - shape) * dial + shape * dial * dial * (3.0 - 2.0 * dial);
}

static double dead_zone(double dial, double from)
{
    return dial > from ? (dial - from) / (1.0 - from) : 0.0;
}

static struct pc_curve fit_law(double (*law)(double, double), double shape, const double *dials, int count,
                               double scale, double *fell)
{
    double light[32];
    for (int i = 0; i < count; i++)
        light[i] = scale * law(dials[i], shape);
    return pc_fit_curve(dials, light, count, fell);
}

// The largest relative error of the curve against the law from dial low up.
static double worst(const struct pc_curve *curve, double (*law)(double, double), double shape, double low)
{
    double off = 0.0;
    for (double dial = low; dial <= 1.0; dial += 0.01)
        off = fmax(off, fabs(pc_curve_light(curve, dial) / (law(dial, shape) / law(1.0, shape)) - 1.0));
    return off;
}

static const double six[] = {1.0, 0.1, 0.8, 0.2, 0.6, 0.4};

static void power_laws_are_exact(void **state)
{
    (void)state;
    const double shapes[] = {0.7, 1.0, 1.4, 2.2};
    for (size_t i = 0; i < PC_COUNT(shapes); i++) {
        double fell = -1.0;
        struct pc_curve curve = fit_law(power, shapes[i], six, 6, 0.3, &fell);
        assert_int_equal(curve.points, 6);
        assert_true(fell == 0.0);
        assert_true(curve.steep_below_ratio == 0.0);
        double off = worst(&curve, power, shapes[i], 0.03);
        if (!(off < EXACT_RATIO))
            fail_msg("power %g is %g off", shapes[i], off);
    }
}

static void s_curves_are_within_three_per_cent(void **state)
{
    (void)state;
    for (double shape = 0.2; shape <= 1.0; shape += 0.2) {
        struct pc_curve curve = fit_law(s_curve, shape, six, 6, 40.0, NULL);
        double off = worst(&curve, s_curve, shape, 0.1);
        if (!(off < HELD_OUT_RATIO))
            fail_msg("an S of %g is %g off", shape, off);
        assert_true(curve.steep_below_ratio == 0.0);
        assert_true(curve.tolerance_pct == 3.0);
    }
}

static void a_dead_zone_under_the_lowest_dial_is_told(void **state)
{
    (void)state;
    // From 9 % of the dial on, 20 % gives 11 times the light of 10 %, a slope of 3.5; from 9.8 % on 51
    // times, 5.7.
    assert_true(fit_law(dead_zone, 0.09, six, 6, 1.0, NULL).steep_below_ratio == 0.0);
    struct pc_curve curve = fit_law(dead_zone, 0.098, six, 6, 1.0, NULL);
    assert_true(curve.steep_below_ratio == 0.2);
    // The warning is deserved: under that dial the curve is off by more than it promises, above by less.
    assert_true(worst(&curve, dead_zone, 0.098, 0.11) > 0.01 * curve.tolerance_pct);
    // Two dials all but equal tell nothing of a slope.
    const double dials[] = {0.5, 0.51, 1.0}, light[] = {0.5, 0.56, 1.0};
    assert_true(pc_fit_curve(dials, light, 3, NULL).steep_below_ratio == 0.0);
}

static void falls_within_noise_are_levelled(void **state)
{
    (void)state;
    // 0.50 and 0.48 of equal weight: the pool is their mean, 0.49; the fall is 4 %.
    const double dials[] = {0.25, 0.5, 0.6, 1.0}, light[] = {0.2, 0.50, 0.48, 1.0};
    double fell;
    struct pc_curve curve = pc_fit_curve(dials, light, 4, &fell);
    assert_true(fabs(fell - 0.04) < 1e-12);
    assert_true(fabs(pc_curve_light(&curve, 0.5) - 0.49) < 1e-5);
    assert_true(fabs(pc_curve_light(&curve, 0.6) - 0.49) < 1e-5);
    for (int i = 1; i < curve.points; i++)
        assert_true(curve.light_ratio[i] > curve.light_ratio[i - 1]);
    // A fall that takes two earlier points with it: 0.5, 0.6, 0.1 pool to 0.4.
    const double light2[] = {0.5, 0.6, 0.1, 1.0};
    curve = pc_fit_curve(dials, light2, 4, &fell);
    assert_true(fabs(curve.light_ratio[0] - 0.4) < 1e-5 && fabs(curve.light_ratio[2] - 0.4) < 1e-5);
    assert_true(fell > 0.8);
}

static void equal_dials_are_averaged(void **state)
{
    (void)state;
    const double dials[] = {1.0, 0.5, 1.0, 0.5, 0.5}, light[] = {0.96, 0.40, 1.04, 0.44, 0.42};
    double fell = -1.0;
    struct pc_curve curve = pc_fit_curve(dials, light, 5, &fell);
    assert_int_equal(curve.points, 2);
    assert_true(fell == 0.0);
    assert_true(fabs(pc_curve_light(&curve, 0.5) - 0.42) < 1e-12);
}

static void fewer_than_two_dials_are_a_straight_line(void **state)
{
    (void)state;
    const double dials[] = {0.5, 0.5, 0.0, -1.0, 0.7}, light[] = {0.3, 0.32, 0.1, 0.2, 0.0};
    for (int count = 0; count <= 5; count++) { // at most one dial of these gives light
        double fell = -1.0;
        struct pc_curve curve = pc_fit_curve(dials, light, count, &fell);
        assert_int_equal(curve.points, 0);
        assert_true(curve.tolerance_pct == 15.0 && fell == 0.0 && curve.steep_below_ratio == 0.0);
    }
}

static void more_dials_than_a_curve_holds_do_no_harm(void **state)
{
    (void)state;
    double dials[32];
    for (int i = 0; i < 32; i++)
        dials[i] = (i + 1) / 32.0;
    struct pc_curve curve = fit_law(power, 1.5, dials, 32, 1.0, NULL);
    assert_int_equal(curve.points, PC_CURVE_POINTS_MAX);
    assert_true(worst(&curve, power, 1.5, 0.05) < EXACT_RATIO);
}

static void mixes_are_ordered_levelled_and_kept_inside(void **state)
{
    (void)state;
    // Out of order, one a little cooler than the setting before it, one outside the ends, one dark.
    const struct pc_fit_mix mixes[] = {{300, 1.0, 0.5},   {200, 0.2, 0.8}, {250, 0.49, 0.51},
                                       {260, 0.48, 0.52}, {500, 1.0, 0.0}, {240, 0.0, 0.0}};
    double fell = -1.0;
    struct pc_kelvin kelvin = pc_fit_kelvin(150, 370, mixes, 6, &fell);
    assert_int_equal(kelvin.points, 6);
    for (int k = 1; k < kelvin.points; k++)
        assert_true(kelvin.mired[k] > kelvin.mired[k - 1] &&
                    kelvin.share_ratio[k] > kelvin.share_ratio[k - 1]);
    assert_true(fabs(fell - 0.005) < 1e-6);
    assert_true(fabs(kelvin.share_ratio[2] - 0.485) < 1e-5 && fabs(kelvin.share_ratio[3] - 0.485) < 1e-5);
    assert_true(fabs(kelvin.drive_ratio[4] - 1.5) < 1e-12 && kelvin.drive_ratio[0] == 1.0);
    assert_true(kelvin.share_ratio[0] == 0.0 && kelvin.share_ratio[5] == 1.0);
    assert_int_equal(pc_fit_kelvin(150, 370, mixes + 4, 2, &fell).points, 0);
}

// Share straight in mired, the whole drive by a law of it; the largest error anywhere, EV.
static double worst_mix_ev(double (*inverse)(double), const double *shares, int count, double *tolerance_ev)
{
    struct pc_fit_mix mixes[8];
    for (int i = 0; i < count; i++)
        mixes[i] = (struct pc_fit_mix){.mired = 150 + 220 * shares[i],
                                       .warm_ratio = shares[i] / inverse(shares[i]),
                                       .cool_ratio = (1 - shares[i]) / inverse(shares[i])};
    struct pc_kelvin kelvin = pc_fit_kelvin(150, 370, mixes, count, NULL);
    double worst_ev = 0.0;
    if (tolerance_ev != NULL)
        *tolerance_ev = kelvin.tolerance_ev;
    for (double s = 0.001; s < 1.0; s += 0.002)
        worst_ev = fmax(worst_ev, fabs(log2(pc_kelvin_drive(&kelvin, s) * inverse(s))));
    return worst_ev;
}

static double stronger_at_full(double s)
{
    return fmax(s, 1.0 - s);
}

static double all_alike(double s)
{
    return 1.0 + 0.0 * s;
}

static double rounded(double s)
{
    return 1.0 - 1.2 * s * (1.0 - s);
}

static void the_corner_of_a_mixing_is_found(void **state)
{
    (void)state;
    static const double three[3] = {0.21, 0.44, 0.7}, late[3] = {0.3, 0.58, 0.8}, two[2] = {0.35, 0.7};
    assert_true(worst_mix_ev(stronger_at_full, three, 3, NULL) < 1e-9);
    assert_true(worst_mix_ev(stronger_at_full, late, 3, NULL) < 1e-9);
    assert_true(worst_mix_ev(stronger_at_full, two, 2, NULL) < 1e-9);
    assert_true(worst_mix_ev(all_alike, three, 3, NULL) < 1e-9);
    // Without a corner none is made: no more than the straight line's own error.
    static const double even[3] = {0.25, 0.5, 0.75};
    double off_ev = worst_mix_ev(rounded, even, 3, NULL),
           straight_ev = log2((rounded(0.25) + rounded(0.5)) / 2.0 / rounded(0.375));
    if (!(off_ev <= straight_ev + 1e-3))
        fail_msg("%g EV off, a straight line %g", off_ev, straight_ev);
}

static double within_supply(double s)
{
    return fmax(fmax(s, 1.0 - s), 1.0 / 1.5);
}

static void the_tolerance_of_a_mixing_holds(void **state)
{
    (void)state;
    double (*laws[])(double) = {stronger_at_full, all_alike, rounded, within_supply};
    for (size_t law = 0; law < PC_COUNT(laws); law++)
        for (int count = 1; count <= 6; count++)
            for (double shift = -0.1; shift <= 0.1; shift += 0.05) {
                double shares[6], tolerance_ev;
                for (int i = 0; i < count; i++)
                    shares[i] = (i + 1.0) / (count + 1.0) + shift;
                double off_ev = worst_mix_ev(laws[law], shares, count, &tolerance_ev);
                if (!(off_ev <= tolerance_ev) || (laws[law] == all_alike && tolerance_ev > 0.051))
                    fail_msg("law %zu, %d mixes shifted by %g: %g EV off, tolerance %g", law, count, shift,
                             off_ev, tolerance_ev);
            }
}

// A panel that stays at one end for part of its range.
static void mixes_at_an_end_have_a_setting_each(void **state)
{
    (void)state;
    const struct pc_fit_mix mixes[] = {{200, 0.0, 1.0}, {250, 0.0, 0.9}, {300, 1.0, 0.0}, {350, 1.0, 0.0}};
    struct pc_kelvin kelvin = pc_fit_kelvin(150, 370, mixes, 4, NULL);
    assert_int_equal(kelvin.points, 6);
    for (int k = 1; k < kelvin.points; k++)
        assert_true(kelvin.share_ratio[k] > kelvin.share_ratio[k - 1]);
    for (int k = 0; k < kelvin.points; k++)
        assert_true(fabs(pc_kelvin_mired(&kelvin, kelvin.share_ratio[k]) - kelvin.mired[k]) <
                    0.05); // level but for rounding
    assert_true(kelvin.share_ratio[2] < 1e-5 && kelvin.share_ratio[3] > 1.0 - 1e-5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(power_laws_are_exact),
        cmocka_unit_test(s_curves_are_within_three_per_cent),
        cmocka_unit_test(a_dead_zone_under_the_lowest_dial_is_told),
        cmocka_unit_test(falls_within_noise_are_levelled),
        cmocka_unit_test(equal_dials_are_averaged),
        cmocka_unit_test(fewer_than_two_dials_are_a_straight_line),
        cmocka_unit_test(more_dials_than_a_curve_holds_do_no_harm),
        cmocka_unit_test(mixes_are_ordered_levelled_and_kept_inside),
        cmocka_unit_test(the_corner_of_a_mixing_is_found),
        cmocka_unit_test(the_tolerance_of_a_mixing_holds),
        cmocka_unit_test(mixes_at_an_end_have_a_setting_each),
    };
    return cmocka_run_group_tests_name("fit", tests, NULL, NULL);
}
