// SPDX-License-Identifier: Apache-2.0
// The weighted sum of parts. Bound by memory: each part is read once and the sum written once.
#include "light/parts/parts.h"

enum {
    TOGETHER = 8, // parts that pass through at once, so that the sum is not written and read for each of them
    STRIP_FLOATS = 2048, // a strip of the sum stays in the first-level cache until all have passed
    LINE_FLOATS = 16,
    AHEAD_FLOATS =
        128, // asked for early: so many streams at once are more than the processor foresees by itself
};

// count is a constant where this is called, so that the inner loop is unrolled. Always summed in the order of
// the parts.
static inline __attribute__((always_inline)) void
add_parts(int count, const float *const *in, const float *weight, bool first, float *restrict out, size_t n)
{
    size_t i = 0;
    for (; i + LINE_FLOATS <= n; i += LINE_FLOATS) {
        for (int k = 0; k < count; k++)
            __builtin_prefetch(in[k] + i + AHEAD_FLOATS);
        for (size_t x = i; x < i + LINE_FLOATS; x++) {
            float sum = first ? 0.0F : out[x];
            for (int k = 0; k < count; k++)
                sum += weight[k] * in[k][x];
            out[x] = sum;
        }
    }
    for (; i < n; i++) {
        float sum = first ? 0.0F : out[i];
        for (int k = 0; k < count; k++)
            sum += weight[k] * in[k][i];
        out[i] = sum;
    }
}

static void add_some(int count, const float *const *in, const float *weight, bool first, float *restrict out,
                     size_t n)
{
    switch (count) {
    case 1:
        add_parts(1, in, weight, first, out, n);
        break;
    case 2:
        add_parts(2, in, weight, first, out, n);
        break;
    case 3:
        add_parts(3, in, weight, first, out, n);
        break;
    case 4:
        add_parts(4, in, weight, first, out, n);
        break;
    case 5:
        add_parts(5, in, weight, first, out, n);
        break;
    case 6:
        add_parts(6, in, weight, first, out, n);
        break;
    case 7:
        add_parts(7, in, weight, first, out, n);
        break;
    default:
        add_parts(TOGETHER, in, weight, first, out, n);
    }
}

void pc_weigh_floats(int part_count, const float *const *in, const float *weight, float *restrict out,
                     size_t count)
{
    if (part_count == 0)
        memset(out, 0, count * sizeof *out);
    for (size_t from = 0; from < count && part_count > 0; from += STRIP_FLOATS) {
        size_t n = count - from < STRIP_FLOATS ? count - from : STRIP_FLOATS;
        for (int k = 0; k < part_count; k += TOGETHER) {
            int some = part_count - k < TOGETHER ? part_count - k : TOGETHER;
            const float *strip[TOGETHER];
            for (int i = 0; i < some; i++)
                strip[i] = in[k + i] + from;
            add_some(some, strip, weight + k, k == 0, out + from, n);
        }
    }
}

struct weighing {
    int count;
    const struct pc_picture *picture[PC_EMITTERS_MAX + 1];
    float weight[PC_EMITTERS_MAX + 1];
    struct pc_picture *out;
};

static enum pc_status weigh_row(void *arg, int row, struct pc_err *err)
{
    (void)err;
    const struct weighing *w = arg;
    size_t n = (size_t)w->out->width_px, channels = (size_t)w->out->channels;
    const float *in[PC_EMITTERS_MAX + 1];
    for (int k = 0; k < w->count; k++)
        in[k] = w->picture[k]->px + (size_t)row * n * channels;
    pc_weigh_floats(w->count, in, w->weight, w->out->px + (size_t)row * n * channels, n * channels);
    uint8_t *clipped = w->out->clipped + (size_t)row * n;
    for (int k = 0; k < w->count; k++) {
        const uint8_t *from = w->picture[k]->clipped + (size_t)row * n;
        for (size_t i = 0; i < n; i++)
            clipped[i] |= from[i];
    }
    return PC_OK;
}

static void add_picture(struct weighing *w, const struct pc_picture *picture, double weight)
{
    if (weight == 0.0)
        return;
    w->picture[w->count] = picture;
    w->weight[w->count] = (float)weight;
    for (int c = 0; c < 3; c++) {
        w->out->noise.offset_var[c] += weight * weight * picture->noise.offset_var[c];
        w->out->noise.per_signal_var[c] += weight * picture->noise.per_signal_var[c];
    }
    w->count++;
}

enum pc_status pc_parts_weigh(struct pc_ctx *ctx, const struct pc_parts *parts,
                              const struct pc_reading *reading, const double *weights, double ambient_weight,
                              struct pc_picture *out, struct pc_err *err)
{
    const struct pc_picture *ambient = &parts->ambient;
    PC_TRY(pc_picture_init(ctx, out, ambient->width_px, ambient->height_px, ambient->channels, err));
    out->bin = ambient->bin;
    out->full_width_px = ambient->full_width_px;
    out->full_height_px = ambient->full_height_px;
    out->space = ambient->space;
    struct pc_basis basis;
    pc_parts_basis(parts, reading, &basis);
    struct weighing w = {.out = out};
    add_picture(&w, ambient, ambient_weight);
    for (int e = 0; e < reading->emitter_count; e++)
        add_picture(&w, &parts->part[basis.part[e]].picture, weights[e] * basis.per_full[e]);
    enum pc_status status = pc_parallel(ctx, out->height_px, weigh_row, &w, err);
    if (status != PC_OK)
        pc_picture_finish(out);
    return status;
}
