// SPDX-License-Identifier: Apache-2.0
// The record of what was foretold and what came: one line of JSON for each closing check, kept for the
// photographer in $XDG_STATE_HOME/platecall/foretold.jsonl (~/.local/state when that is not set), never sent
// anywhere.
#ifndef PC_FRONT_CLI_RECORD_H
#define PC_FRONT_CLI_RECORD_H

#include "base/arena.h"
#include "light/parts/closing.h"

// Adds one closing check.
enum pc_status pc_record_add(const struct pc_reading *reading, const struct pc_dials *dials,
                             const struct pc_closing *closing, const char *frame,
                             struct pc_err *err) PC_MUST_CHECK;

struct pc_record_summary {
    const char *path; // in the arena
    int checks, places;
    double median_ev, worst_tenth_ev; // |actual - foretold| at the places
    double within_tolerance_ratio;    // share of the places where it was within the tolerance stated
};
// Reads the whole record; no record yet gives checks = 0. A line that cannot be read is PC_BAD_INPUT with its
// number.
enum pc_status pc_record_read(struct pc_arena *arena, struct pc_record_summary *summary,
                              struct pc_err *err) PC_MUST_CHECK;

#endif
