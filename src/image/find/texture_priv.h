// SPDX-License-Identifier: Apache-2.0
#ifndef PC_IMAGE_FIND_TEXTURE_PRIV_H
#define PC_IMAGE_FIND_TEXTURE_PRIV_H

#include "image/picture/picture.h"

// How much texture there is in a disc of a picture (its own pixels), relative to the level there. INFINITY
// when the disc does not lie in the picture or holds too little.
double texture_ratio(const struct pc_picture *picture, double x, double y, double radius_px);

#endif
