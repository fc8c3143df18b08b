// SPDX-License-Identifier: Apache-2.0
// Daylight that comes through windows onto a table: a range between an overcast and a clear sky, and the sun
// itself. Pure; safe from any thread.
//
// At a point: the sky seen through the openings, by integration; what stands before the sky, lit by sky and
// sun; and what walls, floor and ceiling throw back, by the split-flux principle with the mean reflectance
// (Hopkinson, Longmore and Petherbridge, An empirical formula for the computation of the indirect component
// of daylight factor, Trans. IES (London) 19:201, 1954; here the flux that enters is integrated rather than
// read from a table). All with the glass's loss at its angle. Not told: blinds, curtains, people, a bar's own
// shadow.
#ifndef PC_LIGHT_SKY_DAYLIGHT_H
#define PC_LIGHT_SKY_DAYLIGHT_H

#include "light/sky/glass.h"
#include "light/sky/sky.h"
#include "light/sky/sunlight.h"

struct pc_daylight_room {
    double length_m, width_m, ceiling_m;
    double walls_ratio, floor_ratio, ceiling_ratio; // reflectances
    double ground_ratio, skyline_ratio;             // the same, outside: ground, and what makes the skyline
};

struct pc_daylight_place {
    struct pc_opening_place opening;
    struct pc_glass glass[PC_OPENINGS_MAX]; // one an opening
    double pass_ratio; // of diffuse light, what bars, sash and dirt leave; the sun's beam is taken between
                       // the bars, on clean glass
    struct pc_daylight_room room;
    double scrim_stops; // 0: none
};

// Half-widths that hold 19 times in 20, beside those of the place itself.
struct pc_daylight_care {
    struct pc_sunlight_care place;
    double glass_ratio, pass_ratio, walls_ratio, floor_ratio, ceiling_ratio, ground_ratio, skyline_ratio,
        scrim_stops;
};

// Walls 0.60, floor 0.30, ceiling 0.80; outside 0.20; 6 x 4 x 2.5 m; bars and dirt leave 0.85.
struct pc_daylight_room pc_daylight_usual_room(void);
extern const double pc_daylight_usual_pass_ratio;
// Glass 5 % of light, reflectances 0.1, a scrim 1/6 stop.
struct pc_daylight_care pc_daylight_usual_care(void);

struct pc_lux {
    double lx, lx_tolerance;
};

struct pc_daylight {
    double outside_overcast_lx, outside_clear_lx; // on level ground in the open, sun and sky
    double factor_pct, factor_pct_tolerance;      // overcast: what of outside_overcast_lx arrives
    struct pc_lux overcast;                       // at the hero, level
    struct pc_lux clear;                          // the same without the sun's own beam
    bool sun_on_hero;                             // the beam reaches its centre
    bool sun_on_hero_sure;          // and whatever of the place is off within its tolerance, that stands
    struct pc_lux direct, scrimmed; // the beam alone, and after the scrim; 0 when it does not
    double overcast_K, overcast_K_tolerance; // colours of these
    double clear_K, clear_K_tolerance;
    double direct_K, direct_K_tolerance; // NAN without the beam
};

// place has passed pc_opening_check. The sun must be up. Tolerances are those of the model (20 % for diffuse
// light, and haze of 0.21 +- 0.06 in the beam) and of what is known of the place; how far a moment's sky is
// from the mean of such skies is not in them: half to twice.
enum pc_status pc_daylight_at(const struct pc_daylight_place *place, const struct pc_daylight_care *care,
                              const struct pc_sun *sun, int day_of_year, struct pc_daylight *daylight,
                              struct pc_err *err) PC_MUST_CHECK;

#endif
