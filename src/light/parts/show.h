// SPDX-License-Identifier: Apache-2.0
// Linear pictures made fit to look at, and the neutral grey picture of what differs.
#ifndef PC_LIGHT_PARTS_SHOW_H
#define PC_LIGHT_PARTS_SHOW_H

#include "light/parts/parts.h"

// 8-bit sRGB of a picture in the parts' camera colour: times exposure_ratio, white_xyz (of a neutral under
// the light shown, any scale; NAN: the white the camera was set for) taken to D65 (Bradford), cut at white,
// no tone curve; clipped pixels are neutral. rgb is width x height x 3, the caller's.
void pc_show_srgb8(const struct pc_parts *parts, const struct pc_picture *picture, const double white_xyz[3],
                   double exposure_ratio, uint8_t *rgb);

// 16-bit grey of a residual in EV: mid grey is as foretold, a quarter of the range is one stop, brighter
// means brighter than foretold; black where nothing can be said. grey is width x height, the caller's.
void pc_show_residual16(const struct pc_picture *residual_ev, uint16_t *grey);

// 16-bit linear, 65535 = the sensor's saturation: camera colour as it is. out is width x height x channels.
void pc_show_linear16(const struct pc_picture *picture, uint16_t *out);

// The white of all light at a place under a setting, any scale; NAN where colour is not known.
void pc_show_white(const struct pc_reading *reading, const struct pc_dials *dials, int place,
                   double white_xyz[3]);

#endif
