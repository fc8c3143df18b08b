// SPDX-License-Identifier: Apache-2.0
// What changes by itself (the window, a warming lamp), and how light follows a dial.
#include "light/parts/fit.h"
#include "light/parts/selfcheck_priv.h"

static const double DRIFT_CORRECTED_PCT = 3.0; // weighing takes off more than that and says so
static const double LIGHT_ON_PCT = 80.0;       // within a check; clouds do less
static const double FALL_NOTED_PCT = 2.0;
static const double SHUTTER_DOUBT_EV = 0.03;
static const double SAME_DIAL = 0.005, SAME_KELVIN_RATIO = 0.01;
enum { LEAST_DIALS = 3 };

static double after_s(const struct pc_looks *kit, int from, int to)
{
    const struct pc_series_frame *a = &kit->series->frame[from], *b = &kit->series->frame[to];
    return b->facts.time_s - a->facts.time_s;
}

static struct pc_selfcheck_change change(const struct pc_looks *kit, int light, int from, int to)
{
    struct pc_figure ratio = pc_looks_ratio(kit, from, to);
    return (struct pc_selfcheck_change){.light = light,
                                        .from = from,
                                        .to = to,
                                        .pct = {100.0 * (ratio.value - 1.0), 100.0 * ratio.tolerance},
                                        .after_s = after_s(kit, from, to)};
}

static void find_drift(struct pc_looks *kit)
{
    struct pc_selfcheck_change *drift = &kit->check->drift;
    int last = -1, count = 0;
    *drift =
        (struct pc_selfcheck_change){.light = -1, .from = -1, .to = -1, .pct = {NAN, NAN}, .after_s = NAN};
    for (int i = 0; i < kit->series->frame_count; i++) {
        if (kit->series->frame[i].role != PC_ROLE_AMBIENT || !kit->look[i].there)
            continue;
        int a = last;
        last = i;
        if (count++ == 0)
            continue;
        struct pc_selfcheck_change here = change(kit, -1, a, i);
        if (!isnan(here.pct.value) && (drift->from < 0 || fabs(here.pct.value) > fabs(drift->pct.value)))
            *drift = here;
    }
    drift->good = drift->from >= 0 && fabs(drift->pct.value) <= pc_drift_refused_pct;
    if (drift->from < 0 && count < 2)
        pc_selfcheck_judge(kit, PC_SELFCHECK_DRIFT, PC_SELFCHECK_NOT_TESTED,
                           "Begin and end with a frame in which every light is off.");
    else if (drift->from < 0)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_DRIFT, PC_SELFCHECK_NOT_TESTED,
            "The frames without lights are too dark to tell; where no window is, nothing drifts.");
    else if (fabs(drift->pct.value) > LIGHT_ON_PCT)
        pc_selfcheck_judge(kit, PC_SELFCHECK_DRIFT, PC_SELFCHECK_OFF,
                           "No sky does that: look whether a light was on in %s or %s.",
                           kit->series->frame[drift->from].name, kit->series->frame[drift->to].name);
    else if (!drift->good)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_DRIFT, PC_SELFCHECK_OFF,
            "A set with this much change is refused: wait for a steadier sky, be quicker, or close the "
            "blind.");
    else
        pc_selfcheck_judge(kit, PC_SELFCHECK_DRIFT, PC_SELFCHECK_GOOD, "%s",
                           fabs(drift->pct.value) > DRIFT_CORRECTED_PCT
                               ? "It is taken off between the first frame and the last."
                               : "");
}

static void find_sag(struct pc_looks *kit)
{
    struct pc_selfcheck *check = kit->check;
    const struct pc_series *series = kit->series;
    bool good = true;
    for (int i = 0; i < series->frame_count; i++) {
        int to = -1;
        bool first = series->frame[i].role == PC_ROLE_LIGHT;
        for (int k = 0; k < series->frame_count && first; k++)
            if (k != i && pc_looks_same_setting(kit, i, k) && pc_looks_same_shutter(kit, i, k)) {
                first = k > i;
                to = k;
            }
        if (!first || to < 0 || check->sag_count == PC_SELFCHECK_ROWS_MAX)
            continue;
        struct pc_selfcheck_change *sag = &check->sag[check->sag_count];
        *sag = change(kit, series->frame[i].light, i, to);
        if (isnan(sag->pct.value) || sag->pct.tolerance > pc_selfcheck_needed_pct)
            continue;
        sag->good = fabs(sag->pct.value) <= pc_selfcheck_needed_pct;
        good = good && sag->good;
        check->sag_count++;
    }
    if (check->sag_count == 0)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SAG, PC_SELFCHECK_NOT_TESTED,
            "Photograph one light at full at the start, just switched on, and again at the end at the "
            "same shutter.");
    else if (!good)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SAG, PC_SELFCHECK_OFF,
            "Switch the lights on and leave them at their dials before a set until two frames ten "
            "minutes apart agree; "
            "do not touch hot lamps.");
    else
        pc_selfcheck_judge(kit, PC_SELFCHECK_SAG, PC_SELFCHECK_GOOD, "%s", "");
}

void pc_selfcheck_changes(struct pc_looks *kit)
{
    find_drift(kit);
    find_sag(kit);
}

// The light of a lamp at a time over its light when its sag was first measured: a straight line between the
// two.
static double sagged(const struct pc_looks *kit, int light, double time_s)
{
    for (int i = 0; i < kit->check->sag_count; i++) {
        const struct pc_selfcheck_change *sag = &kit->check->sag[i];
        double from_s = kit->look[sag->from].time_s, to_s = kit->look[sag->to].time_s;
        if (sag->light == light && to_s > from_s)
            return 1.0 + 0.01 * sag->pct.value * fmin(1.0, fmax(0.0, (time_s - from_s) / (to_s - from_s)));
    }
    return 1.0;
}

struct points {
    double dial[PC_FRAMES_MAX], light[PC_FRAMES_MAX];
    int count;
};

static bool same_emitter(const struct pc_looks *kit, int a, int b)
{
    const struct pc_series_frame *x = &kit->series->frame[a], *y = &kit->series->frame[b];
    return x->role == PC_ROLE_LIGHT && y->role == PC_ROLE_LIGHT && x->light == y->light &&
           kit->look[a].there && kit->look[b].there &&
           ((isnan(x->kelvin_K) && isnan(y->kelvin_K)) ||
            fabs(x->kelvin_K / y->kelvin_K - 1.0) < SAME_KELVIN_RATIO) &&
           fabs(pc_series_gain(kit->series, a) / pc_series_gain(kit->series, b) - 1.0) < 0.01;
}

// Light at each dial over the light at the highest.
static void gather_points(struct pc_looks *kit, int first, struct points *points)
{
    const struct pc_series *series = kit->series;
    int top = first;
    for (int i = 0; i < series->frame_count; i++)
        if (same_emitter(kit, first, i) &&
            series->frame[i].dial_ratio > series->frame[top].dial_ratio + SAME_DIAL)
            top = i;
    points->count = 0;
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_series_frame *frame = &series->frame[i];
        if (!same_emitter(kit, first, i))
            continue;
        struct pc_figure ratio = i == top ? (struct pc_figure){1.0, 0.0} : pc_looks_ratio(kit, top, i);
        if (!(100.0 * ratio.tolerance <= pc_selfcheck_needed_pct * ratio.value)) {
            bool shutter =
                !pc_looks_same_shutter(kit, top, i) && frame->shutter_tolerance_ev > SHUTTER_DOUBT_EV;
            pc_notes_add(
                kit->notes,
                shutter
                    ? "%s at %.0f %% in %s is not read to %.0f %%: it was taken at another shutter, and "
                      "which "
                      "time that is could not be told."
                    : "%s at %.0f %% in %s is not read to %.0f %%: it is too faint, or what else lights the "
                      "table too strong; take it with a longer shutter or less window.",
                pc_looks_light_name(kit, frame->light), 100.0 * frame->dial_ratio, frame->name,
                pc_selfcheck_needed_pct);
            kit->faint_count++;
            continue;
        }
        double warm =
            sagged(kit, frame->light, kit->look[i].time_s) / sagged(kit, frame->light, kit->look[top].time_s);
        points->dial[points->count] = frame->dial_ratio;
        points->light[points->count++] = ratio.value / warm;
    }
}

// The error at one of the curve's dials when its frames are left out.
static double held_out(const struct points *points, const struct pc_curve *curve, int knot)
{
    struct points rest = {.count = 0};
    for (int i = 0; i < points->count; i++)
        if (fabs(points->dial[i] - curve->dial_ratio[knot]) > SAME_DIAL) {
            rest.dial[rest.count] = points->dial[i];
            rest.light[rest.count++] = points->light[i];
        }
    struct pc_curve without = pc_fit_curve(rest.dial, rest.light, rest.count, NULL);
    int last = curve->points - 1;
    double foretold =
        pc_curve_light(&without, curve->dial_ratio[knot]) / pc_curve_light(&without, curve->dial_ratio[last]);
    return foretold * curve->light_ratio[last] / curve->light_ratio[knot] - 1.0;
}

// What an error at a left-out dial says of the curve with it: any curve's error falls at least with the
// square of the gap it bridges (in log dial), here from the gap around that dial to the widest gap there is.
static double gap_share(const struct pc_curve *curve, int knot)
{
    double widest = 0.0, bridged = log(curve->dial_ratio[knot + 1] / curve->dial_ratio[knot - 1]);
    for (int k = 1; k < curve->points; k++)
        widest = fmax(widest, log(curve->dial_ratio[k] / curve->dial_ratio[k - 1]));
    return fmin(1.0, pow(widest / bridged, 2));
}

static void measure_dial(struct pc_looks *kit, int first)
{
    struct pc_selfcheck *check = kit->check;
    struct points points;
    double fell;
    gather_points(kit, first, &points);
    struct pc_curve curve = pc_fit_curve(points.dial, points.light, points.count, &fell);
    if (curve.points < LEAST_DIALS || check->dial_count == PC_SELFCHECK_ROWS_MAX)
        return;
    struct pc_selfcheck_dial *row = &check->dial[check->dial_count++];
    int last = curve.points - 1;
    *row = (struct pc_selfcheck_dial){.light = kit->series->frame[first].light,
                                      .kelvin_K = kit->series->frame[first].kelvin_K,
                                      .dials = curve.points,
                                      .lowest_ratio = curve.dial_ratio[0],
                                      .highest_ratio = curve.dial_ratio[last],
                                      .curve = curve,
                                      .bend_at_ratio = curve.dial_ratio[0],
                                      .held_out_at_ratio = curve.dial_ratio[1],
                                      .fell_pct = 100.0 * fell};
    for (int k = 0; k < last; k++) {
        double straight = curve.light_ratio[last] * curve.dial_ratio[k] / curve.dial_ratio[last];
        double bend_pct = 100.0 * (curve.light_ratio[k] / straight - 1.0);
        if (fabs(bend_pct) > fabs(row->bend_pct)) {
            row->bend_pct = bend_pct;
            row->bend_at_ratio = curve.dial_ratio[k];
        }
        double error_pct = k > 0 ? 100.0 * held_out(&points, &curve, k) : 0.0;
        row->between_pct = fmax(row->between_pct, fabs(error_pct) * (k > 0 ? gap_share(&curve, k) : 0.0));
        if (fabs(error_pct) > fabs(row->held_out_pct)) {
            row->held_out_pct = error_pct;
            row->held_out_at_ratio = curve.dial_ratio[k];
        }
    }
    row->good = row->between_pct <= pc_selfcheck_needed_pct && row->fell_pct <= FALL_NOTED_PCT &&
                curve.steep_below_ratio == 0.0;
}

static void judge_dials(struct pc_looks *kit)
{
    const struct pc_selfcheck *check = kit->check;
    const struct pc_selfcheck_dial *worst = NULL;
    for (int i = 0; i < check->dial_count; i++)
        if (!check->dial[i].good &&
            (worst == NULL || fabs(check->dial[i].held_out_pct) > fabs(worst->held_out_pct)))
            worst = &check->dial[i];
    if (check->dial_count == 0 && kit->faint_count > 0) {
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_DIAL, PC_SELFCHECK_NOT_TESTED,
            "Too few dials could be read beside what else lights the table: take them with less window, "
            "or a steadier "
            "one.");
        return;
    }
    if (check->dial_count == 0) {
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_DIAL, PC_SELFCHECK_NOT_TESTED,
            "Photograph one light at three or more dials (six is better: 10, 20, 40, 60, 80 and 100 %%).");
        return;
    }
    if (worst == NULL) {
        pc_selfcheck_judge(kit, PC_SELFCHECK_DIAL, PC_SELFCHECK_GOOD, "%s", "");
        return;
    }
    const char *name = pc_looks_light_name(kit, worst->light);
    if (worst->fell_pct > FALL_NOTED_PCT)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_DIAL, PC_SELFCHECK_OFF,
            "%s gives less light at a higher dial in one of its frames: check which frame is which.", name);
    else if (worst->curve.steep_below_ratio > 0.0)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_DIAL, PC_SELFCHECK_OFF,
            "%s hardly gives light at its lowest dial: stay above %.0f %%, or photograph it at dials in "
            "between.",
            name, 100.0 * worst->curve.steep_below_ratio);
    else
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_DIAL, PC_SELFCHECK_OFF,
            "Give weighing a frame of %s near %.0f %% as well, and where its dial bends on either side.",
            name, 100.0 * worst->held_out_at_ratio);
}

void pc_selfcheck_dials(struct pc_looks *kit)
{
    for (int i = 0; i < kit->series->frame_count; i++) {
        bool first = kit->series->frame[i].role == PC_ROLE_LIGHT && kit->look[i].there;
        for (int k = 0; k < i && first; k++)
            first = !same_emitter(kit, i, k);
        if (first)
            measure_dial(kit, i);
    }
    judge_dials(kit);
}
