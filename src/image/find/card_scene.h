// SPDX-License-Identifier: Apache-2.0
// Tables with and without grey cards, drawn from a seed for the tests of finding them. Where a card is and
// how light it is are known from the drawing.
#ifndef PC_IMAGE_FIND_CARD_SCENE_H
#define PC_IMAGE_FIND_CARD_SCENE_H

#include "image/picture/picture.h"

struct scene_card {
    double corner_px[4][2]; // full resolution, any order
    double x_px, y_px, across_px;
    double level[3]; // at the centre
};

struct scene {
    struct pc_picture picture;
    double neutral_ratio[3];
    int card_count;
    struct scene_card card[2];
    char what[64];
};

// card_count 0..2. Asserts on no memory: a test.
void scene_draw(struct pc_ctx *ctx, uint64_t seed, int width_px, int card_count, struct scene *scene);
void scene_finish(struct scene *scene);

#endif
