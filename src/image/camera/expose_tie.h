// SPDX-License-Identifier: Apache-2.0
// Lux from a grey card in a raw frame, and the one figure that ties a camera to a light meter.
#ifndef PC_IMAGE_CAMERA_EXPOSE_TIE_H
#define PC_IMAGE_CAMERA_EXPOSE_TIE_H

#include "base/keys.h"
#include "image/photo/photo.h"

// What the card's green level says (image/picture/meter.h): good to 0.3 EV. path names the frame in errors.
// PC_BAD_INPUT with a sentence when the frame does not say its exposure, or the card is clipped or black.
enum pc_status pc_card_lx(const struct pc_photo *photo, const struct pc_level *card, double reflectance_ratio,
                          const char *path, double *lx, struct pc_err *err) PC_MUST_CHECK;

// A camera's own figure: how far its lux lie from a meter's. Texts live in the arena that it was read into,
// or are borrowed from the facts it was made of; "" where the file does not say.
struct pc_tie {
    const char *maker, *model, *serial, *lens;
    double fnumber;
    double off_ev; // what has to be added to this camera's lux, in stops
};

// Once tied, lux are good to 0.1 EV with the same lens: shutters, blades and the card's reading are left, and
// light of another colour, of which filters and eye judge differently. With another lens 0.2: glass passes
// 0.8 to 0.95.
#define PC_TIE_TOLERANCE_EV            0.1
#define PC_TIE_OTHER_LENS_TOLERANCE_EV 0.2

// PC_BAD_INPUT when the two differ by more than two stops: no camera is so far off, so card or meter lay
// elsewhere.
enum pc_status pc_tie_make(const struct pc_facts *facts, double camera_lx, double meter_lx,
                           struct pc_tie *tie, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_tie_write(const char *path, const struct pc_tie *tie, struct pc_err *err) PC_MUST_CHECK;
extern const struct pc_keys pc_tie_keys;
enum pc_status pc_tie_read(struct pc_arena *arena, const char *path, struct pc_tie *tie,
                           struct pc_err *err) PC_MUST_CHECK;
// The same from text, for tests.
enum pc_status pc_tie_read_text(struct pc_arena *arena, const char *text, size_t count, const char *place,
                                struct pc_tie *tie, struct pc_err *err) PC_MUST_CHECK;

// What the tie makes of a frame's lux, and what it is good to then. PC_BAD_INPUT when the frame is another
// camera's.
enum pc_status pc_tie_apply(const struct pc_tie *tie, const struct pc_facts *facts, const char *path,
                            double *lx, double *tolerance_ev, struct pc_err *err) PC_MUST_CHECK;

#endif
