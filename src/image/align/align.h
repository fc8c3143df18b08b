// SPDX-License-Identifier: Apache-2.0
// Two frames laid over each other: by how much the whole moved, and what in it moved by itself.
// The two may be lit quite differently (one light each): structure is compared, never brightness.
#ifndef PC_IMAGE_ALIGN_ALIGN_H
#define PC_IMAGE_ALIGN_ALIGN_H

#include "image/picture/picture.h"

// Where a point of the reference is found in the other frame, full-resolution pixels about the picture's
// centre:
//   other - centre = scale * R(rotation) (reference - centre) + shift.
struct pc_align {
    double shift_x_px, shift_y_px; // full-resolution
    double rotation_rad;           // positive turns x towards y
    double scale_ratio;
    double tolerance_px;     // 95 %, of where a point lands, from how well the tiles agree
    double tiles_used_ratio; // share of the picture's tiles with structure that agree with the fit
};

// Finds the similarity between two pictures of one size. Good to a shift of 3 % of the width, 1 degree, 1 %.
// Within 0.1 px (full-resolution) on sharp frames of SNR 20. PC_BAD_INPUT when they are not the same view
// (too few tiles agree), with a sentence that says so; err->place is left empty for the caller's file name.
enum pc_status pc_align_find(struct pc_ctx *ctx, const struct pc_picture *reference,
                             const struct pc_picture *other, struct pc_align *align,
                             struct pc_err *err) PC_MUST_CHECK;

// The other picture laid on the reference's pixels (bicubic, Catmull-Rom; clipped marks spread to every pixel
// they touch; pixels from outside are marked clipped in all channels and zero). Where no point is more than
// 0.01 px from a shift by whole pixels the pixels are copied. The noise model is kept: between pixels the
// noise is truly less (down to 0.41 of the variance, half a pixel off both ways) and neighbours share it, so
// that sums over areas stay right. resampled is initialised here.
enum pc_status pc_align_resample(struct pc_ctx *ctx, const struct pc_picture *other,
                                 const struct pc_align *align, struct pc_picture *resampled,
                                 struct pc_err *err) PC_MUST_CHECK;

enum { PC_MOVED_MAX = 8 };

// An area that did not stay with the rest of the picture, full-resolution pixels.
struct pc_moved {
    double x_px, y_px;          // centre of the area
    double width_px, height_px; // of the box around what must be left out
    double by_px;               // how far it moved, NAN where that cannot be told
};

// What moved by itself between two frames of the same lighting whose level may have drifted (two ambient
// frames), already on one pixel grid; drift may differ smoothly over the picture, shadows with soft edges may
// slide by a pixel or two, black levels may differ, noise models may be off by a factor. leave_out (height x
// width bytes of these pictures, borrowed; NULL: not wanted) is set non-zero where either picture may not be
// trusted: boxes around what moved, widened by 16 px and 15 % for its shadow; never cleared here. Finds an
// object of 2 % of the picture's area that stands out from what it lies on, nudged by 4 full-resolution
// pixels, in 95 % of cases, and nothing in frames where nothing moved (fewer than one in 300). Of a plain
// thing that moved along its own edges only the sides that show the move are left out. by_px on stripes is
// across them.
enum pc_status pc_align_moved(struct pc_ctx *ctx, const struct pc_picture *before,
                              const struct pc_picture *after, double registered_within_px, uint8_t *leave_out,
                              struct pc_moved moved[PC_MOVED_MAX], int *count,
                              struct pc_err *err) PC_MUST_CHECK;

// What moved by itself between two frames lit by different lights (an ambient frame and a one-light frame),
// already on one pixel grid: told by structure alone, so that it needs an object with detail of its own, at
// least about 40 pixels of these pictures across, moved by 2 full-resolution pixels up to 9 of the picture's
// (wider than 1000: up to 0.9 % of the width). It serves to tell from which frame on an object had moved that
// pc_align_moved found between the first and the last. Shadows that differ are not findings: several adjacent
// tiles must have gone the same way, in both directions well known, and match there far better than where
// they were: on napkins of 5 to 10 % of the area moved by 6 px it finds three in four, so that nothing found
// does not say that nothing moved. by_px is within a pixel for half of these. leave_out is set as in
// pc_align_moved.
enum pc_status pc_align_moved_between_lights(struct pc_ctx *ctx, const struct pc_picture *before,
                                             const struct pc_picture *after, double registered_within_px,
                                             uint8_t *leave_out, struct pc_moved moved[PC_MOVED_MAX],
                                             int *count, struct pc_err *err) PC_MUST_CHECK;

#endif
