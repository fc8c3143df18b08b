// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"

enum { BAND_ROWS = 16 };

static const double WEIGHT[3] = {0.25, 0.5, 0.25};
// Relative noise taken for granted: interpolation, flicker, what no noise model knows of.
static const double LEAST_RELATIVE_SD = 0.003;
// Contrast under this much of the noise is no structure.
static const double NOISE_GUARD = 4.0;
static const double LEAST_CONTRAST = 0.01;

// Of one pixel of the picture; NAN where clipped or not a number.
static inline float picture_lum(const struct pc_picture *picture, size_t i)
{
    if (picture->clipped[i] != 0)
        return NAN;
    float lum = picture->channels == 1
                    ? picture->px[i]
                    : 0.25f * (picture->px[3 * i] + picture->px[3 * i + 2]) + 0.5f * picture->px[3 * i + 1];
    return fabsf(lum) < 1e9f ? lum : NAN;
}

static inline float layer_lum(const struct layer *layer, int x, int y)
{
    size_t i = (size_t)y * (size_t)layer->width_px + (size_t)x;
    return layer->lum != NULL ? layer->lum[i] : picture_lum(layer->picture, i);
}

double pc_layer_noise_var(const struct layer *layer, double lum)
{
    double signal = lum > 0.0 ? lum : 0.0;
    return layer->offset_var + layer->per_signal_var * signal + layer->relative_var * signal * signal;
}

static int compare_floats(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

// Relative noise where no model is known: the median of the finest diagonal detail over the level (Donoho's
// estimate, sigma = median / 0.6745), so that texture reads as noise rather than noise as texture.
static double relative_noise(const struct layer *layer)
{
    enum { SIDE = 64 };
    float detail[SIDE * SIDE];
    size_t count = 0;
    for (int j = 0; j < SIDE; j++)
        for (int i = 0; i < SIDE; i++) {
            int x = (int)((long)i * (layer->width_px - 1) / SIDE);
            int y = (int)((long)j * (layer->height_px - 1) / SIDE);
            float a = layer_lum(layer, x, y), b = layer_lum(layer, x + 1, y);
            float c = layer_lum(layer, x, y + 1), d = layer_lum(layer, x + 1, y + 1);
            float level = 0.25f * (a + b + c + d);
            if (level > 0.0f)
                detail[count++] = 0.5f * fabsf(a - b - c + d) / level;
        }
    if (count == 0)
        return 0.0;
    qsort(detail, count, sizeof *detail, compare_floats);
    return (double)detail[count / 2] / 0.6745;
}

void pc_layer_of_picture(const struct pc_picture *picture, struct layer *layer)
{
    memset(layer, 0, sizeof *layer);
    layer->width_px = picture->width_px;
    layer->height_px = picture->height_px;
    layer->full_px = picture->bin > 0 ? picture->bin : 1;
    layer->picture = picture;
    for (int c = 0; c < picture->channels; c++) {
        double w = picture->channels == 1 ? 1.0 : WEIGHT[c];
        layer->offset_var += w * w * picture->noise.offset_var[c];
        layer->per_signal_var += w * w * picture->noise.per_signal_var[c];
    }
    double sd = LEAST_RELATIVE_SD;
    if (layer->offset_var <= 0.0 && layer->per_signal_var <= 0.0)
        sd = hypot(sd, relative_noise(layer));
    layer->relative_var = sd * sd;
}

struct reduce {
    const struct layer *from;
    struct layer *to;
    int factor;
};

static enum pc_status reduce_band(void *arg, int band, struct pc_err *err)
{
    (void)err;
    const struct reduce *reduce = arg;
    struct layer *to = reduce->to;
    int end = (band + 1) * BAND_ROWS < to->height_px ? (band + 1) * BAND_ROWS : to->height_px;
    for (int y = band * BAND_ROWS; y < end; y++)
        for (int x = 0; x < to->width_px; x++) {
            float sum = 0.0f;
            int seen = 0;
            for (int j = y * reduce->factor; j < (y + 1) * reduce->factor; j++)
                for (int i = x * reduce->factor; i < (x + 1) * reduce->factor; i++) {
                    float lum = layer_lum(reduce->from, i, j);
                    bool good = !isnan(lum);
                    sum += good ? lum : 0.0f;
                    seen += good;
                }
            to->lum[(size_t)y * (size_t)to->width_px + (size_t)x] =
                2 * seen > reduce->factor * reduce->factor ? sum / (float)seen : NAN;
        }
    return PC_OK;
}

static enum pc_status reduce_layer(struct pc_ctx *ctx, struct layer *to, const struct layer *from, int factor,
                                   struct pc_err *err)
{
    memset(to, 0, sizeof *to);
    to->width_px = from->width_px / factor;
    to->height_px = from->height_px / factor;
    to->full_px = from->full_px * factor;
    to->offset_var = from->offset_var / (factor * factor);
    to->per_signal_var = from->per_signal_var / (factor * factor);
    to->relative_var = from->relative_var; // what it stands for does not average away
    PC_TRY(pc_buffer_init(ctx, &to->buffer, (size_t)to->width_px, (size_t)to->height_px, sizeof(float), err));
    to->lum = to->buffer.data;
    struct reduce reduce = {from, to, factor};
    enum pc_status status =
        pc_parallel(ctx, (to->height_px + BAND_ROWS - 1) / BAND_ROWS, reduce_band, &reduce, err);
    if (status != PC_OK)
        pc_layer_finish(to);
    return status;
}

enum pc_status pc_layer_init(struct pc_ctx *ctx, struct layer *layer, const struct pc_picture *picture,
                             int factor, struct pc_err *err)
{
    struct layer whole;
    pc_layer_of_picture(picture, &whole);
    return reduce_layer(ctx, layer, &whole, factor, err);
}

enum pc_status pc_layer_halve(struct pc_ctx *ctx, struct layer *half, const struct layer *layer,
                              struct pc_err *err)
{
    return reduce_layer(ctx, half, layer, 2, err);
}

void pc_layer_finish(struct layer *layer)
{
    pc_buffer_finish(&layer->buffer);
    memset(layer, 0, sizeof *layer);
}

size_t pc_layer_feature_scratch(int width, int height)
{
    size_t raw_w = (size_t)width + 2 * FEATURE_BORDER, raw_h = (size_t)height + 2 * FEATURE_BORDER;
    return 2 * raw_w * raw_h + 3 * (size_t)width * raw_h;
}

void pc_layer_smooth_log(const struct layer *layer, int x0, int y0, int w, int h, float *log_lum,
                         float *noise)
{
    double floor_lum = 2.0 * sqrt(layer->offset_var) + 1e-7;
    for (int j = 0; j < h; j++)
        for (int i = 0; i < w; i++) {
            int x = x0 + i, y = y0 + j;
            size_t at = (size_t)j * (size_t)w + (size_t)i;
            log_lum[at] = 0.0f;
            noise[at] = -1.0f;
            if (x < 1 || y < 1 || x >= layer->width_px - 1 || y >= layer->height_px - 1)
                continue;
            float row[3];
            for (int k = 0; k < 3; k++)
                row[k] = layer_lum(layer, x - 1, y - 1 + k) + 2.0f * layer_lum(layer, x, y - 1 + k) +
                         layer_lum(layer, x + 1, y - 1 + k);
            float lum = (row[0] + 2.0f * row[1] + row[2]) / 16.0f;
            if (isnan(lum))
                continue;
            double above = (lum > 0.0f ? (double)lum : 0.0) + floor_lum;
            log_lum[at] = logf((float)above);
            noise[at] = (float)(pc_layer_noise_var(layer, (double)lum) / (above * above));
        }
}

void pc_layer_feature(const struct layer *layer, int x0, int y0, int width, int height, float *g,
                      float *noise, float *scratch)
{
    enum { R = FEATURE_RADIUS, B = FEATURE_BORDER };
    int raw_w = width + 2 * B, raw_h = height + 2 * B;
    size_t raw = (size_t)raw_w * (size_t)raw_h, strip = (size_t)width * (size_t)raw_h;
    float *log_lum = scratch, *var = scratch + raw;
    float *sum = var + raw, *square = sum + strip, *seen = square + strip;
    pc_layer_smooth_log(layer, x0 - B, y0 - B, raw_w, raw_h, log_lum, var);
    for (int j = 0; j < raw_h; j++) {
        double s = 0.0, q = 0.0, n = 0.0;
        const float *row = log_lum + (size_t)j * (size_t)raw_w, *ok = var + (size_t)j * (size_t)raw_w;
        for (int i = 0; i < width + 2 * R; i++) {
            int in = i + B - R, out = in - (2 * R + 1);
            if (ok[in] >= 0.0f) {
                s += (double)row[in];
                q += (double)row[in] * (double)row[in];
                n += 1.0;
            }
            if (i > 2 * R && ok[out] >= 0.0f) {
                s -= (double)row[out];
                q -= (double)row[out] * (double)row[out];
                n -= 1.0;
            }
            if (i >= 2 * R) {
                size_t at = (size_t)j * (size_t)width + (size_t)(i - 2 * R);
                sum[at] = (float)s;
                square[at] = (float)q;
                seen[at] = (float)n;
            }
        }
    }
    for (int i = 0; i < width; i++) {
        double s = 0.0, q = 0.0, n = 0.0;
        for (int j = B - R; j < height + B + R; j++) {
            size_t in = (size_t)j * (size_t)width + (size_t)i;
            s += (double)sum[in];
            q += (double)square[in];
            n += (double)seen[in];
            if (j > B + R) {
                size_t out = in - (size_t)(2 * R + 1) * (size_t)width;
                s -= (double)sum[out];
                q -= (double)square[out];
                n -= (double)seen[out];
            }
            if (j < B + R)
                continue;
            int y = j - R - B;
            size_t to = (size_t)y * (size_t)width + (size_t)i;
            size_t from = (size_t)(y + B) * (size_t)raw_w + (size_t)(i + B);
            g[to] = 0.0f;
            noise[to] = -1.0f;
            // With most of the surroundings unseen the mean is not that of the middle.
            if (var[from] < 0.0f || n < 0.5 * (2 * R + 1) * (2 * R + 1))
                continue;
            double mean = s / n, v = (double)var[from], spread = q / n - mean * mean;
            double scale2 = (spread > 0.0 ? spread : 0.0) + NOISE_GUARD * v + LEAST_CONTRAST * LEAST_CONTRAST;
            g[to] = (float)(((double)log_lum[from] - mean) / sqrt(scale2));
            noise[to] = (float)(v / scale2);
        }
    }
}
