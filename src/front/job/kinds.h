// SPDX-License-Identifier: Apache-2.0
// The kinds of change, as a table: what a body may say, and who may say it.
//
// How to add a kind: one row in kinds.c, and a row in docs/store.md; state.c if it is to be shown by itself.
#ifndef PC_FRONT_JOB_KINDS_H
#define PC_FRONT_JOB_KINDS_H

#include "front/job/job.h"

enum pc_member_type {
    PC_MEMBER_TEXT,   // at most `most` bytes, no control characters
    PC_MEMBER_NUMBER, // least..most
    PC_MEMBER_BOOL,
    PC_MEMBER_WORD,    // one of words
    PC_MEMBER_DATE,    // YYYY-MM-DD
    PC_MEMBER_TEXTS,   // at most 32 texts of `most` bytes
    PC_MEMBER_NUMBERS, // an object of at most 32 names, each a number in least..most
    PC_MEMBER_PAIR,    // two numbers in least..most
};

struct pc_member {
    const char *name;
    enum pc_member_type type;
    double least, most;
    bool needed;
    const char *const *words; // ends with NULL
};

enum pc_subject { PC_SUBJECT_NONE, PC_SUBJECT_NAME, PC_SUBJECT_FRAME, PC_SUBJECT_WORD };

struct pc_kind {
    const char *what;
    enum pc_subject subject;
    const char *const *subjects;     // of PC_SUBJECT_WORD
    unsigned roles;                  // 1 << enum pc_job_role
    const struct pc_member *members; // the last has no name
    bool every;                      // each change counts by itself (a tap): nothing is laid over another
    bool whole;                      // a later body replaces the earlier one as a whole
};

extern const struct pc_kind pc_kinds[];
extern const size_t pc_kinds_count;

// PC_MISUSE names the nearest kind.
enum pc_status pc_kind_find(const char *what, const struct pc_kind **kind, struct pc_err *err) PC_MUST_CHECK;
// Whether this body, subject and role fit the kind; the place in the error is the member.
enum pc_status pc_kind_check(const struct pc_kind *kind, const struct pc_job_wish *wish,
                             struct pc_err *err) PC_MUST_CHECK;

#endif
