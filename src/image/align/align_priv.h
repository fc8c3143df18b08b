// SPDX-License-Identifier: Apache-2.0
// Private to this folder: luminance layers of a picture, and the registration of one small tile between two
// layers.
//
// Positions are continuous: the centre of pixel i is at i + 0.5. A layer covers the photograph from its top
// left corner, so that a position in one layer times full_px is the same place in full-resolution pixels.
#ifndef PC_IMAGE_ALIGN_ALIGN_PRIV_H
#define PC_IMAGE_ALIGN_ALIGN_PRIV_H

#include "image/align/align.h"

// PC_BAD_INPUT with both sizes when two pictures do not lie on one grid.
enum pc_status pc_align_same_size(const struct pc_picture *a, const struct pc_picture *b,
                                  struct pc_err *err) PC_MUST_CHECK;

// Luminance (a quarter, a half, a quarter of the three channels) averaged over blocks of the picture's
// pixels.
struct layer {
    int width_px, height_px;
    double full_px; // full-resolution pixels along a side of one pixel here
    // Noise variance of a pixel: offset_var + per_signal_var * lum + relative_var * lum^2.
    double offset_var, per_signal_var, relative_var;
    const struct pc_picture *picture; // not NULL: pixels are taken from it as they are needed, lum is NULL
    float *lum;                       // NAN where clipped
    struct pc_buffer buffer;
};

// The picture itself as a layer: nothing is allocated.
void pc_layer_of_picture(const struct pc_picture *picture, struct layer *layer);
// Averaged over factor x factor blocks of the picture's pixels.
enum pc_status pc_layer_init(struct pc_ctx *ctx, struct layer *layer, const struct pc_picture *picture,
                             int factor, struct pc_err *err) PC_MUST_CHECK;
// Averaged over 2 x 2 of a layer with lum.
enum pc_status pc_layer_halve(struct pc_ctx *ctx, struct layer *half, const struct layer *layer,
                              struct pc_err *err) PC_MUST_CHECK;
void pc_layer_finish(struct layer *layer);

double pc_layer_noise_var(const struct layer *layer, double lum);

// By how much b's black level lies over a's, both showing one scene in light that differs smoothly (b's
// units): the weighted median of where the lines through small windows cross zero. Layers with lum only.
enum pc_status pc_align_black_offset(struct pc_ctx *ctx, const struct layer *a, const struct layer *b,
                                     double *offset, struct pc_err *err) PC_MUST_CHECK;

// log of the luminance smoothed by (1 2 1)/4 both ways over w x h pixels from (x0, y0), and its noise
// variance as if unsmoothed: SMOOTHED_VAR of it is left. Negative noise where any of the nine pixels may not
// be used.
#define SMOOTHED_VAR (9.0 / 64.0)
void pc_layer_smooth_log(const struct layer *layer, int x0, int y0, int w, int h, float *log_lum,
                         float *noise);

// Local contrast: log luminance less its mean within FEATURE_RADIUS, over its spread there. Light that falls
// off smoothly divides out, the edge of a shadow disturbs only what is within reach of it. 0 where there is
// nothing to see. noise: variance of g per pixel (as if unsmoothed); negative where g may not be used
// (clipped or outside).
enum { FEATURE_RADIUS = 8, FEATURE_BORDER = FEATURE_RADIUS + 1 };
void pc_layer_feature(const struct layer *layer, int x0, int y0, int width, int height, float *g,
                      float *noise, float *scratch);
// Floats of scratch that pc_layer_feature needs.
size_t pc_layer_feature_scratch(int width, int height);

// Catmull-Rom weights of the pixels at -1, 0, 1, 2 for a place t past 0: exact on parabolas, 1 at the pixel
// itself.
static inline void cubic_weights(float t, float w[4])
{
    w[0] = ((-0.5f * t + 1.0f) * t - 0.5f) * t;
    w[1] = (1.5f * t - 2.5f) * t * t + 1.0f;
    w[2] = ((-1.5f * t + 2.0f) * t + 0.5f) * t;
    w[3] = (0.5f * t - 0.5f) * t * t;
}

enum { TILE = 32, TILE_SEARCH_MAX = 10, TILE_PAD = 3 };

// other - centre = [a -b; b a] (reference - centre) + (tx, ty), full-resolution pixels.
struct warp {
    double a, b, tx, ty;
};

static inline void warp_point(const struct warp *warp, double x, double y, double *ox, double *oy)
{
    *ox = warp->a * x - warp->b * y + warp->tx;
    *oy = warp->b * x + warp->a * y + warp->ty;
}

struct tile {
    double x_px, y_px;             // centre in the reference, full-resolution about the picture's centre
    double found_x_px, found_y_px; // and where the same was found in the other
    double dx_px, dy_px;           // that is, beyond where the warp puts it
    double layer_px;               // full-resolution pixels along a pixel of the layer it was found in
    double info[3];                // xx, xy, yy: inverse covariance of dx, dy; full-resolution pixels^-2
    double correlation;            // of the features where it was found
    double correlation_at_warp;    // and where the warp puts it
    double seen_ratio;             // share of the tile's pixels that could be used
    bool structured;               // enough structure over the noise to be worth asking
    bool found;                    // the refinement stayed near the best match
};

// Registers the tile whose top left pixel in the reference layer is (x0, y0): whole-pixel search within
// search_px, then sub-pixel refinement with robust weights. Both layers have the same full_px. centre: of the
// photograph.
void pc_tile_register(const struct layer *reference, const struct layer *other, const double centre_px[2],
                      const struct warp *warp, int x0, int y0, int search_px, struct tile *tile,
                      float *surface);

// Cholesky solution of an n x n symmetric system (n <= 6, row-major, destroyed); false when not positive
// definite.
bool pc_align_solve_small(int n, double *a, double *b);

struct fit {
    struct warp warp;
    int structured, agreeing;
    double correlation;  // median of those that agree
    double tolerance_px; // 95 %, of where a point lands, mean over the picture
};

// The similarity on which most tiles agree: iteratively reweighted least squares from where the tiles' median
// puts it. Tiles were found from the warp given in fit. False when fewer than four tiles have structure.
bool pc_align_fit(const struct tile *tiles, int count, double half_width_px, double half_height_px,
                  struct fit *fit);

// The similarity of two whole layers (at most 250 pixels a side serve well) to about a pixel, by the vote of
// small pieces over every shift, angle and scale in reach. Always gives one: whether it holds is for the
// tiles to say.
enum pc_status pc_align_coarse(struct pc_ctx *ctx, const struct layer *reference, const struct layer *other,
                               const double centre_px[2], struct warp *warp,
                               struct pc_err *err) PC_MUST_CHECK;

#endif
