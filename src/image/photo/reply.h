// SPDX-License-Identifier: Apache-2.0
// A worker's answer, looked at as if an enemy had written it. Private to the room.
#ifndef PC_IMAGE_PHOTO_REPLY_H
#define PC_IMAGE_PHOTO_REPLY_H

#include "image/photo/pool.h"

// Copies what is sound into *photo (all but the pixels are then final) or gives the worker's error, under the
// name place. *lied: the answer cannot be one of our decoder's; the worker is not to be used again.
enum pc_status pc_reply_take(struct pc_ctx *ctx, const struct pc_lease *lease, enum pc_photo_want want,
                             int64_t most_pixels, const char *place, struct pc_photo *photo, bool *lied,
                             struct pc_err *err) PC_MUST_CHECK;

#endif
