// SPDX-License-Identifier: Apache-2.0
// The workers of one reader: started when needed, reused, ended when they crash, hang or lie. Private to the
// room.
#ifndef PC_IMAGE_PHOTO_POOL_H
#define PC_IMAGE_PHOTO_POOL_H

#include "image/photo/photo.h"
#include "image/photo/worker/protocol.h"

struct pc_pool;

// limits must be filled in. ctx is kept.
enum pc_status pc_pool_create(struct pc_ctx *ctx, const struct pc_photo_limits *limits, struct pc_pool **pool,
                              struct pc_err *err) PC_MUST_CHECK;
void pc_pool_destroy(struct pc_pool *pool); // NULL is fine; nobody may be asking

// What a worker answered, and the worker itself until it is given back.
struct pc_lease {
    struct pc_reply reply; // not to be believed
    const uint8_t *pixels; // shared memory, NULL when there is none; the worker may still write there
    uint64_t pixels_bytes; // readable without fear of a fault
    int worker;
};

// Hands the open file to a free worker (waiting for one) and waits for its answer. place names the file in
// errors.
enum pc_status pc_pool_ask(struct pc_pool *pool, int fd, const struct pc_ask *ask, const char *place,
                           struct pc_lease *lease, struct pc_err *err) PC_MUST_CHECK;
// After a successful ask, once the pixels were copied. trusted false ends the worker.
void pc_pool_give_back(struct pc_pool *pool, struct pc_lease *lease, bool trusted);

#endif
