// SPDX-License-Identifier: Apache-2.0
#include "image/photo/worker/canvas.h"

void pc_upright_init(struct pc_upright *upright, int orientation, int width_px, int height_px)
{
    // Exif 2.32, tag 0x0112: where the stored row 0 and column 0 lie in the scene.
    static const struct {
        bool transposed, mirror_x, mirror_y;
    } ways[9] = {
        {false, false, false}, {false, false, false}, {false, true, false},
        {false, true, true},   {false, false, true},  {true, false, false},
        {true, false, true},   {true, true, true},    {true, true, false},
    };
    int i = orientation >= 1 && orientation <= 8 ? orientation : 1;
    *upright = (struct pc_upright){
        .transposed = ways[i].transposed,
        .mirror_x = ways[i].mirror_x,
        .mirror_y = ways[i].mirror_y,
        .width_px = ways[i].transposed ? height_px : width_px,
        .height_px = ways[i].transposed ? width_px : height_px,
    };
    upright->step_x = upright->transposed ? upright->width_px : 1;
    upright->step_y = upright->transposed ? 1 : upright->width_px;
    if (upright->mirror_x) {
        upright->origin += (width_px - 1) * upright->step_x;
        upright->step_x = -upright->step_x;
    }
    if (upright->mirror_y) {
        upright->origin += (height_px - 1) * upright->step_y;
        upright->step_y = -upright->step_y;
    }
}

int pc_canvas_bin(const struct pc_job *job, int stored_width_px, int stored_height_px, int least)
{
    if (job->want == PC_JOB_PICTURE)
        return 1;
    double pixels = (double)(stored_width_px / least) * (double)(stored_height_px / least);
    double factor = job->about_pixels > 0 ? round(sqrt(pixels / (double)job->about_pixels)) : 1.0;
    return least * (factor < 1.0 ? 1 : factor > PC_BIN_MOST / least ? PC_BIN_MOST / least : (int)factor);
}

enum pc_status pc_canvas_begin(struct pc_canvas *canvas, const struct pc_job *job, struct pc_reply *reply,
                               int stored_width_px, int stored_height_px, int channels, int bin,
                               int orientation, struct pc_err *err)
{
    *canvas = (struct pc_canvas){
        .stored_width_px = stored_width_px,
        .stored_height_px = stored_height_px,
        .width_px = stored_width_px / bin,
        .height_px = stored_height_px / bin,
        .channels = channels,
        .bin = bin,
    };
    if (canvas->width_px < 1 || canvas->height_px < 1)
        return pc_fail(err, PC_BAD_INPUT, NULL, "It is only %d x %d pixels: too small to measure in.",
                       stored_width_px, stored_height_px);
    pc_upright_init(&canvas->upright, orientation, canvas->width_px, canvas->height_px);
    canvas->skip_x_px = canvas->upright.mirror_x ? stored_width_px - canvas->width_px * bin : 0;
    canvas->skip_y_px = canvas->upright.mirror_y ? stored_height_px - canvas->height_px * bin : 0;

    uint64_t w = (uint64_t)canvas->upright.width_px, h = (uint64_t)canvas->upright.height_px;
    uint8_t *base = job->room(job->user, (size_t)pc_pixels_bytes(w, h, (uint64_t)channels));
    if (bin > 1) {
        canvas->sums = malloc((size_t)canvas->width_px * (size_t)channels * sizeof *canvas->sums);
        canvas->sum_mask = malloc((size_t)canvas->width_px);
    }
    if (base == NULL || (bin > 1 && (canvas->sums == NULL || canvas->sum_mask == NULL))) {
        pc_canvas_end(canvas);
        return pc_fail(err, PC_NO_MEMORY, NULL,
                       "Its %d x %d pixels do not fit into the memory allowed for a file.", stored_width_px,
                       stored_height_px);
    }
    canvas->px = (float *)(void *)base;
    canvas->mask = base + pc_pixels_mask_at(w, h, (uint64_t)channels);
    reply->width_px = canvas->upright.width_px;
    reply->height_px = canvas->upright.height_px;
    reply->channels = channels;
    reply->bin = bin;
    bool turned = canvas->upright.transposed;
    reply->full_width_px = turned ? stored_height_px : stored_width_px;
    reply->full_height_px = turned ? stored_width_px : stored_height_px;
    return PC_OK;
}

static void put_row(struct pc_canvas *canvas, int y, const float *row, const uint8_t *mask)
{
    const struct pc_upright *up = &canvas->upright;
    int ch = canvas->channels;
    int64_t at = up->origin + y * up->step_y;
    if (up->step_x == 1) {
        memcpy(canvas->px + at * ch, row, (size_t)canvas->width_px * (size_t)ch * sizeof *row);
        memcpy(canvas->mask + at, mask, (size_t)canvas->width_px);
        return;
    }
    for (int x = 0; x < canvas->width_px; x++, at += up->step_x) {
        for (int c = 0; c < ch; c++)
            canvas->px[at * ch + c] = row[x * ch + c];
        canvas->mask[at] = mask[x];
    }
}

void pc_canvas_row(struct pc_canvas *canvas, int y, const float *row, const uint8_t *mask)
{
    int bin = canvas->bin, ch = canvas->channels;
    if (bin == 1) {
        put_row(canvas, y, row, mask);
        return;
    }
    int from_top = y - canvas->skip_y_px;
    if (from_top < 0 || from_top / bin >= canvas->height_px)
        return;
    size_t values = (size_t)canvas->width_px * (size_t)ch;
    if (from_top % bin == 0) {
        memset(canvas->sums, 0, values * sizeof *canvas->sums);
        memset(canvas->sum_mask, 0, (size_t)canvas->width_px);
    }
    const float *in = row + canvas->skip_x_px * ch;
    const uint8_t *in_mask = mask + canvas->skip_x_px;
    for (int x = 0; x < canvas->width_px; x++) {
        for (int i = 0; i < bin; i++) {
            for (int c = 0; c < ch; c++)
                canvas->sums[x * ch + c] += *in++;
            canvas->sum_mask[x] |= *in_mask++;
        }
    }
    if (from_top % bin != bin - 1)
        return;
    float share = 1.0f / (float)(bin * bin);
    for (size_t i = 0; i < values; i++)
        canvas->sums[i] *= share;
    put_row(canvas, from_top / bin, canvas->sums, canvas->sum_mask);
}

void pc_canvas_end(struct pc_canvas *canvas)
{
    free(canvas->sums);
    free(canvas->sum_mask);
    canvas->sums = NULL;
    canvas->sum_mask = NULL;
}

void pc_curve_fill(float *curve, int count, bool linear)
{
    for (int i = 0; i < count; i++) {
        double v = (double)i / (double)(count - 1);
        double light = v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
        curve[i] = (float)(linear ? v : light);
    }
}
