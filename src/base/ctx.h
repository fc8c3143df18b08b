// SPDX-License-Identifier: Apache-2.0
// What a piece of work runs in: its threads, its memory budget, its log, and the user's wish to stop.
// Made once by a front end and lent to everything below it. Safe to share between threads.
#ifndef PC_BASE_CTX_H
#define PC_BASE_CTX_H

#include <stdatomic.h>

#include "base/err.h"

struct pc_ctx {
    int threads;               // 1 or more
    size_t budget_bytes;       // the most that buffers may hold together
    _Atomic size_t held_bytes; // what they hold now
    _Atomic size_t peak_bytes; // the most they held at once
    _Atomic bool cancelled;
    // Called from the thread that does the work, in order: what is being done and how much of it is done
    // (0..1). Returning false cancels. May be NULL.
    bool (*progress)(void *user, const char *doing, double done_ratio);
    void *user; // handed to progress
};

// threads 0: as many as the machine has; budget 0: half the machine's memory.
void pc_ctx_init(struct pc_ctx *ctx, int threads, size_t budget_bytes);

// Says how far the work is, and whether to go on. PC_CANCELLED when the user said stop.
enum pc_status pc_ctx_step(struct pc_ctx *ctx, const char *doing, double done_ratio,
                           struct pc_err *err) PC_MUST_CHECK;

// Runs body(arg, i) for i in 0..count-1 on ctx->threads threads and returns when all are done. Bodies share
// nothing but what they lock; which thread takes which i is left open, so a result may not depend on it.
// When one fails the rest that have not begun are skipped, and the failure with the lowest i is given back.
enum pc_status pc_parallel(struct pc_ctx *ctx, int count,
                           enum pc_status (*body)(void *arg, int i, struct pc_err *err), void *arg,
                           struct pc_err *err) PC_MUST_CHECK;

#endif
