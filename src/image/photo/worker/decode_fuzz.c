// SPDX-License-Identifier: Apache-2.0
#include "image/photo/worker/decode_fuzz.h"

struct pixels {
    uint8_t *base;
    size_t bytes;
};

// Exactly as large as asked for, so that a sanitizer sees what goes beyond; all floats no numbers, so that a
// pixel left out is seen.
static void *room(void *user, size_t bytes)
{
    struct pixels *pixels = user;
    free(pixels->base);
    pixels->base = NULL;
    if (posix_memalign((void **)&pixels->base, 64, bytes) != 0)
        return NULL;
    memset(pixels->base, 0xff, bytes);
    pixels->bytes = bytes;
    return pixels->base;
}

static void check_pixels(const struct pc_reply *reply, const struct pixels *pixels)
{
    PC_ASSERT(reply->width_px > 0 && reply->height_px > 0 && (reply->channels == 1 || reply->channels == 3));
    PC_ASSERT(reply->width_px == reply->full_width_px / reply->bin);
    PC_ASSERT(reply->height_px == reply->full_height_px / reply->bin);
    size_t n = (size_t)reply->width_px * (size_t)reply->height_px * (size_t)reply->channels;
    PC_ASSERT(n * sizeof(float) <= pixels->bytes);
    const float *px = (const float *)(const void *)pixels->base;
    for (size_t i = 0; i < n; i++)
        PC_ASSERT(isfinite(px[i]));
}

int pc_fuzz_decode(enum pc_status (*decode)(const struct pc_job *, struct pc_reply *, struct pc_err *),
                   const uint8_t *bytes, size_t count)
{
    for (int want = PC_JOB_FACTS; want <= PC_JOB_PICTURE; want++) {
        struct pixels pixels = {0};
        struct pc_job job = {
            .bytes = bytes,
            .count = count,
            .want = (enum pc_job_want)want,
            .most_pixels = 1 << 20,
            .memory_bytes = (size_t)256 << 20,
            .room = room,
            .user = &pixels,
        };
        struct pc_reply reply = {0};
        struct pc_err err = {0};
        pc_facts_clear(&reply.facts);
        if (decode(&job, &reply, &err) != PC_OK)
            PC_ASSERT(err.text[0] != '\0');
        else if (want != PC_JOB_FACTS)
            check_pixels(&reply, &pixels);
        pc_facts_clean(&reply.facts);
        free(pixels.base);
    }
    return 0;
}
