// SPDX-License-Identifier: Apache-2.0
#include "base/units.h"
#include "light/lamp/curve.h"

#include <setjmp.h>
#include <cmocka.h>

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

static const double SIX_DIALS[6] = {0.1, 0.2, 0.4, 0.6, 0.8, 1.0};

static struct pc_curve sampled(const double *dial, int count, double (*light)(double))
{
    struct pc_curve curve = {.points = count, .tolerance_pct = 3};
    for (int i = 0; i < count; i++) {
        curve.dial_ratio[i] = dial[i];
        curve.light_ratio[i] = 740.0 * light(dial[i]); // any scale
    }
    return curve;
}

// The worst relative error between the dials, from the lowest of them to full.
static double worst_pct(const struct pc_curve *curve, double (*light)(double))
{
    double worst = 0;
    for (double d = curve->dial_ratio[0]; d <= 1.0; d += 0.0017)
        worst = fmax(worst, 100.0 * fabs(pc_curve_light(curve, d) / (light(d) / light(1)) - 1.0));
    return worst;
}

static double power(double d)
{
    return pow(d, 2.2);
}

static double smooth(double d)
{
    return d * d * (3.0 - 2.0 * d);
}

static double cosine(double d)
{
    return 0.5 * (1.0 - cos(PC_PI * d));
}

static double logistic(double d)
{
    double low = 1.0 / (1.0 + exp(3.0)), high = 1.0 / (1.0 + exp(-3.0));
    return (1.0 / (1.0 + exp(-6.0 * (d - 0.5))) - low) / (high - low);
}

static double dead_zone(double d)
{
    return fmax(d - 0.05, 0.0) / 0.95;
}

static double dead_zone_square(double d)
{
    return dead_zone(d) * dead_zone(d);
}

static double never_dark(double d)
{
    return 0.02 + 0.98 * d * d;
}

static void straight_is_straight(void **state)
{
    (void)state;
    struct pc_curve curve = pc_curve_straight();
    near(curve.tolerance_pct, 15, 0);
    for (double d = 0; d <= 1; d += 0.125) {
        near(pc_curve_light(&curve, d), d, 0);
        near(pc_curve_dial(&curve, d), d, 0);
    }
    near(pc_curve_light(&curve, 3), 1, 0);
    near(pc_curve_dial(&curve, -1), 0, 0);
    // One dial says nothing of the shape: the line through it and nothing.
    struct pc_curve one = {.points = 1, .dial_ratio = {0.5}, .light_ratio = {80}};
    near(pc_curve_light(&one, 0.25), 0.25, 1e-15);
    near(pc_curve_dial(&one, 0.75), 0.75, 1e-15);
}

static void power_laws_come_back_exactly(void **state)
{
    (void)state;
    struct pc_curve curve = sampled(SIX_DIALS, 6, power);
    for (double d = 0.004; d <= 1; d += 0.004) { // beyond the lowest dial as well
        near(pc_curve_light(&curve, d) / power(d), 1, 1e-12);
        near(pc_curve_dial(&curve, power(d)), d, 1e-12);
    }
    // Nor need the highest dial be full, nor the light be 1 there.
    struct pc_curve part = sampled(SIX_DIALS, 4, power);
    for (double d = 0.01; d <= 1; d += 0.01)
        near(pc_curve_light(&part, d) / power(d), 1, 1e-12);
    near(pc_curve_light(&part, 1), 1, 1e-15);
    near(pc_curve_dial(&part, 1), 1, 1e-15);
    near(pc_curve_light(&part, 0), 0, 0);
}

// What real dials do, measured at six settings and judged between them.
static void curved_dimmers_are_held_out_within_3_pct(void **state)
{
    (void)state;
    static double (*const shape[])(double) = {smooth,    cosine,           logistic,
                                              dead_zone, dead_zone_square, never_dark};
    for (size_t i = 0; i < PC_COUNT(shape); i++) {
        struct pc_curve curve = sampled(SIX_DIALS, 6, shape[i]);
        near(worst_pct(&curve, shape[i]), 0, 3.0);
    }
    // A straight line would be far off for every one of them: the test can fail.
    struct pc_curve straight = pc_curve_straight();
    straight.dial_ratio[0] = 0.1;
    for (size_t i = 0; i < PC_COUNT(shape); i++)
        assert_true(worst_pct(&straight, shape[i]) > 15);
}

static void passes_through_its_points(void **state)
{
    (void)state;
    struct pc_curve curve = sampled(SIX_DIALS, 6, smooth);
    for (int i = 0; i < 6; i++) {
        near(pc_curve_light(&curve, SIX_DIALS[i]), smooth(SIX_DIALS[i]), 1e-14);
        near(pc_curve_dial(&curve, smooth(SIX_DIALS[i])), SIX_DIALS[i], 1e-14);
    }
}

static double draw(uint64_t *seed) // 0..1, a linear congruential sequence (Knuth, MMIX)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (double)(*seed >> 11) / 9007199254740992.0;
}

// Whatever rising points there are, level stretches included: never falling, and there and back.
static void any_rising_points_give_a_rising_curve(void **state)
{
    (void)state;
    uint64_t seed = 20;
    for (int trial = 0; trial < 300; trial++) {
        struct pc_curve curve = {.points = 1 + (int)(draw(&seed) * PC_CURVE_POINTS_MAX)};
        double dial = 0, light = 0;
        for (int i = 0; i < curve.points; i++) {
            dial += 0.002 + draw(&seed) * 0.998 * (1.0 - dial) / (curve.points - i);
            light += draw(&seed) < 0.15 && i > 0 ? 0.0 : pow(10.0, 4.0 * draw(&seed) - 4.0);
            curve.dial_ratio[i] = dial;
            curve.light_ratio[i] = light;
        }
        double before = 0;
        near(pc_curve_light(&curve, 0), 0, 0);
        near(pc_curve_light(&curve, 1), 1, 1e-15);
        for (int k = 0; k <= 400; k++) {
            double d = k / 400.0, got = pc_curve_light(&curve, d);
            if (!(got >= before - 1e-14 && got <= 1 + 1e-14))
                fail_msg("trial %d: %.17g at dial %g after %.17g", trial, got, d, before);
            before = got;
            double back = pc_curve_dial(&curve, got);
            if (back > d + 1e-9) // only where the curve is level to the last digits
                near(pc_curve_light(&curve, back) / got, 1, 1e-13);
            near(pc_curve_light(&curve, back), got, 1e-9);
        }
    }
    // Of a level stretch the lowest dial.
    struct pc_curve level = {.points = 4, .dial_ratio = {.2, .4, .6, 1}, .light_ratio = {1, 5, 5, 10}};
    near(pc_curve_dial(&level, 0.5), 0.4, 1e-6); // it arrives there level: rounding costs half the digits
    near(pc_curve_light(&level, 0.5), 0.5, 1e-15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(straight_is_straight),
        cmocka_unit_test(power_laws_come_back_exactly),
        cmocka_unit_test(curved_dimmers_are_held_out_within_3_pct),
        cmocka_unit_test(passes_through_its_points),
        cmocka_unit_test(any_rising_points_give_a_rising_curve),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
