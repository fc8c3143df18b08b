// SPDX-License-Identifier: Apache-2.0
// The depth as a function of its inputs, for tolerances and for the tests that judge them.
#ifndef PC_IMAGE_CAMERA_DEPTH_PRIV_H
#define PC_IMAGE_CAMERA_DEPTH_PRIV_H

#include "image/camera/depth.h"

enum {
    PC_DEPTH_X_FOCAL,
    PC_DEPTH_X_F_NUMBER,
    PC_DEPTH_X_COC,
    PC_DEPTH_X_MAGNIFICATION,
    PC_DEPTH_X_PUPIL,
    PC_DEPTH_X_COUNT
};
enum {
    PC_DEPTH_Y_NEAR,
    PC_DEPTH_Y_FAR,
    PC_DEPTH_Y_TOTAL,
    PC_DEPTH_Y_SHARP_NEAR,
    PC_DEPTH_Y_SHARP_FAR,
    PC_DEPTH_Y_SHARP_TOTAL,
    PC_DEPTH_Y_COUNT
};

// given: unused. False where an input is not positive.
bool pc_depth_answer(const void *given, const double x[], double y[]);

#endif
