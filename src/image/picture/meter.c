// SPDX-License-Identifier: Apache-2.0
#include "base/units.h"
#include "image/picture/meter.h"

const double pc_meter_tolerance_ev = 0.3;

static const double SATURATION_LX_S = 78.0; // times ISO (ISO 12232)
static const double LENS_Q = 0.65;          // transmission, vignetting and cos^4 at 10 degrees (ISO 2720)

double pc_meter_lx(double level_ratio, double shutter_s, double fnumber, double iso, double reflectance_ratio)
{
    double exposure_lx_s = level_ratio * SATURATION_LX_S / iso;
    double luminance_cd_m2 = exposure_lx_s * fnumber * fnumber / (LENS_Q * shutter_s);
    return PC_PI * luminance_cd_m2 / reflectance_ratio;
}

double pc_meter_lx_tolerance(double lx, double tolerance_ev)
{
    return lx * (pc_ratio_from_ev(tolerance_ev) - 1.0);
}
