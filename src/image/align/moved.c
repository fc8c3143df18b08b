// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"
#include "image/align/areas.h"

enum {
    WORK_SIDE = 1500,   // the longer side of the layers compared, at most
    WINDOW_RADIUS = 12, // within which the light's drift is level
    BLOCK = 8,
    GAP_BLOCKS = 2,
    LEAST_BLOCKS = 4,
    BANDS = 24,
    LEAST_IN_BAND = 400,
};

// Relative standard deviation of what no model knows: interpolation, flicker within the frame, dust, ripples.
static const double UNKNOWN_SD = 0.01;
static const double FINEST_RATIO = 0.15; // share of the finest detail that resampling may change
static const double OFFSET_DOUBT = 0.1;  // of the offset found between the two frames' black levels
// How far the edge of a broad shadow may slide while the thing that throws it stays, pixels of the layer.
static const double SLIDE_PX = 1.5;
static const double LEAST_REGISTERED_PX = 0.03, MOST_REGISTERED_PX = 0.5;
static const double MOST_NOISE_SD = 0.25; // relative, smoothed: beyond it a logarithm says nothing
// Mean of squared standard scores over a block that counts as changed. Smoothed noise leaves about 9
// independent values in 64 pixels; chi-square of 9 is over 6 * 9 once in 1e8.
static const double CHANGED = 6.0;
static const double SEEMS_CHANGED = 2.5; // enough beside what is known to have changed
static const double SCORE_MOST = 60.0;   // of one pixel, so that a single one cannot speak for a block
static const double CHI2_MEDIAN = 0.4549;

// Whole layers side by side; all arrays width x height.
struct field {
    struct layer a, b;
    int width_px, height_px;
    size_t area;
    struct pc_buffer buffer;
    float *log_a, *ratio; // ratio: log after - log before
    float *noise; // variance of ratio from the noise models, smoothed; negative where it may not be used
    float *mean, *work; // what is smooth in ratio; scratch
    float *score;
    double offset; // taken off the frame after: its black level over the other's
};

static void field_finish(struct field *field)
{
    pc_layer_finish(&field->a);
    pc_layer_finish(&field->b);
    pc_buffer_finish(&field->buffer);
}

// Mean of value over (2 radius + 1)^2 where noise is not negative. sums: scratch of 2 * area.
static void box_mean(const struct field *f, const float *value, float *mean, float *sums)
{
    int w = f->width_px, h = f->height_px, r = WINDOW_RADIUS;
    float *sum = sums, *seen = sums + f->area;
    for (int y = 0; y < h; y++) {
        const float *v = value + (size_t)y * (size_t)w, *ok = f->noise + (size_t)y * (size_t)w;
        double s = 0.0;
        int n = 0;
        for (int x = -r; x < w; x++) {
            int in = x + r, out = x - r - 1;
            if (in < w && ok[in] >= 0.0f) {
                s += (double)v[in];
                n++;
            }
            if (out >= 0 && ok[out] >= 0.0f) {
                s -= (double)v[out];
                n--;
            }
            if (x >= 0) {
                sum[(size_t)y * (size_t)w + (size_t)x] = (float)s;
                seen[(size_t)y * (size_t)w + (size_t)x] = (float)n;
            }
        }
    }
    enum { STRIP = 32 }; // columns side by side, for the cache
    for (int x0 = 0; x0 < w; x0 += STRIP) {
        int strip = w - x0 < STRIP ? w - x0 : STRIP;
        double s[STRIP] = {0}, n[STRIP] = {0};
        for (int y = -r; y < h; y++) {
            int in = y + r, out = y - r - 1;
            for (int k = 0; k < strip; k++) {
                if (in < h) {
                    s[k] += (double)sum[(size_t)in * (size_t)w + (size_t)(x0 + k)];
                    n[k] += (double)seen[(size_t)in * (size_t)w + (size_t)(x0 + k)];
                }
                if (out >= 0) {
                    s[k] -= (double)sum[(size_t)out * (size_t)w + (size_t)(x0 + k)];
                    n[k] -= (double)seen[(size_t)out * (size_t)w + (size_t)(x0 + k)];
                }
                if (y >= 0)
                    mean[(size_t)y * (size_t)w + (size_t)(x0 + k)] = n[k] > 0.5 ? (float)(s[k] / n[k]) : 0.0f;
            }
        }
    }
}

static enum pc_status field_init(struct pc_ctx *ctx, struct field *f, const struct pc_picture *before,
                                 const struct pc_picture *after, struct pc_err *err)
{
    memset(f, 0, sizeof *f);
    int longest = before->width_px > before->height_px ? before->width_px : before->height_px;
    int factor = (longest + WORK_SIDE - 1) / WORK_SIDE;
    enum pc_status status = pc_layer_init(ctx, &f->a, before, factor, err);
    if (status == PC_OK)
        status = pc_layer_init(ctx, &f->b, after, factor, err);
    f->width_px = f->a.width_px;
    f->height_px = f->a.height_px;
    f->area = (size_t)f->width_px * (size_t)f->height_px;
    if (status == PC_OK)
        status = pc_buffer_init(ctx, &f->buffer, f->area, 8, sizeof(float), err);
    if (status != PC_OK) {
        field_finish(f);
        return status;
    }
    float *p = f->buffer.data;
    f->log_a = p;
    f->ratio = p + f->area;
    f->noise = p + 2 * f->area;
    f->mean = p + 3 * f->area;
    f->score = p + 4 * f->area;
    f->work = p + 5 * f->area; // three
    return PC_OK;
}

// A dead column or row stays on the sensor while the picture is laid over another: nearly everywhere along it
// both neighbours differ from it one way. It and what it was smoothed into is not used.
static void leave_out_lines(struct field *f, const float *log_lum, bool columns)
{
    enum { APART = 4, SAMPLES = 128 };
    static const float LEAST = 0.04f;
    int across = columns ? f->width_px : f->height_px, along = columns ? f->height_px : f->width_px;
    size_t step = columns ? 1 : (size_t)f->width_px, next = columns ? (size_t)f->width_px : 1;
    for (int x = APART; x < across - APART; x++) {
        int seen = 0, lighter = 0, darker = 0;
        for (int k = 0; k < SAMPLES; k++) {
            size_t at = (size_t)x * step + (size_t)((long)k * along / SAMPLES) * next;
            if (f->noise[at] < 0.0f || f->noise[at - APART * step] < 0.0f ||
                f->noise[at + APART * step] < 0.0f)
                continue;
            float before = log_lum[at] - log_lum[at - APART * step],
                  after = log_lum[at] - log_lum[at + APART * step];
            seen++;
            lighter += before > LEAST && after > LEAST;
            darker += before < -LEAST && after < -LEAST;
        }
        if (seen < SAMPLES / 2 || (10 * lighter < 8 * seen && 10 * darker < 8 * seen))
            continue;
        for (int k = x - APART / 2; k <= x + APART / 2; k++)
            for (int y = 0; y < along; y++)
                f->noise[(size_t)k * step + (size_t)y * next] = -1.0f;
    }
}

static enum pc_status smooth_one(void *arg, int i, struct pc_err *err)
{
    (void)err;
    struct field *f = arg;
    pc_layer_smooth_log(i == 0 ? &f->a : &f->b, 0, 0, f->width_px, f->height_px, i == 0 ? f->log_a : f->work,
                        i == 0 ? f->noise : f->work + f->area);
    return PC_OK;
}

// The logarithm of the ratio, and how noisy it should be.
static enum pc_status field_compare(struct pc_ctx *ctx, struct field *f, struct pc_err *err)
{
    const float *log_b = f->work, *noise_b = f->work + f->area;
    PC_TRY(pc_parallel(ctx, 2, smooth_one, f, err));
    for (size_t i = 0; i < f->area; i++) {
        float var = (float)SMOOTHED_VAR * (f->noise[i] + noise_b[i]);
        bool good = f->noise[i] >= 0.0f && noise_b[i] >= 0.0f && (double)var < MOST_NOISE_SD * MOST_NOISE_SD;
        f->noise[i] = good ? var : -1.0f;
        f->ratio[i] = good ? log_b[i] - f->log_a[i] : 0.0f;
    }
    for (int columns = 0; columns < 2; columns++) {
        leave_out_lines(f, f->log_a, columns);
        leave_out_lines(f, log_b, columns);
    }
    return PC_OK;
}

// Drift, clouds and soft shadows are smooth in the ratio; what moved is not. The mean is taken a second time
// with what stands out cut off, so that a moved edge leaves no halo.
static void field_level(struct field *f)
{
    box_mean(f, f->ratio, f->mean, f->work);
    float *cut = f->score;
    for (size_t i = 0; i < f->area; i++) {
        if (f->noise[i] < 0.0f)
            continue;
        float most = 3.0f * sqrtf(f->noise[i] + (float)(UNKNOWN_SD * UNKNOWN_SD)),
              off = f->ratio[i] - f->mean[i];
        cut[i] = f->mean[i] + (off > most ? most : off < -most ? -most : off);
    }
    box_mean(f, cut, f->mean, f->work);
}

// The k-th smallest (Hoare's selection, CACM 4:321, 1961); reorders v.
static float smallest(float *v, size_t count, size_t k)
{
    ptrdiff_t low = 0, high = (ptrdiff_t)count - 1, at = (ptrdiff_t)k;
    while (low < high) {
        float middle = v[low + (high - low) / 2];
        ptrdiff_t i = low, j = high;
        while (i <= j) {
            while (v[i] < middle)
                i++;
            while (v[j] > middle)
                j--;
            if (i <= j) {
                float swap = v[i];
                v[i++] = v[j];
                v[j--] = swap;
            }
        }
        if (at <= j)
            high = j;
        else if (at >= i)
            low = i;
        else
            break;
    }
    return v[k];
}

// Two frames' black levels differ by a little, which no ratio allows for: it is taken off the frame after.
static enum pc_status field_lower(struct pc_ctx *ctx, struct field *f, struct pc_err *err)
{
    PC_TRY(pc_align_black_offset(ctx, &f->a, &f->b, &f->offset, err));
    for (size_t i = 0; i < f->area; i++)
        f->b.lum[i] -= (float)f->offset;
    return PC_OK;
}

// Half-stop bands of level.
static int band_of(float log_lum)
{
    int band = (int)floorf(log_lum * 2.0f / 0.6931f) + BANDS;
    return band < 0 ? 0 : band >= BANDS ? BANDS - 1 : band;
}

// The noise models may be off: most of the picture did not move, so its own scatter in each band of level
// says by how much the foretold variance must be multiplied. Every fourth pixel is asked.
static void noise_factors(const struct field *f, float *work, double factor[BANDS])
{
    double whole = 1.0;
    for (int band = -1; band < BANDS; band++) {
        size_t n = 0;
        for (size_t i = 0; i < f->area; i += 4) {
            if (f->noise[i] < 0.0f || (band >= 0 && band_of(f->log_a[i]) != band))
                continue;
            float off = f->ratio[i] - f->mean[i];
            work[n++] = off * off / (f->noise[i] + 1e-9f);
        }
        double found = whole;
        if (n >= LEAST_IN_BAND)
            found = (double)smallest(work, n, n / 2) / CHI2_MEDIAN;
        if (band < 0)
            whole = found;
        else
            factor[band] = found;
    }
}

static double gradient2(const float *v, size_t at, int w, int apart)
{
    double gx = (double)(v[at + (size_t)apart] - v[at - (size_t)apart]) / (2.0 * apart);
    double gy = (double)(v[at + (size_t)(apart * w)] - v[at - (size_t)(apart * w)]) / (2.0 * apart);
    return gx * gx + gy * gy;
}

// Square of how much the finest detail bends: what interpolation takes from it, and a mosaic adds to it,
// scales with it.
static double bend2(const float *v, size_t at, int w)
{
    double here = 2.0 * (double)v[at];
    double x = fabs((double)v[at + 1] + (double)v[at - 1] - here);
    double y = fabs((double)v[at + (size_t)w] + (double)v[at - (size_t)w] - here);
    return (x + y) * (x + y);
}

// Squared standard scores: what is left of the ratio over what noise, registration and sliding shadows
// explain.
static void field_score(struct field *f, double registered_px)
{
    enum { APART = 4 };
    double factor[BANDS];
    noise_factors(f, f->work, factor);
    float *slow = f->work;
    box_mean(f, f->log_a, slow, f->work + f->area);
    int w = f->width_px, h = f->height_px;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            size_t i = (size_t)y * (size_t)w + (size_t)x;
            f->score[i] = -1.0f;
            if (f->noise[i] < 0.0f || x < APART || y < APART || x >= w - APART || y >= h - APART)
                continue;
            double off = (double)(f->ratio[i] - f->mean[i]);
            double black = OFFSET_DOUBT * f->offset * exp((double)-f->log_a[i]);
            double var = factor[band_of(f->log_a[i])] * (double)f->noise[i] + UNKNOWN_SD * UNKNOWN_SD +
                         black * black + registered_px * registered_px * gradient2(f->log_a, i, w, 1) +
                         FINEST_RATIO * FINEST_RATIO * bend2(f->log_a, i, w) +
                         SLIDE_PX * SLIDE_PX * gradient2(slow, i, w, APART);
            double score = off * off / var;
            f->score[i] = (float)(score < SCORE_MOST ? score : SCORE_MOST);
        }
}

// 0, 1 where a block seems changed, 2 where it is.
static void mark_blocks(const struct field *f, int columns, int rows, uint8_t *marked)
{
    for (int r = 0; r < rows; r++)
        for (int c = 0; c < columns; c++) {
            double sum = 0.0;
            int n = 0;
            for (int j = 0; j < BLOCK; j++)
                for (int i = 0; i < BLOCK; i++) {
                    size_t at = (size_t)(r * BLOCK + j) * (size_t)f->width_px + (size_t)(c * BLOCK + i);
                    if (f->score[at] < 0.0f)
                        continue;
                    sum += (double)f->score[at];
                    n++;
                }
            bool seen = n >= BLOCK * BLOCK / 2;
            marked[r * columns + c] =
                (uint8_t)((seen && sum > SEEMS_CHANGED * n) + (seen && sum > CHANGED * n));
        }
}

// A stretch of changed blocks: full-resolution pixels, and how far what is in it went (NAN: cannot be told).
struct stretch {
    double x0_px, y0_px, x1_px, y1_px;
    double dx_px, dy_px;
    bool sure; // holds enough blocks that did change; else it only counts as another's far side
};

// The tile in an area that matches far better elsewhere than where it was.
static void stretch_shift(const struct field *f, const struct area *area, struct stretch *stretch)
{
    static const struct warp stay = {1.0, 0.0, 0.0, 0.0};
    static const double LEAST_CORRELATION = 0.7, LEAST_GAIN = 0.1;
    const double centre_px[2] = {0.5 * f->width_px * f->a.full_px, 0.5 * f->height_px * f->a.full_px};
    int x0 = area->left * BLOCK, y0 = area->top * BLOCK;
    int x1 = (area->right + 1) * BLOCK - TILE, y1 = (area->bottom + 1) * BLOCK - TILE;
    double best = LEAST_GAIN;
    enum { STEPS = 3 };
    for (int k = 0; k <= STEPS; k++)
        for (int l = 0; l <= STEPS; l++) {
            struct tile tile;
            pc_tile_register(&f->a, &f->b, centre_px, &stay, x0 + (x1 - x0) * l / STEPS,
                             y0 + (y1 - y0) * k / STEPS, TILE_SEARCH_MAX, &tile, NULL);
            double gain = tile.correlation - tile.correlation_at_warp;
            if (!tile.found || tile.correlation < LEAST_CORRELATION || gain <= best)
                continue;
            best = gain;
            stretch->dx_px = tile.dx_px;
            stretch->dy_px = tile.dy_px;
        }
}

static void widen(struct stretch *a, const struct stretch *b)
{
    a->x0_px = fmin(a->x0_px, b->x0_px);
    a->y0_px = fmin(a->y0_px, b->y0_px);
    a->x1_px = fmax(a->x1_px, b->x1_px);
    a->y1_px = fmax(a->y1_px, b->y1_px);
    a->sure |= b->sure;
}

// Two sides of one plain thing: they face each other across no more than they are long, and went the same
// way.
static bool two_sides(const struct stretch *a, const struct stretch *b)
{
    static const double SAME_WAY_PX = 1.5;
    if (!(hypot(a->dx_px - b->dx_px, a->dy_px - b->dy_px) < SAME_WAY_PX)) // false with NAN
        return false;
    double both_x = fmin(a->x1_px, b->x1_px) - fmax(a->x0_px, b->x0_px); // shared; negative: the gap between
    double both_y = fmin(a->y1_px, b->y1_px) - fmax(a->y0_px, b->y0_px);
    double wide = fmin(a->x1_px - a->x0_px, b->x1_px - b->x0_px);
    double tall = fmin(a->y1_px - a->y0_px, b->y1_px - b->y0_px);
    return (both_x > 0.5 * wide && -both_y < 1.5 * wide) || (both_y > 0.5 * tall && -both_x < 1.5 * tall);
}

static int join_sides(struct stretch *stretches, int count)
{
    for (int i = 0; i < count; i++)
        for (int j = i + 1; j < count; j++)
            if (two_sides(&stretches[i], &stretches[j])) {
                widen(&stretches[i], &stretches[j]);
                stretches[j] = stretches[--count];
                i = -1; // what it grew by may face one that was passed
                break;
            }
    return count;
}

static int sure_cells(const uint8_t *marked, const int *label, int cells, int which)
{
    int count = 0;
    for (int i = 0; i < cells; i++)
        count += label[i] == which && marked[i] == 2;
    return count;
}

static enum pc_status report(struct pc_ctx *ctx, const struct field *f, const struct pc_picture *picture,
                             struct pc_moved moved[PC_MOVED_MAX], int *count, struct pc_err *err)
{
    int columns = f->width_px / BLOCK, rows = f->height_px / BLOCK;
    struct pc_buffer cells;
    PC_TRY(pc_buffer_init(ctx, &cells, (size_t)columns * (size_t)rows, 1, sizeof(int) + 1, err));
    int *label = cells.data;
    uint8_t *marked = (uint8_t *)(label + columns * rows);
    mark_blocks(f, columns, rows, marked);
    struct area areas[AREAS_MAX];
    struct stretch stretches[AREAS_MAX];
    int n = pc_areas_gather(marked, columns, rows, GAP_BLOCKS, LEAST_BLOCKS, label, areas);
    double side_px = BLOCK * f->a.full_px;
    for (int i = 0; i < n; i++) {
        stretches[i] =
            (struct stretch){areas[i].left * side_px,
                             areas[i].top * side_px,
                             (areas[i].right + 1) * side_px,
                             (areas[i].bottom + 1) * side_px,
                             NAN,
                             NAN,
                             sure_cells(marked, label, columns * rows, areas[i].first) >= LEAST_BLOCKS};
        stretch_shift(f, &areas[i], &stretches[i]);
    }
    n = join_sides(stretches, n);
    for (int i = 0; i < n; i++) {
        const struct stretch *s = &stretches[i];
        if (s->sure)
            pc_areas_report(picture, s->x0_px, s->y0_px, s->x1_px, s->y1_px, hypot(s->dx_px, s->dy_px), moved,
                            count);
    }
    pc_buffer_finish(&cells);
    return PC_OK;
}

enum pc_status pc_align_moved(struct pc_ctx *ctx, const struct pc_picture *before,
                              const struct pc_picture *after, double registered_within_px, uint8_t *leave_out,
                              struct pc_moved moved[PC_MOVED_MAX], int *count, struct pc_err *err)
{
    *count = 0;
    PC_TRY(pc_align_same_size(before, after, err));
    struct field field;
    PC_TRY(field_init(ctx, &field, before, after, err));
    enum pc_status status = field_lower(ctx, &field, err);
    if (status == PC_OK)
        status = field_compare(ctx, &field, err);
    if (status == PC_OK) {
        field_level(&field);
        // registered_within_px is a 95 % radius: 2.45 standard deviations an axis.
        double registered_px = registered_within_px / field.a.full_px / 2.45;
        field_score(&field, fmin(fmax(registered_px, LEAST_REGISTERED_PX), MOST_REGISTERED_PX));
        status = report(ctx, &field, before, moved, count, err);
    }
    field_finish(&field);
    if (status == PC_OK && leave_out != NULL)
        pc_areas_leave_out(before, moved, *count, leave_out);
    return status;
}
