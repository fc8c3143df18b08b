// SPDX-License-Identifier: Apache-2.0
// Where a picture will be seen: a page of so many millimetres, or a screen of so many pixels. What it needs
// of a frame, and what it gets. Pure; safe from any thread.
#ifndef PC_SHOOT_OUTLET_OUTLET_H
#define PC_SHOOT_OUTLET_OUTLET_H

#include "base/keys.h"

struct pc_outlet {
    const char *name;
    double size_mm[2];      // trimmed, width and height; NAN for a screen
    double size_px[2];      // NAN for a page
    double bleed_mm;        // on each side
    double needed_ppi;      // of a page
    double fold_ratio;      // where the fold runs, as a share of the width from the left; 0: none
    double fold_clear_mm;   // on each side of it nothing may lie that matters
    double clear_top_ratio; // share of the trimmed height that is kept for type, from the top
    double clear_bottom_ratio;
    double clear_left_ratio; // of the trimmed width
    double clear_right_ratio;
    double hero_shown_ratio;  // the middle share of the hero's width and height that has to show; 1: all
    double hero_margin_ratio; // clear around it, as a share of the shorter trimmed side
    double hero_at_ratio[2];  // where its middle is wanted, of the trimmed size; NAN: amid what type leaves
    double viewed_from_m;     // how far off it is looked at, for the circle of confusion
    double lit_mm;            // width of a screen that nobody goes up to or magnifies; NAN: not known
};

struct pc_outlets {
    struct pc_outlet *outlets;
    size_t count;
};

// Those that everybody has: ISO 216 pages, a magazine's cover, page and spread, common screens.
extern const struct pc_outlet pc_outlets_usual[];
extern const size_t pc_outlets_usual_count;

extern const struct pc_keys pc_outlets_keys;
enum pc_status pc_outlets_read(struct pc_arena *arena, const char *path, struct pc_outlets *outlets,
                               struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_outlets_read_text(struct pc_arena *arena, const char *text, size_t count, const char *place,
                                    struct pc_outlets *outlets, struct pc_err *err) PC_MUST_CHECK;

// By name, first in outlets (may be NULL), then among the usual ones. PC_MISUSE names the nearest.
enum pc_status pc_outlet_find(const struct pc_outlets *outlets, const char *name,
                              const struct pc_outlet **outlet, struct pc_err *err) PC_MUST_CHECK;

bool pc_outlet_is_page(const struct pc_outlet *outlet);
// Width over height, bleed included: the shape that a frame is cropped to.
double pc_outlet_shape_ratio(const struct pc_outlet *outlet);
// Pixels for its whole size, bleed included, rounded to the nearest.
void pc_outlet_needed_px(const struct pc_outlet *outlet, double needed_px[2]);

// The largest part of a frame that has the outlet's shape. The frame is as it was held: width and height.
void pc_outlet_crop_px(const struct pc_outlet *outlet, const double frame_px[2], double crop_px[2]);
// Pixels an inch on the page when across_px lie along its width, bleed included; NAN for a screen.
double pc_outlet_reached_ppi(const struct pc_outlet *outlet, double across_px);
// Pixels there are for each one needed, along the width; 1 and more will do.
double pc_outlet_reached_ratio(const struct pc_outlet *outlet, double across_px);

// The diameter on the sensor that is still seen as a point, in millimetres: 0.2 mm at 25 cm on the page
// (depth-of-field tables by convention; about 1 arc minute would be a third of it), scaled to viewed_from_m
// and from the page back to sensor_across_mm. For a screen 1.5 of its pixels, which hands may magnify; of one
// whose lit_mm is known the eye's measure, as on a page, if that is larger. Never less than one pixel of the
// camera (across_px over the same width).
double pc_outlet_confusion_mm(const struct pc_outlet *outlet, double sensor_across_mm, double across_px);

#endif
