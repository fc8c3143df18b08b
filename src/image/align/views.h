// SPDX-License-Identifier: Apache-2.0
// One scene from two places of the camera: what small areas of one frame are found in the other.
#ifndef PC_IMAGE_ALIGN_VIEWS_H
#define PC_IMAGE_ALIGN_VIEWS_H

#include "image/picture/picture.h"

// An area seen in both frames; full-resolution pixels of each.
struct pc_shared_area {
    double a_px[2], b_px[2];
    double log_ratio; // natural logarithm of b's level over a's there, green
};

enum { PC_SHARED_AREAS_MAX = 640 };

struct pc_shared {
    double b_from_a[3][3]; // view of the plane that most areas lie on, full-resolution pixels
    int structured; // areas of a with enough structure to be looked for, where b shows the place at all
    int count;      // of those, found
    struct pc_shared_area area[PC_SHARED_AREAS_MAX];
};

// Looks for the areas of a in b, from a first view of the table's plane (a homography in full-resolution
// pixels, within about 3 % of the width), which is then laid on what was found. Structure is compared, never
// brightness, so that the frames may be lit by different lights. Things above the table are found too when
// they stand within reach of its plane; where nothing agrees count stays small, which is not an error. Both
// pictures are of one size. fine: several times as many areas of half the size, placed within a pixel, for
// their levels; without, to a few pixels and in a fraction of the time.
enum pc_status pc_align_shared(struct pc_ctx *ctx, const struct pc_picture *a, const struct pc_picture *b,
                               const double b_from_a[3][3], bool fine, struct pc_shared *shared,
                               struct pc_err *err) PC_MUST_CHECK;

#endif
