// SPDX-License-Identifier: Apache-2.0
// A table, the windows around it, and what stands outside, as plain numbers; and which part of the table a
// ray of one direction reaches. Pure; safe from any thread.
//
// In plan the origin is the table's centre, x to the east, y to the north, metres; heights are above the
// floor. The room is convex: a ray leaves it through the first wall that it meets.
#ifndef PC_LIGHT_SKY_OPENING_H
#define PC_LIGHT_SKY_OPENING_H

#include "base/err.h"

enum { PC_OPENINGS_MAX = 6, PC_SKYLINE_MAX = 16 };

// The clear rectangle of a window in an upright wall.
struct pc_opening {
    double facing_rad; // where the wall looks to, outwards: azimuth from north, clockwise
    double away_m;     // from the table's centre to the wall's inner face
    double aside_m;    // of the window's middle from the table's centre, to the right as one looks out
    double width_m, height_m, sill_m;
    double depth_m; // from the inner to the outer face, of a thick wall; 0: thin
};

struct pc_tabletop {
    double facing_rad;               // where the long edge looks to, as the wall does that it stands along
    double long_m, short_m;          // the top's edges
    double top_m;                    // its height
    double hero_right_m, hero_out_m; // the hero's centre from the table's, to the right and outwards as one
                                     // looks along facing_rad
};

// What hides the sky from the table, as a step between two bearings, clockwise from one to the other.
struct pc_skyline_step {
    double from_rad, to_rad, elevation_rad;
};

struct pc_opening_place {
    struct pc_tabletop table;
    struct pc_opening opening[PC_OPENINGS_MAX];
    int opening_count;
    struct pc_skyline_step skyline[PC_SKYLINE_MAX];
    int skyline_count;
};

// Whether such a place can be: sizes above zero, the table inside its walls, no window over another in the
// same wall.
enum pc_status pc_opening_check(const struct pc_opening_place *place, struct pc_err *err) PC_MUST_CHECK;

// How high the skyline stands at a bearing; 0 where there is none.
double pc_skyline_rad(const struct pc_opening_place *place, double azimuth_rad);

// A direction as a unit vector (east, north, up).
void pc_direction(double azimuth_rad, double elevation_rad, double direction[3]);

// The part (0..1) of the table that sees out in the direction. Exact: the openings are slid along the ray
// onto the table's plane and cut with its top.
double pc_opening_share_ratio(const struct pc_opening_place *place, const double direction[3]);

// The opening through which the point (x, y, height) sees out in the direction, or -1.
int pc_opening_seen_through(const struct pc_opening_place *place, const double point_m[3],
                            const double direction[3]);

// The hero's centre on the table's top.
void pc_opening_hero(const struct pc_tabletop *table, double point_m[3]);

#endif
