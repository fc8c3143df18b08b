// SPDX-License-Identifier: Apache-2.0
// A light with a warm and a cool emitter: how hard it drives each at every kelvin it can be set to. A value
// type: copy freely. Safe from any thread.
//
// A drive of 1 is what the emitter gives alone at its own end of the range, at the same dial.
#ifndef PC_LIGHT_LAMP_KELVIN_H
#define PC_LIGHT_LAMP_KELVIN_H

#include "base/err.h"

enum { PC_KELVIN_POINTS_MAX = 16 };

// Measured points, the two ends among them (at the cool end warm 0 and cool 1, at the warm end the other way
// round). Between them
// - the warm share of the drive, warm / (warm + cool), is a cubic in mired that never turns back
// (knots_priv.h);
// - the inverse of the whole drive, 1 / (warm + cool), is a straight line in the warm share, or two that meet
// in a corner.
//   So it is for a panel that keeps its whole drive, and for one whose stronger emitter is always at full, up
//   to what its supply gives; the corner is where one emitter takes over from the other.
struct pc_kelvin {
    int points;                               // 0: not measured; else 2 or more
    double mired[PC_KELVIN_POINTS_MAX];       // ascending: the cool end first
    double share_ratio[PC_KELVIN_POINTS_MAX]; // warm share of the drive, ascending from 0 to 1
    double drive_ratio[PC_KELVIN_POINTS_MAX]; // warm + cool, above 0; 1 at the ends
    // Between each point and the next; 0: no corner.
    double corner_share_ratio[PC_KELVIN_POINTS_MAX], corner_drive_ratio[PC_KELVIN_POINTS_MAX];
    double tolerance_ev, tolerance_mired; // between the points, of the mix
};

// All of these need points >= 2.

// The warm share at a kelvin setting, 0..1; beyond the ends that of the nearer.
double pc_kelvin_share(const struct pc_kelvin *kelvin, double mired);
// The setting that has this warm share, cut to the ends.
double pc_kelvin_mired(const struct pc_kelvin *kelvin, double share_ratio);
// The whole drive at a warm share; outside 0..1 that of the nearer end.
double pc_kelvin_drive(const struct pc_kelvin *kelvin, double share_ratio);
// Both drives at a setting.
void pc_kelvin_drives(const struct pc_kelvin *kelvin, double mired, double *warm_ratio, double *cool_ratio);

#endif
