// SPDX-License-Identifier: Apache-2.0
// Light from flat sources that shine alike in all directions (Lambert), in closed form: rectangles, discs,
// polygons, the same behind barn doors, and through a scrim. Lengths in metres, luminance in cd/m2,
// illuminance in lx. Pure; safe from any thread. Nothing here bounces: walls and cards add to it.
#ifndef PC_LIGHT_LAMP_AREA_H
#define PC_LIGHT_LAMP_AREA_H

#include "base/err.h"

enum { PC_POLYGON_CORNERS_MAX = 32, PC_POLYGON_CORNERS_GIVEN_MAX = 16, PC_BLADES_MAX = 8 };

// Flat and convex; shines to the side from which its corners run anticlockwise.
struct pc_polygon {
    int corners; // 3 to PC_POLYGON_CORNERS_GIVEN_MAX where given; less than 3: nothing is left of it
    double corner_m[PC_POLYGON_CORNERS_MAX][3];
};

// Where the light arrives: a point of a small flat piece, and the side it faces (a unit vector).
struct pc_receiver {
    double at_m[3], facing[3];
};

// A rectangle about a middle, shining along `facing` (any length, not 0), one edge of its width level (along
// x where it faces straight up or down).
struct pc_polygon pc_polygon_rectangle(const double middle_m[3], const double facing[3], double width_m,
                                       double height_m);
// A disc as sixteen corners of the same area.
struct pc_polygon pc_polygon_round(const double middle_m[3], const double facing[3], double diameter_m);
// What lies on that side of the plane through `on_m` to which `towards` points.
struct pc_polygon pc_polygon_clip(const struct pc_polygon *polygon, const double on_m[3],
                                  const double towards[3]);

// Illuminance for a luminance of 1 cd/m2. Lambert's formula for a polygon, half the sum over its edges of the
// angle under which the edge is seen times the cosine between the edge's plane and the receiver's; what lies
// below the receiver's horizon is cut off first (Lambert, Photometria, 1760; derived in docs/lamps.md). 0
// behind the source. Relative error below 1e-9 from 1 mm off.
double pc_polygon_lx(const struct pc_polygon *polygon, const struct pc_receiver *receiver);

// The same for a disc of this radius about a middle, shining along `facing` (a unit vector). Where the
// receiver's horizon clears the disc, the light vector in closed form (docs/lamps.md); where it cuts the
// disc, the chord in closed form and the arc by quadrature, relative error below 1e-6.
double pc_disc_lx(const double middle_m[3], const double facing[3], double radius_m,
                  const struct pc_receiver *receiver);

// Straight above a corner of a level rectangle a by b, d away, receiver parallel to it; and a rectangle whose
// foot stands on the receiver's plane, `wide` along the foot and `high`, the receiver d away from one end of
// the foot, square to it. Per cd/m2. The textbook forms, for those who think in them.
double pc_rectangle_parallel_lx(double a_m, double b_m, double d_m);
double pc_rectangle_upright_lx(double high_m, double wide_m, double d_m);

// A blade of a barn door: hinged at a source's edge, of even width, long enough that no light goes round its
// ends.
struct pc_blade {
    double hinge_m[3];   // a point of the hinge
    double edge_m[2][3]; // the two ends of its free edge
};

// What a receiver sees of the source between the blades: each cuts it by the plane through the receiver and
// its free edge, where it stands between the two.
struct pc_polygon pc_polygon_behind_blades(const struct pc_polygon *source, const struct pc_blade *blades,
                                           int count, const double receiver_m[3]);

// Cloth in a frame: a part of the light goes straight through, a part is strewn over all directions.
struct pc_scrim_cloth {
    double direct_ratio, diffuse_ratio; // 0..1, together at most 1
};

// The strewn light alone, where the whole cloth is lit with this illuminance: it shines with the luminance
// lit_lx diffuse / pi (a white card the same with its reflectance).
double pc_scrim_lit_lx(const struct pc_polygon *cloth, double diffuse_ratio, double lit_lx,
                       const struct pc_receiver *receiver);
// A source behind a scrim, for 1 cd/m2 of the source: what passes straight through the cloth, what goes past
// its edges, and what the cloth strews. The cloth is a rectangle that shines towards the receiver; it is lit
// from its back, evenly within each of 12 by 12 pieces.
double pc_scrim_lx(const struct pc_polygon *source, const struct pc_polygon *cloth,
                   const struct pc_scrim_cloth *kind, const struct pc_receiver *receiver);

// The soft edge of a shadow: its width on a plane parallel to a straight edge that stands edge_m before the
// plane, from a source of this width across the edge, source_m from the plane. Similar triangles:
// width edge / (source - edge). NAN where the edge is not between the two.
double pc_penumbra_m(double source_width_m, double source_m, double edge_m);

// What each light's shadow is like where all of them shine on one place: its share of the light there and how
// much darker the place is without it, in stops (INFINITY when it is all there is). lx[i] >= 0, their sum >
// 0.
void pc_shadow_depths(int count, const double lx[], double share_ratio[], double depth_ev[]);

#endif
