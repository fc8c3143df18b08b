// SPDX-License-Identifier: Apache-2.0
// Where the Earth is as seen from the Sun.
#ifndef PC_LIGHT_SKY_ORBIT_PRIV_H
#define PC_LIGHT_SKY_ORBIT_PRIV_H

#include "base/err.h"

struct pc_orbit {
    double longitude_rad, latitude_rad; // heliocentric, mean ecliptic and equinox of date
    double radius_au;
};

// At a moment in Julian millennia of terrestrial time from J2000. The largest terms of VSOP87D (Bretagnon and
// Francou, A&A 202:309, 1988), as Reda and Andreas list them (NREL/TP-560-34302, table A4.2): longitude
// within 1" from 1950 to 2100.
struct pc_orbit pc_orbit_of_earth(double millennia);

#endif
