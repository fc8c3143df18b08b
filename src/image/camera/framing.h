// SPDX-License-Identifier: Apache-2.0
// Where the camera stands for a picture of a given size, and what it sees from there. Pure; safe from any
// thread.
//
// Metres and radians. The hero stands on a table; the camera looks at it from six o'clock, down by its
// elevation: 0 level, a right angle straight down. The picture's size is measured through the hero, square to
// the lens's axis. On the table: x to the right, y away from the camera, from the hero's foot.
//
// A thick lens: focal length; exit over entrance pupil; distance between the principal planes. With
// magnification m, sensor to subject is f (2 + m + 1/m) + gap, entrance pupil to subject f (1/m + 1/P)
// (Gauss; Kingslake, Optics in Photography, SPIE 1992, ch. 5). What is seen past an edge, and how far a tall
// thing leans, turns about the entrance pupil. The lens is taken to move as a whole when it is focused.
#ifndef PC_IMAGE_CAMERA_FRAMING_H
#define PC_IMAGE_CAMERA_FRAMING_H

#include "base/err.h"

// Engraved focal lengths are rounded: 3 %; after one frame of an A4 sheet 1.5 %.
#define PC_FRAMING_MARKED_FOCAL_TOLERANCE_RATIO   0.03
#define PC_FRAMING_MEASURED_FOCAL_TOLERANCE_RATIO 0.015

enum { PC_FRAMING_TABLES_MAX = 16 };

struct pc_framing_wish {
    // Camera: the sensor as it lies in the body, long side as width. pixels 0: unknown.
    double sensor_width_m, sensor_height_m;
    double sensor_width_px, sensor_height_px;
    // Lens. NAN: unknown, and then a pupil ratio of 1 within 0.3 and a gap of 0 within a tenth of focal_m.
    double focal_m, focal_m_tolerance;
    double pupil_ratio, pupil_ratio_tolerance;
    double principal_gap_m, principal_gap_m_tolerance;
    double front_m;   // sensor to the front rim of the lens; NAN: unknown
    double closest_m; // sensor to the nearest plane that it focuses on; NAN: unknown
    // Picture through the hero. height NAN: the sensor's shape. Higher than wide: the camera is turned
    // upright.
    double picture_width_m, picture_height_m;
    double outlet_width_m; // printed width of that picture, bleed included; NAN: none
    double elevation_rad, elevation_rad_tolerance;
    // Room, heights above the floor. ceiling NAN: no ceiling. Table heights in any order, at least one.
    double ceiling_m, ceiling_m_tolerance;
    double body_arm_m, body_arm_m_tolerance; // kept above the sensor for the body, the arm and a hand
    double table_m[PC_FRAMING_TABLES_MAX], table_m_tolerance;
    int table_count;
    double hero_above_m; // the plane in focus above the table, where it meets the axis
    // What lies and stands there. NAN: none. The board's middle is under the hero.
    double board_width_m, board_depth_m;
    double tall_m, tall_off_axis_m, tall_tolerance_m; // height above the table, and distance to the side
};

enum pc_framing_fit {
    PC_FRAMING_FITS,
    PC_FRAMING_FITS_BARELY, // with less to spare than its tolerance
    PC_FRAMING_TOO_HIGH,
};

struct pc_framing {
    bool upright; // the camera is turned so that the sensor's long side stands
    double magnification_ratio;
    double sensor_distance_m, sensor_distance_m_tolerance;   // sensor to hero along the axis
    double pupil_distance_m, pupil_distance_m_tolerance;     // entrance pupil to hero
    double working_distance_m, working_distance_m_tolerance; // front rim to hero; NAN: front_m is not known
    double sensor_above_m, sensor_above_m_tolerance;         // above the table
    double back_m;                                           // sensor's place behind the hero, level
    double picture_width_m, picture_height_m;                // as wanted
    double covered_width_m, covered_height_m;                // by the whole sensor
    double ppi;                                              // at the outlet's size; NAN: not known
    double lean_m, lean_m_tolerance; // how far the tall thing's top is carried sideways; NAN: none
    bool too_near;                   // for the lens to focus
    // Tables, in the order given: what is left under the ceiling (negative: missing), NAN without a ceiling.
    double spare_m[PC_FRAMING_TABLES_MAX], spare_m_tolerance;
    enum pc_framing_fit fit[PC_FRAMING_TABLES_MAX];
    int table;           // the highest that fits; -1: none does
    double table_most_m; // how high a table may be; NAN without a ceiling
    // The picture's corners on the table, from near left anticlockwise: near left, near right, far right, far
    // left. NAN where the line of sight does not come down.
    double corner_x_m[4], corner_y_m[4];
    bool sees_past_table; // the upper edge looks over the horizon of the table
    bool board_known, board_near_shows, board_far_shows, board_side_shows; // its edge is in the picture
    double board_width_least_m, board_depth_least_m; // that would fill the picture; INFINITY past the horizon
};

// PC_BAD_INPUT: a number out of range, a tall thing as high as the lens, a camera that would stand below the
// table. That nothing fits under the ceiling is an answer, not an error.
enum pc_status pc_framing_find(const struct pc_framing_wish *wish, struct pc_framing *framing,
                               struct pc_err *err) PC_MUST_CHECK;

// The widest picture of the wished shape that fits under the ceiling from a table of that height; both NAN
// where the ceiling is too low for any, or there is none.
void pc_framing_widest(const struct pc_framing_wish *wish, double table_m, double *width_m, double *height_m);

// Width that a picture of that shape takes on the sensor, held upright for an upright picture: the side that
// fills it first counts. width and height of the shape in any unit.
double pc_framing_used_width_m(double sensor_width_m, double sensor_height_m, double width, double height);

// Focal length from the one that would show the same across the diagonal of 36 x 24 mm, as phones state it.
double pc_framing_focal_from_equivalent_m(double equivalent_m, double sensor_width_m, double sensor_height_m);

// Which of several cameras, lenses and tables first. Sorts order[count], indices of framing[]: those that fit
// before those that do not, then those that focus so near, then those with least_ppi at the outlet (NAN:
// not asked), then those whose entrance pupil is farther, from where tall things stand straighter; as they
// were given where that is the same.
void pc_framing_rank(const struct pc_framing *framing, int count, double least_ppi, int *order);

#endif
