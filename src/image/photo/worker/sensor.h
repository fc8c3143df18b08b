// SPDX-License-Identifier: Apache-2.0
// From a sensor's numbers to linear light: black taken off, scaled so that 1.0 is saturation, binned.
#ifndef PC_IMAGE_PHOTO_WORKER_SENSOR_H
#define PC_IMAGE_PHOTO_WORKER_SENSOR_H

#include "image/photo/worker/canvas.h"
#include "image/photo/worker/ifd.h"

#ifdef __cplusplus
extern "C" {
#endif

struct pc_sensor {
    uint16_t *dn; // the whole array with its border; borrowed
    size_t pitch; // uint16_t a row
    int values;   // uint16_t a pixel: 1, or 3 or 4 where each pixel has all its colours
    int channels; // 1 or 3
    int raw_width_px, raw_height_px;
    int left_px, top_px, width_px, height_px; // the part that sees light
    int orientation;
    int filter_rows, filter_cols; // up to 16
    uint8_t filter[16][16];       // channel by row and column from the corner of the part that sees light
    int black_rows, black_cols;   // multiples of the filter's
    float *black_dn;              // black_rows x black_cols, from the same corner; borrowed, settled here
    bool says_black;              // the file does
    double white_dn;
    int masked[8][4]; // top, left, bottom, right in the whole array: sees no light
};

// Measures the black from this frame's masked photosites where it has them, and checks the levels. Writes the
// black and white of reply.
enum pc_status pc_sensor_settle_black(struct pc_sensor *sensor, struct pc_reply *reply,
                                      struct pc_err *err) PC_MUST_CHECK;

// A photosite counts as saturated from this number on: 1 % of the range below the white level, because
// photosites fill up at slightly different levels and the white level of a file is the typical or the
// lowest-noise one. In the last hundredth (0.014 EV) a reading could not be trusted to be linear.
double pc_sensor_saturation_dn(double black_dn, double white_dn);

// The picture for measuring (without interpolation) of a mosaic, and either picture of the others.
enum pc_status pc_sensor_bin(const struct pc_sensor *sensor, const struct pc_job *job, struct pc_reply *reply,
                             struct pc_err *err) PC_MUST_CHECK;

// For interpolation by others: rewrites the numbers in place so that black is PC_SETTLED_BLACK and white
// 65535, and marks in the canvas' mask what saturation reaches. Then takes what came of it, four numbers a
// pixel.
enum { PC_SETTLED_BLACK = 1024 };
enum pc_status pc_sensor_settle(const struct pc_sensor *sensor, struct pc_canvas *canvas,
                                struct pc_err *err) PC_MUST_CHECK;
void pc_sensor_put_interpolated(const struct pc_sensor *sensor, struct pc_canvas *canvas,
                                const uint16_t *four);

#ifdef __cplusplus
}
#endif

#endif
