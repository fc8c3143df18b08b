// SPDX-License-Identifier: Apache-2.0
// A frame of a job checked, and its verdict recorded in the job.
#ifndef PC_FRONT_ANSWER_VERDICT_H
#define PC_FRONT_ANSWER_VERDICT_H

#include "front/job/job.h"
#include "shoot/check/check.h"

// What stays from frame to frame, so that the locked one is read once. For one job; not for use by two
// threads at once. Zeroed to begin with.
struct pc_verdict_keep {
    char locked[24]; // the frame that look is of; "": none
    int64_t rev;     // of the touches and the locked frame that it was made by
    struct pc_check_look look;
};
void pc_verdict_keep_finish(struct pc_verdict_keep *keep);

// Reads the frame, checks it by the job's touches, dials and locked frame, and appends a `verdict` change, as
// the program; *rev gets its number. plan: what the caller knows of lights, crops, windows and the lens; its
// shutter, aperture and ISO are filled in from the job where it does not know them. NULL: nothing. verdict
// may be NULL. A frame that is the locked one is held against the plan alone.
enum pc_status pc_verdict_record(struct pc_ctx *ctx, struct pc_photo_reader *reader, struct pc_job *job,
                                 const char *frame, const struct pc_check_plan *plan,
                                 struct pc_verdict_keep *keep, struct pc_verdict *verdict, int64_t *rev,
                                 struct pc_err *err) PC_MUST_CHECK;

#endif
