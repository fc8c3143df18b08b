// SPDX-License-Identifier: Apache-2.0
// What is wrong with a frame while the food is alive: one sentence, one number, at most one thing to do; and
// nothing when all is well. docs/checks.md has the kinds, their thresholds and the reasons.
//
// A frame is read once, at the sensor's full size for measuring (pc_photo_measure, about_pixels 0). Edges are
// looked at there; levels of the whole, what moved and the lights in the same averaged down to the size of
// the parts. Places are full-resolution pixels of the upright frame. Safe from several threads at once, with
// a context and looks of their own.
#ifndef PC_SHOOT_CHECK_CHECK_H
#define PC_SHOOT_CHECK_CHECK_H

#include "base/json.h"
#include "image/photo/photo.h"
#include "light/parts/closing.h"
#include "shoot/advise/glare.h"
#include "shoot/check/blur.h"

// In order of gravity: what spoils a frame for good before what can still be mended in it, and causes before
// what they cause.
enum pc_check_kind {
    PC_CHECK_SYNC,     // the shutter is too short for the flash
    PC_CHECK_EXPOSURE, // ISO, aperture or shutter are not those of the plan
    PC_CHECK_LIGHT,    // a light is off or at another dial
    PC_CHECK_SHAKE,    // everything is smeared one way
    PC_CHECK_FOCUS,    // the hero's front edge is soft
    PC_CHECK_CLIP,     // a patch of hero, sauce or rim is clipped
    PC_CHECK_LEVEL,    // the hero is not at the level foretold
    PC_CHECK_DEPTH,    // the front is sharp and the back of the hero is soft
    PC_CHECK_BANDS,    // a lamp pulses
    PC_CHECK_WINDOW,   // a window lies in flat liquid
    PC_CHECK_MOVED,    // something, or the camera, is not where it was
    PC_CHECK_CAST,     // grey is not grey, or not the grey of the last good frame
    PC_CHECK_CROP,     // an outlet's crop does not hold the hero any more
    PC_CHECK_KINDS
};

enum pc_check_tone { PC_TONE_SHOOT_ON, PC_TONE_MEND, PC_TONE_WAIT };

enum pc_check_place {
    PC_CHECK_HERO,
    PC_CHECK_SURFACE,
    PC_CHECK_GREYCARD,
    PC_CHECK_SAUCE,
    PC_CHECK_RIM,
    PC_CHECK_FRONT, // the hero's front edge
    PC_CHECK_PLACES
};

// Where a place is; radius_px 0: nobody said.
struct pc_check_spot {
    double x_px, y_px, radius_px;
};
struct pc_check_spots {
    struct pc_check_spot at[PC_CHECK_PLACES];
};

enum { PC_CHECK_TILES_X = 6, PC_CHECK_TILES_Y = 4, PC_CHECK_TILES = PC_CHECK_TILES_X * PC_CHECK_TILES_Y };

// What is kept of a frame: of the last locked one, to hold later ones against. A few megabytes.
struct pc_check_look {
    struct pc_facts facts;
    bool tone_mapped;
    bool has_xyz, has_neutral;
    double xyz_from_camera[3][3], neutral_ratio[3];
    struct pc_picture small; // about 1.5 megapixels
    int bin;                 // of the picture that edges were looked at in
    struct pc_check_spots spots;
    struct pc_blur place[PC_CHECK_PLACES], back; // the back of the hero: as far behind it as the front before
    struct pc_blur tile[PC_CHECK_TILES];
    double clipped_pct[PC_CHECK_PLACES]; // the largest patch that clips, of the place
};
// photo: borrowed; its picture's noise is set and dead lines are mended. PC_BAD_INPUT when the picture is
// empty.
enum pc_status pc_check_look_make(struct pc_ctx *ctx, struct pc_photo *photo,
                                  const struct pc_check_spots *spots, struct pc_check_look *look,
                                  struct pc_err *err) PC_MUST_CHECK;
void pc_check_look_finish(struct pc_check_look *look); // zeroed or NULL is fine

// An outlet's crop as it was fixed on the locked frame, shares of that frame's width and height.
struct pc_check_crop {
    const char *outlet; // borrowed
    double left_ratio, top_ratio, right_ratio, bottom_ratio;
};

enum { PC_CHECK_CROPS_MAX = 12 };

// What the frame was meant to be. Numbers that are not known are NAN, pointers NULL; what needs them is then
// not checked. Pointers are borrowed.
struct pc_check_plan {
    double shutter_s, fnumber, iso;
    double sync_s; // the shortest shutter that the flash keeps up with
    double mains_hz;
    double pixel_pitch_m, magnification_ratio;
    double sharp_px;    // a blur disc as wide as this still counts as sharp; NAN: PC_CHECK_SHARP_PX
    bool overhead;      // looks straight down: nothing in the frame is nearer by lying lower in it
    bool white_set;     // the camera's white balance was set from this grey card in this light
    bool sharp_through; // the hero is to be sharp from front to back
    double hero_ev, hero_ev_tolerance; // foretold, against what clips the sensor; without parts
    // Where the lights were measured: all three or none. Dials as set.
    const struct pc_parts *parts;
    const struct pc_reading *reading;
    const struct pc_dials *dials;
    int crops;
    struct pc_check_crop crop[PC_CHECK_CROPS_MAX];
    const struct pc_glare_scene *glare;
};
void pc_check_plan_clear(struct pc_check_plan *plan); // nothing known

// Full-resolution pixels: at 5, a 45-megapixel frame printed across a page of 22 cm at 300 ppi, or shown 2600
// wide, has its edges within one and a half of the output's pixels.
#define PC_CHECK_SHARP_PX 5.0

struct pc_finding {
    enum pc_check_kind kind;
    double over_ratio; // value over what harms; findings of one kind are ranked by it
    double value, tolerance;
    const char *unit;     // "EV", "mm", "px", "%", "mired", "s", "ISO", "f"; "" for a number without any
    double x_px, y_px;    // NAN: everywhere
    char what[96];        // "sauce clips"
    char action[64];      // "Down 1/3 stop"; empty: nothing can be done but looking
    bool says_what_first; // the sentence is "what: action" instead of "action: what"
};

enum { PC_FINDINGS_MAX = PC_CHECK_KINDS };

struct pc_verdict {
    enum pc_check_tone tone;
    char sentence[192]; // "Shoot on" when nothing is found
    int count;          // at most one of a kind, the gravest first
    struct pc_finding finding[PC_FINDINGS_MAX];
    int full_width_px, full_height_px;
};

// photo: the frame, read for measuring; borrowed, its picture's noise and dead lines set right. locked: NULL
// when there is none. Spots may differ from those of the locked frame.
enum pc_status pc_check_frame(struct pc_ctx *ctx, struct pc_photo *photo, const struct pc_check_spots *spots,
                              const struct pc_check_look *locked, const struct pc_check_plan *plan,
                              struct pc_verdict *verdict, struct pc_err *err) PC_MUST_CHECK;

// {kind, tone, sentence, value, tolerance, unit, action, x_ratio, y_ratio, others: [the same without
// others]}; kind, value and the rest null when there is nothing. Taken by the caller.
struct pc_json *pc_check_json(const struct pc_verdict *verdict);

// "clip"; as in the JSON.
const char *pc_check_kind_name(enum pc_check_kind kind);
const char *pc_check_tone_name(enum pc_check_tone tone); // "shoot_on", "mend", "wait"
// What harms, in the kind's own unit: faults from here on are to be found.
double pc_check_kind_harm(enum pc_check_kind kind);
const char *pc_check_kind_unit(enum pc_check_kind kind);
const char *pc_check_kind_reason(enum pc_check_kind kind);

#endif
