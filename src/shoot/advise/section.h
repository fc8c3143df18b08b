// SPDX-License-Identifier: Apache-2.0
// The side section of a shot: the upright plane through hero and camera, drawn as one sketches it on a
// napkin. One pen weight, black on white, figures in centimetres. Safe from any thread.
#ifndef PC_SHOOT_ADVISE_SECTION_H
#define PC_SHOOT_ADVISE_SECTION_H

#include "base/draw.h"

enum pc_section_hero { PC_HERO_PLATE, PC_HERO_BOWL, PC_HERO_GLASS, PC_HERO_STACK };

// Metres. x runs from the hero's middle towards the side where the camera stands (negative: beyond the hero,
// as the camera sees it); heights are over the floor. NAN where there is no such thing, or nobody knows.
struct pc_section {
    const char *title;                // a line under the sketch; NULL: none
    double ceiling_m;                 // NAN: none is drawn
    double table_m;                   // what the hero stands on; required
    double table_near_m, table_far_m; // x of its two edges, near > 0 > far; required
    bool trestles;                    // it stands on trestles
    enum pc_section_hero hero;
    double hero_width_m, hero_top_m;   // required: across, and the height of its top
    double liquid_m;                   // the level of what is glossy in it; NAN: nothing is
    double tall_x_m, tall_top_m;       // the tallest thing beside the hero; NAN: none
    const char *camera;                // "C1, 50 mm"; NULL: "camera"
    double camera_x_m, camera_m;       // its sensor; required
    double arm_x_m;                    // where the stand is whose arm holds the camera; NAN: no arm is drawn
    double aim_x_m, aim_m;             // where it looks; NAN: at the middle of the hero
    double view_rad;                   // whole angle of view in this plane; NAN: its edges are not drawn
    double window_x_m, sill_m, head_m; // a window in a wall at x; NAN: none
    double
        mirror_x_m; // where on the liquid the camera sees a reflection; NAN: none. The ray beyond is reckoned
    double light_x_m, light_m; // a lamp; NAN: none
    double sun_elevation_rad;  // the sun's, in this plane, from beyond window_x_m or, without one, from x < 0
};

// Every figure NAN, no names, a plate.
void pc_section_default(struct pc_section *section);

// How long the hero's shadow is on the table, by the lamp or else by the sun, from the foot of the edge that
// throws it (of a plate: from its middle). Positive towards the camera. NAN: there is no light, or it is not
// above the hero's top.
double pc_section_shadow_m(const struct pc_section *section);

// Where the ray that the camera sees at mirror_x_m comes from: its height at the window's wall. NAN: there is
// no mirror, no window, or the ray goes away from it.
double pc_section_mirrored_m(const struct pc_section *section);

// PC_BAD_INPUT says which figure cannot be drawn.
enum pc_status pc_section_check(const struct pc_section *section, struct pc_err *err) PC_MUST_CHECK;

// As below, as the bytes of an SVG file in arena.
enum pc_status pc_section_svg(const struct pc_section *section, struct pc_arena *arena, const char **bytes,
                              size_t *count, struct pc_err *err) PC_MUST_CHECK;
// On a sheet of A5 across (ISO 216, 210 x 148 mm), in the form that path's ending says.
enum pc_status pc_section_save(const struct pc_section *section, const char *path,
                               struct pc_err *err) PC_MUST_CHECK;

#endif
