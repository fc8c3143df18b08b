// SPDX-License-Identifier: Apache-2.0
// Memory that lives until one piece of work is over, and then goes as a whole.
// One arena per request; not for use by two threads at once. Small things only: pixels are in buffer.h.
#ifndef PC_BASE_ARENA_H
#define PC_BASE_ARENA_H

#include "base/err.h"

struct pc_arena;

// Heap-allocated; PC_ASSERT-free: NULL when there is no memory.
struct pc_arena *pc_arena_create(void);
void pc_arena_destroy(struct pc_arena *arena); // NULL is fine

// Zeroed, aligned for any type. count * size is checked. A few kilobytes that cannot be had end the process
// (there is nothing a caller could do then); sizes over 64 MiB are a bug of ours.
void *pc_arena_alloc(struct pc_arena *arena, size_t count, size_t size);
char *pc_arena_strdup(struct pc_arena *arena, const char *text);
char *pc_arena_printf(struct pc_arena *arena, const char *fmt, ...) PC_PRINTF(2, 3);

#define PC_NEW(arena, type)      ((type *)pc_arena_alloc((arena), 1, sizeof(type)))
#define PC_NEW_N(arena, n, type) ((type *)pc_arena_alloc((arena), (n), sizeof(type)))

#endif
