// SPDX-License-Identifier: Apache-2.0
#include "front/answer/verdict.h"

static const double RADIUS_RATIO = 0.02; // of the width: a fingertip on a picture as wide as a hand
static const double OVERHEAD_DEG = 80.0;

static double number_of(const struct pc_json *object, const char *key)
{
    double value;
    return pc_json_number(pc_json_get(object, key), &value) ? value : (double)NAN;
}

void pc_verdict_keep_finish(struct pc_verdict_keep *keep)
{
    if (keep == NULL)
        return;
    pc_check_look_finish(&keep->look);
    memset(keep, 0, sizeof *keep);
}

// What the job says that a check goes by.
struct said {
    struct pc_json *touches, *locked, *dials, *shots;
    int64_t rev; // of the last touch or locking
    char locked_frame[24];
};

static void said_finish(struct said *said)
{
    pc_json_destroy(said->touches);
    pc_json_destroy(said->locked);
    pc_json_destroy(said->dials);
    pc_json_destroy(said->shots);
}

static int64_t last_rev(const struct pc_json *now, const char **subject)
{
    int64_t last = 0;
    void *at = NULL;
    const char *key;
    const struct pc_json *body;
    while (now != NULL && pc_json_next(now, &at, &key, &body)) {
        double rev = number_of(body, "rev");
        if (rev > (double)last) {
            last = (int64_t)rev;
            if (subject != NULL)
                *subject = key;
        }
    }
    return last;
}

static enum pc_status ask(struct pc_job *job, struct said *said, struct pc_err *err)
{
    memset(said, 0, sizeof *said);
    PC_TRY(pc_job_now(job, "touch", &said->touches, err));
    PC_TRY(pc_job_now(job, "locked", &said->locked, err));
    PC_TRY(pc_job_now(job, "shot", &said->shots, err));
    PC_TRY(pc_job_now_of(job, "dials", "", &said->dials, err));
    const char *frame = "";
    int64_t locked = last_rev(said->locked, &frame), touched = last_rev(said->touches, NULL);
    snprintf(said->locked_frame, sizeof said->locked_frame, "%s", frame);
    said->rev = locked > touched ? locked : touched;
    return PC_OK;
}

static void make_spots(const struct said *said, const struct pc_picture *picture,
                       struct pc_check_spots *spots)
{
    static const char *const names[PC_CHECK_PLACES] = {"hero",  "surface", "greycard",
                                                       "sauce", "rim",     "front"};
    memset(spots, 0, sizeof *spots);
    for (int p = 0; p < PC_CHECK_PLACES; p++) {
        const struct pc_json *touch = said->touches != NULL ? pc_json_get(said->touches, names[p]) : NULL;
        double x = number_of(touch, "x_ratio"), y = number_of(touch, "y_ratio"),
               radius = number_of(touch, "radius_ratio");
        if (touch == NULL || isnan(x) || isnan(y))
            continue;
        spots->at[p] = (struct pc_check_spot){.x_px = x * picture->full_width_px,
                                              .y_px = y * picture->full_height_px,
                                              .radius_px = (radius > 0.0 ? radius : RADIUS_RATIO) *
                                                           picture->full_width_px};
    }
}

// The locked frame, read again when another one was locked or a place was touched anew.
static enum pc_status renew(struct pc_ctx *ctx, struct pc_photo_reader *reader, struct pc_job *job,
                            const struct said *said, struct pc_verdict_keep *keep, struct pc_err *err)
{
    if (strcmp(keep->locked, said->locked_frame) == 0 && keep->rev == said->rev)
        return PC_OK;
    pc_verdict_keep_finish(keep);
    if (said->locked_frame[0] == '\0')
        return PC_OK;
    struct pc_photo photo;
    struct pc_check_spots spots;
    struct pc_arena *arena = pc_arena_create();
    char *path;
    enum pc_status status = pc_job_frame_path(job, arena, said->locked_frame, &path, err);
    if (status == PC_OK)
        status = pc_photo_measure(reader, path, 0, false, &photo, err);
    if (status == PC_OK) {
        make_spots(said, &photo.picture, &spots);
        status = pc_check_look_make(ctx, &photo, &spots, &keep->look, err);
        pc_photo_finish(&photo);
    }
    pc_arena_destroy(arena);
    if (status != PC_OK) {
        pc_verdict_keep_finish(keep);
        return status;
    }
    snprintf(keep->locked, sizeof keep->locked, "%s", said->locked_frame);
    keep->rev = said->rev;
    return PC_OK;
}

// A shot that is seen from straight above, where the job has but that one kind.
static bool all_overhead(const struct said *said)
{
    void *at = NULL;
    const char *key;
    const struct pc_json *body;
    bool any = false;
    while (said->shots != NULL && pc_json_next(said->shots, &at, &key, &body)) {
        if (!(number_of(body, "angle_deg") > OVERHEAD_DEG))
            return false;
        any = true;
    }
    return any;
}

static void fill_plan(const struct said *said, const struct pc_check_look *locked, struct pc_check_plan *plan)
{
    double shutter_s = said->dials != NULL ? number_of(said->dials, "shutter_s") : (double)NAN;
    if (isnan(plan->shutter_s))
        plan->shutter_s = shutter_s;
    plan->overhead = plan->overhead || all_overhead(said);
    if (locked == NULL)
        return;
    if (isnan(plan->shutter_s))
        plan->shutter_s = locked->facts.shutter_s;
    if (isnan(plan->fnumber))
        plan->fnumber = locked->facts.fnumber;
    if (isnan(plan->iso))
        plan->iso = locked->facts.iso;
}

static void put_known(struct pc_json *body, const char *key, double value)
{
    if (isfinite(value))
        pc_json_put_number(body, key, value, 4);
}

static enum pc_status record(struct pc_job *job, const char *frame, const struct pc_verdict *verdict,
                             int64_t *rev, struct pc_err *err)
{
    struct pc_json *body = pc_json_object();
    const struct pc_finding *f = verdict->count > 0 ? &verdict->finding[0] : NULL;
    pc_json_put_text(body, "tone", pc_check_tone_name(verdict->tone));
    pc_json_put_text(body, "sentence", verdict->sentence);
    if (f != NULL) {
        pc_json_put_text(body, "kind", pc_check_kind_name(f->kind));
        pc_json_put_text(body, "unit", f->unit);
        if (f->action[0] != '\0')
            pc_json_put_text(body, "action", f->action);
        put_known(body, "value", f->value);
        put_known(body, "tolerance", f->tolerance);
        put_known(body, "x_ratio", fmin(fmax(f->x_px / verdict->full_width_px, 0.0), 1.0));
        put_known(body, "y_ratio", fmin(fmax(f->y_px / verdict->full_height_px, 0.0), 1.0));
    }
    struct pc_job_wish wish = {
        .who = "platecall", .role = PC_JOB_PROGRAM, .what = "verdict", .subject = frame, .body = body};
    enum pc_status status = pc_job_append(job, &wish, rev, err);
    pc_json_destroy(body);
    return status;
}

static enum pc_status check(struct pc_ctx *ctx, struct pc_photo_reader *reader, const char *path,
                            const struct said *said, const char *frame, const struct pc_check_plan *plan,
                            const struct pc_verdict_keep *keep, struct pc_verdict *verdict,
                            struct pc_err *err)
{
    struct pc_photo photo;
    struct pc_check_spots spots;
    struct pc_check_plan filled;
    bool held = keep->locked[0] != '\0' && strcmp(keep->locked, frame) != 0;
    const struct pc_check_look *locked = held ? &keep->look : NULL;
    if (plan != NULL)
        filled = *plan;
    else
        pc_check_plan_clear(&filled);
    fill_plan(said, locked, &filled);
    PC_TRY(pc_photo_measure(reader, path, 0, false, &photo, err));
    make_spots(said, &photo.picture, &spots);
    enum pc_status status = pc_check_frame(ctx, &photo, &spots, locked, &filled, verdict, err);
    pc_photo_finish(&photo);
    return status;
}

enum pc_status pc_verdict_record(struct pc_ctx *ctx, struct pc_photo_reader *reader, struct pc_job *job,
                                 const char *frame, const struct pc_check_plan *plan,
                                 struct pc_verdict_keep *keep, struct pc_verdict *verdict, int64_t *rev,
                                 struct pc_err *err)
{
    struct said said;
    struct pc_verdict mine;
    struct pc_arena *arena = pc_arena_create();
    char *path;
    enum pc_status status = ask(job, &said, err);
    if (status == PC_OK)
        status = renew(ctx, reader, job, &said, keep, err);
    if (status == PC_OK)
        status = pc_job_frame_path(job, arena, frame, &path, err);
    if (status == PC_OK)
        status = check(ctx, reader, path, &said, frame, plan, keep, &mine, err);
    if (status == PC_OK)
        status = record(job, frame, &mine, rev, err);
    if (status == PC_OK && verdict != NULL)
        *verdict = mine;
    said_finish(&said);
    pc_arena_destroy(arena);
    return status;
}
