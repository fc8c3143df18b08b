// SPDX-License-Identifier: Apache-2.0
#ifndef PC_SHOOT_OUTLET_CROPS_PRIV_H
#define PC_SHOOT_OUTLET_CROPS_PRIV_H

#include "shoot/outlet/crops.h"

// An outlet in whole numbers: thousandths of a millimetre or of a screen's pixel, from the bleed's edge.
struct pc_crops_plan {
    int64_t whole[2], bleed, margin, band[2][2], wanted[2], fold[2];
    bool has_fold;
    int longer; // side: 0 width, 1 height
    int needed_px;
};

struct pc_crops_span {
    int64_t from, to; // pixels; to is the first beyond
};

struct pc_crops_things {
    struct pc_crops_span edge[2], whole_hero[2], hero[2]; // hero: what of it has to show
    struct pc_crops_span keep_in[PC_CROPS_KEEP_IN_MAX][2];
    size_t count;
};

int64_t pc_crops_ceil(int64_t a, int64_t b); // a / b rounded up, b > 0
void pc_crops_plan_make(const struct pc_outlet *outlet, struct pc_crops_plan *plan);
// The best crop of at least so many pixels along its longer side that keeps limits; edges are always kept.
bool pc_crops_search(const struct pc_crops_plan *plan, const struct pc_crops_things *things, unsigned limits,
                     int64_t least_px, int64_t at_px[2], int64_t size_px[2]);
void pc_crops_prove(const struct pc_crops_plan *plan, const struct pc_crops_things *things,
                    struct pc_crop *crop);
const char *pc_crops_say(struct pc_arena *arena, const struct pc_crops *crops, const struct pc_crop *crop);
const char *pc_crops_say_all(struct pc_arena *arena, const struct pc_crops *crops);

#endif
