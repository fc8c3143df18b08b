// SPDX-License-Identifier: Apache-2.0
// A lamp's curves: of its dial from frames of one light at several dials, of its kelvin from frames at
// several kelvins.
#ifndef PC_LIGHT_PARTS_FIT_H
#define PC_LIGHT_PARTS_FIT_H

#include "light/lamp/curve.h"
#include "light/lamp/kelvin.h"

// count pairs of dial (0..1, any order) and light (any scale), measured; equal dials are averaged, falls
// within the noise are levelled (pool adjacent violators: Ayer and others, Ann. Math. Stat. 26:641, 1955).
// Fewer than two distinct dials give the straight line. *fell (may be NULL) is the largest relative fall that
// had to be levelled: over a few per cent the frames are mislabelled. More than PC_CURVE_POINTS_MAX pairs:
// the first of them. Where the two lowest dials tell of a dead zone (light rising with more than the fourth
// power of the dial), the curve says so in steep_below_ratio: between them it may be 7 to 14 % off, and only
// a frame in between helps.
struct pc_curve pc_fit_curve(const double *dial_ratio, const double *light, int count, double *fell);

// How hard each emitter was driven at a setting between the two ends (see kelvin.h).
struct pc_fit_mix {
    double mired, warm_ratio, cool_ratio;
};

// count mixes measured between the ends, any order, each mired once; those outside the ends or without light
// are passed over, and of more than a curve holds the first are used. Warm shares that fall where the setting
// gets warmer are levelled (as above); *fell (may be NULL) is the most that one was moved by: over a few
// hundredths the frames are mislabelled. No mix left: a curve of no points, and the mixing is not measured.
struct pc_kelvin pc_fit_kelvin(double cool_mired, double warm_mired, const struct pc_fit_mix *mixes,
                               int count, double *fell);

#endif
