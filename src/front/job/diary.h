// SPDX-License-Identifier: Apache-2.0
// The jobs that lie side by side in one folder.
#ifndef PC_FRONT_JOB_DIARY_H
#define PC_FRONT_JOB_DIARY_H

#include "front/job/job.h"

struct pc_diary_line {
    const char *folder;                        // the job's name in addresses: the folder's last part
    const char *title, *client, *date, *place; // NULL: not said
    int64_t frames, plates, last_ms;           // last_ms: of the last change; 0: none
    const char *trouble;                       // why it cannot be opened, else NULL
};

// By date, those without one last, then by name. Folders without a job.db are passed over.
enum pc_status pc_diary_read(struct pc_arena *arena, const char *folder, struct pc_diary_line **lines,
                             size_t *count, struct pc_err *err) PC_MUST_CHECK;
struct pc_json *pc_diary_json(const struct pc_diary_line *lines, size_t count);

// A folder's name from a job's title, that is not taken in folder: lower case, hyphens ("harbour-kitchen-2").
enum pc_status pc_diary_name(struct pc_arena *arena, const char *folder, const char *title, char **name,
                             struct pc_err *err) PC_MUST_CHECK;
// Whether a name from outside may be a job's folder: letters, digits, - and _, no more than 80.
bool pc_diary_is_name(const char *name);

#endif
