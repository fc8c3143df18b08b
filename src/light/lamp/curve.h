// SPDX-License-Identifier: Apache-2.0
// A lamp's dial: how much light it gives at each setting. A value type: copy freely.
#ifndef PC_LIGHT_LAMP_CURVE_H
#define PC_LIGHT_LAMP_CURVE_H

#include "base/err.h"

enum { PC_CURVE_POINTS_MAX = 16 };

// Light (relative, any scale) against dial (0..1, 1 = full), rising. Between the points a monotone cubic
// (Fritsch and Carlson, SIAM J. Numer. Anal. 17:238, 1980) in log dial and log light; below the lowest point
// the lowest slope goes on to zero at dial 0; above the highest the highest slope goes on to dial 1.
struct pc_curve {
    int points;                              // 0: a straight line, not measured
    double dial_ratio[PC_CURVE_POINTS_MAX];  // ascending, above 0
    double light_ratio[PC_CURVE_POINTS_MAX]; // ascending, above 0
    double tolerance_pct; // of the light at a dial: 3 where measured at 4 or more dials, 15 for the straight
                          // line
    double steep_below_ratio; // 0, or the dial under which the light rises so steeply that the curve between
                              // its points is not to be trusted to tolerance_pct
};

// The line through nothing and full, 15 %.
struct pc_curve pc_curve_straight(void);
// Light at dial relative to the light at full dial, 0..1.
double pc_curve_light(const struct pc_curve *curve, double dial_ratio);
// The dial that gives this light (relative to full); inputs outside 0..1 are cut to it.
double pc_curve_dial(const struct pc_curve *curve, double light_ratio);

#endif
