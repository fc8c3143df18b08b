// SPDX-License-Identifier: Apache-2.0
// A ball on the table: its outline, and where the light comes from that it shows. Pure; safe from any thread.
//
// Directions are in camera axes: x to the right of the upright picture, y down it, z the way the lens looks.
// image_px is the distance from the entrance pupil to the image in full-resolution pixels; the principal
// point is the picture's middle.
#ifndef PC_IMAGE_FIND_BALL_H
#define PC_IMAGE_FIND_BALL_H

#include "image/picture/picture.h"

struct pc_ball {
    double centre[3];  // unit vector from the entrance pupil to the ball's middle
    double radius_rad; // half the angle it fills, seen from there
    double centre_tolerance_rad, radius_tolerance_rad;
    double x_px, y_px;   // middle of the outline, full resolution
    double across_px;    // about
    double missed_ratio; // share of what a mirror ball shows near its rim that it should not; else 0
    double seen_ratio;   // share of the outline on which an edge was seen
};

// The ball that holds a place (full-resolution pixels, within two thirds of its radius from its middle), at
// least 50 pixels across. A sphere's outline is the cone of rays d with d . c = cos(radius): linear in c /
// cos(radius). False when no round outline is seen about the place.
// up: the table's upward normal, for a mirror ball, whose outline then comes from the table that it mirrors;
// NULL for a ball that mirrors nothing.
bool pc_find_ball_at(const struct pc_picture *picture, double image_px, const double up[3], double x_px,
                     double y_px, struct pc_ball *ball);
// The one round thing with a bright highlight in the picture. False when there is none, or no one.
bool pc_find_ball(const struct pc_picture *picture, double image_px, const double up[3],
                  struct pc_ball *ball);

// Distance from the entrance pupil to the middle of a ball of that diameter: r / sin(radius).
double pc_ball_distance_m(const struct pc_ball *ball, double diameter_m);

struct pc_ball_light {
    double direction[3]; // unit vector from the ball's middle to the light's
    double tolerance_rad;
    double width_rad, width_tolerance_rad;   // the widest way across it, as seen from the ball
    double narrow_rad, narrow_tolerance_rad; // and square to that
    double solid_sr;                         // what it fills of the sky
    bool round;                              // rather than four-sided, as far as its image tells
    bool clipped;      // its size is then NAN where clipping leaves more than 15 % of doubt
    double over_ev;    // about how far its highlight lies over what clips; 0 when it does not
    double x_px, y_px; // of the highlight
};

// The brightest highlight of a polished ball: the mirror law at the point of the sphere that shows the
// light's middle, its size by fitting a disc and a rectangle seen in the sphere, blurred and clipped as the
// picture is. ball_over_light_ratio: the ball's radius over the light's distance, known to a factor of 2
// (0.02: 40 mm, 1 m). False when nothing in the ball is four times as bright as the rest of it.
bool pc_ball_light(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                   double ball_over_light_ratio, struct pc_ball_light *light);

// The light's direction from the shading of a matte ball: Lambert's law on the side that is lit, an even sky
// and the light that the table throws back on all of it; what departs from that (cast shadows) is left out.
// up: of the table. False when one side is not at least twice as bright as the other.
bool pc_ball_matte(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                   const double up[3], double direction[3], double *tolerance_rad);

#endif
