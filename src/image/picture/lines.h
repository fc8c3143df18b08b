// SPDX-License-Identifier: Apache-2.0
// Dead columns and rows of a sensor.
#ifndef PC_IMAGE_PICTURE_LINES_H
#define PC_IMAGE_PICTURE_LINES_H

#include "image/picture/picture.h"

// Puts the mean of both neighbours in the place of each column or row that differs from both the same way, by
// a twentieth or more, nearly all along the picture: no thing on a table is one pixel wide and runs from edge
// to edge, exactly along the sensor. Returns how many were mended. For pictures of independent pixels (not
// demosaiced), where the lines stand on the sensor: before frames are laid over each other.
int pc_picture_mend_lines(struct pc_picture *picture);

#endif
