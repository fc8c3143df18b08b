// SPDX-License-Identifier: Apache-2.0
#include "shoot/outlet/crops.h"

#include "shoot/outlet/crops_priv.h"

#define GRAINS          1000.0 // in a millimetre, and in a pixel of a screen
#define GRAINS_PER_INCH 25400
#define NO_PIXEL        1e-6 // a ratio's rounding is not taken for a pixel

int64_t pc_crops_ceil(int64_t a, int64_t b)
{
    return a / b + (a % b > 0);
}

static int64_t grains(double value)
{
    return llround(value * GRAINS);
}

void pc_crops_plan_make(const struct pc_outlet *outlet, struct pc_crops_plan *plan)
{
    bool page = pc_outlet_is_page(outlet);
    int64_t bleed = page ? grains(outlet->bleed_mm) : 0, trim[2];
    const double clear[2][2] = {{outlet->clear_left_ratio, outlet->clear_right_ratio},
                                {outlet->clear_top_ratio, outlet->clear_bottom_ratio}};
    for (int a = 0; a < 2; a++) {
        trim[a] = grains(page ? outlet->size_mm[a] : outlet->size_px[a]);
        plan->whole[a] = trim[a] + 2 * bleed;
        for (int end = 0; end < 2; end++)
            plan->band[a][end] = llround(clear[a][end] * (double)trim[a]);
        plan->wanted[a] = isnan(outlet->hero_at_ratio[a])
                              ? bleed + (plan->band[a][0] + trim[a] - plan->band[a][1]) / 2
                              : bleed + llround(outlet->hero_at_ratio[a] * (double)trim[a]);
    }
    plan->bleed = bleed;
    plan->longer = plan->whole[1] > plan->whole[0];
    plan->margin = llround(outlet->hero_margin_ratio * (double)(trim[0] < trim[1] ? trim[0] : trim[1]));
    plan->has_fold = page && outlet->fold_ratio > 0;
    int64_t fold = bleed + llround(outlet->fold_ratio * (double)trim[0]);
    plan->fold[0] = fold - grains(outlet->fold_clear_mm);
    plan->fold[1] = fold + grains(outlet->fold_clear_mm);
    int64_t whole = plan->whole[plan->longer];
    plan->needed_px =
        page ? (int)pc_crops_ceil(grains(outlet->needed_ppi) * whole, (int64_t)GRAINS * GRAINS_PER_INCH)
             : (int)pc_crops_ceil(whole, (int64_t)GRAINS);
}

// What size px of the whole are so many grains.
static int64_t px_down(int64_t grain, int64_t size, int64_t whole)
{
    int64_t product = grain * size;
    return product / whole - (product % whole < 0);
}

static int64_t px_up(int64_t grain, int64_t size, int64_t whole)
{
    return pc_crops_ceil(grain * size, whole);
}

struct axis {
    int64_t low, high;                        // where a crop may begin, both included
    int64_t gap[PC_CROPS_KEEP_IN_MAX + 1][2]; // but not between these, ends not included
    int gap_count;
};

static void keep_box(const struct pc_crops_plan *plan, unsigned limits, int a, int64_t size,
                     const struct pc_crops_span *box, int64_t margin, struct axis *axis)
{
    int64_t whole = plan->whole[a], inset[2];
    for (int end = 0; end < 2; end++) {
        int64_t band = (limits & PC_CROPS_TYPE) != 0 ? plan->band[a][end] : 0;
        inset[end] = px_up(plan->bleed + (margin > band ? margin : band), size, whole);
    }
    int64_t high = box->from - inset[0], low = box->to + inset[1] - size;
    axis->high = high < axis->high ? high : axis->high;
    axis->low = low > axis->low ? low : axis->low;
    if (a == 0 && plan->has_fold && (limits & PC_CROPS_FOLD) != 0) {
        axis->gap[axis->gap_count][0] = box->from - px_up(plan->fold[1], size, whole);
        axis->gap[axis->gap_count++][1] = box->to - px_down(plan->fold[0], size, whole);
    }
}

static bool may_begin(const struct axis *axis, int64_t at)
{
    bool may = at >= axis->low && at <= axis->high;
    for (int i = 0; i < axis->gap_count && may; i++)
        may = at <= axis->gap[i][0] || at >= axis->gap[i][1];
    return may;
}

// The distance is convex, so its least is where it is wanted, or at an end of what is allowed.
static bool nearest(const struct axis *axis, int64_t hero_twice, int64_t wanted_twice, int64_t *at)
{
    int64_t tried[2 * (PC_CROPS_KEEP_IN_MAX + 1) + 4], least = INT64_MAX;
    int count = 0;
    tried[count++] = axis->low;
    tried[count++] = axis->high;
    int64_t amid = (hero_twice - wanted_twice) / 2;
    for (int64_t off = -1; off <= 1; off++)
        if (count < (int)PC_COUNT(tried) - 2 * axis->gap_count)
            tried[count++] = amid + off;
    for (int i = 0; i < axis->gap_count; i++)
        for (int end = 0; end < 2 && count < (int)PC_COUNT(tried); end++)
            tried[count++] = axis->gap[i][end];
    for (int i = 0; i < count; i++) {
        int64_t off = llabs(hero_twice - 2 * tried[i] - wanted_twice);
        if (!may_begin(axis, tried[i]) || off > least || (off == least && tried[i] >= *at))
            continue;
        least = off;
        *at = tried[i];
    }
    return least != INT64_MAX;
}

static bool place(const struct pc_crops_plan *plan, const struct pc_crops_things *things, unsigned limits,
                  int a, int64_t size, int64_t *at)
{
    struct axis axis = {.low = things->edge[a].from, .high = things->edge[a].to - size};
    if ((limits & PC_CROPS_HERO) != 0)
        keep_box(plan, limits, a, size, &things->hero[a], (limits & PC_CROPS_MARGIN) != 0 ? plan->margin : 0,
                 &axis);
    for (size_t i = 0; i < things->count && (limits & PC_CROPS_KEEP_IN) != 0; i++)
        keep_box(plan, limits, a, size, &things->keep_in[i][a], 0, &axis);
    return nearest(&axis, things->whole_hero[a].from + things->whole_hero[a].to,
                   px_down(2 * plan->wanted[a], size, plan->whole[a]), at);
}

bool pc_crops_search(const struct pc_crops_plan *plan, const struct pc_crops_things *things, unsigned limits,
                     int64_t least_px, int64_t at_px[2], int64_t size_px[2])
{
    int l = plan->longer, s = 1 - l;
    int64_t most = things->edge[l].to - things->edge[l].from,
            room = things->edge[s].to - things->edge[s].from;
    for (int64_t n = most; n >= least_px && n > 0; n--) {
        int64_t shorter = (2 * n * plan->whole[s] + plan->whole[l]) / (2 * plan->whole[l]);
        if (shorter > room || shorter < 1)
            continue;
        size_px[l] = n;
        size_px[s] = shorter;
        if (place(plan, things, limits, 0, size_px[0], &at_px[0]) &&
            place(plan, things, limits, 1, size_px[1], &at_px[1]))
            return true;
    }
    return false;
}

static bool span_of(const struct pc_crops_box *box, const int px[2], struct pc_crops_span span[2])
{
    for (int a = 0; a < 2; a++) {
        if (!(box->from_ratio[a] >= 0 && box->from_ratio[a] < box->to_ratio[a] && box->to_ratio[a] <= 1))
            return false;
        span[a].from = (int64_t)floor(box->from_ratio[a] * px[a] + NO_PIXEL);
        span[a].to = (int64_t)ceil(box->to_ratio[a] * px[a] - NO_PIXEL);
    }
    return true;
}

static void show_of_hero(const struct pc_outlet *outlet, struct pc_crops_things *things)
{
    for (int a = 0; a < 2; a++) {
        const struct pc_crops_span *whole = &things->whole_hero[a];
        double hidden = (1 - outlet->hero_shown_ratio) / 2 * (double)(whole->to - whole->from);
        int64_t cut = (int64_t)floor(hidden + NO_PIXEL);
        things->hero[a] = (struct pc_crops_span){whole->from + cut, whole->to - cut};
    }
}

static void answer(const struct pc_crops_things *things, const struct pc_outlet *outlet, struct pc_crop *crop)
{
    struct pc_crops_plan plan;
    pc_crops_plan_make(outlet, &plan);
    int64_t at[2], size[2];
    *crop = (struct pc_crop){
        .outlet = outlet, .needed_px = plan.needed_px, .side = -1, .missing_mm = NAN, .step_back_pct10 = -1};
    crop->there = pc_crops_search(&plan, things, PC_CROPS_ALL & ~PC_CROPS_PIXELS, 1, at, size);
    for (int a = 0; a < 2 && crop->there; a++) {
        crop->at_px[a] = (int)at[a];
        crop->size_px[a] = (int)size[a];
    }
    int64_t across = crop->size_px[plan.longer];
    if (pc_outlet_is_page(outlet))
        crop->reached_ppi = (int)(across * GRAINS_PER_INCH / plan.whole[plan.longer]);
    crop->fits = crop->there && across >= plan.needed_px;
    if (!crop->fits)
        pc_crops_prove(&plan, things, crop);
}

enum pc_status pc_crops_find(struct pc_arena *arena, const struct pc_crops_frame *frame,
                             const struct pc_outlet *const *outlets, size_t count, struct pc_crops *crops,
                             struct pc_err *err)
{
    bool turned = frame->orientation >= 5;
    *crops = (struct pc_crops){.frame_px = {frame->px[turned], frame->px[!turned]}, .count = count};
    for (int a = 0; a < 2; a++)
        if (frame->px[a] < 1 || frame->px[a] > PC_CROPS_FRAME_MAX_PX)
            return pc_fail(err, PC_BAD_INPUT, "frame", "A frame has 1 to %d pixels along each side.",
                           PC_CROPS_FRAME_MAX_PX);
    PC_ASSERT(frame->keep_in_count <= PC_CROPS_KEEP_IN_MAX);
    struct pc_crops_things things = {.count = frame->keep_in_count};
    for (int a = 0; a < 2; a++)
        things.edge[a] = (struct pc_crops_span){0, crops->frame_px[a]};
    bool good = span_of(&frame->hero, crops->frame_px, things.whole_hero);
    for (size_t i = 0; i < frame->keep_in_count; i++)
        good = good && span_of(&frame->keep_in[i], crops->frame_px, things.keep_in[i]);
    if (!good)
        return pc_fail(err, PC_BAD_INPUT, "hero",
                       "The hero, or a box to keep in, does not lie in the frame: "
                       "touch it again.");
    crops->crops = PC_NEW_N(arena, count, struct pc_crop);
    crops->all_fit = true;
    for (size_t i = 0; i < count; i++) {
        struct pc_crop *crop = &crops->crops[i];
        show_of_hero(outlets[i], &things);
        answer(&things, outlets[i], crop);
        crop->sentence = pc_crops_say(arena, crops, crop);
        crops->all_fit = crops->all_fit && crop->fits;
        if (!crop->there && crops->step_back_pct10 >= 0)
            crops->step_back_pct10 =
                crop->step_back_pct10 < 0 || crop->step_back_pct10 > crops->step_back_pct10
                    ? crop->step_back_pct10
                    : crops->step_back_pct10;
    }
    crops->sentence = pc_crops_say_all(arena, crops);
    return PC_OK;
}
