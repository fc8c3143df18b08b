// SPDX-License-Identifier: Apache-2.0
// What is read of frames before bands are looked for.
#ifndef PC_IMAGE_CAMERA_MAINS_BANDS_PRIV_H
#define PC_IMAGE_CAMERA_MAINS_BANDS_PRIV_H

#include "image/camera/mains_bands.h"

enum {
    PC_BANDS_STRIPS = 16,
    PC_BANDS_ROWS_MAX = 1024, // rows are averaged down to this; 17 to a band at PC_BANDS_MOST
    PC_BANDS_POWERS = 4,      // of the slow change: a cubic
};

// Rows' logarithms by strip.
struct pc_bands_rows {
    int count, strips;
    double rows_each, rows_all;                   // sensor rows averaged into one, and in the whole sensor
    double share;                                 // of the sensor's rows that they span
    double at[PC_BANDS_ROWS_MAX];                 // -1 to 1
    double y[PC_BANDS_STRIPS][PC_BANDS_ROWS_MAX]; // count each
    double cubic[PC_BANDS_POWERS][PC_BANDS_ROWS_MAX]; // orthonormal over at, for mains_bands.c
};

// The pixels of a cell: a range of rows (sensor's sense) and one of columns.
struct pc_bands_cell {
    int row0, row1, column0, column1;
};

struct pc_bands_source {
    const struct pc_picture *a, *b; // b NULL: one frame
    bool upright_rows;              // rows of the picture are the sensor's
    int channel;
};

// Strips that can be read over most rows, and the rows that can be read in all of these. False when they are
// too few.
bool pc_bands_rows_read(const struct pc_bands_source *source, const struct pc_bands_cell *all,
                        double sensor_rows, struct pc_bands_rows *rows);

// How strongly neighbours along a row go together, as contrast: a card's grain is noise, each pixel for
// itself; threads and wood are not. 0 where nothing is there but noise.
double pc_bands_texture_ratio(const struct pc_bands_source *source, const struct pc_bands_cell *all);

#endif
