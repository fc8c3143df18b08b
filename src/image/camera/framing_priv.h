// SPDX-License-Identifier: Apache-2.0
// The framing as a function of its inputs, for tolerances and for the tests that judge them.
#ifndef PC_IMAGE_CAMERA_FRAMING_PRIV_H
#define PC_IMAGE_CAMERA_FRAMING_PRIV_H

#include "image/camera/framing.h"

enum {
    PC_FRAMING_X_FOCAL,
    PC_FRAMING_X_PUPIL,
    PC_FRAMING_X_GAP,
    PC_FRAMING_X_ELEVATION,
    PC_FRAMING_X_CEILING,
    PC_FRAMING_X_TABLE, // the first one's height; every table is measured as well as that
    PC_FRAMING_X_BODY_ARM,
    PC_FRAMING_X_TALL,
    PC_FRAMING_X_OFF_AXIS,
    PC_FRAMING_X_COUNT
};
enum {
    PC_FRAMING_Y_SENSOR,
    PC_FRAMING_Y_PUPIL,
    PC_FRAMING_Y_ABOVE,
    PC_FRAMING_Y_WORKING,
    PC_FRAMING_Y_LEAN,
    PC_FRAMING_Y_SPARE,
    PC_FRAMING_Y_COUNT
};

// given: a struct pc_framing_wish that pc_framing_find takes. What is not known there is NAN.
bool pc_framing_answer(const void *given, const double x[], double y[]);
void pc_framing_gather(const struct pc_framing_wish *wish, double x[], double x_tolerance[]);

#endif
