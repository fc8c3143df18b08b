// SPDX-License-Identifier: Apache-2.0
// The sky as a light: how its brightness is spread, how much of it there is, and its colour. Pure; safe from
// any thread. Illuminance of a level surface is "horizontal".
#ifndef PC_LIGHT_SKY_SKY_H
#define PC_LIGHT_SKY_SKY_H

#include "base/err.h"

// CIE Standard General Sky, ISO 15469:2004 / CIE S 011: types 1 to 15 by their numbers, and the traditional
// overcast sky as the 16th.
enum { PC_SKY_UNIFORM = 5, PC_SKY_CLEAR = 12, PC_SKY_OVERCAST = 16, PC_SKY_TYPES = 16 };

// NULL outside 1..16.
const char *pc_sky_name(int type);

// Luminance over that of the zenith, of a place at azimuth and elevation (>= 0), the sun at sun_azimuth and
// sun_elevation (0 up to, not including, the zenith's pole of the formula; the zenith itself is fine).
// L/Lz = f(chi) phi(Z) / (f(Zs) phi(0)), phi(Z) = 1 + a exp(b / cos Z), f(chi) = 1 + c (exp(d chi) - exp(d
// pi/2)) + e cos^2 chi; the 16th: (1 + 2 sin elevation) / 3.
double pc_sky_luminance_ratio(int type, double azimuth_rad, double elevation_rad, double sun_azimuth_rad,
                              double sun_elevation_rad);

// The sky, that lies above an elevation, on a level surface and on an upright one that faces an azimuth, in
// lx for a zenith of 1 cd/m2 (a ratio in steradians). By quadrature, Gauss-Legendre in elevation; within
// 0.0005.
double pc_sky_horizontal_sr(int type, double sun_azimuth_rad, double sun_elevation_rad);
double pc_sky_vertical_sr(int type, double facing_rad, double sun_azimuth_rad, double sun_elevation_rad);

// Kasten and Young, Applied Optics 28:4735 (1989), at sea level, of the apparent elevation (>= 0).
double pc_sky_air_mass(double elevation_rad);

enum pc_sky_state { PC_SKY_IS_CLEAR, PC_SKY_IS_PARTLY_CLOUDY, PC_SKY_IS_OVERCAST };

struct pc_sky_light {
    double normal_lx; // of the sun on a surface square to it
    double sky_lx;    // of the sky on a level surface
};

// Means after Gillette, Pierpoint and Treado (J. IES 13:380, 1984), as the IES takes them up: 127.5 klx
// outside the air, times 1 + 0.034 cos(2 pi (J - 2) / 365); thinned by exp(-c m). A moment may have half of
// it or twice. Nothing when the sun is down.
struct pc_sky_light pc_sky_light_at(enum pc_sky_state state, double sun_elevation_rad, int day_of_year);

// The colour of a light (CCT, and Duv: above the Planckian locus when positive), with a spread of 5 % in CCT.
struct pc_sky_colour {
    double cct_K, duv;
};

// Between anchors in mired against the logarithm of the elevation; below 2 degrees as at 2. The anchors come
// from a clear-sky spectral model (Bird and Riordan, J. Climate Appl. Met. 25:87, 1986: aerosol 0.1 at 500
// nm, water 1.42 cm, ozone 0.34 cm, ground 0.2), run with an open library: haze alone moves them by 5 %.
struct pc_sky_colour pc_sky_colour_of_sun(double elevation_rad);
struct pc_sky_colour pc_sky_colour_of_clear(double elevation_rad);
// 6500 K, as CIE D65: what the trade reckons an overcast sky at; 5600 to 7400 K are common.
struct pc_sky_colour pc_sky_colour_of_overcast(void);
extern const double pc_sky_overcast_spread_K;

#endif
