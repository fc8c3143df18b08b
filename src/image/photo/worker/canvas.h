// SPDX-License-Identifier: Apache-2.0
// Where decoded rows go: turned upright, binned, into the memory shared with the reader.
#ifndef PC_IMAGE_PHOTO_WORKER_CANVAS_H
#define PC_IMAGE_PHOTO_WORKER_CANVAS_H

#include "image/photo/worker/decode.h"

#ifdef __cplusplus
extern "C" {
#endif

// How a stored picture of width x height lands in an upright one: the stored pixel (x, y) goes to index
// origin + x * step_x + y * step_y.
struct pc_upright {
    bool transposed, mirror_x, mirror_y; // first mirrored along the stored axes, then transposed
    int width_px, height_px;             // upright
    int64_t origin, step_x, step_y;
};

// orientation as Exif 2.32 (tag 0x0112); 0 counts as 1.
void pc_upright_init(struct pc_upright *upright, int orientation, int width_px, int height_px);

struct pc_canvas {
    int stored_width_px, stored_height_px; // of the photograph as stored
    int width_px, height_px;               // stored orientation, after binning
    int channels, bin;
    int skip_x_px,
        skip_y_px; // stored columns and rows left out first, so that bins begin at the upright corner
    struct pc_upright upright;
    float *px;
    uint8_t *mask;
    float *sums; // one row of bins being gathered, for pc_canvas_row
    uint8_t *sum_mask;
};

// How many pixels go into one along each side: 1 for a picture; for measuring least, times the whole factor
// that brings the picture nearest to the size asked for.
int pc_canvas_bin(const struct pc_job *job, int stored_width_px, int stored_height_px, int least);

// Sets reply's sizes and gets the memory. The pixels are not cleared: the caller writes each of them.
enum pc_status pc_canvas_begin(struct pc_canvas *canvas, const struct pc_job *job, struct pc_reply *reply,
                               int stored_width_px, int stored_height_px, int channels, int bin,
                               int orientation, struct pc_err *err) PC_MUST_CHECK;
// Rows in stored order from y = 0, each once: width x channels floats and width mask bytes.
void pc_canvas_row(struct pc_canvas *canvas, int y, const float *row, const uint8_t *mask);
void pc_canvas_end(struct pc_canvas *canvas);

// Linear light from display code values: IEC 61966-2-1 (sRGB), or straight. count is 256 or 65536.
void pc_curve_fill(float *curve, int count, bool linear);

#ifdef __cplusplus
}
#endif

#endif
