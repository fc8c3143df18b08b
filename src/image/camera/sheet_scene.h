// SPDX-License-Identifier: Apache-2.0
// Frames of an A4 sheet on a table, and of tables without one, with the truth about the camera kept. For
// tests only; it shares nothing with what it judges: a thin lens focused at the sheet, edges drawn in closed
// form (the integral of a Gaussian blur across each), noise, clipping, uneven light, patterned and plain
// boards, things lying about and on the sheet's edges. No distortion.
#ifndef PC_IMAGE_CAMERA_SHEET_SCENE_H
#define PC_IMAGE_CAMERA_SHEET_SCENE_H

#include "image/picture/picture.h"

enum pc_sheet_scene_board {
    PC_SHEET_SCENE_OAK,
    PC_SHEET_SCENE_LINEN,
    PC_SHEET_SCENE_PLASTER,
    PC_SHEET_SCENE_CHECKED,
    PC_SHEET_SCENE_BOARDS
};

// Full-resolution pixels, millimetres, radians; camera axes as in image/camera/pose.h (right, down, forward).
struct pc_sheet_scene {
    uint64_t seed;
    int width_px, height_px, bin;
    double focal_mm, sensor_width_mm;
    bool there;                 // a sheet lies on the table; else something else that is plain and bright
    double tilt_rad, roll_rad;  // as drawn from the seed, or set
    double distance_mm;         // entrance pupil to the middle of the sheet
    double image_px;            // entrance pupil to image
    double up[3], centre_mm[3]; // of the table; of the sheet
    double long_mm, short_mm;   // as cut
    enum pc_sheet_scene_board board;
    double covered_ratio, clipped; // of the sheet's face; 1 when a part of it is over-exposed
    double corner_px[4][2];
};

// Which camera: 0: 8192 x 5464 on 36 x 24 mm, 50 mm; 1: a phone, 4032 x 3024, 24 mm equivalent by diagonal.
void pc_sheet_scene_init(struct pc_sheet_scene *sheet, uint64_t seed, int camera, double least_tilt_deg,
                         double most_tilt_deg, bool there);
// The frame as a picture measured 2 x 2 binned. Away from the sheet's sides it is drawn in blocks of 4 x 4.
enum pc_status pc_sheet_scene_draw(struct pc_ctx *ctx, const struct pc_sheet_scene *sheet,
                                   struct pc_picture *picture, struct pc_err *err) PC_MUST_CHECK;

#endif
