// SPDX-License-Identifier: Apache-2.0
// How dark the surface may become beside the hero: the ambient falls on both. Pure.
#ifndef PC_SHOOT_ADVISE_FLOOR_H
#define PC_SHOOT_ADVISE_FLOOR_H

// Stops between the hero in key and ambient, and a surface of the same reflectance in ambient alone:
// log2((key + ambient) / ambient). INFINITY without ambient, NAN where a level is below 0 or both are 0.
double pc_advise_floor_stops(double key_lx, double ambient_lx);

// Ambient that leaves so many stops: key / (2^stops - 1). NAN unless stops > 0 and key_lx >= 0.
double pc_advise_floor_ambient_lx(double key_lx, double stops);

#endif
