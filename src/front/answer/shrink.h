// SPDX-License-Identifier: Apache-2.0
// A picture made smaller by averaging areas in linear light.
#ifndef PC_FRONT_ANSWER_SHRINK_H
#define PC_FRONT_ANSWER_SHRINK_H

#include "image/picture/picture.h"

// small is initialised here: width_px wide (a picture that is no wider stays as it is), its height in
// proportion. Each of its pixels is the mean over the area it covers, parts of pixels counted as parts;
// clipped in a channel where any pixel it touches is.
enum pc_status pc_shrink(struct pc_ctx *ctx, const struct pc_picture *picture, int width_px,
                         struct pc_picture *small, struct pc_err *err) PC_MUST_CHECK;

#endif
