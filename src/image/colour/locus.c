// SPDX-License-Identifier: Apache-2.0
#include "image/colour/colour.h"
#include "image/colour/locus_priv.h"

void pc_colour_planck_xy(double T_K, double xy[2])
{
    double xyz[3];
    pc_locus_xyz(pc_locus_cmf, T_K, xyz, NULL);
    double sum = xyz[0] + xyz[1] + xyz[2];
    xy[0] = xyz[0] / sum;
    xy[1] = xyz[1] / sum;
}

bool pc_colour_daylight_xy(double cct_K, double xy[2])
{
    if (!(cct_K >= 4000.0 && cct_K <= 25000.0))
        return false;
    // CIE 15, equations for the chromaticity of daylight; k = 1000 / T.
    double k = 1e3 / cct_K;
    double x = cct_K <= 7000.0 ? ((-4.6070 * k + 2.9678) * k + 0.09911) * k + 0.244063
                               : ((-2.0064 * k + 1.9018) * k + 0.24748) * k + 0.237040;
    xy[0] = x;
    xy[1] = (-3.0 * x + 2.870) * x - 0.275;
    return true;
}
