// SPDX-License-Identifier: Apache-2.0
// The parts as files for a browser, which weighs them by itself: any setting of the dials then shows at once.
//
// A file holds one picture: width x height RGBA half floats, little-endian, rows from the top. R, G and B are
// linear camera colour at the reference exposure, 1 where the sensor clips (grey: all three alike); A is 1
// where the part clipped, else 0. A setting's picture is the sum of weight x part over the ambient (file 0)
// and the emitters (files 1 ...), linear sRGB by a matrix, cut to 0..1 and encoded; where any part that goes
// in has A above 0 all three channels become the largest, before they are cut.
#ifndef PC_FRONT_ANSWER_PART_FILES_H
#define PC_FRONT_ANSWER_PART_FILES_H

#include "front/answer/weighed.h"

enum { PC_PART_FILES_WIDTH_PX = 1280, PC_PART_FILES_MAX = PC_EMITTERS_MAX + 1 };

// Writes folder/NAME-0.f16 ... ; wider parts are averaged down to most_width_px. PC_UNSUPPORTED for a set
// from the hand.
enum pc_status pc_part_files_write(struct pc_ctx *ctx, const struct pc_measured *measured, int most_width_px,
                                   const char *folder, const char *name, struct pc_err *err) PC_MUST_CHECK;
// The path of the n-th of them, in arena.
char *pc_part_files_path(struct pc_arena *arena, const char *folder, const char *name, int n);
int pc_part_files_count(const struct pc_measured *measured);

// {width_px, height_px, parts: [{light, emitter, url, per_full}], ambient: {url}, srgb_from_camera,
// white_level, settings}. The url of the n-th is before, n, after. per_full: weight of the part for the
// emitter at full dial. srgb_from_camera: for the setting that weighed is of. settings: that setting and the
// three ways, each with weights that are ready (file by file), its own matrix, and exposure_ratio to multiply
// it by.
struct pc_json *pc_part_files_json(const struct pc_weighed *weighed, int most_width_px, const char *before,
                                   const char *after);

#endif
