// SPDX-License-Identifier: Apache-2.0
// Steps of making parts, shared between this folder's files.
#ifndef PC_LIGHT_PARTS_PARTS_PRIV_H
#define PC_LIGHT_PARTS_PARTS_PRIV_H

#include "light/parts/parts.h"

enum { PC_PARTS_PIXELS = 1600000 }; // about the most pixels a part holds

// One frame of the series as read, before it becomes a part or goes into the ambient.
struct pc_loaded {
    struct pc_picture picture;
    double clipped_ratio;
    bool black_by_default;
    int mended; // dead columns and rows
    bool has_xyz;
    double xyz_from_camera[3][3];
    bool has_neutral;
    double neutral_ratio[3];
};

// Reads and averages one frame down to the size of parts.
enum pc_status pc_parts_load(struct pc_photo_reader *reader, const char *path, bool linear,
                             struct pc_loaded *loaded, struct pc_facts *facts,
                             struct pc_err *err) PC_MUST_CHECK;

// How much more light b holds than a, the brighter or as bright: the median of ratios of small blocks, each
// counted by its light in a, clipped and dark ones left out. NAN when too little of the picture can be
// compared.
double pc_parts_level_ratio(const struct pc_picture *a, const struct pc_picture *b);

// How much of bright's light faint holds, both parts of one light: least squares over small blocks in all
// colours, with what may be left of the ambient and of the black level set apart. *se: its standard error.
// False when too little of the picture can be compared.
bool pc_parts_light_ratio(const struct pc_parts *parts, const struct pc_picture *bright,
                          const struct pc_picture *faint, double *ratio, double *se) PC_MUST_CHECK;

// How bright a part is where it is brightest against the ambient: the 95th percentile of the ratio over small
// blocks.
double pc_parts_brightest_ratio(const struct pc_picture *ambient, const struct pc_picture *part);

// Sets parts->unread, once the parts are made.
void pc_parts_mark_unread(struct pc_parts *parts);

// Multiplies every value (and the noise model) by a factor.
void pc_parts_scale(struct pc_picture *picture, double factor);

// Tells that a frame states no black level, or that lines of its sensor are dead.
void pc_parts_note_sensor(const struct pc_loaded *loaded, const char *frame, struct pc_notes *notes);

// The matrix of the set from its reference frame, scaled so that a saturated neutral has Y = 1.
void pc_parts_set_colour(struct pc_parts *parts, const struct pc_loaded *reference);

// Shift, rotation and scale as the largest distance, in full-resolution pixels, that any point of the picture
// moves.
double pc_parts_largest_move_px(const struct pc_picture *picture, const struct pc_align *align);

#endif
