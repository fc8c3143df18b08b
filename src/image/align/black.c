// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"

enum { WINDOW = 8, STRIDE = 4 };

static const double LEAST_CONTRAST_VAR =
    10.0;                              // of a window, over its noise: below it the line through it is noise's
static const double LINE_DOUBT = 0.01; // of the window's level: what interpolation and motion bend it by

struct intercept {
    double at, weight;
};

static int compare_intercepts(const void *a, const void *b)
{
    double x = ((const struct intercept *)a)->at, y = ((const struct intercept *)b)->at;
    return (x > y) - (x < y);
}

// The line b = slope a + intercept through one window's pixels; false where there is no telling.
static bool window_line(const struct layer *a, const struct layer *b, int x0, int y0, struct intercept *found)
{
    double n = 0, sa = 0, sb = 0, aa = 0, ab = 0;
    for (int y = y0; y < y0 + WINDOW; y++)
        for (int x = x0; x < x0 + WINDOW; x++) {
            size_t i = (size_t)y * (size_t)a->width_px + (size_t)x;
            if (isnan(a->lum[i]) || isnan(b->lum[i]))
                continue;
            double u = (double)a->lum[i], v = (double)b->lum[i];
            n += 1.0;
            sa += u;
            sb += v;
            aa += u * u;
            ab += u * v;
        }
    if (n < WINDOW * WINDOW / 2)
        return false;
    double mean = sa / n, noise = pc_layer_noise_var(a, mean), var = aa / n - mean * mean - noise;
    if (!(var > LEAST_CONTRAST_VAR * noise))
        return false;
    double slope = (ab / n - mean * sb / n) / var;
    double doubt = (noise + pc_layer_noise_var(b, sb / n)) / n * (1.0 + mean * mean / var);
    found->at = sb / n - slope * mean;
    found->weight = 1.0 / (doubt + LINE_DOUBT * LINE_DOUBT * mean * mean);
    return slope > 0.0 && isfinite(found->weight);
}

static double weighted_median(struct intercept *all, size_t count)
{
    double sum = 0.0, half = 0.0;
    qsort(all, count, sizeof *all, compare_intercepts);
    for (size_t i = 0; i < count; i++)
        sum += all[i].weight;
    for (size_t i = 0; i < count; i++) {
        half += all[i].weight;
        if (2.0 * half >= sum)
            return all[i].at;
    }
    return 0.0;
}

enum pc_status pc_align_black_offset(struct pc_ctx *ctx, const struct layer *a, const struct layer *b,
                                     double *offset, struct pc_err *err)
{
    struct layer half_a = {0}, half_b = {0}, low_a = {0}, low_b = {0};
    struct pc_buffer memory = {0};
    enum pc_status status = pc_layer_halve(ctx, &half_a, a, err);
    *offset = 0.0;
    if (status == PC_OK)
        status = pc_layer_halve(ctx, &half_b, b, err);
    if (status == PC_OK)
        status = pc_layer_halve(ctx, &low_a, &half_a, err);
    if (status == PC_OK)
        status = pc_layer_halve(ctx, &low_b, &half_b, err);
    size_t most = (size_t)(low_a.width_px / STRIDE + 1) * (size_t)(low_a.height_px / STRIDE + 1), count = 0;
    if (status == PC_OK)
        status = pc_buffer_init(ctx, &memory, most, 1, sizeof(struct intercept), err);
    if (status == PC_OK) {
        struct intercept *all = memory.data;
        for (int y = 0; y + WINDOW <= low_a.height_px; y += STRIDE)
            for (int x = 0; x + WINDOW <= low_a.width_px; x += STRIDE)
                count += window_line(&low_a, &low_b, x, y, &all[count]);
        *offset = weighted_median(all, count);
    }
    pc_buffer_finish(&memory);
    pc_layer_finish(&half_a);
    pc_layer_finish(&half_b);
    pc_layer_finish(&low_a);
    pc_layer_finish(&low_b);
    return status;
}
