// SPDX-License-Identifier: Apache-2.0
// From a photograph's bytes to linear pixels and facts. Nothing here opens a file or keeps state between
// calls.
#ifndef PC_IMAGE_PHOTO_WORKER_DECODE_H
#define PC_IMAGE_PHOTO_WORKER_DECODE_H

#include "image/photo/worker/protocol.h"

#ifdef __cplusplus
extern "C" {
#endif

// The same values as enum pc_photo_want and enum pc_photo_form, which C++ cannot read (checked in decode.c).
enum pc_job_want {
    PC_JOB_FACTS,
    PC_JOB_MEASURE,
    PC_JOB_PICTURE,
};

enum pc_job_form {
    PC_JOB_RAW,
    PC_JOB_JPEG,
    PC_JOB_TIFF,
    PC_JOB_PNG,
    PC_JOB_HEIF,
};

struct pc_job {
    const uint8_t *bytes; // borrowed
    size_t count;
    enum pc_job_want want;
    bool linear;
    int64_t most_pixels;
    int64_t about_pixels; // as in the ask
    size_t memory_bytes;  // most that a decoder should take for itself
    // Memory for the pixels, at least so many bytes, 64-byte aligned, contents left open. NULL when there is
    // none.
    void *(*room)(void *user, size_t bytes);
    void *user;
};

// Reads what the bytes are, not what the file is called. Fills reply but for magic, status and text.
enum pc_status pc_decode(const struct pc_job *job, struct pc_reply *reply, struct pc_err *err) PC_MUST_CHECK;

// The readers, one third-party library each. reply->facts is clear on entry.
enum pc_status pc_decode_raw(const struct pc_job *job, struct pc_reply *reply,
                             struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_decode_jpeg(const struct pc_job *job, struct pc_reply *reply,
                              struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_decode_tiff(const struct pc_job *job, struct pc_reply *reply,
                              struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_decode_png(const struct pc_job *job, struct pc_reply *reply,
                             struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_decode_heif(const struct pc_job *job, struct pc_reply *reply,
                              struct pc_err *err) PC_MUST_CHECK;

// Facts from a TIFF-structured block without the "Exif" that JPEG puts before it. What is not there stays as
// it is.
void pc_exif_read(const uint8_t *tiff, size_t count, struct pc_facts *facts);

// To be called before the sandbox closes: what libraries want to open or load once.
void pc_decode_prepare(void);
void pc_heif_prepare(void);

// Fails when width x height is no picture or over the limit.
enum pc_status pc_job_check_size(const struct pc_job *job, int64_t width_px, int64_t height_px,
                                 struct pc_err *err) PC_MUST_CHECK;

#ifdef __cplusplus
}
#endif

#endif
