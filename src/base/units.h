// SPDX-License-Identifier: Apache-2.0
// The only place where units change. Inside the library: SI, nm, radians, mired for light colour.
#ifndef PC_BASE_UNITS_H
#define PC_BASE_UNITS_H

#include "base/err.h"

#define PC_PI 3.14159265358979323846

static inline double pc_rad_from_deg(double deg)
{
    return deg * (PC_PI / 180.0);
}

static inline double pc_deg_from_rad(double rad)
{
    return rad * (180.0 / PC_PI);
}

// Stops (EV) between a light level and another; a ratio of 2 is one stop.
static inline double pc_ev_from_ratio(double ratio)
{
    return log2(ratio);
}

static inline double pc_ratio_from_ev(double ev)
{
    return exp2(ev);
}

// Reciprocal megakelvin (mired = 1e6 / T), both ways.
static inline double pc_mired_from_K(double K)
{
    return 1e6 / K;
}

static inline double pc_K_from_mired(double mired)
{
    return 1e6 / mired;
}

// Exposure time from an APEX time value Tv (Exif 2.32, ShutterSpeedValue): t = 2^-Tv.
static inline double pc_s_from_apex_tv(double tv)
{
    return exp2(-tv);
}

// f-number from an APEX aperture value Av (Exif 2.32, ApertureValue): N = 2^(Av / 2).
static inline double pc_fnumber_from_apex_av(double av)
{
    return exp2(av / 2.0);
}

#endif
