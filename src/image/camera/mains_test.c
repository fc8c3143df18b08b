// SPDX-License-Identifier: Apache-2.0
#include "image/camera/mains.h"

#include "base/units.h"
#include "tests/monte_carlo.h"

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

// Computed from the closed form by hand.
static void what_a_shutter_leaves_of_a_sinusoid(void **state)
{
    (void)state;
    static const struct {
        double hz, under, left;
    } rows[] = {{100, 50, 0},        {100, 100, 0}, {100, 60, .16540},  {100, 125, .23387},
                {100, 1000, .98363}, {120, 60, 0},  {120, 100, .15591}, {100, 200, 2 / PC_PI}};
    for (size_t i = 0; i < PC_COUNT(rows); i++)
        near(pc_mains_left_ratio(rows[i].hz, 1 / rows[i].under), rows[i].left, 5e-6, "left");
}

// Frames that begin at 2000 moments of the wave, each the lamp summed over 20000 steps of the shutter.
static void frames_of_a_lamp(double (*lamp)(double turns), double hz, double shutter_s, double *most,
                             double *least)
{
    *most = 0;
    *least = (double)INFINITY;
    for (int begin = 0; begin < 200; begin++) {
        double sum = 0;
        for (int i = 0; i < 20000; i++)
            sum += lamp(hz * shutter_s * (i + 0.5) / 20000 + begin / 200.0);
        *most = fmax(*most, sum);
        *least = fmin(*least, sum);
    }
}

static double wavy(double turns)
{
    return 1 + 0.3 * sin(2 * PC_PI * turns);
}

static double switched(double turns)
{
    return turns - floor(turns) < 0.35 ? 1 : 0;
}

static void the_closed_forms_are_what_frames_show(void **state)
{
    (void)state;
    static const double under[] = {37, 50, 64, 125, 203, 500};
    for (size_t i = 0; i < PC_COUNT(under); i++) {
        double most, least;
        frames_of_a_lamp(wavy, 100, 1 / under[i], &most, &least);
        near(0.3 * pc_mains_left_ratio(100, 1 / under[i]), (most - least) / (most + least), 1e-4, "wavy");
        frames_of_a_lamp(switched, 120, 1 / under[i], &most, &least);
        near(pc_mains_switched_left_ratio(120, 0.35, 1 / under[i]), (most - least) / (most + least), 2e-3,
             "switched");
    }
    near(pc_mains_switched_left_ratio(1000, 0.2, 1.0 / 50), 0, 1e-9, "whole periods");
}

// 64 % of a pendant's ripple at 1/200 s and none at 1/50, whichever way the camera means them.
static void the_pendant(void **state)
{
    (void)state;
    struct pc_mains_left left;
    pc_mains_left_find(100, 0.2, 1.0 / 200, &left);
    near(left.left_ratio, 0.6366, 1e-4, "1/200");
    near(left.left_ratio_tolerance, pc_mains_left_ratio(100, exp2(-23.0 / 3)) - 0.6366, 2e-4,
         "reaches 1/203");
    pc_mains_left_find(100, 0.2, 1.0 / 50, &left);
    near(left.left_ratio, 0, 1e-9, "1/50");
    near(left.left_ratio_tolerance, pc_mains_left_ratio(100, exp2(-17.0 / 3)), 2e-4, "reaches 1/50.8");
}

static bool left_again(const void *given, const double x[], double y[])
{
    (void)given;
    struct pc_mains_left left;
    pc_mains_left_find(x[0], 0, x[1], &left);
    y[0] = left.left_ratio;
    return isfinite(y[0]);
}

static bool switched_again(const void *given, const double x[], double y[])
{
    (void)given;
    y[0] = pc_mains_switched_left_ratio(110, 0.3, x[0]);
    return x[0] > 0;
}

static void tolerances_hold(void **state)
{
    (void)state;
    static const double under[] = {50, 60, 100, 125, 200, 1000};
    for (size_t i = 0; i < PC_COUNT(under); i++) {
        double t = 1 / under[i], x[] = {100, t}, tolerance[] = {0.2, fabs(pc_expose_shutter_meant_s(t) - t)};
        struct pc_mains_left left;
        pc_mains_left_find(100, 0.2, t, &left);
        mc_judge("left", left_again, NULL, 2, x, tolerance, 1, &left.left_ratio_tolerance);
        pc_mains_switched_find(110, 0.3, t, &left);
        mc_judge("switched", switched_again, NULL, 1, x + 1, tolerance + 1, 1, &left.left_ratio_tolerance);
    }
}

static void shutters_that_leave_little(void **state)
{
    (void)state;
    const struct pc_mark *of[PC_MARKS_SHUTTER];
    // Of 30 %, 2 % may stay: 1/100, 1/50, 1/25, and from 1/8 s on every mark (1 / (pi f t) <= 0.067).
    int count = pc_mains_shutters(100, 30, 2, 0.1, 1.0 / 8000, of, PC_MARKS_SHUTTER);
    assert_true(count >= 3);
    assert_string_equal(of[count - 1]->text, "1/100 s");
    assert_string_equal(of[count - 2]->text, "1/50 s");
    for (int i = 0; i < count; i++)
        assert_true(30 * pc_mains_left_ratio(100, of[i]->marked) <= 2 &&
                    30 * pc_mains_left_ratio(100, of[i]->value) <= 2.01);
    count = pc_mains_shutters(120, 30, 2, 0.02, 1.0 / 8000, of, PC_MARKS_SHUTTER);
    assert_int_equal(count, 2); // 1/125 and 1/128 are both near enough to 1/120
    assert_string_equal(of[0]->text, "1/60 s");
    assert_string_equal(of[1]->text, "1/125 s");
}

static void frame_rates_beat_with_the_mains(void **state)
{
    (void)state;
    static const struct {
        double hz, frames_hz, beat_hz;
    } rows[] = {{100, 25, 0},
                {100, 50, 0},
                {100, 24, 4},
                {100, 30, 10},
                {120, 30, 0},
                {120, 25, 5},
                {120, 24, 0},
                {120, 30000.0 / 1001, 0.12},
                {100, 60, 20},
                {120, 50, 20},
                {120, 24000 / 1001.0, 0.12}};
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_mains_clip clip;
        assert_true(pc_mains_clip_find(rows[i].hz, 0.5 / rows[i].frames_hz, rows[i].frames_hz, &clip));
        near(clip.beat_hz, rows[i].beat_hz, 1e-3, "beat");
        // Counted: how often the lamp's phase at the start of a frame goes round, in 1000 frames.
        double turns = 0, before = 0;
        for (int n = 1; n <= 1000; n++) {
            double phase = rows[i].hz * n / rows[i].frames_hz, step;
            phase -= floor(phase);
            step = phase - before - round(phase - before);
            turns += step;
            before = phase;
        }
        double counted_hz = fabs(turns) / (1000 / rows[i].frames_hz);
        near(clip.beat_hz, counted_hz, 1e-6 * rows[i].hz, "counted");
    }
    struct pc_mains_clip clip;
    assert_false(pc_mains_clip_find(100, 1.0 / 25, 50, &clip));
    double rates_hz[PC_MAINS_RATES_MAX];
    assert_int_equal(pc_mains_still_rates(100, rates_hz), 2);
    assert_true(rates_hz[0] == 25 && rates_hz[1] == 50);
    assert_int_equal(pc_mains_still_rates(120, rates_hz), 3);
}

// IEEE 1789-2015 as quoted from memory; the figures at 90, 100 and 120 Hz follow from its lines.
static void what_eyes_stand(void **state)
{
    (void)state;
    near(pc_mains_low_risk_pct(100), 8, 1e-9, "100 Hz");
    near(pc_mains_no_effect_pct(100), 3.33, 5e-3, "100 Hz");
    near(pc_mains_low_risk_pct(120), 9.6, 1e-9, "120 Hz");
    near(pc_mains_no_effect_pct(120), 4.0, 1e-9, "120 Hz");
    near(pc_mains_low_risk_pct(90), 2.25, 1e-9, "90 Hz");
    near(pc_mains_no_effect_pct(90), 0.9, 1e-9, "90 Hz");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_a_shutter_leaves_of_a_sinusoid),
        cmocka_unit_test(the_closed_forms_are_what_frames_show),
        cmocka_unit_test(the_pendant),
        cmocka_unit_test(tolerances_hold),
        cmocka_unit_test(shutters_that_leave_little),
        cmocka_unit_test(frame_rates_beat_with_the_mains),
        cmocka_unit_test(what_eyes_stand),
    };
    return cmocka_run_group_tests_name("mains", tests, NULL, NULL);
}
