// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/kelvin.h"

#include "light/lamp/knots_priv.h"

static struct pc_knots knots_from_kelvin(const struct pc_kelvin *kelvin)
{
    PC_ASSERT(kelvin->points >= 2 && kelvin->points <= PC_KELVIN_POINTS_MAX);
    struct pc_knots knots = {.count = kelvin->points};
    memcpy(knots.x, kelvin->mired, sizeof *knots.x * (size_t)knots.count);
    memcpy(knots.y, kelvin->share_ratio, sizeof *knots.y * (size_t)knots.count);
    pc_knots_tangents(&knots);
    return knots;
}

double pc_kelvin_share(const struct pc_kelvin *kelvin, double mired)
{
    struct pc_knots knots = knots_from_kelvin(kelvin);
    return pc_knots_at(&knots, fmin(fmax(mired, knots.x[0]), knots.x[knots.count - 1]));
}

double pc_kelvin_mired(const struct pc_kelvin *kelvin, double share_ratio)
{
    struct pc_knots knots = knots_from_kelvin(kelvin);
    if (share_ratio >= 1.0)
        return knots.x[knots.count - 1];
    return pc_knots_find(&knots, fmax(share_ratio, 0.0));
}

static double drive_between(double share_a, double drive_a, double share_b, double drive_b, double share)
{
    double part = (share - share_a) / (share_b - share_a);
    return 1.0 / ((1.0 - part) / drive_a + part / drive_b);
}

double pc_kelvin_drive(const struct pc_kelvin *kelvin, double share_ratio)
{
    const double *share = kelvin->share_ratio, *drive = kelvin->drive_ratio;
    int k = 0, last = kelvin->points - 1;
    while (k + 2 <= last && share_ratio > share[k + 1])
        k++;
    double at = fmin(fmax(share_ratio, share[0]), share[last]), corner = kelvin->corner_share_ratio[k];
    if (!(kelvin->corner_drive_ratio[k] > 0.0))
        return drive_between(share[k], drive[k], share[k + 1], drive[k + 1], at);
    if (at < corner)
        return drive_between(share[k], drive[k], corner, kelvin->corner_drive_ratio[k], at);
    return drive_between(corner, kelvin->corner_drive_ratio[k], share[k + 1], drive[k + 1], at);
}

void pc_kelvin_drives(const struct pc_kelvin *kelvin, double mired, double *warm_ratio, double *cool_ratio)
{
    double share = pc_kelvin_share(kelvin, mired), drive = pc_kelvin_drive(kelvin, share);
    *warm_ratio = drive * share;
    *cool_ratio = drive * (1.0 - share);
}
