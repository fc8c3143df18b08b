// SPDX-License-Identifier: Apache-2.0
// Wanting: goals in the trade's words and limits in, dials out, with what else changes and, for a goal that
// cannot be met, the limit that stands in the way, by name.
#ifndef PC_LIGHT_PARTS_WANT_H
#define PC_LIGHT_PARTS_WANT_H

#include "light/parts/reading.h"

enum pc_goal_kind {
    PC_GOAL_HERO_LEVEL,    // the hero this many EV brighter than at the dials as captured
    PC_GOAL_SURFACE_UNDER, // the surface this many stops under the hero, in light
    PC_GOAL_PLACE_LEVEL,   // a place this many EV brighter than as captured (a third darker: -1/3)
    PC_GOAL_PLACE_WARMTH,  // a place this many mired warmer than as captured (cooler: negative)
    PC_GOAL_SECOND_SHADOW, // the second shadow on the surface at most this many stops deep
    PC_GOAL_KEY_OVER,      // the strongest light at the hero this many stops over everything else there
};

struct pc_goal {
    enum pc_goal_kind kind;
    int place; // for the two place goals; else 0
    double value;
};

enum { PC_GOALS_MAX = 16 };

struct pc_limit {
    bool may_change;                // false: stays at the dial (and kelvin) as captured
    double least_ratio, most_ratio; // of the dial
    double step_ratio;      // dial steps counted from 0 (least and most are always allowed); 0: stepless
    double least_K, most_K; // two-emitter lights; NAN: the emitters' own
    double step_K;          // 0: stepless
};

struct pc_want {
    int goal_count;
    struct pc_goal goal[PC_GOALS_MAX];
    struct pc_limit limit[PC_LIGHTS_MAX]; // by light of the reading
};
// No goals, every light free from 0 to full, stepless.
void pc_want_init(const struct pc_reading *reading, struct pc_want *want);

enum pc_binding {
    PC_BINDING_NONE,
    PC_BINDING_MOST,    // a light's cap
    PC_BINDING_LEAST,   // a light's lowest dial
    PC_BINDING_FIXED,   // a light that may not change
    PC_BINDING_STEP,    // a light's dial steps
    PC_BINDING_KELVIN,  // a light's kelvin range
    PC_BINDING_AMBIENT, // the ambient, which no dial dims
    PC_BINDING_GOALS,   // the goals contradict each other: no limit stands in the way alone
};

struct pc_want_answer {
    struct pc_dials dials;
    double worst_miss;          // the largest of misses, in EV (mired goals: 8 mired counts as 0.05 EV)
    double value[PC_GOALS_MAX]; // what each goal comes to at these dials, in its own unit
    double miss[PC_GOALS_MAX];  // how far from the goal, EV-scaled as worst_miss, never negative
    enum pc_binding binding[PC_GOALS_MAX]; // NONE where the goal is met within 0.05
    int binding_light[PC_GOALS_MAX];       // whose limit; -1 where it is no light's
    double place_ev[PC_PLACES_MAX]; // what changes at each place: level against as captured; NAN where it is
                                    // dark
    double place_mired[PC_PLACES_MAX]; // and colour, positive warmer; NAN where colour is not known
};

// The setting whose worst goal miss is least; among settings equal in that (within 0.004 EV) the least sum of
// squared misses, then the least change. Log luminances, bounded, dial steps respected: at most 0.02 EV above
// exhaustive search over the steps. The same input gives the same answer. Under 20 ms for six emitters.
// PC_MISUSE: no goals, a place out of range, warmth without colour, limits that leave nothing, a warm and a
// cool emitter without their kelvin. PC_BAD_INPUT: the hero, the surface or a goal's place could not be read.
enum pc_status pc_want_solve(const struct pc_reading *reading, const struct pc_want *want,
                             struct pc_want_answer *answer, struct pc_err *err) PC_MUST_CHECK;

// One sentence naming what binds a goal, e.g. "P1 is at its cap of 60 %." Written into out.
void pc_want_binding_text(const struct pc_reading *reading, const struct pc_want *want,
                          const struct pc_want_answer *answer, int goal, char *out, size_t size);

// The three ways, each a pair of stops (docs/ways.md gives the reasons).
struct pc_way {
    const char *name;        // "airy", "middle", "dark"
    double surface_under_ev; // the surface under the hero, in light
    double key_over_rest_ev; // the strongest light at the hero over everything else there
    double hero_level_ev;    // where the hero is exposed, against mid grey (18 % of what clips)
};
extern const struct pc_way pc_ways[3];

struct pc_way_answer {
    struct pc_dials dials;
    double surface_under_ev, key_over_rest_ev; // reached
    double exposure_ev; // how much longer (positive) the exposure must be for hero_level_ev at these dials;
                        // NAN in the dark
    bool reached;       // both stops within 0.15
    char why_not[160];  // the binding limit in words, empty when reached
};
// The lights as strong as they may be within the limits (so that the shutter can be short), in the way's
// ratios; where these contradict each other the surface leads (docs/ways.md has the order).
enum pc_status pc_way_solve(const struct pc_reading *reading, const struct pc_want *limits,
                            const struct pc_way *way, struct pc_way_answer *answer,
                            struct pc_err *err) PC_MUST_CHECK;

#endif
