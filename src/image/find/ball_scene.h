// SPDX-License-Identifier: Apache-2.0
// Frames of a polished or a matte ball on a table under one light, by following rays, with the truth kept.
// For tests only; it shares nothing with what it judges.
#ifndef PC_IMAGE_FIND_BALL_SCENE_H
#define PC_IMAGE_FIND_BALL_SCENE_H

#include "image/picture/picture.h"

// Camera axes as in image/find/ball.h. Millimetres.
struct pc_ball_scene {
    uint64_t seed;
    int width_px, height_px;
    double image_px;
    double centre_mm[3], radius_mm, up[3];
    bool matte;
    double light_mm[3];          // the light's middle; it faces the ball
    double direction[3];         // from the ball's middle to it
    double half_a_mm, half_b_mm; // of its two ways across
    bool round;
    double wide_rad, narrow_rad; // as seen from the ball's middle
    double board_ratio;
    double exposure; // level of a white surface that faces the light where the ball lies
    double blur_px;
};

void pc_ball_scene_init(struct pc_ball_scene *s, uint64_t seed, bool matte);
enum pc_status pc_ball_scene_draw(struct pc_ctx *ctx, const struct pc_ball_scene *s,
                                  struct pc_picture *picture, struct pc_err *err) PC_MUST_CHECK;

#endif
