// SPDX-License-Identifier: Apache-2.0
// The Planckian locus, shared by the build-time generator and the library, so that the table and the curve
// that it samples cannot part. 1 nm tables of the CIE 1931 colour-matching functions, 360 to 830 nm.
#ifndef PC_IMAGE_COLOUR_LOCUS_PRIV_H
#define PC_IMAGE_COLOUR_LOCUS_PRIV_H

#include <math.h>

enum { PC_LOCUS_FIRST_NM = 360, PC_LOCUS_LAST_NM = 830, PC_LOCUS_SAMPLES = 471 };

// 1 % steps from one step below 1000 K to one step above 100000 K: every answer has a neighbour on both
// sides.
#define PC_LOCUS_STEP_RATIO 1.01
enum { PC_LOCUS_ROWS = 466 };

struct pc_locus_row {
    double T_K, u, v;
};

extern const double pc_locus_cmf[PC_LOCUS_SAMPLES][3];
extern const struct pc_locus_row pc_locus_table[PC_LOCUS_ROWS];

// XYZ of a Planckian radiator and (per_K, unless NULL) its derivative by temperature, on a scale that is the
// same for both and else arbitrary. Planck's law with c2 = 1.4388e-2 m K (ITS-90; CIE 15).
static inline void pc_locus_xyz(const double cmf[PC_LOCUS_SAMPLES][3], double T_K, double xyz[3],
                                double *per_K)
{
    const double c2_nm_K = 1.4388e7, scale_nm = 560.0;
    const double at_scale = exp(c2_nm_K / (scale_nm * T_K)); // keeps the numbers near 1 at any temperature
    double sum[3] = {0}, slope[3] = {0};
    for (int i = 0; i < PC_LOCUS_SAMPLES; i++) {
        double nm = PC_LOCUS_FIRST_NM + i, relative = scale_nm / nm;
        double x = c2_nm_K / (nm * T_K), e = exp(x);
        double power = relative * relative * relative * relative * relative * at_scale / (e - 1.0);
        double power_per_K = power * e / (e - 1.0) * x / T_K;
        for (int c = 0; c < 3; c++) {
            sum[c] += power * cmf[i][c];
            slope[c] += power_per_K * cmf[i][c];
        }
    }
    for (int c = 0; c < 3; c++) {
        xyz[c] = sum[c];
        if (per_K)
            per_K[c] = slope[c];
    }
}

#endif
