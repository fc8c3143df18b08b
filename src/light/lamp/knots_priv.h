// SPDX-License-Identifier: Apache-2.0
// A cubic through points that never turns back: under a lamp's curves. Safe from any thread.
#ifndef PC_LIGHT_LAMP_KNOTS_PRIV_H
#define PC_LIGHT_LAMP_KNOTS_PRIV_H

#include "base/err.h"

enum { PC_KNOTS_MAX = 16 };

struct pc_knots {
    int count;                               // 1 or more
    double x[PC_KNOTS_MAX], y[PC_KNOTS_MAX]; // x ascending, y never falling
    double tangent[PC_KNOTS_MAX];            // made by pc_knots_tangents
};

// One knot alone gets the tangent 1.
void pc_knots_tangents(struct pc_knots *knots);
// Beyond the ends a straight line goes on.
double pc_knots_at(const struct pc_knots *knots, double x);
// The lowest x of height y or more; where the curve is level at its low end, and so never falls to y, its
// lowest knot.
double pc_knots_find(const struct pc_knots *knots, double y);

#endif
