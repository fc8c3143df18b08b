// SPDX-License-Identifier: Apache-2.0
// The side section of a shot of a job, from what the job says of it.
#ifndef PC_FRONT_ANSWER_SHOT_SECTION_H
#define PC_FRONT_ANSWER_SHOT_SECTION_H

#include "front/job/job.h"

// An SVG in arena. Table and ceiling are those of the place file (site.json, docs/kit.md) in the job's
// folder, where there is one. What nobody said is drawn as is usual, and the line under the
// sketch says so. PC_NOT_FOUND: there is no such shot, or it has no angle yet.
enum pc_status pc_shot_section(struct pc_job *job, struct pc_arena *arena, const char *shot,
                               const char **bytes, size_t *count, struct pc_err *err) PC_MUST_CHECK;

#endif
