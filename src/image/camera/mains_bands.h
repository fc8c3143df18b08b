// SPDX-License-Identifier: Apache-2.0
// Bands that a pulsing lamp leaves in frames of a sensor that is read row by row: how many, how deep, and
// what lamp that makes. Safe from any thread.
#ifndef PC_IMAGE_CAMERA_MAINS_BANDS_H
#define PC_IMAGE_CAMERA_MAINS_BANDS_H

#include "image/picture/picture.h"

// Shallower bands are not told of: nobody sees them, and lenses, cloth and sensors have ripples of their own.
#define PC_BANDS_LEAST_PCT 0.7
// Fewer, and they cannot be told from light that falls off; more, and rows are too coarse.
#define PC_BANDS_LEAST 1.5
#define PC_BANDS_MOST  60.0
// How often bands are told of that are only noise: once in so many frames.
#define PC_BANDS_FALSE_ALARM_FRAMES 1000.0

enum pc_bands_verdict {
    PC_BANDS_FOUND,
    PC_BANDS_NONE,    // none deeper than least_pct
    PC_BANDS_FEW,     // a slow change that may be less than PC_BANDS_LEAST bands, or light that falls off
    PC_BANDS_UNCLEAR, // what is in the picture hides bands up to least_pct
};

struct pc_bands {
    enum pc_bands_verdict verdict;
    double bands, bands_tolerance;         // from the first row of the sensor to the last; NAN: none found
    double depth_pct, depth_pct_tolerance; // 100 (max - min) / (max + min), of two frames that of their ratio
    double slow_pct;                       // the same of the slow change from the first row to the last
    double least_pct;                      // bands deeper than this would have been found
};

// Part of the frame, full-resolution pixels of the upright frame. All of it: {0, 0, full_width, full_height}.
struct pc_bands_area {
    double x0_px, y0_px, x1_px, y1_px;
};

// One frame of something plain (b NULL), or two of one scene from one place, of which the ratio is looked at.
// orientation: of the file (Exif 1 to 8; 0: as 1); rows run along the sensor's longer side however the camera
// was held. area may be NULL.
//
// The area is cut across the rows into strips. In each the logarithm of rows' means, less a cubic, is fitted
// with a wave (least squares, at frequencies a quarter band apart). Bands stand at the same rows in every
// strip; texture, edges and moire do not. So a wave counts when (1) its mean over the strips is far above the
// strips' scatter (F test with 2 and 2 (strips - 1) degrees), (2) far above its neighbours in the spectrum (F
// test), both at PC_BANDS_FALSE_ALARM_FRAMES over all frequencies together, (3) its phase does not slant from
// strip to strip, and (4) it is PC_BANDS_LEAST_PCT deep. One frame has to be plain as well: of a patterned
// one nothing is told. PC_BAD_INPUT when the frames differ in size or there is too little to read.
enum pc_status pc_bands_find(const struct pc_picture *a, const struct pc_picture *b, int orientation,
                             const struct pc_bands_area *area, struct pc_bands *bands,
                             struct pc_err *err) PC_MUST_CHECK;

// The lamp behind bands.
struct pc_bands_lamp {
    double hz, hz_tolerance;                                        // NAN: readout unknown
    double modulation_pct, modulation_low_pct, modulation_high_pct; // 19 times in 20 between the two
};

// From the readout time, first row to last. shutter_s: of the frame, or of both. Two frames catch the lamp at
// two moments: bands of their ratio are |s_a e^(i phi) - s_b| times the lamp's modulation, s what the
// shutters leave and phi anybody's guess, unless one shutter leaves nothing. hz: as known, else from bands
// over readout.
void pc_bands_lamp_find(const struct pc_bands *bands, double readout_s, double readout_s_tolerance,
                        double known_hz, const double shutter_s[2], int frames, struct pc_bands_lamp *lamp);

#endif
