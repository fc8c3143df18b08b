// SPDX-License-Identifier: Apache-2.0
// What libtiff makes of a TIFF or DNG: an independent reader for tests.
#ifndef PC_TESTS_ORACLE_TIFF_H
#define PC_TESTS_ORACLE_TIFF_H

#include <stdbool.h>
#include <stdint.h>

// The values of a numeric tag of the first directory (or of its Exif directory); how many there are, 0 when
// the tag is missing.
int oracle_tiff_numbers(const char *path, bool exif, uint32_t tag, double *values, int most);
// A text tag; false when it is missing.
bool oracle_tiff_text(const char *path, bool exif, uint32_t tag, char *text, int size);
// Uncompressed 16-bit samples; free() them.
bool oracle_tiff_pixels(const char *path, int *width_px, int *height_px, int *channels, uint16_t **px);
// The ICC profile; free() it.
bool oracle_tiff_icc(const char *path, uint8_t **bytes, uint32_t *count);

#endif
