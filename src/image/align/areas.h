// SPDX-License-Identifier: Apache-2.0
// Private to this folder: marked cells of a grid become areas of the picture that must be left out.
#ifndef PC_IMAGE_ALIGN_AREAS_H
#define PC_IMAGE_ALIGN_AREAS_H

#include "image/align/align.h"

// A box of grid cells, last ones included.
struct area {
    int left, top, right, bottom;
    int cells; // marked ones in it
    int first; // its cells' label
};

enum { AREAS_MAX = 64 };

// Marked cells at most reach cells apart belong together; areas of fewer than least cells are dropped. label
// (columns x rows) gets each kept cell's area index + 1, else 0. Gives the number of areas, largest first.
int pc_areas_gather(const uint8_t *marked, int columns, int rows, int reach, int least, int *label,
                    struct area areas[AREAS_MAX]);

// Adds an area in full-resolution pixels, widened by a margin for the thing's shadow, to what was found;
// areas that overlap become one.
void pc_areas_report(const struct pc_picture *picture, double x0_px, double y0_px, double x1_px, double y1_px,
                     double by_px, struct pc_moved moved[PC_MOVED_MAX], int *count);

// Marks what was found in leave_out (height x width of the picture).
void pc_areas_leave_out(const struct pc_picture *picture, const struct pc_moved *moved, int count,
                        uint8_t *leave_out);

#endif
