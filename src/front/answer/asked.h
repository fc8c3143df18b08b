// SPDX-License-Identifier: Apache-2.0
// What is asked of a set of frames, whoever asks: a command line or the pages of a job.
#ifndef PC_FRONT_ANSWER_ASKED_H
#define PC_FRONT_ANSWER_ASKED_H

#include "light/parts/series.h"

// A grey card pointed out in one frame of a set that was taken from the hand.
struct pc_asked_card {
    const char *frame;
    double x_px, y_px;
};

struct pc_asked_dial {
    const char *light;
    double dial_ratio; // NAN: as captured
    double kelvin_K;   // NAN: as captured
};

enum pc_asked_limit_kind { PC_LIMIT_CAP, PC_LIMIT_LEAST, PC_LIMIT_KELVIN, PC_LIMIT_LEAVE };
struct pc_asked_limit {
    enum pc_asked_limit_kind kind;
    const char *light;
    double value[2]; // a dial, 0..1; the lowest and highest kelvin
};

// All texts are borrowed.
struct pc_asked {
    const char *const *paths;
    int path_count;
    const char *folder; // named in errors; NULL: the frames were listed
    const char *actual; // the closing frame, a path as in paths or beside them; NULL: none
    const struct pc_said *said;
    int said_count;
    bool linear;
    struct pc_place place[PC_PLACES_MAX]; // the hero, the surface, and others
    int place_count;
    int greycard;           // which of them is a grey card, or PC_NO_PLACE
    bool places_are_ratios; // x_px and y_px are shares of the upright frame's width and height
    const struct pc_asked_card *card;
    int card_count;
    const struct pc_asked_dial *dial; // the setting to foretell, over the dials as captured
    int dial_count;
    double shutter_s;  // of that setting; NAN: the reference frame's
    double step_ratio; // of all dials; 0: stepless
    const struct pc_asked_limit *limit;
    int limit_count;
    const char *prefix; // before the name of what is wrong, in errors: "--" or ""
};

// Nothing asked, the usual step.
void pc_asked_init(struct pc_asked *asked);
enum pc_status pc_asked_add_place(struct pc_asked *asked, const char *name, double x, double y,
                                  struct pc_err *err) PC_MUST_CHECK;
// As pc_fail, with the place in the words of who asks: "--card" or "card".
enum pc_status pc_asked_fail(const struct pc_asked *asked, struct pc_err *err, enum pc_status status,
                             const char *what, const char *fmt, ...) PC_PRINTF(5, 6);
// PC_MISUSE: there is no such light (frame, place); names the nearest one, or all.
enum pc_status pc_asked_no_such(const struct pc_asked *asked, const char *what, const char *kind,
                                const char *word, const char *const *names, int count, struct pc_err *err);

#endif
