// SPDX-License-Identifier: Apache-2.0
// A look at the directories of a TIFF-structured file, to tell a raw from a plain TIFF, and to see which DNG
// tags (Adobe DNG 1.4) are really there where a decoder would fill in a default in silence.
#ifndef PC_IMAGE_PHOTO_WORKER_IFD_H
#define PC_IMAGE_PHOTO_WORKER_IFD_H

#include "base/err.h"

#ifdef __cplusplus
extern "C" {
#endif

struct pc_ifd_look {
    bool is_tiff; // has the structure
    bool is_dng;
    bool holds_raw; // some directory holds, or is likely to hold, sensor data
    char maker[64], model[64];
    // Of the directory with the sensor data of a DNG:
    bool has_bits, has_cfa_pattern, has_black, has_white;
    bool is_linear_raw; // already one value per colour and pixel (LinearRaw)
    // Of the DNG's colour: camera from XYZ with calibration and analogue balance multiplied in.
    bool has_matrix;
    double camera_from_xyz[3][3];
    bool has_neutral;
    double neutral[3];
};

// Total over any bytes; what is broken is not there.
void pc_ifd_look(const uint8_t *bytes, size_t count, struct pc_ifd_look *look);

#ifdef __cplusplus
}
#endif

#endif
