// SPDX-License-Identifier: Apache-2.0
// Linear pictures made fit to look at, and the neutral grey picture of what differs.
#ifndef PC_LIGHT_PARTS_SHOW_H
#define PC_LIGHT_PARTS_SHOW_H

#include "light/parts/parts.h"

// What is known of a camera's colour.
struct pc_show_colour {
    bool has_xyz;
    double xyz_from_camera[3][3];
    double neutral_ratio[3]; // camera colour of a grey under the light the camera was set for
};
struct pc_show_colour pc_show_colour_of(const struct pc_parts *parts);

// Linear sRGB from camera colour: white_xyz (of a neutral under the light shown, any scale; NAN: the white
// the camera was set for) is taken to D65 (Bradford). Without a matrix the camera's own colours stand in,
// balanced for its white.
void pc_show_matrix(const struct pc_show_colour *colour, const double white_xyz[3],
                    double rgb_from_camera[3][3]);

// 8-bit sRGB by that matrix: times exposure_ratio, cut at white, no tone curve; clipped pixels are neutral. A
// picture of one channel is grey, whatever the matrix. rgb is width x height x 3, the caller's.
void pc_show_rgb8(const struct pc_picture *picture, double rgb_from_camera[3][3], double exposure_ratio,
                  uint8_t *rgb);

// Both for a picture in the parts' camera colour.
void pc_show_srgb8(const struct pc_parts *parts, const struct pc_picture *picture, const double white_xyz[3],
                   double exposure_ratio, uint8_t *rgb);

// 8-bit grey of a residual in EV: as pc_show_residual16.
void pc_show_residual8(const struct pc_picture *residual_ev, uint8_t *grey);

// 16-bit grey of a residual in EV: mid grey is as foretold, a quarter of the range is one stop, brighter
// means brighter than foretold; black where nothing can be said. grey is width x height, the caller's.
void pc_show_residual16(const struct pc_picture *residual_ev, uint16_t *grey);

// 16-bit linear, 65535 = the sensor's saturation: camera colour as it is. out is width x height x channels.
void pc_show_linear16(const struct pc_picture *picture, uint16_t *out);

// The white of all light at a place under a setting, any scale; NAN where colour is not known.
void pc_show_white(const struct pc_reading *reading, const struct pc_dials *dials, int place,
                   double white_xyz[3]);

#endif
