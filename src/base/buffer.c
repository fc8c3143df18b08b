// SPDX-License-Identifier: Apache-2.0
#include "base/buffer.h"

#include <sys/mman.h>

enum {
    ALIGN_BYTES = 64,
    // From here on memory comes from the system itself, in large pages where it has them: zeroed, one first
    // touch for each page, and gone when it is freed instead of kept by the heap between two buffers that
    // live on.
    LARGE_BYTES = 1 << 20,
    LARGE_PAGE_BYTES = 2 << 20,
};

// Under a sanitizer all comes from the heap, whose edges it watches.
#if defined(__SANITIZE_ADDRESS__)
static const bool FROM_SYSTEM = false;
#else
static const bool FROM_SYSTEM = true;
#endif

static bool is_large(size_t bytes)
{
    return FROM_SYSTEM && bytes >= LARGE_BYTES;
}

static size_t unit_of(size_t bytes)
{
    return is_large(bytes) ? LARGE_PAGE_BYTES : ALIGN_BYTES;
}

static void *map_large(size_t bytes)
{
    char *data =
        mmap(NULL, bytes + LARGE_PAGE_BYTES, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    if (data == MAP_FAILED)
        return NULL;
    size_t before = LARGE_PAGE_BYTES - (uintptr_t)data % LARGE_PAGE_BYTES;
    munmap(data, before);
    if (before < LARGE_PAGE_BYTES)
        munmap(data + before + bytes, LARGE_PAGE_BYTES - before);
    (void)madvise(data + before, bytes, MADV_HUGEPAGE);
    return data + before;
}

static void *get_zeroed(size_t bytes)
{
    if (is_large(bytes))
        return map_large(bytes);
    void *data = aligned_alloc(ALIGN_BYTES, bytes);
    if (data != NULL)
        memset(data, 0, bytes);
    return data;
}

static void give_back(void *data, size_t bytes)
{
    if (is_large(bytes))
        munmap(data, bytes);
    else
        free(data);
}

enum pc_status pc_buffer_init(struct pc_ctx *ctx, struct pc_buffer *buffer, size_t count_a, size_t count_b,
                              size_t item_bytes, struct pc_err *err)
{
    memset(buffer, 0, sizeof *buffer);
    size_t bytes;
    if (__builtin_mul_overflow(count_a, count_b, &bytes) ||
        __builtin_mul_overflow(bytes, item_bytes, &bytes) || bytes > SIZE_MAX - 2 * LARGE_PAGE_BYTES)
        return pc_fail(err, PC_NO_MEMORY, NULL, "A picture of %zu x %zu is too large to hold.", count_a,
                       count_b);
    size_t unit = unit_of(bytes);
    size_t rounded = bytes > 0 ? (bytes + unit - 1) / unit * unit : unit;
    size_t held = atomic_fetch_add(&ctx->held_bytes, rounded) + rounded;
    void *data = held <= ctx->budget_bytes ? get_zeroed(rounded) : NULL;
    if (data == NULL) {
        atomic_fetch_sub(&ctx->held_bytes, rounded);
        if (held <= ctx->budget_bytes)
            return pc_fail(
                err, PC_NO_MEMORY, NULL,
                "This needs %.1f MiB and the machine has no more memory to give; close other programs, or "
                "use fewer or smaller frames at once.",
                (double)rounded / 1048576.0);
        return pc_fail(err, PC_NO_MEMORY, NULL,
                       "This needs %.1f MiB more than the %.0f MiB of memory allowed; use fewer or smaller "
                       "frames at once.",
                       (double)(held - ctx->budget_bytes) / 1048576.0, (double)ctx->budget_bytes / 1048576.0);
    }
    size_t peak = ctx->peak_bytes;
    while (held > peak && !atomic_compare_exchange_weak(&ctx->peak_bytes, &peak, held))
        ;
    *buffer = (struct pc_buffer){.data = data, .size_bytes = rounded, .ctx = ctx};
    return PC_OK;
}

void pc_buffer_finish(struct pc_buffer *buffer)
{
    if (buffer == NULL || buffer->data == NULL)
        return;
    give_back(buffer->data, buffer->size_bytes);
    atomic_fetch_sub(&buffer->ctx->held_bytes, buffer->size_bytes);
    memset(buffer, 0, sizeof *buffer);
}
