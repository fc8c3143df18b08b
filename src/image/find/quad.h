// SPDX-License-Identifier: Apache-2.0
// Four straight sides: from the rim of a region, and then from the picture's own edges.
// Corners go round clockwise as seen (y down). Pure; safe from any thread.
#ifndef PC_IMAGE_FIND_QUAD_H
#define PC_IMAGE_FIND_QUAD_H

#include "image/picture/picture.h"

// Four lines fitted to the rim of a region (count points on it, any order, borrowed). *off_px: the root mean
// square distance of the rim's points from the sides, corners left out. False when the rim has no four-sided
// hull.
bool pc_quad_from_rim(const double (*rim)[2], int count, double corner[4][2], double *off_px);

struct pc_quad_edges {
    double seen_ratio[4]; // per side: share of the looks across it that saw a step, on one straight line
    double off_px;        // root mean square distance of those from their lines
};

// Moves the sides onto the edges seen in the picture. corner: in pixels of this picture (origin at the corner
// of the first pixel), at most within_px off. Good to a tenth of a pixel where the step is 0.2 EV or more at
// SNR 20. False, corner untouched, when a side has no edge to speak of.
bool pc_quad_refine(const struct pc_picture *picture, double within_px, double corner[4][2],
                    struct pc_quad_edges *edges);

double pc_quad_area(const double corner[4][2]);                    // positive when clockwise as seen
bool pc_quad_holds(const double corner[4][2], double x, double y); // convex, clockwise
// Where the diagonals cross: the middle of a rectangle seen in perspective. False when they do not.
bool pc_quad_centre(const double corner[4][2], double xy[2]);

#endif
