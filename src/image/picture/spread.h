// SPDX-License-Identifier: Apache-2.0
// How the levels of a whole picture are spread.
#ifndef PC_IMAGE_PICTURE_SPREAD_H
#define PC_IMAGE_PICTURE_SPREAD_H

#include "image/picture/picture.h"

// The level (0..1 of saturation) that this share (0..1) of the picture's pixels lie below in a channel, to
// 0.01 EV from 2^-16 to 2^1; levels outside are cut to that. A clipped pixel counts at the level it was cut
// at. NAN for an empty picture.
double pc_picture_quantile(const struct pc_picture *picture, int channel, double share_ratio);

#endif
