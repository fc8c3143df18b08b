// SPDX-License-Identifier: Apache-2.0
// Window glass: how much light it lets through at an angle. Pure; safe from any thread.
#ifndef PC_LIGHT_SKY_GLASS_H
#define PC_LIGHT_SKY_GLASS_H

#include "base/err.h"

// Panes of soda-lime glass (index 1.52) with air between, alike, whose absorption is what brings the whole to
// normal_ratio. Coatings are taken as absorption.
struct pc_glass {
    int panes;                // 0 (an open window) to 3
    double normal_ratio;      // what was stated: light let through square on
    double pane_inside_ratio; // what one crossing of a pane leaves, square on
};

// PC_BAD_INPUT when more is stated than clear panes let through, or nothing.
enum pc_status pc_glass_make(int panes, double normal_ratio, struct pc_glass *glass,
                             struct pc_err *err) PC_MUST_CHECK;

// The panes that a figure stated square on speaks of: none over 0.918 (what one clear pane lets through), one
// over 0.82, else two.
int pc_glass_panes(double normal_ratio);

// What is let through of unpolarised light at an angle from the normal (0 to a quarter turn): Fresnel at each
// face, all reflections between the faces and the panes, each polarisation by itself (Duffie and Beckman,
// Solar Engineering of Thermal Processes, chapter 5).
double pc_glass_ratio(const struct pc_glass *glass, double angle_rad);

// Of light from all sides alike.
double pc_glass_diffuse_ratio(const struct pc_glass *glass);

#endif
