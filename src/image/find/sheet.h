// SPDX-License-Identifier: Apache-2.0
// A sheet of paper in a picture: four straight sides, brighter inside, known as lines fitted to whole sides
// and not as four corners. What proportions it has only a camera can tell (image/camera/pose.h).
#ifndef PC_IMAGE_FIND_SHEET_H
#define PC_IMAGE_FIND_SHEET_H

#include "image/picture/picture.h"

// One side as seen: a point on it (the middle of what was seen, so that the two errors are independent) and
// the unit normal into the sheet. Full-resolution pixels.
struct pc_sheet_side {
    double x_px, y_px;
    double nx, ny;
    double offset_sd_px;   // along the normal
    double slope_sd_ratio; // of its direction, radians
    double seen_ratio;     // share of its length on which an edge was seen on one straight line
};

struct pc_sheet {
    struct pc_sheet_side side[4]; // clockwise as seen; side i runs from corner i to corner i + 1
    double corner_px[4][2];       // where the sides meet; the first is the one nearest the top left
    double score_ratio;           // 0..1: how plain it is and how much of its sides is seen
    double clipped_ratio;         // share of looks along its sides where the paper was clipped
    double halo_sd_px;            // how far the picture itself may have moved all sides outwards or inwards
};

enum { PC_SHEETS_MAX = 8 };

// Finds up to PC_SHEETS_MAX plain four-sided things brighter than what lies around them, best first, wholly
// in the picture, their shorter side 3 % of the picture's width or more, seen at up to 65 degrees from
// straight above. A side may be hidden over half of its length as long as the four together are seen over two
// thirds; a quarter of the face may be covered or clipped. *count is 0 when there is none; that is not an
// error.
enum pc_status pc_find_sheets(struct pc_ctx *ctx, const struct pc_picture *picture,
                              struct pc_sheet sheets[PC_SHEETS_MAX], int *count,
                              struct pc_err *err) PC_MUST_CHECK;

// The sheet whose corners lie near four places (full-resolution pixels, in any order, each within 1 % of the
// picture's width of the corner). False, *sheet untouched, when they are no four corners or no edges are seen
// between them.
bool pc_find_sheet_at(const struct pc_picture *picture, const double corner_px[4][2], struct pc_sheet *sheet);

#endif
