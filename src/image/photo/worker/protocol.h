// SPDX-License-Identifier: Apache-2.0
// What a reader and its worker say to each other over a SOCK_SEQPACKET socket.
//
// The worker sends one hello when its sandbox is up; then for each ask (which carries the photograph's
// descriptor) it sends one reply. Pixels lie in shared memory that the reader made and that cannot shrink:
// the floats first, the mask after them at the next 64 bytes. The worker is not to be believed: see reply.h.
#ifndef PC_IMAGE_PHOTO_WORKER_PROTOCOL_H
#define PC_IMAGE_PHOTO_WORKER_PROTOCOL_H

#include "image/photo/facts.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PC_WORKER_MAGIC 0x70630005u

enum {
    PC_WORKER_FD_SOCKET = 3,
    PC_WORKER_FD_PIXELS = 4,
};

enum { PC_BIN_MOST = 48 }; // pixels into one along each side

struct pc_hello {
    uint32_t magic;
    uint32_t reply_bytes; // sizeof(struct pc_reply): the two were built together
    int32_t sandboxed;
};

struct pc_ask {
    uint32_t magic;
    int32_t want; // enum pc_photo_want
    int32_t linear;
    int32_t time_s; // after which the worker ends itself, should the reader be gone
    int64_t most_pixels;
    int64_t about_pixels; // for measuring: see pc_photo_measure; 0: not averaged down
    uint64_t memory_bytes;
    uint64_t file_bytes;
};

// Fixed-size integers and doubles only: any bytes are a valid value of each, so that a lie can be looked at.
struct pc_reply {
    uint32_t magic;
    int32_t status; // enum pc_status
    char text[640]; // as pc_err has it
    int32_t form;   // enum pc_photo_form
    int32_t tone_mapped;
    struct pc_facts facts;
    int32_t width_px, height_px, channels, bin, full_width_px, full_height_px; // zero without pixels
    double black_dn, white_dn;
    int32_t black_measured, black_by_default;
    int32_t has_camera_from_xyz;
    double camera_from_xyz[3][3];
    int32_t has_neutral;
    double neutral_ratio[3];
};

// Where the mask begins and where it all ends. Both ends reckon it from the sizes; width and height are at
// most 65535 each and channels 1 or 3, so that nothing overflows 64 bits.
static inline uint64_t pc_pixels_mask_at(uint64_t width_px, uint64_t height_px, uint64_t channels)
{
    return (width_px * height_px * channels * sizeof(float) + 63u) / 64u * 64u;
}

static inline uint64_t pc_pixels_bytes(uint64_t width_px, uint64_t height_px, uint64_t channels)
{
    return pc_pixels_mask_at(width_px, height_px, channels) + width_px * height_px;
}

#ifdef __cplusplus
}
#endif

#endif
