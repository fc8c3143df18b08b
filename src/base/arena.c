// SPDX-License-Identifier: Apache-2.0
#include "base/arena.h"

#include <stdalign.h>

enum { BLOCK_BYTES = 64 * 1024, LARGEST_BYTES = 64 * 1024 * 1024 };

struct block {
    struct block *next;
    size_t used, size;
    alignas(max_align_t) unsigned char bytes[];
};

struct pc_arena {
    struct block *blocks; // newest first
};

struct pc_arena *pc_arena_create(void)
{
    return calloc(1, sizeof(struct pc_arena));
}

void pc_arena_destroy(struct pc_arena *arena)
{
    if (arena == NULL)
        return;
    for (struct block *b = arena->blocks; b != NULL;) {
        struct block *next = b->next;
        free(b);
        b = next;
    }
    free(arena);
}

void *pc_arena_alloc(struct pc_arena *arena, size_t count, size_t size)
{
    size_t bytes;
    PC_ASSERT(!__builtin_mul_overflow(count, size, &bytes) && bytes <= LARGEST_BYTES);
    size_t align = alignof(max_align_t);
    bytes = (bytes + align - 1) / align * align;
    struct block *b = arena->blocks;
    if (b == NULL || b->size - b->used < bytes) {
        size_t room = bytes > BLOCK_BYTES ? bytes : BLOCK_BYTES;
        b = calloc(1, sizeof *b + room);
        PC_ASSERT(b != NULL);
        b->size = room;
        b->next = arena->blocks;
        arena->blocks = b;
    }
    void *p = b->bytes + b->used;
    b->used += bytes;
    return p;
}

char *pc_arena_strdup(struct pc_arena *arena, const char *text)
{
    size_t n = strlen(text) + 1;
    return memcpy(pc_arena_alloc(arena, n, 1), text, n);
}

char *pc_arena_printf(struct pc_arena *arena, const char *fmt, ...)
{
    va_list args, again;
    va_start(args, fmt);
    va_copy(again, args);
    int n = vsnprintf(NULL, 0, fmt, args);
    va_end(args);
    PC_ASSERT(n >= 0);
    char *text = pc_arena_alloc(arena, (size_t)n + 1, 1);
    vsnprintf(text, (size_t)n + 1, fmt, again);
    va_end(again);
    return text;
}
