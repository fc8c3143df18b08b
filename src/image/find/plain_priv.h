// SPDX-License-Identifier: Apache-2.0
// A picture made small, in stops, and the plain areas in it: where light and colour change slowly.
#ifndef PC_IMAGE_FIND_PLAIN_PRIV_H
#define PC_IMAGE_FIND_PLAIN_PRIV_H

#include "image/picture/picture.h"

struct plain_field {
    int width_px, height_px;
    int shrink;       // pixels of the picture along one side of a pixel here
    bool colour;      // red and blue hold something
    float *level_ev;  // log2 of green (or the only channel)
    float *red_ev;    // log2 of red over green
    float *blue_ev;   // log2 of blue over green
    float *change_ev; // how much these change over two pixels; INFINITY where clipped
    float *core_ev;   // the largest change here and at the four neighbours; INFINITY on the rim
    uint8_t *clipped;
    int32_t *label; // 0: none, else the plain area's number
    int32_t *queue; // room for one entry a pixel
    struct pc_buffer memory;
};

enum pc_status plain_field_init(struct pc_ctx *ctx, const struct pc_picture *picture, int about_width_px,
                                struct plain_field *field, struct pc_err *err) PC_MUST_CHECK;
void plain_field_finish(struct plain_field *field);

// One plain area: level_ev = c0 + c1 u + c2 v + c3 u^2 + c4 u v + c5 v^2 with u, v from its middle in its
// half size.
struct plain_area {
    int32_t label;
    int left, top, right, bottom; // inclusive
    int pixels;
    bool at_border; // reaches the picture's rim
    double x, y, half;
    double model[6];
    double red_ev, blue_ev, scatter_ev;
};

// Labels the areas where the change stays under most_change_ev, after cutting bridges of two pixels, and
// grows each back to its edge. Areas smaller than least_px and those that reach the rim before are dropped.
// Returns how many, in the order of their first pixel by rows.
int plain_areas(struct plain_field *field, double most_change_ev, int least_px, struct plain_area *areas,
                int most_areas);

// The area that hangs together with a place and departs by no more than most_off_ev from its own smooth
// light, and by twice that in colour. Labels are those of this area alone afterwards. False when there is
// none to speak of.
bool plain_area_about(struct plain_field *field, double x, double y, double most_off_ev,
                      struct plain_area *area);

#endif
