// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"

// A displacement under this everywhere is none: a hundredth of what anything here is measured to, and a copy
// keeps the noise as it is.
static const double NO_SHIFT_PX = 0.01;

enum { BAND_ROWS = 32 };

struct resample {
    const struct pc_picture *from;
    struct pc_picture *to;
    double a, b; // index in from of index (x, y) in to: origin + [a -b; b a] (x, y)
    double origin_x, origin_y;
    int shift_x, shift_y;
};

static void mark_outside(const struct pc_picture *to, size_t i)
{
    to->clipped[i] = (uint8_t)((1u << to->channels) - 1u); // zeroed when it was made
}

static enum pc_status copy_band(void *arg, int band, struct pc_err *err)
{
    (void)err;
    const struct resample *r = arg;
    int w = r->to->width_px, h = r->to->height_px, channels = r->to->channels;
    int end = (band + 1) * BAND_ROWS < h ? (band + 1) * BAND_ROWS : h;
    int first = r->shift_x < 0 ? -r->shift_x : 0,
        last = r->shift_x > 0 ? w - r->shift_x : w; // inside the other
    first = first < w ? first : w;
    last = last > first ? last : first;
    for (int y = band * BAND_ROWS; y < end; y++) {
        size_t row = (size_t)y * (size_t)w;
        int sy = y + r->shift_y;
        if (sy < 0 || sy >= h || first == last) {
            for (int x = 0; x < w; x++)
                mark_outside(r->to, row + (size_t)x);
            continue;
        }
        for (int x = 0; x < first; x++)
            mark_outside(r->to, row + (size_t)x);
        for (int x = last; x < w; x++)
            mark_outside(r->to, row + (size_t)x);
        size_t to = row + (size_t)first, n = (size_t)(last - first);
        size_t from = (size_t)sy * (size_t)w + (size_t)(first + r->shift_x);
        memcpy(r->to->px + to * (size_t)channels, r->from->px + from * (size_t)channels,
               n * (size_t)channels * sizeof(float));
        memcpy(r->to->clipped + to, r->from->clipped + from, n);
    }
    return PC_OK;
}

static inline int clamp(int i, int count)
{
    return i < 0 ? 0 : i >= count ? count - 1 : i;
}

// The same away from the rim, three channels: sixteen pixels are four runs of twelve floats.
static void resample_inside(const struct resample *r, size_t to, int i, int j, const float wx[4],
                            const float wy[4])
{
    size_t w = (size_t)r->from->width_px, at = (size_t)(j - 1) * w + (size_t)(i - 1);
    float sum[12] = {0};
    uint32_t clipped = 0;
    for (int v = 0; v < 4; v++, at += w) {
        const float *run = r->from->px + 3 * at;
        uint32_t marks;
        memcpy(&marks, r->from->clipped + at, sizeof marks);
        clipped |= marks;
        for (int k = 0; k < 12; k++)
            sum[k] += wy[v] * run[k];
    }
    clipped |= clipped >> 16;
    r->to->clipped[to] = (uint8_t)((clipped | clipped >> 8) & 0xffu);
    for (int c = 0; c < 3; c++)
        r->to->px[3 * to + (size_t)c] =
            wx[0] * sum[c] + wx[1] * sum[3 + c] + wx[2] * sum[6 + c] + wx[3] * sum[9 + c];
}

static void resample_pixel(const struct resample *r, int x, int y)
{
    const struct pc_picture *from = r->from;
    int w = from->width_px, h = from->height_px, channels = from->channels;
    size_t to = (size_t)y * (size_t)w + (size_t)x;
    double px = r->origin_x + r->a * x - r->b * y, py = r->origin_y + r->b * x + r->a * y;
    if (!(px >= -0.5 && py >= -0.5 && px <= w - 0.5 && py <= h - 0.5)) {
        mark_outside(r->to, to);
        return;
    }
    int i = (int)(px + 1.0) - 1, j = (int)(py + 1.0) - 1; // floor: both are over -1
    float wx[4], wy[4], value[3] = {0.0f, 0.0f, 0.0f};
    cubic_weights((float)(px - i), wx);
    cubic_weights((float)(py - j), wy);
    if (channels == 3 && i >= 1 && j >= 1 && i + 2 < w && j + 2 < h) {
        resample_inside(r, to, i, j, wx, wy);
        return;
    }
    uint8_t clipped = 0;
    for (int v = 0; v < 4; v++) {
        size_t row = (size_t)clamp(j - 1 + v, h) * (size_t)w;
        for (int u = 0; u < 4; u++) {
            size_t at = row + (size_t)clamp(i - 1 + u, w);
            float weight = wx[u] * wy[v];
            clipped |= from->clipped[at];
            for (int c = 0; c < channels; c++)
                value[c] += weight * from->px[at * (size_t)channels + (size_t)c];
        }
    }
    r->to->clipped[to] = clipped;
    for (int c = 0; c < channels; c++)
        r->to->px[to * (size_t)channels + (size_t)c] = value[c];
}

static enum pc_status resample_band(void *arg, int band, struct pc_err *err)
{
    (void)err;
    const struct resample *r = arg;
    int end = (band + 1) * BAND_ROWS < r->to->height_px ? (band + 1) * BAND_ROWS : r->to->height_px;
    for (int y = band * BAND_ROWS; y < end; y++)
        for (int x = 0; x < r->to->width_px; x++)
            resample_pixel(r, x, y);
    return PC_OK;
}

// Whether the map is a shift by whole pixels to within NO_SHIFT_PX at every corner.
static bool whole_shift(struct resample *r, int bin)
{
    r->shift_x = (int)lround(r->origin_x);
    r->shift_y = (int)lround(r->origin_y);
    double within = NO_SHIFT_PX / bin;
    for (int corner = 0; corner < 4; corner++) {
        double x = corner & 1 ? r->to->width_px : 0.0, y = corner & 2 ? r->to->height_px : 0.0;
        double dx = r->origin_x + (r->a - 1.0) * x - r->b * y - r->shift_x;
        double dy = r->origin_y + r->b * x + (r->a - 1.0) * y - r->shift_y;
        if (hypot(dx, dy) > within)
            return false;
    }
    return true;
}

enum pc_status pc_align_resample(struct pc_ctx *ctx, const struct pc_picture *other,
                                 const struct pc_align *align, struct pc_picture *resampled,
                                 struct pc_err *err)
{
    memset(resampled, 0, sizeof *resampled);
    double a = align->scale_ratio * cos(align->rotation_rad),
           b = align->scale_ratio * sin(align->rotation_rad);
    double cx = 0.5 * other->full_width_px, cy = 0.5 * other->full_height_px,
           bin = other->bin > 0 ? other->bin : 1;
    double px = 0.5 * bin - cx, py = 0.5 * bin - cy; // the first pixel's centre about the picture's
    struct resample r = {.from = other, .to = resampled, .a = a, .b = b};
    r.origin_x = (a * px - b * py + align->shift_x_px + cx) / bin - 0.5;
    r.origin_y = (b * px + a * py + align->shift_y_px + cy) / bin - 0.5;
    if (!(hypot(r.origin_x, r.origin_y) < 1e6 && fabs(a - 1.0) < 0.5 && fabs(b) < 0.5))
        return pc_fail(err, PC_BAD_INPUT, NULL,
                       "This frame cannot be laid over the others: it is too far from them.");
    PC_TRY(pc_picture_init(ctx, resampled, other->width_px, other->height_px, other->channels, err));
    resampled->bin = other->bin;
    resampled->full_width_px = other->full_width_px;
    resampled->full_height_px = other->full_height_px;
    resampled->space = other->space;
    resampled->noise = other->noise;
    bool whole = whole_shift(&r, (int)bin);
    enum pc_status status = pc_parallel(ctx, (other->height_px + BAND_ROWS - 1) / BAND_ROWS,
                                        whole ? copy_band : resample_band, &r, err);
    if (status != PC_OK)
        pc_picture_finish(resampled);
    return status;
}
