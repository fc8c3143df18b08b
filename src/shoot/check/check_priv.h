// SPDX-License-Identifier: Apache-2.0
// Between the checks: what one is given, and what it may use.
#ifndef PC_SHOOT_CHECK_CHECK_PRIV_H
#define PC_SHOOT_CHECK_CHECK_PRIV_H

#include "shoot/check/check.h"

#include "image/align/align.h"
#include "image/camera/mains_bands.h"

// How far measured values lie beside the true ones at the threshold: a check speaks from here on, so that
// what does harm is not missed.
#define PC_CHECK_SPEAKS_RATIO 0.85

// A frame under the checks.
struct pc_check {
    struct pc_ctx *ctx;
    const struct pc_picture *full; // as read: edges and clipping
    const struct pc_check_look *now, *locked;
    const struct pc_check_plan *plan;
    bool registered;                     // on the locked frame
    struct pc_align align;               // now from locked
    struct pc_moved moved[PC_MOVED_MAX]; // beside what the camera did
    int moved_count;
    bool banded; // bands were looked for
    struct pc_bands bands;
    bool closed; // held against the parts
    struct pc_closing closing;
    const struct pc_finding *found; // by checks before this one
    int found_count;
};

// Lays the frame over the locked one and over the parts, and looks for bands: what can fail, and what several
// checks go by. Finish also after a failure.
enum pc_status pc_check_prepare(struct pc_check *check, struct pc_err *err) PC_MUST_CHECK;
void pc_check_prepare_finish(struct pc_check *check);

// What the grey card (the surface without one) has of each camera colour over what it had in the locked
// frame, green 1. False when that is no cast that harms, or nothing is known.
bool pc_check_cast_gains(const struct pc_check *check, double gain[3]);

bool pc_check_has(const struct pc_check *check, enum pc_check_kind kind);
static inline bool pc_check_known(const struct pc_check *check, enum pc_check_place place)
{
    return check->now->spots.at[place].radius_px > 0.0;
}
// The largest patch that clips in a place, per cent of it.
double pc_check_clipped_pct(const struct pc_picture *picture, const struct pc_check_spot *spot);
// True when the locked frame has edges looked at where this frame has them now.
bool pc_check_same_spot(const struct pc_check *check, enum pc_check_place place);
// The variance of the blur that the frame has where it is sharpest, or the locked frame had; px^2; NAN.
double pc_check_sharpest_px2(const struct pc_check *check, double *x_px, double *y_px);
// Width of the blur disc (px) of edges beyond what the sharpest have, and beyond what the locked frame had at
// the same place. was: NULL when not known. NAN: no edges to tell.
double pc_check_disc_px(const struct pc_check *check, const struct pc_blur *now, const struct pc_blur *was);
// Metres by which the focus is off for a disc of so many px; nearer: the thing lies nearer than what is in
// focus. NAN without optics.
double pc_check_focus_m(const struct pc_check *check, double disc_px, bool nearer);
// "hero", "surface", "grey card", "sauce", "rim", "front edge"
const char *pc_check_place_name(enum pc_check_place place);
// "1/3 stop", "1 2/3 stops", in thirds; at least one third.
void pc_check_stops(double ev, char *out, size_t size);
// "1/125 s", "0.5 s".
void pc_check_shutter(double s, char *out, size_t size);
// Y against what clips the sensor in green of a neutral; of camera colour.
double pc_check_Y(const struct pc_check_look *look, const double camera[3]);

struct pc_check_rule {
    const char *name;
    // True when there is something to say. finding comes zeroed but for kind and unit, x_px and y_px NAN.
    bool (*look)(const struct pc_check *check, double harm, struct pc_finding *finding);
    double harm; // in unit
    const char *unit;
    enum pc_check_tone tone;
    const char *reason; // of harm
};
extern const struct pc_check_rule pc_check_rules[PC_CHECK_KINDS];

bool pc_check_sync(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_exposure(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_light(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_shake(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_focus(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_clip(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_level(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_depth(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_bands(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_moved(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_cast(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_window(const struct pc_check *check, double harm, struct pc_finding *finding);
bool pc_check_crop(const struct pc_check *check, double harm, struct pc_finding *finding);

#endif
