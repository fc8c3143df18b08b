// SPDX-License-Identifier: Apache-2.0
// What the store's tests have in common: a job in a folder of its own, things said to it, frames taken in.
#ifndef PC_FRONT_JOB_JOB_FIXTURE_H
#define PC_FRONT_JOB_JOB_FIXTURE_H

#include <setjmp.h>
#include <stdarg.h>

#include "front/job/job.h"

#include <cmocka.h>

struct fixture {
    char parent[64], folder[96];
    struct pc_job *job;
    struct pc_arena *arena;
};

int job_begin(void **state);
int job_end(void **state);
void job_reopen(struct fixture *f);

enum pc_status job_say_as(struct fixture *f, enum pc_job_role role, const char *who, const char *what,
                          const char *subject, const char *body, const char *key, int64_t *rev,
                          struct pc_err *err);
// By the photographer, and it is let in. The change's number.
int64_t job_say(struct fixture *f, const char *what, const char *subject, const char *body);
// A member of what holds now, as JSON text; NULL: nothing.
const char *job_now(struct fixture *f, const char *what, const char *subject, const char *member);

// A file beside the job, and its path.
void job_write_frame(struct fixture *f, const char *name, const char *bytes, char path[160]);
void job_take(struct fixture *f, const char *path, const char *name, bool wanted_fresh, char id[24]);

#endif
