// SPDX-License-Identifier: Apache-2.0
#include "light/parts/warmth_priv.h"

#include "base/units.h"
#include "image/colour/colour.h"

static double side(const double plane[3], const double xyz[3])
{
    return plane[0] * xyz[0] + plane[1] * xyz[1] + plane[2] * xyz[2];
}

void pc_warmth_plane(double cct_K, double plane[3])
{
    // Duv runs along the normal, positive towards green, so the normal turned clockwise points to warm (the
    // locus goes to larger u as it gets warmer).
    double on[2], above[2];
    pc_colour_uv_from_cct(cct_K, 0, on);
    pc_colour_uv_from_cct(cct_K, 0.01, above);
    double nu = (above[1] - on[1]) / 0.01, nv = -(above[0] - on[0]) / 0.01;
    double offset = nu * on[0] + nv * on[1];
    // u = 4 X / D, v = 6 Y / D with D = X + 15 Y + 3 Z above zero: side of the line times D.
    plane[0] = 4 * nu - offset;
    plane[1] = 6 * nv - 15 * offset;
    plane[2] = -3 * offset;
}

void pc_warmth_init(struct pc_warmth *warmth)
{
    for (int i = 0; i < PC_WARMTH_LINES; i++)
        pc_warmth_plane(pc_K_from_mired(PC_WARMTH_LEAST_MIRED + PC_WARMTH_STEP_MIRED * i), warmth->plane[i]);
}

void pc_warmth_plane_at(const struct pc_warmth *warmth, double mired, double plane[3])
{
    double at = (mired - PC_WARMTH_LEAST_MIRED) / PC_WARMTH_STEP_MIRED;
    at = fmin(fmax(at, 0), PC_WARMTH_LINES - 1);
    int i = (int)fmin(floor(at), PC_WARMTH_LINES - 2);
    for (int k = 0; k < 3; k++)
        plane[k] = warmth->plane[i][k] * (i + 1 - at) + warmth->plane[i + 1][k] * (at - i);
}

double pc_warmth_mired(const struct pc_warmth *warmth, const double xyz[3])
{
    if (!(xyz[0] + 15 * xyz[1] + 3 * xyz[2] > 0))
        return NAN;
    int lo = 0, hi = PC_WARMTH_LINES - 1;
    if (side(warmth->plane[lo], xyz) <= 0)
        return PC_WARMTH_LEAST_MIRED;
    if (side(warmth->plane[hi], xyz) >= 0)
        return PC_WARMTH_LEAST_MIRED + PC_WARMTH_STEP_MIRED * hi;
    while (hi - lo > 1) {
        int mid = (lo + hi) / 2;
        if (side(warmth->plane[mid], xyz) > 0)
            lo = mid;
        else
            hi = mid;
    }
    double a = side(warmth->plane[lo], xyz), b = side(warmth->plane[hi], xyz);
    return PC_WARMTH_LEAST_MIRED + PC_WARMTH_STEP_MIRED * (lo + a / (a - b));
}
