// SPDX-License-Identifier: Apache-2.0
// Aperture, shutter, ISO and flash power for a picture: the settings that no other beats, each with what
// speaks for it. Pure; safe from any thread.
#ifndef PC_IMAGE_CAMERA_EXPOSE_WAYS_H
#define PC_IMAGE_CAMERA_EXPOSE_WAYS_H

#include "image/camera/expose_flash.h"
#include "image/camera/noise.h"

// What a setting costs. How to add one: a constant here, its row in expose_ways.c, its words in
// expose_words.c.
enum pc_cost {
    PC_COST_DEPTH,  // share of the depth wanted that is not sharp, 0 to 1
    PC_COST_SPOT,   // diffraction: Airy disc over the circle of confusion
    PC_COST_MOTION, // how far what moves is smeared, in pixels of the output
    PC_COST_HAND,   // how far the hands smear all of it, in pixels of the output
    PC_COST_RIPPLE, // modulation left of the light, per cent
    PC_COST_NOISE,  // noise over signal of mid grey, in one pixel of the output
    PC_COSTS,
};

// How a cost looks: not at all, when looked for, so that it spoils the picture, or three times as bad as
// that.
enum pc_grade { PC_GRADE_FINE, PC_GRADE_SEEN, PC_GRADE_SPOILS, PC_GRADE_RUINS };
struct pc_cost_limits {
    double fine, seen; // no more than this
};
// Of the table: 0 and 0.3; 1 and 1.6; 2 and 6 px; 2 and 6 px; 2 and 6 %; 1/40 and 1/10 (ISO 12232: excellent,
// acceptable).
extern const struct pc_cost_limits pc_cost_limits[PC_COSTS];

struct pc_expose_ask {
    double ambient_lx, ambient_lx_tolerance; // steady light on the subject; 0: none
    // The camera. A dial that may only stand at one value has both ends the same.
    double widest_f, narrowest_f;
    double longest_s, shortest_s;
    double least_iso, most_iso;
    double sensor_width_m, sensor_px; // along the longer side
    struct pc_sensor sensor;
    double focal_m, magnification_ratio, magnification_ratio_tolerance,
        pupil_ratio;  // NAN pupil ratio: unknown
    double output_px; // along the longer side
    double coc_m;
    double depth_m;                        // that has to be sharp; 0: does not matter
    double speed_m_s, speed_m_s_tolerance; // across the picture; 0: nothing moves
    const char *moving;                    // "the pour is"; NULL: "what moves is"
    bool hand;
    double ripple_hz;                                // 0: no lamp pulses
    double modulation_pct, modulation_pct_tolerance; // of all the steady light
    bool has_flash;
    struct pc_flash_head flash;
    double ambient_under_ev; // steady light at least so far under a flash; NAN: does not matter
    double frames_hz;        // of a clip; 0: a still
};

// One setting, judged.
struct pc_way {
    struct pc_mark f, shutter, iso;
    bool flash;
    struct pc_flash_setting power;
    double ambient_ev, ambient_ev_tolerance; // from what the setting wants; positive is over; -INFINITY: dark
    double effective_f;
    double sharp_m, sharp_m_tolerance; // depth, diffraction counted; NAN: no depth was asked for
    double cost[PC_COSTS], cost_tolerance[PC_COSTS];
    enum pc_grade grade[PC_COSTS];
};

// The largest set of grades of which none is as good as another in everything: the middle coefficient of
// (1 + x + x^2 + x^3)^6 (de Bruijn and others, Nieuw Arch. Wisk. 23:191, 1951). So the ways always fit.
enum { PC_WAYS_MAX = 580 };
struct pc_ways {
    int count;
    struct pc_way way[PC_WAYS_MAX];
    int tried; // settings that expose right
};

// Judges one setting. With flash its power is set so that both lights together are right. False when the
// numbers make no exposure (no light, a shutter too short for the flash, a power out of range, a frame
// shorter than the shutter).
bool pc_way_judge(const struct pc_expose_ask *ask, const struct pc_mark *f, const struct pc_mark *shutter,
                  const struct pc_mark *iso, bool flash, struct pc_way *way);

// Every setting of the dials' marks that exposes within a sixth of a stop, by steady light or with flash.
// Settings with the same grades are one class; a class that another equals or betters in every grade, and
// betters in one, is out. Of each that is left the ways hold the one with the least sum of costs over their
// limits, so that no setting at all is as good in every cost and better in one. Best first: fewest spoilt,
// then least sum of grades, then least sum of costs. Large: keep struct pc_ways off the stack. PC_NOT_FOUND
// with a sentence when no setting exposes right.
enum pc_status pc_ways_find(const struct pc_expose_ask *ask, struct pc_ways *ways,
                            struct pc_err *err) PC_MUST_CHECK;

// What speaks for ways->way[i] and what it costs, against the others: "all of the 15 mm wanted are sharp. The
// price: diffraction softens the finest detail".
enum { PC_WAY_REASON_BYTES = 1024 };
void pc_way_reason(const struct pc_expose_ask *ask, const struct pc_ways *ways, int i,
                   char out[PC_WAY_REASON_BYTES]);
// One cost in words: "the pour is smeared over 3 pixels".
void pc_way_cost_text(const struct pc_expose_ask *ask, const struct pc_way *way, enum pc_cost cost,
                      char out[128]);

#endif
