// SPDX-License-Identifier: Apache-2.0
// A pen in a hand: lines that waver a little, always in the same way.
#ifndef PC_SHOOT_ADVISE_SKETCH_PRIV_H
#define PC_SHOOT_ADVISE_SKETCH_PRIV_H

#include "base/draw.h"

struct sketch {
    struct pc_draw *draw;
    struct pc_pen pen;
    double mm_per_m, left_mm, floor_mm; // where x = 0 and height 0 lie on the sheet
    uint64_t strokes;                   // drawn so far: each has its own waver
};

struct at_m {
    double x_m, up_m;
};

struct pc_spot_mm sketch_place(const struct sketch *sketch, double x_m, double up_m);

// In millimetres on the sheet. over_mm: how far the pen runs past both ends.
void sketch_stroke(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm to, double over_mm);
void sketch_dashes(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm to);
void sketch_arrow_head(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm tip);
// Short slanting strokes along a line, on its left (positive length) or right as one goes.
void sketch_fringe(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm to, double length_mm);
void sketch_curve(struct sketch *sketch, const struct pc_spot_mm *spots, size_t count);

// In metres.
void sketch_line(struct sketch *sketch, double x0_m, double up0_m, double x1_m, double up1_m);
void sketch_shape(struct sketch *sketch, const struct at_m *corners, size_t count, bool closed);
void sketch_round(struct sketch *sketch, const struct at_m *spots, size_t count);

void sketch_text(struct sketch *sketch, double x_mm, double y_mm, enum pc_draw_anchor anchor, bool italic,
                 const char *text);
double sketch_text_mm(struct sketch *sketch, const char *text);

// Heights beside the staff, lowest first, moved apart so that no two are nearer than gap_mm and none lies
// under lowest_mm or over highest_mm (y, down). y holds where they point on entry, where they stand on
// return.
void sketch_spread(double *y_mm, size_t count, double gap_mm, double highest_mm, double lowest_mm);

#endif
