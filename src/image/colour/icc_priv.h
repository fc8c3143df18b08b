// SPDX-License-Identifier: Apache-2.0
// What the colour engine makes of a profile's bytes. For the room's own tests: the engine stays in icc.c.
#ifndef PC_IMAGE_COLOUR_ICC_PRIV_H
#define PC_IMAGE_COLOUR_ICC_PRIV_H

#include "base/err.h"

// XYZ (D50 connection space, white Y = 1) of an encoded RGB colour, relative colorimetric. False when the
// bytes are not an RGB profile.
bool pc_icc_xyz_from_rgb(const uint8_t *bytes, size_t count, const double rgb[3], double xyz[3]);

#endif
