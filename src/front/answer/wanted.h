// SPDX-License-Identifier: Apache-2.0
// What `want` answers: what is wished for in, dials out.
#ifndef PC_FRONT_ANSWER_WANTED_H
#define PC_FRONT_ANSWER_WANTED_H

#include "front/answer/measured.h"

struct pc_wanted {
    const struct pc_measured *measured; // borrowed
    struct pc_reading reading; // against whose dials everything is measured: those captured, or those asked
    struct pc_want want;
    struct pc_want_answer answer;
};

// A goal by its kind and the name of its place (NULL: the kind has its own).
struct pc_wanted_goal {
    enum pc_goal_kind kind;
    const char *place;
    double value;
};

// asked: the limits, and the dials that all is measured against, over those captured. The kelvins stay where
// neither warmth is wanted nor their range is limited.
enum pc_status pc_wanted_make(const struct pc_measured *measured, const struct pc_asked *asked,
                              const struct pc_wanted_goal *goals, int goal_count, struct pc_wanted *wanted,
                              struct pc_err *err) PC_MUST_CHECK;

// docs/json.md has the keys.
struct pc_json *pc_wanted_json(const struct pc_wanted *wanted);
// The kind by its key in JSON: "place_ev"; false: there is none.
bool pc_wanted_kind(const char *key, enum pc_goal_kind *kind);

#endif
