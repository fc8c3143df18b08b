// SPDX-License-Identifier: Apache-2.0
// What a job's log says, as a question about a set of frames.
#ifndef PC_FRONT_ANSWER_FROM_JOB_H
#define PC_FRONT_ANSWER_FROM_JOB_H

#include "base/digest.h"
#include "front/answer/asked.h"
#include "front/job/job.h"

struct pc_job_asked {
    struct pc_arena *arena; // has every text
    struct pc_asked asked;
    const char *needs; // what has to be done first, a sentence; NULL: nothing
    // What the measuring depends on, and what the answers do; of the same job, the same key is the same
    // question. The closing frame and the dials are in the second only.
    char set_key[PC_DIGEST_HEX_BYTES], key[PC_DIGEST_HEX_BYTES];
    double hero_x_ratio, hero_y_ratio; // NAN: not touched
};

// The set is every raw frame that is said to show the ambient, a light or a flash, and every one of which
// nothing is said (then its time tells) that came before the first dials were set and the first frame that is
// a take, a closing frame or locked. The closing frame is the newest that was called so after the dials were
// last set. *asked is on the heap.
enum pc_status pc_job_ask(struct pc_job *job, struct pc_job_asked **asked, struct pc_err *err) PC_MUST_CHECK;
void pc_job_asked_destroy(struct pc_job_asked *asked); // NULL is fine

// Leaves out dials of lights that no frame shows, and kelvins of lights of one colour; gives back a sentence
// for the first of the dials, NULL: none.
const char *pc_job_asked_fit(struct pc_job_asked *asked, const struct pc_reading *reading);

#endif
