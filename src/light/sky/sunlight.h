// SPDX-License-Identifier: Apache-2.0
// The sun on a table through a day: how much of it is lit and when, and what that is good to; and which way a
// window looks, from a shadow. Pure; safe from any thread.
#ifndef PC_LIGHT_SKY_SUNLIGHT_H
#define PC_LIGHT_SKY_SUNLIGHT_H

#include "light/sky/opening.h"
#include "light/sky/sun.h"

// Every five minutes of a day, both midnights among them.
enum { PC_SUNLIGHT_STEP_S = 300, PC_SUNLIGHT_ROWS = 86400 / PC_SUNLIGHT_STEP_S + 1, PC_SPELLS_MAX = 4 };

// What the place was measured to: half-widths that hold 19 times in 20.
struct pc_sunlight_care {
    double bearing_rad; // of all walls and the table together, as of one compass
    double away_m, aside_m, sill_m, width_m, height_m; // of the windows
    double top_m, hero_m; // of the table's height, and of the hero's place on it, each way
    double skyline_rad, skyline_bearing_rad;
};

// One degree by compass or shadow, one centimetre by tape (two for the distance to the wall and the hero's
// place), half a degree for what stands outside.
struct pc_sunlight_care pc_sunlight_usual_care(void);

// A stretch of time in the sun. from_s is the day's start when it begins lit, to_s its end when it ends lit.
// A tolerance that is not finite: within what is known of the place the spell may be longer than the search
// (an hour and a half), or not be at all.
struct pc_spell {
    double from_s, to_s, from_tolerance_s, to_tolerance_s;
};

struct pc_spells {
    struct pc_spell spell[PC_SPELLS_MAX];
    int count;
};

struct pc_sunlight_row {
    double at_s;
    double azimuth_rad, elevation_rad;         // of the sun, as seen
    double share_ratio, share_ratio_tolerance; // of the table in the sun: the mean over the sun's disc
    bool hero_lit;                             // its centre sees the middle of the sun
};

struct pc_sunlight {
    struct pc_sun_day sun;
    struct pc_sunlight_row row[PC_SUNLIGHT_ROWS];
    // The table: from when the first edge of the sun meets any part of it. The hero: its centre sees half of
    // the sun. Open: were there no skyline.
    struct pc_spells table, hero, table_open, hero_open;
};

// The day that begins at from_s. place has passed pc_opening_check. Spells shorter than 150 s may be missed;
// of more than PC_SPELLS_MAX the first ones are told.
void pc_sunlight_day(const struct pc_sun_station *station, const struct pc_opening_place *place,
                     const struct pc_sunlight_care *care, double from_s, struct pc_sunlight *day);

// Why no sun comes to the table on a day without spells.
enum pc_sunlight_why {
    PC_SUNLIGHT_COMES,
    PC_SUNLIGHT_NO_SUN,     // polar night
    PC_SUNLIGHT_WRONG_SIDE, // it never stands before a wall with a window
    PC_SUNLIGHT_MISSES,     // it does, and its patch never falls on the table
    PC_SUNLIGHT_SKYLINE,    // it would, without the skyline
};
enum pc_sunlight_why pc_sunlight_why_not(const struct pc_opening_place *place, const struct pc_sunlight *day);

struct pc_bearing {
    double facing_rad, facing_tolerance_rad;
};

// Which way a window looks, from the shadow of its upright bar (or of anything plumb) on the level table at
// at_s. turned_rad: from straight into the room to the shadow as it runs away from the window, clockwise as
// seen from above. PC_BAD_INPUT when the sun is down, or so high that the shadow tells nothing (a tolerance
// over 20 degrees).
enum pc_status pc_bearing_from_shadow(const struct pc_sun_station *station, double at_s,
                                      double at_tolerance_s, double turned_rad, double turned_tolerance_rad,
                                      struct pc_bearing *bearing, struct pc_err *err) PC_MUST_CHECK;

#endif
