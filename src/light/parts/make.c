// SPDX-License-Identifier: Apache-2.0
// From a series of frames to a set of parts.
#include "light/parts/parts_priv.h"

static const double DRIFT_REPORTED_PCT = 3.0;
// A change of the window is taken as a straight line between two frames; the true course strays from it by
// about a quarter of the whole change.
static const double DRIFT_STRAY_RATIO = 0.25;
static const double LONE_AMBIENT_TOLERANCE_RATIO = 0.05; // with nothing to compare: an ordinary hour's change
static const double GAIN_TOLERANCE_EV = 0.1;             // of an ISO or aperture ratio, as cameras have them
static const double CLIPPED_REFUSED_RATIO = 0.5;         // of a frame
// A lamp that gives less than this much of the window's light everywhere is not on, or does no work here.
static const double LIT_RATIO = 0.02;
static const double STILL_PX =
    0.15; // moves below this are the registration's own error: nothing is resampled
static const double SCALE_NOTICED_RATIO = 0.0015; // a turn of the focus ring shows as this much breathing

struct making {
    struct pc_ctx *ctx;
    struct pc_photo_reader *reader;
    struct pc_parts *parts;
    struct pc_notes *notes;
    struct pc_loaded loaded[PC_FRAMES_MAX];
    struct pc_align align[PC_FRAMES_MAX];             // to the reference
    double level_ratio[PC_FRAMES_MAX][PC_FRAMES_MAX]; // 0: not looked at yet
    _Atomic int read_count, registered_count;
};

static enum pc_status load_frame(void *arg, int i, struct pc_err *err)
{
    struct making *m = arg;
    struct pc_facts facts;
    PC_TRY(pc_ctx_step(m->ctx, "reading frames", (double)m->read_count / m->parts->series.frame_count, err));
    PC_TRY(pc_parts_load(m->reader, m->parts->series.frame[i].path, m->parts->series.linear, &m->loaded[i],
                         &facts, err));
    m->read_count++;
    return PC_OK;
}

static enum pc_status check_sizes(struct making *m, struct pc_err *err)
{
    const struct pc_series *series = &m->parts->series;
    const struct pc_picture *first = &m->loaded[series->reference].picture;
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_picture *p = &m->loaded[i].picture;
        if (p->width_px != first->width_px || p->height_px != first->height_px ||
            p->channels != first->channels)
            return pc_fail(err, PC_BAD_INPUT, series->frame[i].name,
                           "It is not of the same size and kind as %s; all frames of a set need to be.",
                           series->frame[series->reference].name);
    }
    return PC_OK;
}

// Photon transfer from two ambient frames where there are two, else from the frame itself.
static void find_noise(struct making *m)
{
    const struct pc_series *series = &m->parts->series;
    int a = series->reference, b = -1;
    for (int i = 0; i < series->frame_count; i++)
        if (i != a && series->frame[i].role == PC_ROLE_AMBIENT && pc_series_gain(series, i) == 1.0)
            b = i;
    bool paired = b >= 0 && pc_picture_noise_from_pair(&m->loaded[a].picture, &m->loaded[b].picture);
    for (int i = 0; i < series->frame_count; i++) {
        if (paired && pc_series_gain(series, i) == 1.0)
            m->loaded[i].picture.noise = m->loaded[a].picture.noise;
        else
            pc_picture_noise_from_one(&m->loaded[i].picture);
    }
}

static enum pc_status check_clipped(const struct making *m, struct pc_err *err)
{
    for (int i = 0; i < m->parts->series.frame_count; i++)
        if (m->loaded[i].clipped_ratio > CLIPPED_REFUSED_RATIO)
            return pc_fail(
                err, PC_BAD_INPUT, m->parts->series.frame[i].name,
                "%.0f %% of this frame is clipped, so its light cannot be measured; take it again with less "
                "exposure.",
                100.0 * m->loaded[i].clipped_ratio);
    return PC_OK;
}

// Each frame for itself, on as many threads as there are; what is to be said of it comes after, in order.
static enum pc_status register_frame(void *arg, int i, struct pc_err *err)
{
    struct making *m = arg;
    const struct pc_series *series = &m->parts->series;
    struct pc_picture *picture = &m->loaded[i].picture, laid;
    struct pc_align *align = &m->align[i];
    struct pc_err inner = {0};
    PC_TRY(pc_ctx_step(m->ctx, "laying frames over each other",
                       (double)m->registered_count / series->frame_count, err));
    m->registered_count++;
    if (i == series->reference)
        return PC_OK;
    enum pc_status status =
        pc_align_find(m->ctx, &m->loaded[series->reference].picture, picture, align, &inner);
    if (status != PC_OK)
        return pc_fail(err, status, series->frame[i].name, "%s", inner.text);
    if (pc_parts_largest_move_px(picture, align) <= fmax(STILL_PX, align->tolerance_px))
        return PC_OK;
    PC_TRY(pc_align_resample(m->ctx, picture, align, &laid, err));
    laid.noise = picture->noise;
    pc_picture_finish(picture);
    *picture = laid;
    return PC_OK;
}

static enum pc_status register_frames(struct making *m, bool *hand_held, struct pc_err *err)
{
    struct pc_parts *parts = m->parts;
    const struct pc_series *series = &parts->series;
    enum pc_status status = pc_parallel(m->ctx, series->frame_count, register_frame, m, err);
    if (status == PC_BAD_INPUT && hand_held != NULL)
        *hand_held = true;
    for (int i = 0; status == PC_OK && i < series->frame_count; i++) {
        if (i == series->reference)
            continue;
        const struct pc_align *align = &m->align[i];
        parts->registered_px = fmax(parts->registered_px, align->tolerance_px);
        parts->largest_shift_px = fmax(
            parts->largest_shift_px, pc_parts_largest_move_px(&m->loaded[series->reference].picture, align));
        if (fabs(align->scale_ratio - 1.0) > SCALE_NOTICED_RATIO)
            pc_notes_add(m->notes,
                         "%s is %.1f %% %s than the first frame: the focus was turned in between; switch "
                         "autofocus off.",
                         series->frame[i].name, 100.0 * fabs(align->scale_ratio - 1.0),
                         align->scale_ratio > 1.0 ? "larger" : "smaller");
    }
    return status;
}

// Of ambient frames as they are registered; each pair is asked about several times.
static double pair_level_ratio(struct making *m, int a, int b)
{
    double *ratio = &m->level_ratio[a][b];
    if (*ratio == 0.0)
        *ratio = pc_parts_level_ratio(&m->loaded[a].picture, &m->loaded[b].picture);
    return *ratio;
}

static double pair_drift_ratio(struct making *m, int a, int b)
{
    return pair_level_ratio(m, a, b) * pc_series_exposure(&m->parts->series, a) /
           pc_series_exposure(&m->parts->series, b);
}

static enum pc_status find_drift(struct making *m, struct pc_err *err)
{
    struct pc_parts *parts = m->parts;
    struct pc_series *series = &parts->series;
    parts->drift_from = parts->drift_to = -1;
    int last = -1;
    for (int i = 0; i < series->frame_count; i++) {
        if (series->frame[i].role != PC_ROLE_AMBIENT)
            continue;
        int a = last;
        last = i;
        if (a < 0)
            continue;
        double gain = pc_series_gain(series, a) / pc_series_gain(series, i);
        double measured = 1.0 / (pair_level_ratio(m, a, i) * gain);
        if (!isnan(measured) && pc_shutter_decide(series, a, i, measured))
            pc_notes_add(
                m->notes,
                "Two window frames at different shutters show which times this camera really keeps.");
        double ratio = pair_drift_ratio(m, a, i);
        if (isnan(ratio)) {
            pc_notes_add(m->notes, "%s and %s are too dark to tell whether the window changed between them.",
                         series->frame[a].name, series->frame[i].name);
            continue;
        }
        double pct = 100.0 * (ratio - 1.0);
        if (fabs(pct) > pc_drift_refused_pct)
            return pc_series_refuse_drift(series, a, i, pct, err);
        if (parts->drift_from < 0 || fabs(pct) > fabs(parts->drift_pct)) {
            parts->drift_pct = pct;
            parts->drift_from = a;
            parts->drift_to = i;
        }
    }
    if (fabs(parts->drift_pct) > DRIFT_REPORTED_PCT)
        pc_notes_add(m->notes, "The window went %s by %.0f %% between %s and %s; this was taken off.",
                     parts->drift_pct > 0.0 ? "up" : "down", fabs(parts->drift_pct),
                     series->frame[parts->drift_from].name, series->frame[parts->drift_to].name);
    return PC_OK;
}

static bool overlap(const struct pc_moved *a, const struct pc_moved *b)
{
    return fabs(a->x_px - b->x_px) < 0.5 * (a->width_px + b->width_px) &&
           fabs(a->y_px - b->y_px) < 0.5 * (a->height_px + b->height_px);
}

// The first frame between two ambient ones that shows the thing already moved; the later ambient frame when
// none of the one-light frames tells.
static enum pc_status find_onset(struct making *m, int from, int to, const struct pc_moved *moved, int *onset,
                                 struct pc_err *err)
{
    *onset = to;
    for (int i = from + 1; i < to; i++) {
        struct pc_moved found[PC_MOVED_MAX];
        int count = 0;
        PC_TRY(pc_align_moved_between_lights(m->ctx, &m->loaded[from].picture, &m->loaded[i].picture,
                                             fmax(m->parts->registered_px, STILL_PX), NULL, found, &count,
                                             err));
        for (int k = 0; k < count; k++)
            if (overlap(&found[k], moved)) {
                *onset = i;
                return PC_OK;
            }
    }
    return PC_OK;
}

static enum pc_status find_moved(struct making *m, struct pc_err *err)
{
    struct pc_parts *parts = m->parts;
    const struct pc_series *series = &parts->series;
    int last = -1;
    for (int i = 0; i < series->frame_count; i++) {
        if (series->frame[i].role != PC_ROLE_AMBIENT)
            continue;
        int a = last;
        last = i;
        if (a < 0)
            continue;
        struct pc_moved moved[PC_MOVED_MAX];
        int count = 0;
        PC_TRY(pc_align_moved(m->ctx, &m->loaded[a].picture, &m->loaded[i].picture,
                              fmax(parts->registered_px, STILL_PX), parts->leave_out, moved, &count, err));
        for (int k = 0; k < count && parts->moved_count < PC_PARTS_MOVED_MAX; k++) {
            int onset;
            PC_TRY(find_onset(m, a, i, &moved[k], &onset, err));
            parts->moved[parts->moved_count] = moved[k];
            parts->moved_frame[parts->moved_count++] = onset;
            pc_notes_add(m->notes,
                         "Something at %.0f,%.0f (%.0f x %.0f px) moved between %s and %s%s%s; that area is "
                         "left out of "
                         "the measurements.",
                         moved[k].x_px, moved[k].y_px, moved[k].width_px, moved[k].height_px,
                         series->frame[a].name, series->frame[i].name,
                         onset < i ? ", and is so already in " : "",
                         onset < i ? series->frame[onset].name : "");
        }
    }
    return PC_OK;
}

// frame -> part: value / shutter and gain, less the ambient between its two frames (all in place).
static void subtract(struct making *m, int i, struct pc_part *part)
{
    const struct pc_series *series = &m->parts->series;
    int before, after;
    double between;
    pc_series_bracket(series, i, &before, &after, &between);
    struct pc_picture *p = &m->loaded[i].picture;
    const struct pc_picture *pa = &m->loaded[before].picture, *pb = &m->loaded[after].picture;
    bool flash = series->light[series->frame[i].light].flash;
    double gain = pc_series_gain(series, i);
    double shutter = series->frame[i].shutter_s / series->frame[series->reference].shutter_s;
    // A flash pop does not know the shutter: its part is per pop, and the ambient under it as long as the
    // shutter.
    double unit = flash ? gain : gain * shutter, ambient = flash ? shutter : 1.0;
    double wa = (1.0 - between) * ambient / pc_series_exposure(series, before),
           wb = between * ambient / pc_series_exposure(series, after);
    size_t n = (size_t)p->width_px * (size_t)p->height_px, channels = (size_t)p->channels;
    const float scale = (float)(1.0 / unit), fa = (float)wa, fb = (float)wb;
    for (size_t k = 0; k < n * channels; k++)
        p->px[k] = p->px[k] * scale - pa->px[k] * fa - pb->px[k] * fb;
    for (size_t k = 0; k < n; k++)
        p->clipped[k] |= pa->clipped[k] | pb->clipped[k];
    for (int c = 0; c < 3; c++) {
        p->noise.offset_var[c] = p->noise.offset_var[c] / (unit * unit) + wa * wa * pa->noise.offset_var[c] +
                                 wb * wb * pb->noise.offset_var[c];
        p->noise.per_signal_var[c] /= unit;
    }
    double ratio = before == after ? (double)NAN : pair_drift_ratio(m, before, after);
    part->ambient_tolerance_ratio =
        isnan(ratio) ? LONE_AMBIENT_TOLERANCE_RATIO : DRIFT_STRAY_RATIO * fabs(ratio - 1.0);
    part->tolerance_ev = hypot(series->frame[i].shutter_tolerance_ev * (flash ? 0.0 : 1.0),
                               fabs(gain - 1.0) > 0.01 ? GAIN_TOLERANCE_EV : 0.0);
}

// All ambient frames at the level of the last, averaged.
static enum pc_status make_ambient(struct making *m, struct pc_err *err)
{
    struct pc_parts *parts = m->parts;
    const struct pc_series *series = &parts->series;
    const struct pc_picture *first = &m->loaded[series->reference].picture;
    PC_TRY(pc_picture_init(m->ctx, &parts->ambient, first->width_px, first->height_px, first->channels, err));
    struct pc_picture *ambient = &parts->ambient;
    ambient->bin = first->bin;
    ambient->full_width_px = first->full_width_px;
    ambient->full_height_px = first->full_height_px;
    ambient->space = first->space;
    int last = series->reference, count = 0;
    for (int i = 0; i < series->frame_count; i++)
        if (series->frame[i].role == PC_ROLE_AMBIENT) {
            last = i;
            count++;
        }
    size_t n = (size_t)first->width_px * (size_t)first->height_px, channels = (size_t)first->channels;
    for (int i = 0; i < series->frame_count; i++) {
        if (series->frame[i].role != PC_ROLE_AMBIENT)
            continue;
        const struct pc_picture *p = &m->loaded[i].picture;
        double to_last = i == last ? 1.0 : pair_drift_ratio(m, i, last);
        double weight = (isnan(to_last) ? 1.0 : to_last) / pc_series_exposure(series, i) / count;
        const float w = (float)weight;
        for (size_t k = 0; k < n * channels; k++)
            ambient->px[k] += w * p->px[k];
        for (size_t k = 0; k < n; k++)
            ambient->clipped[k] |= p->clipped[k];
        for (int c = 0; c < 3; c++) {
            ambient->noise.offset_var[c] += weight * weight * p->noise.offset_var[c];
            ambient->noise.per_signal_var[c] += weight * p->noise.per_signal_var[c] / count;
        }
        parts->ambient_clipped_ratio = fmax(parts->ambient_clipped_ratio, m->loaded[i].clipped_ratio);
    }
    return PC_OK;
}

// Each light is seen in one of its frames at least; a faint one beside it is judged when the dial is read.
static enum pc_status check_lit(const struct pc_parts *parts, struct pc_err *err)
{
    bool lit[PC_LIGHTS_MAX] = {false};
    for (int i = 0; i < parts->part_count; i++)
        lit[parts->part[i].light] |=
            pc_parts_brightest_ratio(&parts->ambient, &parts->part[i].picture) >= LIT_RATIO;
    for (int i = 0; i < parts->part_count; i++)
        if (!lit[parts->part[i].light])
            return pc_fail(err, PC_BAD_INPUT, parts->series.frame[parts->part[i].frame].name,
                           "No light but the window's is seen in this frame; was the lamp on? If it is a "
                           "window frame, name it with --ambient.");
    return PC_OK;
}

static enum pc_status make(struct making *m, bool *hand_held, struct pc_err *err)
{
    struct pc_parts *parts = m->parts;
    struct pc_series *series = &parts->series;
    PC_TRY(pc_parallel(m->ctx, series->frame_count, load_frame, m, err));
    PC_TRY(check_sizes(m, err));
    PC_TRY(check_clipped(m, err));
    const struct pc_picture *first = &m->loaded[series->reference].picture;
    pc_parts_set_colour(parts, &m->loaded[series->reference]);
    pc_parts_note_sensor(&m->loaded[series->reference], series->frame[series->reference].name, m->notes);
    find_noise(m);
    PC_TRY(register_frames(m, hand_held, err));
    PC_TRY(pc_buffer_init(m->ctx, &parts->leave_out_buffer, (size_t)first->width_px, (size_t)first->height_px,
                          1, err));
    parts->leave_out = parts->leave_out_buffer.data;
    PC_TRY(pc_buffer_init(m->ctx, &parts->unread_buffer, (size_t)first->width_px, (size_t)first->height_px, 1,
                          err));
    parts->unread = parts->unread_buffer.data;
    PC_TRY(find_drift(m, err));
    PC_TRY(find_moved(m, err));
    PC_TRY(make_ambient(m, err));
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_series_frame *frame = &series->frame[i];
        if (frame->role == PC_ROLE_AMBIENT)
            continue;
        struct pc_part *part = &parts->part[parts->part_count++];
        part->light = frame->light;
        part->frame = i;
        part->dial_ratio = frame->dial_ratio;
        part->kelvin_K = frame->kelvin_K;
        part->time_s = frame->time_s;
        part->clipped_ratio = m->loaded[i].clipped_ratio;
        subtract(m, i, part);
        part->picture = m->loaded[i].picture;
        memset(&m->loaded[i].picture, 0, sizeof m->loaded[i].picture);
    }
    PC_TRY(check_lit(parts, err));
    pc_parts_mark_unread(parts);
    const struct pc_series_frame *reference = &series->frame[series->reference];
    parts->reference_shutter_s = series->has_exposure ? reference->shutter_s : (double)NAN;
    parts->reference_fnumber = series->has_aperture ? reference->facts.fnumber : (double)NAN;
    parts->reference_iso = series->has_iso ? reference->facts.iso : (double)NAN;
    return PC_OK;
}

enum pc_status pc_parts_make(struct pc_ctx *ctx, struct pc_photo_reader *reader,
                             const struct pc_series *series, struct pc_parts *parts, struct pc_notes *notes,
                             bool *hand_held, struct pc_err *err)
{
    memset(parts, 0, sizeof *parts);
    if (hand_held != NULL)
        *hand_held = false;
    struct making *m = calloc(1, sizeof *m);
    PC_ASSERT(m != NULL);
    *m = (struct making){.ctx = ctx, .reader = reader, .parts = parts, .notes = notes};
    parts->series = *series;
    enum pc_status status = make(m, hand_held, err);
    for (int i = 0; i < series->frame_count; i++)
        pc_picture_finish(&m->loaded[i].picture);
    free(m);
    if (status != PC_OK)
        pc_parts_finish(parts);
    return status;
}

void pc_parts_finish(struct pc_parts *parts)
{
    if (parts == NULL)
        return;
    for (int i = 0; i < parts->part_count; i++)
        pc_picture_finish(&parts->part[i].picture);
    pc_picture_finish(&parts->ambient);
    pc_buffer_finish(&parts->leave_out_buffer);
    pc_buffer_finish(&parts->unread_buffer);
    memset(parts, 0, sizeof *parts);
}
