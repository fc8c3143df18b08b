// SPDX-License-Identifier: Apache-2.0
#ifndef PC_FRONT_JOB_JOB_PRIV_H
#define PC_FRONT_JOB_JOB_PRIV_H

#include <pthread.h>

#include "front/job/db.h"
#include "front/job/job.h"
#include "front/job/kinds.h"

// How the name of a frame on its way in begins, in inbox/.
#define PC_JOB_ARRIVING ".arriving-"

struct pc_job {
    pthread_mutex_t lock; // around db
    struct pc_db *db;
    char folder[3072];
    void (*told)(void *user, const struct pc_job_change *change);
    void *told_user;
};

// schema.c: that it is the record of a job, and one that this program can read.
// *old: its tables are not those of today.
enum pc_status pc_job_schema_check(struct pc_db *db, const char *place, bool *old,
                                   struct pc_err *err) PC_MUST_CHECK;
// Tables of a new file, and an older file brought up to date. Anybody else's file is left as it is.
enum pc_status pc_job_schema(struct pc_db *db, const char *place, bool make,
                             struct pc_err *err) PC_MUST_CHECK;

// fold.c, within a transaction: what holds of (what, subject) after one more change, and after an undo.
enum pc_status pc_job_fold_add(struct pc_db *db, const struct pc_kind *kind,
                               const struct pc_job_change *change, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_job_fold_again(struct pc_db *db, const struct pc_kind *kind, const char *subject,
                                 struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_job_fold_undo(struct pc_db *db, const struct pc_job_change *undo,
                                struct pc_err *err) PC_MUST_CHECK;

// log.c, within a transaction and the lock: the change goes in and the fold follows; *rev is its number.
enum pc_status pc_job_append_within(struct pc_job *job, const struct pc_job_wish *wish, int64_t *rev,
                                    bool *fresh, struct pc_err *err) PC_MUST_CHECK;
void pc_job_tell(struct pc_job *job, int64_t rev); // outside the lock

int64_t pc_job_now_ms(void);

// Whether a file's name in the record leads out of frames/: the record may come from anywhere.
bool pc_job_stays_within(const char *file);

#endif
