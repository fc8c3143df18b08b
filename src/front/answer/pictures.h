// SPDX-License-Identifier: Apache-2.0
// The pictures that --out asks for.
#ifndef PC_FRONT_ANSWER_PICTURES_H
#define PC_FRONT_ANSWER_PICTURES_H

#include "front/answer/weighed.h"

// Into folder (made if missing): window.jpg and one JPEG for each light alone, one for each of the three
// ways, foretold.tif (linear, camera colour, 65535 = saturation) and foretold.jpg of the dials asked for (or
// as captured), and residual.png where there was a closing frame. Light names are made fit for file names;
// one that a picture has already gets a number. A folder that holds the frames or the closing frame (actual,
// NULL: none) is refused.
enum pc_status pc_pictures_write(struct pc_ctx *ctx, struct pc_arena *arena, const struct pc_weighed *weighed,
                                 const char *actual, const char *folder, struct pc_err *err) PC_MUST_CHECK;

#endif
