// SPDX-License-Identifier: Apache-2.0
// A picture to measure in: linear float pixels, what was clipped, and how noisy a pixel is.
//
// Places are given in full-resolution pixels of the photograph after its orientation was applied, origin at
// the top left corner of the top left pixel, whatever the binning of the picture at hand.
#ifndef PC_IMAGE_PICTURE_PICTURE_H
#define PC_IMAGE_PICTURE_PICTURE_H

#include "base/buffer.h"

enum pc_space {
    PC_SPACE_CAMERA,  // linear, the sensor's own three colours; 1.0 = saturation less black
    PC_SPACE_DISPLAY, // linear light decoded from a display picture: tone-mapped by a camera, not measurable
};

// Variance of one pixel's noise in a channel: offset_var + per_signal_var * signal (photon transfer; EMVA
// 1288). In the picture's own units. Zero per_signal_var and offset_var: not known.
struct pc_noise {
    double offset_var[3];
    double per_signal_var[3];
};

struct pc_picture {
    int width_px, height_px;           // of this picture
    int channels;                      // 1 or 3
    int bin;                           // full-resolution pixels that one pixel here spans along each side
    int full_width_px, full_height_px; // of the photograph
    enum pc_space space;
    struct pc_noise noise;
    float *px;        // height x width x channels, interleaved, into pixels
    uint8_t *clipped; // height x width: bit c set where channel c saturated, into mask; never NULL
    struct pc_buffer pixels, mask;
};

// A black, unclipped picture. On failure it is left empty.
enum pc_status pc_picture_init(struct pc_ctx *ctx, struct pc_picture *picture, int width_px, int height_px,
                               int channels, struct pc_err *err) PC_MUST_CHECK;
// Empty, zeroed or NULL is fine.
void pc_picture_finish(struct pc_picture *picture);

// A place with the name the photographer gave it.
struct pc_place {
    char name[32];
    double x_px, y_px; // full-resolution
};

// The level at a place: the mean over a disc with its standard error per channel, from the scatter found
// there or the noise model, whichever is larger.
struct pc_level {
    double value[3];
    double se[3];
    double clipped_ratio; // share of the disc's pixels (but those to leave out) with any channel clipped: not
                          // in the mean
    int pixels;           // that went into the mean; 0: nothing to read, value is NAN
};

// radius_px in full-resolution pixels (at least one pixel is read). leave_out: NULL, or height x width bytes,
// non-zero where a pixel may not be used. Borrowed.
void pc_picture_level(const struct pc_picture *picture, double x_px, double y_px, double radius_px,
                      const uint8_t *leave_out, struct pc_level *level);

// Share of the picture's pixels (0..1) with any channel clipped.
double pc_picture_clipped_ratio(const struct pc_picture *picture);

// Fits the photon-transfer line to one picture of independent pixels (not demosaiced): its own fine texture
// by level, the quietest tenth of small blocks in each band of levels (a block with detail only reads high).
// Within a factor 1.5 of the true variance at the levels of the picture's plain areas, if they are a
// twentieth of it; where these are all of one level, darker pixels may be taken for noisier than they are,
// not for quieter. Sets picture->noise, to zeros (not known) when the picture is too small, clipped or
// without any grain to tell.
void pc_picture_noise_from_one(struct pc_picture *picture);
// The same from the difference of two frames of one scene from one camera at one ISO (EMVA 1288), which
// detail does not disturb, nor a change of light by any one gain (it is taken from the means), nor things
// that moved over less than half of it. Within 15 % of the true variance. Both pictures' noise is set to the
// one line. False, and nothing set, when the two differ in size, or hold too little in common to tell.
bool pc_picture_noise_from_pair(struct pc_picture *a, struct pc_picture *b);

#endif
