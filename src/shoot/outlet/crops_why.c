// SPDX-License-Identifier: Apache-2.0
// Why there is no crop: the limits that stand against each other, and how far the frame misses.
#include "shoot/outlet/crops_priv.h"

enum { FURTHEST_PCT10 = 3000, FAR_SIDES = 3 };

static int64_t longest(const struct pc_crops_things *things)
{
    int64_t width = things->edge[0].to - things->edge[0].from,
            height = things->edge[1].to - things->edge[1].from;
    return width > height ? width : height;
}

static struct pc_crops_things grown(const struct pc_crops_things *things, int side, int64_t px, bool moved)
{
    struct pc_crops_things larger = *things;
    struct pc_crops_span *edge = &larger.edge[side % 2];
    int64_t *at[2] = {&edge->from, &edge->to};
    int64_t step = side < 2 ? -px : px;
    *at[side / 2] += step;
    if (moved)
        *at[1 - side / 2] += step;
    return larger;
}

static struct pc_crops_things further(const struct pc_crops_things *things, int pct10)
{
    struct pc_crops_things larger = *things;
    for (int a = 0; a < 2; a++) {
        int64_t more = (things->edge[a].to - things->edge[a].from) * pct10 / 2000;
        larger.edge[a].from -= more;
        larger.edge[a].to += more;
    }
    return larger;
}

static bool may(const struct pc_crops_plan *plan, const struct pc_crops_things *things, unsigned limits)
{
    struct pc_crops_things wide = *things;
    for (int a = 0; a < 2 && (limits & PC_CROPS_EDGES) == 0; a++) {
        wide.edge[a].from -= FAR_SIDES * longest(things);
        wide.edge[a].to += FAR_SIDES * longest(things);
    }
    int64_t at[2], size[2];
    return pc_crops_search(plan, &wide, limits, (limits & PC_CROPS_PIXELS) != 0 ? plan->needed_px : 1, at,
                           size);
}

// Left out one after another, what cannot be left out stays: none of the rest is needed for the proof.
static unsigned conflict_of(const struct pc_crops_plan *plan, const struct pc_crops_things *things,
                            unsigned limits)
{
    static const unsigned order[] = {PC_CROPS_PIXELS, PC_CROPS_KEEP_IN, PC_CROPS_MARGIN, PC_CROPS_FOLD,
                                     PC_CROPS_TYPE,   PC_CROPS_HERO,    PC_CROPS_EDGES};
    for (size_t i = 0; i < PC_COUNT(order); i++)
        if (!may(plan, things, limits & ~order[i]))
            limits &= ~order[i];
    return limits;
}

static void missing(const struct pc_crops_plan *plan, const struct pc_crops_things *things, unsigned limits,
                    struct pc_crop *crop)
{
    for (int side = 0; side < 4; side++) {
        int64_t no = 0, yes = FAR_SIDES * longest(things);
        struct pc_crops_things larger = grown(things, side, yes, false);
        if (!may(plan, &larger, limits))
            continue;
        while (yes - no > 1) {
            int64_t half = (no + yes) / 2;
            larger = grown(things, side, half, false);
            if (may(plan, &larger, limits))
                yes = half;
            else
                no = half;
        }
        if (crop->side >= 0 && yes >= crop->missing_px)
            continue;
        int64_t at[2], size[2];
        larger = grown(things, side, yes, true);
        crop->aim_does = may(plan, &larger, limits);
        larger = grown(things, side, yes, false);
        if (pc_crops_search(plan, &larger, limits, 1, at, size) && pc_outlet_is_page(crop->outlet))
            crop->missing_mm =
                (double)(yes * plan->whole[plan->longer]) / (double)size[plan->longer] / 1000.0;
        crop->side = side;
        crop->missing_px = (int)yes;
    }
}

void pc_crops_prove(const struct pc_crops_plan *plan, const struct pc_crops_things *things,
                    struct pc_crop *crop)
{
    unsigned limits = crop->there ? PC_CROPS_ALL : PC_CROPS_ALL & ~(unsigned)PC_CROPS_PIXELS;
    crop->conflict = conflict_of(plan, things, limits);
    missing(plan, things, limits, crop);
    if (crop->there)
        return;
    int no = 0, yes = FURTHEST_PCT10;
    struct pc_crops_things larger = further(things, yes);
    if (!may(plan, &larger, limits))
        return;
    while (yes - no > 1) {
        int half = (no + yes) / 2;
        larger = further(things, half);
        if (may(plan, &larger, limits))
            yes = half;
        else
            no = half;
    }
    crop->step_back_pct10 = yes;
}
