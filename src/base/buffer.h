// SPDX-License-Identifier: Apache-2.0
// Pixel memory, counted against the context's budget: over budget is an error, not a dead process.
#ifndef PC_BASE_BUFFER_H
#define PC_BASE_BUFFER_H

#include "base/ctx.h"

struct pc_buffer {
    void *data; // 64-byte aligned, zeroed at creation; NULL when empty
    size_t size_bytes;
    struct pc_ctx *ctx; // kept: must outlive the buffer
};

// count_a * count_b * item_bytes, checked. On failure *buffer is left empty.
enum pc_status pc_buffer_init(struct pc_ctx *ctx, struct pc_buffer *buffer, size_t count_a, size_t count_b,
                              size_t item_bytes, struct pc_err *err) PC_MUST_CHECK;
void pc_buffer_finish(struct pc_buffer *buffer); // empty or NULL is fine; leaves it empty

#endif
