// SPDX-License-Identifier: Apache-2.0
// The plate clock of a job, from its log.
#ifndef PC_FRONT_ANSWER_PLATES_H
#define PC_FRONT_ANSWER_PLATES_H

#include "front/job/job.h"
#include "shoot/day/plate.h"

// What the taps in the log tell at now_ms; dish and class of a plate that does not say are its shot's. In
// arena.
enum pc_status pc_plates_clock(struct pc_job *job, struct pc_arena *arena, int64_t now_ms,
                               struct pc_plate_clock *clock, struct pc_err *err) PC_MUST_CHECK;

#endif
