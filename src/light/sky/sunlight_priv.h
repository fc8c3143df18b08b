// SPDX-License-Identifier: Apache-2.0
// The answers of sunlight.c as functions of their inputs, for its tests.
#ifndef PC_LIGHT_SKY_SUNLIGHT_PRIV_H
#define PC_LIGHT_SKY_SUNLIGHT_PRIV_H

#include "light/sky/sunlight.h"

// The sun's directions through a day, each half row.
enum { TRACK_STEP_S = PC_SUNLIGHT_STEP_S / 2, TRACK_COUNT = 86400 / TRACK_STEP_S + 1 };

struct track {
    double from_s;
    double direction[TRACK_COUNT][3];
    double semidiameter_rad;
};

// What is off in a place: the inputs of each answer, all 0 where it was measured.
enum off {
    OFF_BEARING,
    OFF_AWAY,
    OFF_ASIDE,
    OFF_SILL,
    OFF_WIDTH,
    OFF_HEIGHT,
    OFF_TOP,
    OFF_HERO_RIGHT,
    OFF_HERO_OUT,
    OFF_SKYLINE,
    OFF_SKYLINE_FROM,
    OFF_SKYLINE_TO,
    OFF_COUNT
};

enum whom { ON_TABLE, ON_HERO };

struct event {
    enum whom whom;
    bool open;   // the skyline does not count
    bool begins; // else ends
    double at_s;
};

enum { EVENTS_MAX = 4 * 2 * PC_SPELLS_MAX };

struct events {
    const struct pc_opening_place *place;
    const struct track *track;
    struct event event[EVENTS_MAX];
    int count;
};

void pc_sunlight_care_offs(const struct pc_sunlight_care *care, double tolerance[OFF_COUNT]);
// The place with the offs added.
void pc_sunlight_put_off(const struct pc_opening_place *from, const double x[], struct pc_opening_place *to);
void pc_sunlight_track(const struct pc_sun_station *station, double from_s, struct track *track);
void pc_sunlight_spells(const struct track *track, const struct pc_opening_place *place, enum whom whom,
                        bool open, struct pc_spells *spells);
// For pc_tolerance: given is struct events, x the offs, y the time of each event nearest to its at_s.
bool pc_sunlight_event_times(const void *given, const double x[], double y[]);

struct seen {
    const struct pc_opening_place *place;
    const double *direction;
};

// x the offs, y[0] the part of the table that the middle of a sun in the direction lights.
bool pc_sunlight_share(const void *given, const double x[], double y[]);

struct shadow {
    const struct pc_sun_station *station;
    double at_s;
};

// x seconds after the time and the angle of the shadow, y[0] the bearing.
bool pc_sunlight_facing(const void *given, const double x[], double y[]);

#endif
