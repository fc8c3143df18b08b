// SPDX-License-Identifier: Apache-2.0
// Areas in a plane: convex polygons laid over each other and over a disc, exact. Pure; safe from any thread.
#ifndef PC_SHOOT_ADVISE_GLARE_AREA_H
#define PC_SHOOT_ADVISE_GLARE_AREA_H

#include "base/err.h"

// A source has 8 corners at most; each polygon cut by another gains at most one corner a side.
enum { PC_POLYGON_CORNERS_MAX = 80 };

struct pc_polygon {
    int count; // 0: nothing
    double x[PC_POLYGON_CORNERS_MAX], y[PC_POLYGON_CORNERS_MAX];
};

// Shoelace; positive whichever way round.
double pc_polygon_area(const struct pc_polygon *polygon);
// Part of the polygon that lies in the disc of that radius about the origin: the sum over its sides of the
// triangle, or sector, that the side makes with the middle. Any simple polygon.
double pc_polygon_area_in_disc(const struct pc_polygon *polygon, double radius);
// What two convex polygons share (Sutherland and Hodgman, CACM 17:32, 1974).
void pc_polygon_overlap(const struct pc_polygon *a, const struct pc_polygon *b, struct pc_polygon *overlap);

#endif
