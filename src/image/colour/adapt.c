// SPDX-License-Identifier: Apache-2.0
#include "base/linalg.h"
#include "image/colour/colour.h"

// CIE standard illuminants as file formats write them: D50 of the ICC.1 connection space, D65 of xy 0.3127,
// 0.3290.
const double pc_colour_d50[3] = {0.9642, 1.0, 0.8249};
const double pc_colour_d65[3] = {0.3127 / 0.3290, 1.0, (1.0 - 0.3127 - 0.3290) / 0.3290};

// ICC.1:2022, annex E.
static const double BRADFORD[3][3] = {
    {0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}};
// C. Li et al., "Comprehensive color solutions: CAM16, CAT16, and CAM16-UCS", Color Res. Appl. 42:703 (2017).
static const double CAT16[3][3] = {
    {0.401288, 0.650173, -0.051461}, {-0.250268, 1.204414, 0.045854}, {-0.002079, 0.048952, 0.953127}};

// Von Kries in the sharpened primaries: each scaled by the whites' ratio.
static void adapt(const double cone_from_xyz[3][3], const double from_white[3], const double to_white[3],
                  double to_from_from[3][3])
{
    double from[3], to[3], xyz_from_cone[3][3], scaled[3][3];
    pc_linalg_apply3(cone_from_xyz, from_white, from);
    pc_linalg_apply3(cone_from_xyz, to_white, to);
    bool regular = pc_linalg_invert3(cone_from_xyz, xyz_from_cone);
    PC_ASSERT(regular);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            scaled[i][j] = to[i] / from[i] * cone_from_xyz[i][j];
    pc_linalg_multiply3(xyz_from_cone, scaled, to_from_from);
}

void pc_colour_adapt_bradford(const double from_white[3], const double to_white[3], double to_from_from[3][3])
{
    adapt(BRADFORD, from_white, to_white, to_from_from);
}

void pc_colour_adapt_cat16(const double from_white[3], const double to_white[3], double to_from_from[3][3])
{
    adapt(CAT16, from_white, to_white, to_from_from);
}
