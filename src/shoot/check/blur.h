// SPDX-License-Identifier: Apache-2.0
// How blurred the edges of a part of a picture are, and which way. Pure; safe from any thread.
#ifndef PC_SHOOT_CHECK_BLUR_H
#define PC_SHOOT_CHECK_BLUR_H

#include "image/picture/picture.h"

enum { PC_BLUR_WAYS = 8 }; // ways an edge may face, from the x axis in steps of an eighth of half a turn

// Gradient energies at edges, noise taken off, after a little and after more smoothing. Sums: two windows add
// up.
struct pc_blur {
    double fine[PC_BLUR_WAYS], coarse[PC_BLUR_WAYS];
    int edges[PC_BLUR_WAYS];
};

// Adds the edges of a window (pixels of this picture, cut to it) to blur.
//
// The slope of an edge blurred by s falls as 1 / sqrt(s^2 + k^2) with a further blur k, whatever its height:
// the ratio of slopes at two k gives s (re-blurring: Elder and Zucker, IEEE TPAMI 20:699, 1998, give the
// blurred edge; the ratio is its closed form). Energies are summed before the ratio is taken, so that noise,
// which is known, comes off, and strong edges, which are seldom the soft edges of shadows, decide. Edges
// that are nearer than the smoothing to what clipped are left out.
void pc_blur_add(const struct pc_picture *picture, int x0, int y0, int width, int height,
                 struct pc_blur *blur);

// Into sum.
void pc_blur_join(struct pc_blur *sum, const struct pc_blur *other);

// Variance of the blur across its edges, full-resolution pixels squared, never negative; NAN with fewer than
// PC_BLUR_EDGES_LEAST edges. What the sensor's pixels and the reading of them blur is in it.
enum { PC_BLUR_EDGES_LEAST = 24 };
double pc_blur_var_px2(const struct pc_blur *blur, int bin);
// The same of the edges that face one way, and as many ways beside it on both sides.
double pc_blur_way_var_px2(const struct pc_blur *blur, int bin, int way, int beside);

#endif
