// SPDX-License-Identifier: Apache-2.0
// What several checks go by: where the frame lies on the locked one and on the parts, and its bands.
#include "shoot/check/check_priv.h"

static const double STILL_PX = 0.15; // laid over each other only when a point moved farther

static bool same_grid(const struct pc_picture *a, const struct pc_picture *b)
{
    return a->width_px == b->width_px && a->height_px == b->height_px && a->channels == b->channels &&
           a->bin == b->bin;
}

static enum pc_status copy(struct pc_ctx *ctx, const struct pc_picture *from, struct pc_picture *to,
                           struct pc_err *err)
{
    PC_TRY(pc_picture_init(ctx, to, from->width_px, from->height_px, from->channels, err));
    struct pc_picture made = *to;
    *to = *from;
    to->px = made.px;
    to->clipped = made.clipped;
    to->pixels = made.pixels;
    to->mask = made.mask;
    size_t count = (size_t)from->width_px * (size_t)from->height_px;
    memcpy(to->px, from->px, count * (size_t)from->channels * sizeof *from->px);
    memcpy(to->clipped, from->clipped, count);
    return PC_OK;
}

// A frame that shows something else has nothing to be held against: that is no failure.
static enum pc_status shows_else(enum pc_status status, bool *does)
{
    *does = status == PC_BAD_INPUT;
    return *does ? PC_OK : status;
}

static enum pc_status find_moved(struct pc_check *check, struct pc_err *err)
{
    const struct pc_picture *before = &check->locked->small, *now = &check->now->small;
    struct pc_picture laid = {0};
    struct pc_err inner = {0};
    bool else_shown;
    PC_TRY(shows_else(pc_align_find(check->ctx, before, now, &check->align, &inner), &else_shown));
    if (else_shown)
        return PC_OK;
    check->registered = true;
    const struct pc_align *a = &check->align;
    double turn = hypot(a->scale_ratio * cos(a->rotation_rad) - 1.0, a->scale_ratio * sin(a->rotation_rad));
    double most_px =
        hypot(a->shift_x_px, a->shift_y_px) + turn * 0.5 * hypot(now->full_width_px, now->full_height_px);
    if (most_px > fmax(STILL_PX, a->tolerance_px))
        PC_TRY(pc_align_resample(check->ctx, now, a, &laid, err));
    enum pc_status status = pc_align_moved(check->ctx, before, laid.px != NULL ? &laid : now, a->tolerance_px,
                                           NULL, check->moved, &check->moved_count, err);
    pc_picture_finish(&laid);
    return status;
}

static enum pc_status find_bands(struct pc_check *check, struct pc_err *err)
{
    struct pc_err inner = {0};
    const struct pc_check_look *now = check->now, *locked = check->locked;
    const struct pc_picture *beside = check->registered ? &locked->small : NULL;
    enum pc_status status =
        pc_bands_find(&now->small, beside, now->facts.orientation, NULL, &check->bands, &inner);
    bool unreadable;
    status = shows_else(status, &unreadable);
    if (status != PC_OK)
        return pc_fail(err, status, inner.place, "%s", inner.text);
    check->banded = !unreadable;
    return PC_OK;
}

static bool a_light_is_blamed(const struct pc_check *check, const struct pc_closing *closing)
{
    for (int i = 0; i < check->plan->reading->light_count; i++)
        if (fabs(closing->light_ev[i]) >
            fmax(closing->light_tolerance_ev[i], PC_CHECK_SPEAKS_RATIO * pc_check_kind_harm(PC_CHECK_LIGHT)))
            return true;
    return false;
}

// Lights are told apart by colour too, so that a cast over everything looks like several lights amiss. If no
// light is to blame once the card's cast is taken off the whole frame, the cast was all.
static enum pc_status close_without_cast(struct pc_check *check, struct pc_laid *laid, struct pc_err *err)
{
    double gain[3];
    struct pc_closing again;
    struct pc_picture *p = &laid->picture;
    if (p->channels != 3 || !a_light_is_blamed(check, &check->closing) || !pc_check_cast_gains(check, gain))
        return PC_OK;
    size_t count = (size_t)p->width_px * (size_t)p->height_px;
    for (int c = 0; c < 3; c++) {
        for (size_t i = 0; i < count; i++)
            p->px[3 * i + (size_t)c] *= (float)(1.0 / gain[c]);
        p->noise.offset_var[c] /= gain[c] * gain[c];
        p->noise.per_signal_var[c] /= gain[c];
    }
    PC_TRY(pc_closing_of_laid(check->ctx, check->plan->parts, check->plan->reading, check->plan->dials, laid,
                              "", &again, err));
    if (!a_light_is_blamed(check, &again)) {
        pc_picture_finish(&check->closing.residual);
        check->closing = again;
    } else {
        pc_picture_finish(&again.residual);
    }
    return PC_OK;
}

static enum pc_status close_on_parts(struct pc_check *check, struct pc_err *err)
{
    const struct pc_check_plan *plan = check->plan;
    struct pc_picture mine;
    struct pc_laid laid;
    struct pc_err inner = {0};
    bool else_shown;
    PC_TRY(copy(check->ctx, &check->now->small, &mine, err));
    enum pc_status status =
        pc_parts_lay_picture(check->ctx, plan->parts, &mine, &check->now->facts, "", &laid, &inner);
    if (status == PC_OK) {
        status = pc_closing_of_laid(check->ctx, plan->parts, plan->reading, plan->dials, &laid, "",
                                    &check->closing, &inner);
        check->closed = status == PC_OK;
        if (status == PC_OK)
            status = close_without_cast(check, &laid, &inner);
        pc_picture_finish(&laid.picture);
    }
    status = shows_else(status, &else_shown);
    return status == PC_OK ? PC_OK : pc_fail(err, status, inner.place, "%s", inner.text);
}

enum pc_status pc_check_prepare(struct pc_check *check, struct pc_err *err)
{
    const struct pc_check_look *now = check->now;
    const struct pc_check_plan *plan = check->plan;
    if (check->locked != NULL && !same_grid(&check->locked->small, &now->small))
        check->locked = NULL; // another camera, or held the other way
    PC_TRY(pc_ctx_step(check->ctx, "Holding the frame against the locked one", 0.5, err));
    if (check->locked != NULL)
        PC_TRY(find_moved(check, err));
    PC_TRY(pc_ctx_step(check->ctx, "Holding the frame against the plan", 0.7, err));
    if (!now->tone_mapped)
        PC_TRY(find_bands(check, err));
    if (plan->parts != NULL && !now->tone_mapped && same_grid(&plan->parts->ambient, &now->small))
        PC_TRY(close_on_parts(check, err));
    return PC_OK;
}

void pc_check_prepare_finish(struct pc_check *check)
{
    pc_picture_finish(&check->closing.residual);
}
