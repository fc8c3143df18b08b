// SPDX-License-Identifier: Apache-2.0
// Pictures for this room's tests, evaluated from closed forms at exact places, so that the truth of a shift
// needs no resampling: a table of random sinusoids, plates with shaded rims, a striped napkin, lights with
// soft and hard shadows, vignetting, photon noise.
#ifndef PC_IMAGE_ALIGN_SCENE_TEST_H
#define PC_IMAGE_ALIGN_SCENE_TEST_H

#include "image/align/align.h"

enum { SCENE_WAVES = 24, SCENE_PLATES = 3, SCENE_LIGHTS = 3 };

struct scene_light {
    double towards[2]; // where its shadows fall, of length 1
    double level;
    double slope_ratio; // how much it falls off from the centre to the edge of the picture
    double soft_px;     // width of its shadows' edges
    double reach_px;    // how far they are thrown
    double colour[3];
};

struct scene {
    int width_px, height_px;       // binned by 2
    double wave[SCENE_WAVES][4];   // along x, along y (rad per px), phase, amplitude of the logarithm
    double plate[SCENE_PLATES][3]; // x, y, radius
    double plate_albedo;
    // A striped napkin; none where its width is 0.
    double napkin_x_px, napkin_y_px, napkin_width_px, napkin_height_px, stripe_px, stripe_depth,
        napkin_albedo;
    double napkin_turn_rad;
    struct scene_light light[SCENE_LIGHTS];
};

struct scene_shot {
    double weight[SCENE_LIGHTS];
    struct pc_align from_reference; // where the camera went
    double napkin_dx_px, napkin_dy_px;
    double shadow_dx_px;     // soft shadow edges slid
    double drift_x, drift_y; // level changes to 1 + drift at the edges
    double snr;              // at the mean level; 0: no noise
    double read_ratio;       // read noise over the noise at the mean level
    double noise_told;       // the noise model told over the true variance
    double vignetting;       // light lost in the corners
    uint64_t seed;
};

// A scene of its own for each seed; full-resolution pixels about the centre.
void scene_make(struct scene *scene, int width_px, int height_px, uint64_t seed);
// A napkin of this share of the picture's area somewhere in the scene.
void scene_add_napkin(struct scene *scene, double area_ratio, uint64_t seed);
void scene_shoot(struct pc_ctx *ctx, const struct scene *scene, const struct scene_shot *shot,
                 struct pc_picture *picture);

double scene_uniform(uint64_t *state);
double scene_gauss(uint64_t *state);
// Farthest that a corner lands from where it should.
double scene_misplaced_px(const struct pc_align *got, const struct pc_align *want, double width_px,
                          double height_px);

#endif
