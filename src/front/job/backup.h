// SPDX-License-Identifier: Apache-2.0
// A second copy of a job on another disk, and a job made again from such a copy.
#ifndef PC_FRONT_JOB_BACKUP_H
#define PC_FRONT_JOB_BACKUP_H

#include "base/ctx.h"
#include "front/job/job.h"

struct pc_job_backed {
    int64_t frames, copied; // in the copy now, and of these copied this time
    int64_t bytes;          // copied
};

// Brings the folder `to` (made if missing) up to the job as it is: frames that it lacks are copied and read
// back against their SHA-256, then the record is put in place, whole. A copy that was broken off is as good
// as the one before it. Frames already there are read back too when reread is set. Cancellable.
//
// What lies in `to` has to be an earlier state of this very job, shown by its log: the copy of another job,
// or of a later state (this job was itself restored from an older copy), is refused and left as it is.
enum pc_status pc_job_backup(struct pc_ctx *ctx, struct pc_job *job, const char *to, bool reread,
                             struct pc_job_backed *backed, struct pc_err *err) PC_MUST_CHECK;

// Makes the folder `to`, which must not be there, from such a copy (or from any job's folder): the record's
// own check, then each frame copied and held against its SHA-256. All or nothing; the copy is only read.
enum pc_status pc_job_restore(struct pc_ctx *ctx, const char *from, const char *to,
                              struct pc_job_backed *backed, struct pc_err *err) PC_MUST_CHECK;

#endif
