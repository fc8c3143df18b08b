// SPDX-License-Identifier: Apache-2.0
// The same readings from a series that was not locked off: a grey card lies at the hero and another at the
// surface in every frame, whatever the camera's position. No pictures come of it.
#ifndef PC_LIGHT_PARTS_HANDHELD_H
#define PC_LIGHT_PARTS_HANDHELD_H

#include "light/parts/answers.h"

struct pc_handheld {
    struct pc_reading reading;   // hero and surface, both as a grey card has them; whites filled in
    struct pc_exposure exposure; // of the reference frame
    double drift_pct;
    double clipped_ratio[PC_LIGHTS_MAX];
};

// A card the user points out in one frame.
struct pc_pointed {
    int frame; // of the series
    double x_px, y_px;
};

// hero and surface: where the two cards are in the first ambient frame: the card that holds the place, or
// else the nearest one. In the other frames they are the two that are seen as those are from elsewhere: the
// camera may go anywhere; where the table has no structure to tell by, it may roll by 60 degrees. pointed
// (borrowed, may be NULL with count 0): per frame the hero's card and then the surface's; what is pointed out
// is not searched for. PC_NOT_FOUND names the frame where a card cannot be found, PC_BAD_INPUT one where a
// card is clipped or half in a shadow's edge.
enum pc_status pc_handheld_read(struct pc_ctx *ctx, struct pc_photo_reader *reader,
                                const struct pc_series *series, const struct pc_place *hero,
                                const struct pc_place *surface, const struct pc_pointed *pointed,
                                int pointed_count, struct pc_handheld *handheld, struct pc_notes *notes,
                                struct pc_err *err) PC_MUST_CHECK;

#endif
