// SPDX-License-Identifier: Apache-2.0
// A job as text, for people and for programs of other years: readable/ in its folder.
#ifndef PC_FRONT_JOB_READABLE_H
#define PC_FRONT_JOB_READABLE_H

#include "front/job/job.h"

// Writes job.json (what holds now), changes.json (the whole log), a table as CSV (RFC 4180, UTF-8) for each
// kind of change that there is, and about.txt, each whole or not at all. A text that a spreadsheet would take
// for a formula gets an apostrophe before it.
enum pc_status pc_job_write_readable(struct pc_job *job, struct pc_err *err) PC_MUST_CHECK;

#endif
