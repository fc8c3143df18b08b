// SPDX-License-Identifier: Apache-2.0
// Where the camera stood, from a sheet of A4 on the table. Pure; safe from any thread.
//
// Camera axes: x to the right of the upright picture, y down it, z the way the lens looks; the origin is the
// lens's entrance pupil, the principal point the picture's middle (so: no crop off the middle, no shifted
// lens), straight lines stay straight (so: little distortion). Tilt 0 looks straight down.
#ifndef PC_IMAGE_CAMERA_POSE_H
#define PC_IMAGE_CAMERA_POSE_H

#include "image/find/sheet.h"

// A4, ISO 216.
#define PC_A4_LONG_mm  297.0
#define PC_A4_SHORT_mm 210.0

extern const double pc_pose_sheet_tolerance_mm;   // 0.5: how office paper is cut, not ISO 216's 2 mm
extern const double pc_pose_least_tilt_focal_rad; // 20 degrees: below it the focal length is not told
extern const double pc_pose_least_tilt_roll_rad;  // 10 degrees: below it there is no roll, only two leans
extern const double
    pc_pose_marked_focal_tolerance; // 0.03: of a focal length as marked or written into a file

struct pc_pose_lens {
    int width_px, height_px;      // of the photograph, full resolution, upright
    double focal_mm;              // NAN: not known
    double focal_tolerance_ratio; // of it
    double px_per_mm;             // on the sensor, full resolution; NAN when the focal length is not known
    bool close_up;                // the lens is a thin one focused at the sheet: its image lies
                                  // f u / (u - f) behind it. False: focal_mm is that distance already
};

// A picture's pixels to a millimetre of its sensor, from the focal length and its equivalent on 24 x 36 mm by
// the diagonal (43.27 mm): diagonal_px focal_35mm / (43.27 focal).
double pc_pose_px_per_mm_from_35mm(int width_px, int height_px, double focal_mm, double focal_35mm_mm);

enum pc_pose_focal {
    PC_POSE_FOCAL_GIVEN,
    PC_POSE_FOCAL_FOUND,   // from the frame itself
    PC_POSE_FOCAL_REFUSED, // too near straight down to be told: distances are NAN
};

// Each figure with its tolerance; NAN where it cannot be told. Metres and radians.
struct pc_pose {
    enum pc_pose_focal focal;
    double distance_m, distance_tolerance_m; // entrance pupil to the middle of the sheet
    double height_m, height_tolerance_m;     // of the entrance pupil above the table
    double sensor_m, sensor_tolerance_m;     // height of the sensor's middle above the table
    double tilt_rad, tilt_tolerance_rad;     // of the line of sight from straight down
    double roll_rad,
        roll_tolerance_rad; // positive: the camera's right side is the higher one; NAN under 10 deg
    double side_rad,
        side_tolerance_rad; // the same for a camera that looks down: lean to the right side's favour
    double fore_rad, fore_tolerance_rad; // positive: the side at the picture's foot is the higher one
    double image_px, image_tolerance_px; // entrance pupil to image, in pixels
    double turn_rad, turn_tolerance_rad; // long side of the sheet against the camera's left-right line, on
                                         // the table, positive clockwise as seen, within a quarter turn
    double keystone_ratio;               // scale at the picture's foot over that at its head, less 1
    double keystone_side_ratio;          // the same from left to right
    double misfit_sd;                    // how far the four sides are from those of an A4 sheet, in standard
                                         // deviations (root mean square over what is left to judge by)
    double up[3];                        // the table's upward normal in camera axes
    double centre_mm[3];                 // middle of the sheet in camera axes
};

// False when the four sides cannot be those of an A4 sheet seen by this camera (or by any, when the focal
// length is not known). *pose is then untouched.
bool pc_pose_from_sheet(const struct pc_sheet *sheet, const struct pc_pose_lens *lens, struct pc_pose *pose);

// What pc_pose_from_sheet makes of its inputs, for judging tolerances. x: each side's offset and slope
// against the line that was seen (8 numbers about 0), the logarithm of the focal length, the sheet's long and
// short side (mm) and how far the picture moved its edges outwards (px). y: distance, height and sensor
// height (m); tilt, roll, side, fore (rad); image distance (px); turn (rad).
enum { PC_POSE_INPUTS = 12, PC_POSE_OUTPUTS = 9, PC_POSE_UNKNOWNS = 10 };
struct pc_pose_answer {
    struct pc_sheet_side side[4]; // the first along the sheet's long side
    double corner_px[4][2];
    struct pc_pose_lens lens;
    double x[PC_POSE_INPUTS], x_tolerance[PC_POSE_INPUTS]; // as seen
    double sd[PC_POSE_INPUTS];                             // what each is trusted to when they disagree
    double at[PC_POSE_UNKNOWNS];                           // the pose at x
    double sum_of_squares;                                 // of what disagrees
    double turn_about_rad;
};
bool pc_pose_answer_init(const struct pc_sheet *sheet, const struct pc_pose_lens *lens,
                         struct pc_pose_answer *answer);
bool pc_pose_answer(const void *given, const double x[], double y[]);

// The best sheet of several found that are A4 as this camera sees it, 0.2 to 3.2 m away, or -1.
int pc_pose_choose(const struct pc_sheet *sheets, int count, const struct pc_pose_lens *lens,
                   struct pc_pose *pose);

#endif
