// SPDX-License-Identifier: Apache-2.0
// What libpng and libjpeg make of a PNG and a JPEG: plain readers for tests, which end the test on a bad
// file.
#ifndef PC_TESTS_ORACLE_STILL_H
#define PC_TESTS_ORACLE_STILL_H

#include <stdbool.h>
#include <stdint.h>

struct oracle_still {
    int width_px, height_px, channels, bits;
    uint16_t *px; // free() it
    uint8_t *icc; // free() it; NULL: none
    uint32_t icc_count;
    bool full_chroma; // JPEG: 4:4:4
};

bool oracle_png_read(const char *path, struct oracle_still *still);
bool oracle_jpeg_read(const char *path, struct oracle_still *still);

#endif
