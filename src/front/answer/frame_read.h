// SPDX-License-Identifier: Apache-2.0
// What `read` answers: what one frame says of itself, and how the light in it lies on the sensor.
#ifndef PC_FRONT_ANSWER_FRAME_READ_H
#define PC_FRONT_ANSWER_FRAME_READ_H

#include "base/json.h"
#include "image/photo/photo.h"

enum { PC_FRAME_SPOTS_MAX = 64, PC_FRAME_SHARES = 3 };

struct pc_frame_spot {
    const char *name; // borrowed
    const char *text; // how it was given, for errors
    double x_px, y_px;
    struct pc_level level; // what is found
};

// path and spots are given; the rest is found.
struct pc_frame_read {
    const char *path;
    struct pc_frame_spot spot[PC_FRAME_SPOTS_MAX];
    size_t spots;
    int greycard; // which of the spots is a grey card of 18 %; -1: none
    struct pc_photo photo;
    double card_lx, card_lx_tolerance; // NAN: no card
    bool noise_from_frame;
};

// The shares of all pixels that levels are told for.
extern const double pc_frame_shares[PC_FRAME_SHARES];
extern const char *const pc_frame_form_names[5]; // by enum pc_photo_form
extern const char pc_frame_tone_mapped_text[];   // a sentence without its full stop

// Finished by the caller, whatever comes back. PC_UNSUPPORTED: the tones are bent, and light was asked for.
enum pc_status pc_frame_read(struct pc_ctx *ctx, struct pc_frame_read *read, bool linear,
                             struct pc_err *err) PC_MUST_CHECK;
void pc_frame_read_finish(struct pc_frame_read *read);

// docs/json.md has the keys.
struct pc_json *pc_frame_read_json(const struct pc_frame_read *read);

// Stops from what clips; NAN in the dark. The tolerance is of that.
double pc_frame_under_clipping_ev(double level);
double pc_frame_tolerance_ev(double level, double se);
// The light over its noise where it is 18 % of what clips; NAN: not known.
double pc_frame_snr_at_mid_grey(const struct pc_noise *noise, int channel);

#endif
