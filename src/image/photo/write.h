// SPDX-License-Identifier: Apache-2.0
// Photographs out: whole or not at all (written beside, synced, renamed). Pixels are borrowed, row-major,
// interleaved. icc may be NULL (borrowed).
#ifndef PC_IMAGE_PHOTO_WRITE_H
#define PC_IMAGE_PHOTO_WRITE_H

#include "image/photo/photo.h"

struct pc_icc {
    const uint8_t *bytes;
    size_t count;
};

// 16-bit PNG, channels 1 or 3.
enum pc_status pc_write_png16(const char *path, int width_px, int height_px, int channels, const uint16_t *px,
                              const struct pc_icc *icc, struct pc_err *err) PC_MUST_CHECK;
// Baseline uncompressed 16-bit TIFF 6.0, channels 1 or 3; description goes into ImageDescription (may be
// NULL).
enum pc_status pc_write_tiff16(const char *path, int width_px, int height_px, int channels,
                               const uint16_t *px, const struct pc_icc *icc, const char *description,
                               struct pc_err *err) PC_MUST_CHECK;
// 8-bit JPEG, channels 1 or 3, quality 1..100, 4:4:4.
enum pc_status pc_write_jpeg(const char *path, int width_px, int height_px, int channels, const uint8_t *px,
                             int quality, const struct pc_icc *icc, struct pc_err *err) PC_MUST_CHECK;

// A Bayer raw, DNG 1.4, at most 65534 x 65535. Levels from 0 to 65535, a positive neutral and a finite
// matrix: anything else is a bug of the caller's.
struct pc_dng {
    int width_px, height_px; // of the whole sensor array, masked border included
    const uint16_t *px;      // height x width
    int masked_left_px;      // columns at the left that see no light (even; 0: none): ActiveArea, MaskedAreas
    char cfa[5];             // the 2 x 2 pattern by rows at the top left of the active area, e.g. "RGGB"
    double black_dn[4];      // BlackLevel by position in the pattern
    double white_dn;         // WhiteLevel
    double camera_from_xyz[3][3]; // ColorMatrix1 (D65): linear camera colour from XYZ
    double neutral_ratio[3];      // AsShotNeutral
    bool lossless;                // compressed with lossless JPEG (ITU-T T.81 process 14), else uncompressed
    bool no_apex;                 // leave ShutterSpeedValue and ApertureValue out even if facts have them
    struct pc_facts facts;        // what is missing is not written
};
enum pc_status pc_write_dng(const char *path, const struct pc_dng *dng, struct pc_err *err) PC_MUST_CHECK;

#endif
