// SPDX-License-Identifier: Apache-2.0
// Lossless JPEG of 16-bit samples (ITU-T T.81, process 14, selection value 1), as DNG 1.4 stores a Bayer raw.
#ifndef PC_IMAGE_PHOTO_LJPEG_PRIV_H
#define PC_IMAGE_PHOTO_LJPEG_PRIV_H

#include "base/err.h"

// Takes the stream piece by piece; anything but PC_OK ends the encoding, and pc_ljpeg_encode gives it back.
struct pc_ljpeg_sink {
    enum pc_status (*take)(void *to, const uint8_t *bytes, size_t count, struct pc_err *err);
    void *to;
};

// An even width is stored as two interleaved components, so that a sample is foretold from the last one of
// its own colour; an odd width as one component. width_px up to 65534 (even: 131070), height_px up to 65535.
// Same samples, same bytes. PC_NO_MEMORY, or what the sink gave.
enum pc_status pc_ljpeg_encode(const struct pc_ljpeg_sink *sink, int width_px, int height_px,
                               const uint16_t *px, struct pc_err *err) PC_MUST_CHECK;

#endif
