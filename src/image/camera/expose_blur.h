// SPDX-License-Identifier: Apache-2.0
// What moves while the shutter is open: steam, pours and hands in the picture, and the hands that hold the
// camera. Pure; safe from any thread.
#ifndef PC_IMAGE_CAMERA_EXPOSE_BLUR_H
#define PC_IMAGE_CAMERA_EXPOSE_BLUR_H

#include "base/err.h"

// Things that move at a table, with what they usually do. Rough, from everyday experience, not measured: a
// test shot is better. The tolerance reaches most of what is about.
struct pc_mover {
    const char *name;
    const char *is; // "the steam is"
    double speed_m_s, speed_m_s_tolerance;
};
extern const struct pc_mover pc_movers[];
extern const size_t pc_mover_count;
const struct pc_mover *pc_mover_find(const char *name); // NULL: there is none

// At the end of a fall from rest: sqrt(2 g h).
double pc_blur_pour_m_s(double height_m);

// How far an image moves on the sensor: m v t.
double pc_blur_moving_m(double speed_m_s, double magnification_ratio, double shutter_s);

// Hands both turn and shift a camera. Turning moves the image by the distance from lens to sensor, f (1 + m),
// times the angle; shifting by m times the way. The habit of 1 / (focal length on 36 x 24) seconds is 0.03
// rad/s at a circle of 0.03 mm; 10 mm/s of shift are assumed. Both within a factor of two for most hands:
// tolerance 70 %.
#define PC_BLUR_TURN_RAD_S           0.03
#define PC_BLUR_SHIFT_M_S            0.010
#define PC_BLUR_HAND_TOLERANCE_RATIO 0.7
double pc_blur_hand_m(double focal_m, double magnification_ratio, double shutter_s);

#endif
