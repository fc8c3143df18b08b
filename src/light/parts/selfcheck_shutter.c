// SPDX-License-Identifier: Apache-2.0
// One light at several shutters: is the raw value proportional to the time, and to which time.
#include "base/units.h"
#include "light/parts/selfcheck_priv.h"

static const double LEAST_LEVEL = 1.0 / 128.0; // of what clips, in the darker frame
static const double BAND_EV = 0.5;             // levels are compared in half stops
enum { BANDS = 12, BAND_LEAST = 30 };
static const double REPEAT_EV = 0.01;     // shutters and lamps repeat no better from one frame to the next
static const double TOLD_APART_EV = 0.04; // names and thirds nearer than this cannot be told from each other
static const double AGREES_EV = 0.03;
static const double WIDE_EV = 0.8; // two shutters nearer than this show little of a bend
static const double TOP_EV = -1.5; // a bend shows near clipping, so the picture must reach up to here

struct cell {
    double level_ev, more_ev, weight; // in the longer frame; the longer over the shorter
};

// The light of each block in the two frames, with what the ambient changed in between taken off.
static int gather(const struct pc_looks *kit, int longer, int shorter, struct cell *cells)
{
    int n = kit->blocks * kit->channels, count = 0;
    const struct pc_look *a = &kit->look[longer], *b = &kit->look[shorter];
    double exposure = pc_looks_exposure(kit, longer);
    float *before = calloc(2 * (size_t)n, sizeof *before), *after = before + n;
    uint8_t *clipped = calloc((size_t)kit->blocks, 1);
    PC_ASSERT(before != NULL && clipped != NULL);
    pc_looks_ambient(kit, a->time_s, before, clipped);
    pc_looks_ambient(kit, b->time_s, after, clipped);
    for (int k = 0; k < n; k++) {
        double va = (double)a->mean[k], vb = (double)b->mean[k];
        int block = k / kit->channels;
        if (a->clipped[block] != 0 || b->clipped[block] != 0 || !(fmin(va, vb) > LEAST_LEVEL))
            continue;
        double light = va / exposure, then = light + (double)after[k] - (double)before[k];
        if (then > 0.5 * light)
            cells[count++] = (struct cell){log2(va), log2(va / vb * then / light), fmin(vb, 0.1)};
    }
    free(before);
    free(clipped);
    return count;
}

// The largest difference of the ratio between two levels of the picture.
static void find_bend(const struct cell *cells, int count, struct pc_sample *samples,
                      struct pc_selfcheck_shutters *row)
{
    struct pc_figure low = {NAN, NAN}, high = {NAN, NAN};
    int bands = 0;
    row->bend_ev = (struct pc_figure){NAN, NAN};
    for (int band = 0; band < BANDS; band++) {
        int n = 0;
        double top_ev = -BAND_EV * band, sum_ev = 0.0;
        for (int i = 0; i < count; i++)
            if (cells[i].level_ev <= top_ev && cells[i].level_ev > top_ev - BAND_EV) {
                samples[n++] = (struct pc_sample){cells[i].more_ev, 1.0};
                sum_ev += cells[i].level_ev;
            }
        if (n < BAND_LEAST)
            continue;
        struct pc_figure here = pc_samples_median(samples, n);
        if (isnan(low.value) || here.value < low.value)
            low = here;
        if (isnan(high.value) || here.value > high.value)
            high = here;
        row->high_ev = bands == 0 ? sum_ev / n : row->high_ev;
        row->low_ev = sum_ev / n;
        bands++;
    }
    if (bands >= 3)
        row->bend_ev = (struct pc_figure){high.value - low.value, hypot(high.tolerance, low.tolerance)};
}

static bool measure(struct pc_looks *kit, int longer, int shorter, struct pc_selfcheck_shutters *row)
{
    size_t room = (size_t)kit->blocks * (size_t)kit->channels;
    struct cell *cells = calloc(room, sizeof *cells);
    struct pc_sample *samples = calloc(room, sizeof *samples);
    PC_ASSERT(cells != NULL && samples != NULL);
    const struct pc_series_frame *a = &kit->series->frame[longer], *b = &kit->series->frame[shorter];
    *row = (struct pc_selfcheck_shutters){.longer = longer, .shorter = shorter};
    row->thirds_ev = pc_ev_from_ratio(a->shutter_s / b->shutter_s);
    row->named_ev = isnan(a->facts.shutter_s) || isnan(b->facts.shutter_s)
                        ? row->thirds_ev
                        : pc_ev_from_ratio(a->facts.shutter_s / b->facts.shutter_s);
    int count = gather(kit, longer, shorter, cells);
    find_bend(cells, count, samples, row);
    for (int i = 0; i < count; i++)
        samples[i] = (struct pc_sample){cells[i].more_ev, cells[i].weight};
    row->measured_ev = pc_samples_median(samples, count);
    row->measured_ev.tolerance = hypot(row->measured_ev.tolerance, REPEAT_EV);
    if (row->thirds_ev < WIDE_EV)
        row->bend_ev = (struct pc_figure){NAN, NAN};
    free(cells);
    free(samples);
    return !isnan(row->measured_ev.value);
}

// For each other shutter at the setting of a frame, the two frames nearest in time. Does nothing unless the
// frame is the first at its setting's longest shutter.
static void pairs_of(struct pc_looks *kit, int base)
{
    const struct pc_series *series = kit->series;
    struct pc_selfcheck *check = kit->check;
    for (int i = 0; i < series->frame_count; i++) {
        if (!pc_looks_same_setting(kit, base, i))
            continue;
        bool same = pc_looks_same_shutter(kit, base, i);
        if (i != base && (same ? i < base : series->frame[i].shutter_s > series->frame[base].shutter_s))
            return; // another one is the base
    }
    for (int j = 0; j < series->frame_count; j++) {
        if (!pc_looks_same_setting(kit, base, j) || pc_looks_same_shutter(kit, base, j))
            continue;
        int longer = base, shorter = j;
        double apart_s = INFINITY;
        bool first = true;
        for (int i = 0; i < series->frame_count; i++)
            for (int k = 0; k < series->frame_count; k++) {
                if (!pc_looks_same_setting(kit, base, i) || !pc_looks_same_setting(kit, base, k) ||
                    !pc_looks_same_shutter(kit, base, i) || !pc_looks_same_shutter(kit, j, k))
                    continue;
                first = first && k >= j;
                double gap_s = fabs(kit->look[i].time_s - kit->look[k].time_s);
                if (gap_s < apart_s) {
                    apart_s = gap_s;
                    longer = i;
                    shorter = k;
                }
            }
        if (first && check->shutter_count < PC_SELFCHECK_ROWS_MAX &&
            measure(kit, longer, shorter, &check->shutter[check->shutter_count]))
            check->shutter_count++;
    }
}

static enum pc_selfcheck_times times_of(const struct pc_selfcheck_shutters *row)
{
    double by_name = fabs(row->measured_ev.value - row->named_ev),
           by_third = fabs(row->measured_ev.value - row->thirds_ev);
    double agrees = fmax(AGREES_EV, row->measured_ev.tolerance);
    if (fmin(by_name, by_third) > agrees)
        return PC_SELFCHECK_TIMES_NEITHER;
    if (fabs(row->named_ev - row->thirds_ev) < fmax(TOLD_APART_EV, 2.0 * row->measured_ev.tolerance))
        return PC_SELFCHECK_TIMES_ALIKE;
    return by_name < by_third ? PC_SELFCHECK_TIMES_NAMED : PC_SELFCHECK_TIMES_THIRDS;
}

static void settle_times(struct pc_looks *kit)
{
    struct pc_selfcheck *check = kit->check;
    bool found[4] = {false};
    for (int i = 0; i < check->shutter_count; i++)
        found[times_of(&check->shutter[i])] = true;
    bool both = found[PC_SELFCHECK_TIMES_NAMED] && found[PC_SELFCHECK_TIMES_THIRDS];
    check->times = found[PC_SELFCHECK_TIMES_NEITHER] || both ? PC_SELFCHECK_TIMES_NEITHER
                   : found[PC_SELFCHECK_TIMES_NAMED]         ? PC_SELFCHECK_TIMES_NAMED
                   : found[PC_SELFCHECK_TIMES_THIRDS]        ? PC_SELFCHECK_TIMES_THIRDS
                                                             : PC_SELFCHECK_TIMES_ALIKE;
    for (int i = 0; i < check->shutter_count; i++) {
        const struct pc_selfcheck_shutters *row = &check->shutter[i];
        // As if measured without error: what a lamp lost between the two frames is no doubt of the times.
        double settled_ev = check->times == PC_SELFCHECK_TIMES_NAMED ? row->named_ev : row->thirds_ev;
        if (times_of(row) == check->times && check->times != PC_SELFCHECK_TIMES_NEITHER &&
            pc_shutter_decide(kit->series, row->longer, row->shorter, pc_ratio_from_ev(settled_ev)))
            return;
    }
}

static void judge_times(struct pc_looks *kit)
{
    static const char MISSING[] =
        "Photograph one light at one dial at two shutters whose names are rounded differently, "
        "such as 1/20 and 1/60, one right after the other, neither of them clipped.";
    struct pc_selfcheck *check = kit->check;
    if (check->shutter_count == 0)
        pc_selfcheck_judge(kit, PC_SELFCHECK_SHUTTER, PC_SELFCHECK_NOT_TESTED, "%s", MISSING);
    else if (check->times == PC_SELFCHECK_TIMES_NEITHER)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SHUTTER, PC_SELFCHECK_OFF,
            "Keep one shutter for a whole set. Lamps that flicker with the mains do this too: try again with "
            "shutters "
            "of 1/50 or longer (1/60 where the mains have 60 Hz), and an electronic shutter switched off.");
    else if (check->times == PC_SELFCHECK_TIMES_ALIKE)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SHUTTER, PC_SELFCHECK_GOOD,
            "The times of these shutters are the same by name and by thirds of a stop; 1/20 and 1/60 "
            "would tell which "
            "ones the camera keeps.");
    else if (check->times == PC_SELFCHECK_TIMES_NAMED)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SHUTTER, PC_SELFCHECK_GOOD,
            "A set whose window frames have two such shutters tells the same; otherwise keep one "
            "shutter for a set, or "
            "up to 0.09 EV of doubt is carried.");
    else
        pc_selfcheck_judge(kit, PC_SELFCHECK_SHUTTER, PC_SELFCHECK_GOOD, "%s", "");
}

static void judge_linearity(struct pc_looks *kit)
{
    struct pc_selfcheck *check = kit->check;
    check->bent = -1;
    for (int i = 0; i < check->shutter_count; i++) {
        const struct pc_figure *bend = &check->shutter[i].bend_ev;
        if (!isnan(bend->value) &&
            (check->bent < 0 || bend->value > check->shutter[check->bent].bend_ev.value))
            check->bent = i;
    }
    if (check->bent < 0) {
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_LINEARITY, PC_SELFCHECK_NOT_TESTED,
            "Photograph one light at one dial at two shutters one to three stops apart, of things from "
            "dark to light, "
            "the brightest just short of clipping in the longer one.");
        return;
    }
    const struct pc_figure *bend = &check->shutter[check->bent].bend_ev;
    if (bend->value <= pc_selfcheck_needed_ev && check->shutter[check->bent].high_ev < TOP_EV)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_LINEARITY, PC_SELFCHECK_NOT_TESTED,
            "The brightest things compared lie %.1f stops under clipping, and a bend shows above that: "
            "take the longer "
            "one so that something white is just short of clipping.",
            -check->shutter[check->bent].high_ev);
    else if (bend->tolerance > pc_selfcheck_needed_ev)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_LINEARITY, PC_SELFCHECK_NOT_TESTED,
            "The two frames are too noisy to tell; take them again at a lower ISO or with more light.");
    else if (bend->value > pc_selfcheck_needed_ev)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_LINEARITY, PC_SELFCHECK_OFF,
            "Look for a compressed raw format or a picture style that reaches into the raw, and for a "
            "highlight or "
            "dynamic range setting, and switch it off; else keep the brightest parts of a set a stop "
            "under clipping.");
    else
        pc_selfcheck_judge(kit, PC_SELFCHECK_LINEARITY, PC_SELFCHECK_GOOD, "%s", "");
}

void pc_selfcheck_shutters(struct pc_looks *kit)
{
    const struct pc_series *series = kit->series;
    for (int i = 0; i < series->frame_count && series->has_exposure; i++)
        if (series->frame[i].role == PC_ROLE_LIGHT && kit->look[i].there)
            pairs_of(kit, i);
    settle_times(kit);
    judge_times(kit);
    judge_linearity(kit);
}
