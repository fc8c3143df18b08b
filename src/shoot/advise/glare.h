// SPDX-License-Identifier: Apache-2.0
// What a flat, smooth surface shows the camera: how much of it mirrors which window, panel or card, and where
// the camera has to go to be rid of that. Pure; safe from any thread.
//
// Metres and radians. The surface's middle is the middle of everything: x to three o'clock, y to twelve,
// where the camera looks from six, z above the floor. Angles around are clockwise as seen from above. The
// camera is its entrance pupil, at its true distance: rays to it are not parallel.
//
// A surface with lumps, skin or ripples shows many small mirrors that lean every way; nothing here is true of
// it.
#ifndef PC_SHOOT_ADVISE_GLARE_H
#define PC_SHOOT_ADVISE_GLARE_H

#include "base/err.h"

enum { PC_GLARE_SOURCES_MAX = 8, PC_GLARE_CORNERS_MAX = 8 };

// What a tape and a hand give: 2 cm at the window's wall, and on the way to the camera; its angle 1 degree.
#define PC_GLARE_TOLERANCE_M         0.02
#define PC_GLARE_ANGLE_TOLERANCE_RAD 0.0175

struct pc_glare_point {
    double x_m, y_m, z_m;
};

struct pc_glare_source { // flat and convex, seen from either side
    const char *name;    // borrowed
    int corners;
    struct pc_glare_point corner[PC_GLARE_CORNERS_MAX]; // in order around it
};

struct pc_glare_scene {
    // Surface: a disc of radius_m, or, where that is NAN, a rectangle of across_m level by along_m up its
    // slope.
    double radius_m, across_m, along_m;
    double height_m;   // of its middle above the floor
    double tilt_rad;   // 0 lies, a right angle stands
    double facing_rad; // where a tilted face looks: 0 twelve o'clock, half a turn the camera
    // Camera.
    double distance_m;    // entrance pupil to the surface's middle
    double elevation_rad; // 0 level, a right angle straight above
    double turn_rad;      // 0 at six o'clock, a quarter at nine
    int sources;
    struct pc_glare_source source[PC_GLARE_SOURCES_MAX];
    double distance_m_tolerance, elevation_rad_tolerance, turn_rad_tolerance, height_m_tolerance,
        source_m_tolerance; // where the sources are, each way
};

enum pc_glare_way {
    PC_GLARE_RAISE,
    PC_GLARE_LOWER,
    PC_GLARE_CLOCKWISE,
    PC_GLARE_ANTICLOCKWISE,
    PC_GLARE_WAYS
};

struct pc_glare_edge { // where the surface comes clear, or, if it is clear now, where glare begins
    bool found;
    double to_rad, to_rad_tolerance; // elevation, or turn
    double by_m;                     // how far the camera rises (negative: sinks) on the way, or goes round
};

struct pc_glare {
    double share_ratio, share_ratio_tolerance; // of the surface that shows any source
    double source_ratio[PC_GLARE_SOURCES_MAX], source_ratio_tolerance[PC_GLARE_SOURCES_MAX];
    double incidence_rad; // of the ray to the camera at the middle, from the surface's normal
    bool clear;           // nothing is shown
    struct pc_glare_edge edge[PC_GLARE_WAYS];
};

// Mirror images (the law of reflection): the sources, cut at the surface's plane, are projected on it from
// the camera's image behind it, and their polygons' share of the surface is exact. Edges are found to 1e-6
// rad, scanned in steps of a quarter of a degree. Shares' tolerances are by draws. PC_BAD_INPUT when the
// camera stands behind the surface, or a number is out of range.
enum pc_status pc_glare_find(const struct pc_glare_scene *scene, struct pc_glare *glare,
                             struct pc_err *err) PC_MUST_CHECK;

// A window in a wall from_m away: its outward side faces at_rad around; middle right_m to the right, looking
// out.
struct pc_glare_source pc_glare_window(const char *name, double at_rad, double from_m, double right_m,
                                       double width_m, double height_m, double sill_m);
// A panel or card that stands at_rad around, away_m off, its middle at middle_m, and faces the hero at
// hero_m; level.
struct pc_glare_source pc_glare_panel(const char *name, double at_rad, double away_m, double middle_m,
                                      double width_m, double height_m, double hero_m);

#endif
