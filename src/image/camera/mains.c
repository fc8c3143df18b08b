// SPDX-License-Identifier: Apache-2.0
#include "image/camera/mains.h"

#include "base/tolerance.h"
#include "base/units.h"

static const double STANDS_STILL_HZ = 0.05;

double pc_mains_left_ratio(double ripple_hz, double shutter_s)
{
    double phase = PC_PI * ripple_hz * shutter_s;
    return phase > 0 ? fabs(sin(phase) / phase) : 1.0;
}

double pc_mains_switched_left_ratio(double switching_hz, double duty_ratio, double shutter_s)
{
    double periods = switching_hz * shutter_s, whole = floor(periods), rest = periods - whole;
    // Over whole periods every frame sees as much; only the rest can lie well or ill.
    double most = whole * duty_ratio + fmin(rest, duty_ratio);
    double least = whole * duty_ratio + fmax(0.0, rest - (1.0 - duty_ratio));
    return most + least > 0 ? (most - least) / (most + least) : 1.0;
}

enum { HZ, SHUTTER, GIVEN };

static bool answer(const void *given, const double x[], double y[])
{
    (void)given;
    y[0] = pc_mains_left_ratio(x[HZ], x[SHUTTER]);
    return x[HZ] > 0 && x[SHUTTER] > 0;
}

void pc_mains_left_find(double ripple_hz, double ripple_hz_tolerance, double marked_s,
                        struct pc_mains_left *left)
{
    double x[GIVEN] = {ripple_hz, marked_s};
    double x_tolerance[GIVEN] = {ripple_hz_tolerance, fabs(pc_expose_shutter_meant_s(marked_s) - marked_s)};
    if (!pc_tolerance(answer, NULL, GIVEN, x, x_tolerance, 1, &left->left_ratio, &left->left_ratio_tolerance))
        *left = (struct pc_mains_left){NAN, NAN};
}

struct switched {
    double hz, duty_ratio;
};

static bool switched_answer(const void *given, const double x[], double y[])
{
    const struct switched *lamp = given;
    y[0] = pc_mains_switched_left_ratio(lamp->hz, lamp->duty_ratio, x[0]);
    return x[0] > 0;
}

void pc_mains_switched_find(double switching_hz, double duty_ratio, double marked_s,
                            struct pc_mains_left *left)
{
    struct switched lamp = {switching_hz, duty_ratio};
    double tolerance_s = fabs(pc_expose_shutter_meant_s(marked_s) - marked_s);
    if (!pc_tolerance(switched_answer, &lamp, 1, &marked_s, &tolerance_s, 1, &left->left_ratio,
                      &left->left_ratio_tolerance))
        *left = (struct pc_mains_left){NAN, NAN};
}

int pc_mains_shutters(double ripple_hz, double modulation_pct, double most_pct, double longest_s,
                      double shortest_s, const struct pc_mark **of, int most)
{
    int count = 0;
    for (int i = 0; i < PC_MARKS_SHUTTER && count < most; i++) {
        const struct pc_mark *mark = &pc_marks_shutter[i];
        struct pc_mains_left left;
        pc_mains_left_find(ripple_hz, PC_MAINS_TOLERANCE_RATIO * ripple_hz, mark->marked, &left);
        bool within = mark->marked <= longest_s * 1.001 && mark->marked >= shortest_s / 1.001;
        if (within && (left.left_ratio + left.left_ratio_tolerance) * modulation_pct <= most_pct)
            of[count++] = mark;
    }
    return count;
}

bool pc_mains_clip_find(double ripple_hz, double shutter_s, double frames_hz, struct pc_mains_clip *clip)
{
    if (!(ripple_hz > 0 && shutter_s > 0 && frames_hz > 0 && shutter_s * frames_hz <= 1.001))
        return false;
    double beat_hz = fabs(ripple_hz - frames_hz * round(ripple_hz / frames_hz));
    *clip = (struct pc_mains_clip){
        .left_ratio = pc_mains_left_ratio(ripple_hz, shutter_s),
        .beat_hz = beat_hz < STANDS_STILL_HZ ? 0.0 : beat_hz,
    };
    return true;
}

int pc_mains_still_rates(double ripple_hz, double rates_hz[PC_MAINS_RATES_MAX])
{
    static const double usual_hz[PC_MAINS_RATES_MAX] = {24, 25, 30, 50, 60};
    int count = 0;
    for (int i = 0; i < PC_MAINS_RATES_MAX; i++) {
        struct pc_mains_clip clip;
        if (pc_mains_clip_find(ripple_hz, 0.5 / usual_hz[i], usual_hz[i], &clip) && !(clip.beat_hz > 0))
            rates_hz[count++] = usual_hz[i];
    }
    return count;
}

double pc_mains_low_risk_pct(double ripple_hz)
{
    return ripple_hz <= 90 ? 0.025 * ripple_hz : ripple_hz <= 1250 ? 0.08 * ripple_hz : 100.0;
}

double pc_mains_no_effect_pct(double ripple_hz)
{
    return ripple_hz <= 90 ? 0.01 * ripple_hz : ripple_hz <= 3000 ? ripple_hz / 30.0 : 100.0;
}
