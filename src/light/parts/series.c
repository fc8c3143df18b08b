// SPDX-License-Identifier: Apache-2.0
#include "light/parts/series.h"

#include "base/clock.h"
#include "base/file.h"

void pc_notes_add(struct pc_notes *notes, const char *fmt, ...)
{
    if (notes == NULL || notes->count == PC_NOTES_MAX)
        return;
    char text[512];
    va_list args;
    va_start(args, fmt);
    vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    notes->text[notes->count++] = pc_arena_strdup(notes->arena, text);
}

static const char *const HOW_TO =
    "it takes one raw frame with the window only, one for each light, and one more "
    "with the window only";

static size_t stem_length(const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot != NULL && dot != name ? (size_t)(dot - name) : strlen(name);
}

// A camera writes a raw and its JPEG under one name; the raw is the frame.
static bool has_raw_twin(const struct pc_series_wish *wish, const char *path)
{
    size_t n = stem_length(path);
    for (int i = 0; i < wish->path_count; i++) {
        const char *other = wish->paths[i];
        if (pc_photo_name_is_raw(other) && stem_length(other) == n && strncmp(other, path, n) == 0)
            return true;
    }
    return false;
}

static bool is_wanted(const struct pc_series_wish *wish, const char *path, int *passed_over)
{
    if (wish->actual != NULL && strcmp(wish->actual, path) == 0)
        return false;
    if (wish->actual != NULL && !pc_photo_name_is_raw(path) && pc_photo_name_is_raw(wish->actual) &&
        stem_length(path) == stem_length(wish->actual) && strncmp(path, wish->actual, stem_length(path)) == 0)
        return false;
    if (!pc_photo_name_is_photo(path)) {
        ++*passed_over;
        return false;
    }
    return pc_photo_name_is_raw(path) || !has_raw_twin(wish, path);
}

static enum pc_status collect(struct pc_photo_reader *reader, struct pc_arena *arena,
                              const struct pc_series_wish *wish, struct pc_series *series,
                              struct pc_notes *notes, struct pc_err *err)
{
    int passed_over = 0, tone_mapped = 0, linear = 0;
    for (int i = 0; i < wish->path_count; i++) {
        const char *path = wish->paths[i];
        if (!is_wanted(wish, path, &passed_over))
            continue;
        struct pc_photo photo;
        PC_TRY(pc_photo_read(reader, path, PC_WANT_FACTS, wish->linear, &photo, err));
        struct pc_facts facts = photo.facts;
        bool mapped = photo.tone_mapped;
        pc_photo_finish(&photo);
        if (mapped) {
            tone_mapped++;
            continue;
        }
        linear++;
        if (series->frame_count == PC_FRAMES_MAX)
            return pc_fail(
                err, PC_BAD_INPUT, wish->folder,
                "There are more than %d raw frames here; put the frames of one set in a folder of their own.",
                PC_FRAMES_MAX);
        struct pc_series_frame *frame = &series->frame[series->frame_count++];
        *frame = (struct pc_series_frame){.path = pc_arena_strdup(arena, path),
                                          .role = PC_ROLE_BY_TIME,
                                          .light = -1,
                                          .dial_ratio = NAN,
                                          .kelvin_K = NAN,
                                          .facts = facts,
                                          .time_s = facts.time_s};
        frame->name = pc_file_name(frame->path);
    }
    if (passed_over > 0)
        pc_notes_add(notes, "%d other file%s in the folder %s passed over.", passed_over,
                     passed_over > 1 ? "s" : "", passed_over > 1 ? "were" : "was");
    if (linear == 0 && tone_mapped > 0)
        return pc_fail(
            err, PC_BAD_INPUT, wish->folder,
            "All photographs here are JPEG, HEIC or the like: the camera has bent their tones, so no "
            "share, ratio, lux or cast can be read from them. Send the raw files (or TIFF and PNG that hold "
            "linear light, with --linear).");
    if (linear == 0)
        return pc_fail(err, PC_NOT_FOUND, wish->folder, "There is no photograph here: %s.", HOW_TO);
    if (tone_mapped > 0)
        pc_notes_add(notes,
                     "%d JPEG, HEIC or other frame%s without a raw of the same name %s passed over: the "
                     "camera has bent "
                     "the tones.",
                     tone_mapped, tone_mapped > 1 ? "s" : "", tone_mapped > 1 ? "were" : "was");
    return PC_OK;
}

static void order_by_time(struct pc_series *series, struct pc_notes *notes)
{
    bool all_timed = true;
    for (int i = 0; i < series->frame_count; i++)
        all_timed = all_timed && !isnan(series->frame[i].time_s);
    if (!all_timed) {
        pc_notes_add(notes, "Not every frame says when it was taken, so the order of their names is used.");
        for (int i = 0; i < series->frame_count; i++)
            series->frame[i].time_s = i;
    }
    // Insertion keeps frames of one time in the order of their names.
    for (int i = 1; i < series->frame_count; i++) {
        struct pc_series_frame frame = series->frame[i];
        int j = i;
        for (; j > 0 && series->frame[j - 1].time_s > frame.time_s; j--)
            series->frame[j] = series->frame[j - 1];
        series->frame[j] = frame;
    }
}

static int find_light(struct pc_series *series, const char *name, bool flash)
{
    for (int i = 0; i < series->light_count; i++)
        if (strcmp(series->light[i].name, name) == 0)
            return i;
    if (series->light_count == PC_LIGHTS_MAX)
        return -1;
    int light = series->light_count++;
    snprintf(series->light[light].name, sizeof series->light[light].name, "%s", name);
    series->light[light].flash = flash;
    series->light[light].dials_said = false;
    return light;
}

static bool same_file(const char *frame_path, const char *said_path, const char *folder)
{
    if (strcmp(frame_path, said_path) == 0)
        return true;
    // Named inside the folder.
    size_t n = folder != NULL ? strlen(folder) : 0;
    while (n > 0 && folder[n - 1] == '/')
        n--;
    return n > 0 && strncmp(frame_path, folder, n) == 0 && frame_path[n] == '/' &&
           strcmp(frame_path + n + strspn(frame_path + n, "/"), said_path) == 0;
}

static enum pc_status apply_said(const struct pc_series_wish *wish, struct pc_series *series,
                                 struct pc_err *err)
{
    for (int s = 0; s < wish->said_count; s++) {
        const struct pc_said *said = &wish->said[s];
        struct pc_series_frame *frame = NULL;
        for (int i = 0; i < series->frame_count && frame == NULL; i++)
            if (same_file(series->frame[i].path, said->path, wish->folder))
                frame = &series->frame[i];
        if (frame == NULL)
            return pc_fail(err, PC_NOT_FOUND, said->path,
                           "This frame was named on the command line but is not among the raw frames read.");
        if (frame->role != PC_ROLE_BY_TIME)
            return pc_fail(err, PC_MISUSE, said->path, "This frame was named twice; each shows one thing.");
        frame->role = said->role;
        if (said->role == PC_ROLE_AMBIENT)
            continue;
        frame->light = find_light(series, said->light, said->role == PC_ROLE_FLASH);
        if (frame->light < 0)
            return pc_fail(err, PC_BAD_INPUT, said->path, "There are more than %d lights.", PC_LIGHTS_MAX);
        if (series->light[frame->light].flash != (said->role == PC_ROLE_FLASH))
            return pc_fail(err, PC_MISUSE, said->light,
                           "This light was named both as a flash and as a steady light.");
        frame->dial_ratio = said->dial_ratio;
        frame->kelvin_K = said->kelvin_K;
        if (!isnan(said->dial_ratio))
            series->light[frame->light].dials_said = true;
    }
    return PC_OK;
}

static enum pc_status assign_by_time(struct pc_series *series, struct pc_err *err)
{
    int n = series->frame_count, ambient = 0;
    for (int i = 0; i < n; i++)
        ambient += series->frame[i].role == PC_ROLE_AMBIENT;
    // Only when nobody named an ambient frame do the first and the last frame become so.
    for (int i = 0; i < n; i++) {
        struct pc_series_frame *frame = &series->frame[i];
        if (frame->role != PC_ROLE_BY_TIME)
            continue;
        if (ambient == 0 && (i == 0 || (i == n - 1 && n > 2))) {
            frame->role = PC_ROLE_AMBIENT;
            continue;
        }
        char name[48];
        snprintf(name, sizeof name, "%.*s", (int)stem_length(frame->name), frame->name);
        frame->role = PC_ROLE_LIGHT;
        frame->light = find_light(series, name, false);
        if (frame->light < 0)
            return pc_fail(err, PC_BAD_INPUT, frame->name,
                           "There are more than %d lights; name several frames of one light with --light.",
                           PC_LIGHTS_MAX);
    }
    return PC_OK;
}

static enum pc_status check_roles(const struct pc_series_wish *wish, struct pc_series *series,
                                  struct pc_notes *notes, struct pc_err *err)
{
    const char *where = wish->folder;
    if (series->frame_count == 1 && !wish->partial)
        return pc_fail(err, PC_BAD_INPUT, series->frame[0].name, "This is the only raw frame here; %s.",
                       HOW_TO);
    int ambient = 0;
    series->reference = -1;
    for (int i = 0; i < series->frame_count; i++) {
        struct pc_series_frame *frame = &series->frame[i];
        if (frame->role == PC_ROLE_AMBIENT) {
            ambient++;
            if (series->reference < 0)
                series->reference = i;
        } else if (isnan(frame->dial_ratio)) {
            frame->dial_ratio = 1.0;
        }
    }
    if (wish->partial) {
        series->reference = ambient > 0 ? series->reference : 0;
        return PC_OK;
    }
    if (ambient == 0)
        return pc_fail(
            err, PC_BAD_INPUT, where,
            "No frame shows the window only, so no light can be told from it; take one with all lights off "
            "and name it with --ambient.");
    if (series->light_count == 0)
        return pc_fail(err, PC_BAD_INPUT, where, "No frame has a light on; %s.", HOW_TO);
    if (ambient == 1)
        pc_notes_add(
            notes, "Only one frame shows the window alone, so a change of the window cannot be seen or taken "
                   "off; take another after the last light.");
    return PC_OK;
}

static enum pc_status check_alike(struct pc_series *series, struct pc_notes *notes, struct pc_err *err)
{
    const struct pc_series_frame *first = &series->frame[series->reference];
    const struct pc_facts *a = &first->facts;
    int with_shutter = 0;
    series->has_aperture = series->has_iso = true;
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_series_frame *frame = &series->frame[i];
        const struct pc_facts *b = &frame->facts;
        if (strcmp(a->maker, b->maker) != 0 || strcmp(a->model, b->model) != 0 ||
            strcmp(a->serial, b->serial) != 0)
            return pc_fail(err, PC_BAD_INPUT, frame->name,
                           "It comes from another camera (%s %s) than %s (%s %s); one set needs one camera.",
                           b->maker, b->model, first->name, a->maker, a->model);
        if (a->width_px != b->width_px || a->height_px != b->height_px)
            return pc_fail(
                err, PC_BAD_INPUT, frame->name,
                "It is %d x %d pixels and %s is %d x %d; all frames of a set need one size and one way up.",
                b->width_px, b->height_px, first->name, a->width_px, a->height_px);
        if (!isnan(a->focal_mm) && !isnan(b->focal_mm) && fabs(b->focal_mm / a->focal_mm - 1.0) > 0.01)
            return pc_fail(err, PC_BAD_INPUT, frame->name,
                           "It was taken at %.0f mm and %s at %.0f mm; leave the zoom alone for a set.",
                           b->focal_mm, first->name, a->focal_mm);
        with_shutter += !isnan(b->shutter_s) || !isnan(b->shutter_apex_s);
        series->has_aperture = series->has_aperture && !isnan(b->fnumber);
        series->has_iso = series->has_iso && !isnan(b->iso);
    }
    series->has_exposure = with_shutter == series->frame_count;
    if (with_shutter > 0 && !series->has_exposure)
        for (int i = 0; i < series->frame_count; i++)
            if (isnan(series->frame[i].facts.shutter_s) && isnan(series->frame[i].facts.shutter_apex_s))
                return pc_fail(
                    err, PC_BAD_INPUT, series->frame[i].name,
                    "It does not say its shutter time, and others of the set do; send the file as the camera "
                    "wrote it.");
    if (with_shutter == 0)
        pc_notes_add(
            notes,
            "No frame says its shutter time, so all are taken to have had one exposure; if they had not, "
            "nothing below is right, and there is no lux.");
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_facts *b = &series->frame[i].facts;
        if (series->has_aperture && fabs(b->fnumber / a->fnumber - 1.0) > 0.01)
            pc_notes_add(
                notes,
                "%s was taken at f/%.3g and %s at f/%.3g: this costs 0.1 EV, and sharpness differs; keep "
                "one aperture.",
                series->frame[i].name, b->fnumber, first->name, a->fnumber);
        if (series->has_iso && fabs(b->iso / a->iso - 1.0) > 0.01)
            pc_notes_add(notes,
                         "%s was taken at ISO %.0f and %s at ISO %.0f: this costs 0.1 EV; keep one ISO.",
                         series->frame[i].name, b->iso, first->name, a->iso);
    }
    return PC_OK;
}

enum pc_status pc_series_make(struct pc_photo_reader *reader, struct pc_arena *arena,
                              const struct pc_series_wish *wish, struct pc_series *series,
                              struct pc_notes *notes, struct pc_err *err)
{
    memset(series, 0, sizeof *series);
    series->linear = wish->linear;
    PC_TRY(collect(reader, arena, wish, series, notes, err));
    order_by_time(series, notes);
    PC_TRY(apply_said(wish, series, err));
    PC_TRY(assign_by_time(series, err));
    PC_TRY(check_roles(wish, series, notes, err));
    PC_TRY(check_alike(series, notes, err));
    pc_shutter_resolve(series);
    return PC_OK;
}

double pc_series_gain_of(const struct pc_series *series, const struct pc_facts *facts)
{
    const struct pc_facts *ref = &series->frame[series->reference].facts;
    double gain = 1.0;
    if (series->has_iso && !isnan(facts->iso))
        gain *= facts->iso / ref->iso;
    if (series->has_aperture && !isnan(facts->fnumber))
        gain *= (ref->fnumber / facts->fnumber) * (ref->fnumber / facts->fnumber);
    return gain;
}

double pc_series_gain(const struct pc_series *series, int frame)
{
    return pc_series_gain_of(series, &series->frame[frame].facts);
}

void pc_series_bracket(const struct pc_series *series, int frame, int *before, int *after,
                       double *between_ratio)
{
    *before = *after = -1;
    for (int k = 0; k < series->frame_count; k++) {
        if (series->frame[k].role != PC_ROLE_AMBIENT)
            continue;
        if (k < frame)
            *before = k;
        else if (k > frame && *after < 0)
            *after = k;
    }
    if (*before < 0)
        *before = *after;
    if (*after < 0)
        *after = *before;
    double from_s = series->frame[*before].time_s, to_s = series->frame[*after].time_s;
    *between_ratio = 0.0;
    if (to_s > from_s)
        *between_ratio = (series->frame[frame].time_s - from_s) / (to_s - from_s);
    else if (*after > *before)
        *between_ratio = (double)(frame - *before) / (double)(*after - *before);
    *between_ratio = fmin(1.0, fmax(0.0, *between_ratio));
}

double pc_series_exposure(const struct pc_series *series, int frame)
{
    return series->frame[frame].shutter_s / series->frame[series->reference].shutter_s *
           pc_series_gain(series, frame);
}

const double pc_drift_refused_pct = 15.0;

enum pc_status pc_series_refuse_drift(const struct pc_series *series, int a, int b, double pct,
                                      struct pc_err *err)
{
    char at_a[9], at_b[9], both[192];
    pc_clock_hms(series->frame[a].facts.time_s, at_a);
    pc_clock_hms(series->frame[b].facts.time_s, at_b);
    bool timed = !isnan(series->frame[a].facts.time_s) && !isnan(series->frame[b].facts.time_s);
    snprintf(both, sizeof both, "%s and %s", series->frame[a].name, series->frame[b].name);
    return pc_fail(err, PC_BAD_INPUT, both,
                   "Between these two frames%s%s%s%s%s the window changed by %.0f %%, and over %.0f %% it "
                   "cannot be taken "
                   "off; take the set again when the sky is steadier, or more quickly, or behind a blind.",
                   timed ? " (" : "", timed ? at_a : "", timed ? " to " : "", timed ? at_b : "",
                   timed ? ")" : "", fabs(pct), pc_drift_refused_pct);
}
