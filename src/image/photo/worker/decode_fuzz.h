// SPDX-License-Identifier: Apache-2.0
// What the readers' fuzz targets share.
#ifndef PC_IMAGE_PHOTO_WORKER_DECODE_FUZZ_H
#define PC_IMAGE_PHOTO_WORKER_DECODE_FUZZ_H

#include "image/photo/worker/decode.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

// Facts, the picture for measuring and the full one: each is refused with a sentence, or every pixel is a
// number and the sizes agree with each other.
int pc_fuzz_decode(enum pc_status (*decode)(const struct pc_job *, struct pc_reply *, struct pc_err *),
                   const uint8_t *bytes, size_t count);

#endif
