// SPDX-License-Identifier: Apache-2.0
// A frame as a screen shows it: developed here from the raw, white made neutral, the plain sRGB curve, no
// other tone. (A preview that the camera put into its file has bent tones, and nothing may be judged by it.)
#ifndef PC_FRONT_ANSWER_VIEW_H
#define PC_FRONT_ANSWER_VIEW_H

#include "image/photo/photo.h"

enum { PC_VIEW_WIDEST_PX = 2560, PC_VIEW_CUT_PX = 1200, PC_VIEW_CUT_LEAST_PX = 160 };

// The width that is made for one that was asked for: a few sizes only, so that few have to be kept.
int pc_view_width(int64_t asked_px);

// white_xyz: of a neutral in the file's own XYZ, any scale; NULL: the white the camera was set for.
// The whole frame, width_px wide (or as wide as it can be measured), averaged in linear light, as a JPEG.
enum pc_status pc_view_write(struct pc_ctx *ctx, struct pc_photo_reader *reader, const char *frame,
                             const double white_xyz[3], int width_px, const char *path,
                             struct pc_err *err) PC_MUST_CHECK;
// side_px x side_px pixels of the frame, one for one, about a place in shares of its width and height; moved
// inwards where it would reach beyond the edge.
enum pc_status pc_view_write_cut(struct pc_ctx *ctx, struct pc_photo_reader *reader, const char *frame,
                                 const double white_xyz[3], double x_ratio, double y_ratio, int side_px,
                                 const char *path, struct pc_err *err) PC_MUST_CHECK;
// A residual (closing.h) as a JPEG: mid grey where all is as foretold.
enum pc_status pc_view_write_residual(struct pc_ctx *ctx, const struct pc_picture *residual_ev,
                                      const char *path, struct pc_err *err) PC_MUST_CHECK;

#endif
