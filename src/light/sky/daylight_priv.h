// SPDX-License-Identifier: Apache-2.0
// The answers of daylight.c as functions of their inputs, for its tests.
#ifndef PC_LIGHT_SKY_DAYLIGHT_PRIV_H
#define PC_LIGHT_SKY_DAYLIGHT_PRIV_H

#include "light/sky/daylight.h"
#include "light/sky/sunlight_priv.h"

// A sky over the place: luminance from its type and zenith, the sun's beam beside it.
struct heaven {
    int type;
    double zenith_cd_m2, normal_lx, azimuth_rad, elevation_rad;
};

// What the openings bring to the level surface at the hero, in lx.
struct brought {
    double sky_lx;     // seen
    double skyline_lx; // seen
    double room_lx;    // thrown back
};

// bands: of four Gauss points each way across an opening.
struct brought pc_daylight_brought(const struct pc_daylight_place *place, const struct heaven *heaven,
                                   int bands);

// Inputs: the offs of the place, then these, as they differ from what is told.
enum daylight_input {
    IN_GLASS = OFF_COUNT, // of its own ratio
    IN_PASS,
    IN_WALLS,
    IN_FLOOR,
    IN_CEILING,
    IN_GROUND,
    IN_OUTSIDE,
    IN_SCRIM,
    IN_MODEL, // of the diffuse answer
    IN_HAZE,  // of the beam's thinning
    IN_COUNT
};

enum daylight_output { OUT_OVERCAST, OUT_CLEAR, OUT_FACTOR, OUT_DIRECT, OUT_SCRIMMED, OUT_COUNT };

struct daylight_given {
    const struct pc_daylight_place *place;
    const struct pc_sun *sun;
    int day_of_year, bands;
    double outside_sr[2]; // horizontal integrals of the overcast and the clear sky
};

struct daylight_given pc_daylight_given(const struct pc_daylight_place *place, const struct pc_sun *sun,
                                        int day_of_year, int bands);
void pc_daylight_care_ins(const struct pc_daylight_care *care, double tolerance[IN_COUNT]);
bool pc_daylight_answer(const void *given, const double x[], double y[]);

// Light of the clear sky and of the sun, mixed.
struct mixed {
    double sun_elevation_rad, sky_lx, sun_lx, direct_lx;
};

// Inputs, each as a share of what it is: the CCT of the sky, that of the sun, and the light of the sun but
// for its beam.
enum mixed_input { MIX_SKY, MIX_SUN, MIX_SHARE, MIX_COUNT };
enum mixed_output { MIX_CLEAR_K, MIX_DIRECT_K, MIX_K_COUNT };

extern const double pc_daylight_mix_care[MIX_COUNT];
bool pc_daylight_colours(const void *given, const double x[], double y[]);

#endif
