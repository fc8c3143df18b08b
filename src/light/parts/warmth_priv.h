// SPDX-License-Identifier: Apache-2.0
// Warm and cool as straight lines. All lights of one correlated colour temperature lie on a straight line in
// CIE 1960 uv (the normal to the Planckian locus there), and so on a plane through black in XYZ: "warmer than
// m mired" is a linear inequality in the weights of the emitters. Read-only once made; safe from any thread.
#ifndef PC_LIGHT_PARTS_WARMTH_PRIV_H
#define PC_LIGHT_PARTS_WARMTH_PRIV_H

#include "base/err.h"

enum { PC_WARMTH_LINES = 47 };
#define PC_WARMTH_LEAST_MIRED 20.0
#define PC_WARMTH_STEP_MIRED  20.0

// Planes every 20 mired from 20 (50000 K) to 940 (1064 K), interpolated between as A. R. Robertson does
// (J. Opt. Soc. Am. 58:1528, 1968); within 0.25 mired of the exact nearest point of the locus from 2000 to
// 20000 K.
struct pc_warmth {
    double plane[PC_WARMTH_LINES][3];
};

void pc_warmth_init(struct pc_warmth *warmth);

// Coefficients in XYZ, positive on the warm side of this CCT.
void pc_warmth_plane(double cct_K, double plane[3]);
// The same from the table, cut to its ends.
void pc_warmth_plane_at(const struct pc_warmth *warmth, double mired, double plane[3]);
// Mired of a colour however far from the locus; colours past the ends of the table get its end. NAN for
// black.
double pc_warmth_mired(const struct pc_warmth *warmth, const double xyz[3]);

#endif
