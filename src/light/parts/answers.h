// SPDX-License-Identifier: Apache-2.0
// What the parts say of the light on the table, each figure with its tolerance (95 %), never with more digits
// than it deserves. docs/physics.md derives them.
#ifndef PC_LIGHT_PARTS_ANSWERS_H
#define PC_LIGHT_PARTS_ANSWERS_H

#include "light/parts/parts.h"

// A figure and how far off it may be; NAN, NAN where it cannot be known.
struct pc_figure {
    double value, tolerance;
};

struct pc_light_answer {
    struct pc_figure share_ratio[PC_PLACES_MAX]; // of all the light there, at the dials asked about
    struct pc_figure mired_from_ambient;         // positive: warmer than the ambient
    struct pc_figure
        tint_duv;         // what is left once the mired are matched: Duv of the light less Duv of the ambient
    struct pc_figure lx;  // on the grey card
    double clipped_ratio; // of its brightest frame; NAN for a reading without pictures
};

struct pc_shadow {
    int light;
    double x_px, y_px; // where it lies
    double depth_ev;   // how many stops darker it is than were the light not blocked
    double area_ratio; // of the ring about the hero that was looked at
};

struct pc_answers {
    struct pc_light_answer light[PC_LIGHTS_MAX];
    struct pc_figure ambient_share_ratio[PC_PLACES_MAX];
    int key;                         // the strongest light at the hero; -1: none is lit
    struct pc_figure key_to_fill_ev; // the key over everything else at the hero
    struct pc_figure hero_over_surface_picture_ev;
    struct pc_figure hero_over_surface_light_ev; // reflectance divided out
    struct pc_figure floor_ev; // the darkest surface under the hero, in light, that the key at full allows
    struct pc_figure
        flash_floor_ev; // the same were the key a flash of the set, or one at f/11, 1/200 s, ISO 100
    bool flash_measured;
    struct pc_figure ambient_lx, greycard_lx; // the window alone; everything
    int second; // the light that throws the second shadow; -1: there is none worth the name
    struct pc_figure second_shadow_ev;
    int shadow_count; // of the hero, by light, found in the parts
    struct pc_shadow shadow[PC_LIGHTS_MAX];
};

enum { PC_NO_PLACE = -1 };

// greycard: the place of a grey card in the reading, or PC_NO_PLACE. parts NULL for a reading without
// pictures (its exposure is then given by exposure, else NULL). The reading's whites must be there
// (pc_parts_whites).
struct pc_exposure {
    double shutter_s, fnumber, iso; // NAN where unknown
};
void pc_answers_make(const struct pc_parts *parts, const struct pc_reading *reading,
                     const struct pc_dials *dials, int greycard, const struct pc_exposure *exposure,
                     struct pc_answers *answers);

// The colour of a neutral under each emitter and the ambient, into the reading: from the grey card where
// there is one, else from the ratio of each part to the ambient over the whole picture and the white the
// camera was set for.
void pc_parts_whites(const struct pc_parts *parts, int greycard, struct pc_reading *reading);

// Shadows of the hero in the parts. Returns how many lights throw one.
int pc_parts_shadows(const struct pc_parts *parts, const struct pc_reading *reading,
                     const struct pc_dials *dials, struct pc_shadow shadow[PC_LIGHTS_MAX]);

#endif
