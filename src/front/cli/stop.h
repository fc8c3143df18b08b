// SPDX-License-Identifier: Apache-2.0
// Ctrl-C: the first asks the work to stop cleanly, the second ends the program on the spot.
#ifndef PC_FRONT_CLI_STOP_H
#define PC_FRONT_CLI_STOP_H

#include <pthread.h>

#include "base/ctx.h"

struct pc_stop {
    struct pc_ctx *ctx; // kept
    pthread_t thread;
    _Atomic bool over;
    bool watching;
};

// Call before any other thread or process is started: SIGINT and SIGTERM are taken by one thread, which sets
// ctx->cancelled. (A thread rather than a handler, so that no mutable global is needed.)
void pc_stop_init(struct pc_stop *stop, struct pc_ctx *ctx);
void pc_stop_finish(struct pc_stop *stop);

#endif
