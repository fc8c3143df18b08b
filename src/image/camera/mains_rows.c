// SPDX-License-Identifier: Apache-2.0
#include "image/camera/mains_bands_priv.h"

enum {
    LEAST_STRIPS = 8,
    LEAST_ROWS = 64,
    LAGS = 8,
};

static const double DARKEST_RATIO = 0.002;   // of saturation: below, the logarithm is noise
static const double LEAST_WHOLE_RATIO = 0.5; // of a cell's pixels must be unclipped

static size_t pixel_at(const struct pc_bands_source *source, int row, int column)
{
    return source->upright_rows ? (size_t)row * (size_t)source->a->width_px + (size_t)column
                                : (size_t)column * (size_t)source->a->width_px + (size_t)row;
}

static double cell_log(const struct pc_bands_source *source, const struct pc_bands_cell *cell)
{
    const struct pc_picture *a = source->a, *b = source->b;
    double sum_a = 0.0, sum_b = 0.0;
    int64_t whole = 0, all = (int64_t)(cell->row1 - cell->row0) * (cell->column1 - cell->column0);
    for (int r = cell->row0; r < cell->row1; r++)
        for (int c = cell->column0; c < cell->column1; c++) {
            size_t pixel = pixel_at(source, r, c);
            bool clipped = a->clipped[pixel] != 0 || (b != NULL && b->clipped[pixel] != 0);
            if (clipped)
                continue;
            size_t at = pixel * (size_t)a->channels + (size_t)source->channel;
            sum_a += (double)a->px[at];
            sum_b += b != NULL ? (double)b->px[at] : 0.0;
            whole++;
        }
    double enough = DARKEST_RATIO * (double)whole;
    if ((double)whole < LEAST_WHOLE_RATIO * (double)all || !(sum_a > enough) ||
        (b != NULL && !(sum_b > enough)))
        return (double)NAN;
    return b != NULL ? log(sum_a / sum_b) : log(sum_a / (double)whole);
}

// Strips that can be read over most rows, and rows that can be read in all of these.
static bool choose(struct pc_bands_rows *rows, double raw[PC_BANDS_STRIPS][PC_BANDS_ROWS_MAX], int count)
{
    bool good[PC_BANDS_STRIPS];
    rows->strips = rows->count = 0;
    for (int s = 0; s < PC_BANDS_STRIPS; s++) {
        int readable = 0;
        for (int i = 0; i < count; i++)
            readable += !isnan(raw[s][i]);
        good[s] = readable >= 0.8 * count;
        rows->strips += good[s];
    }
    for (int i = 0; i < count; i++) {
        bool whole = true;
        for (int s = 0; s < PC_BANDS_STRIPS; s++)
            whole = whole && !(good[s] && isnan(raw[s][i]));
        if (!whole)
            continue;
        int strip = 0;
        for (int s = 0; s < PC_BANDS_STRIPS; s++)
            if (good[s])
                rows->y[strip++][rows->count] = raw[s][i];
        rows->at[rows->count++] = (2.0 * i + 1.0) / count - 1.0;
    }
    return rows->strips >= LEAST_STRIPS && rows->count >= LEAST_ROWS && rows->count >= count / 2;
}

bool pc_bands_rows_read(const struct pc_bands_source *source, const struct pc_bands_cell *all,
                        double sensor_rows, struct pc_bands_rows *rows)
{
    int high = all->row1 - all->row0, wide = all->column1 - all->column0;
    int each = (high + PC_BANDS_ROWS_MAX - 1) / PC_BANDS_ROWS_MAX;
    if (each < 1 || high / each < LEAST_ROWS || wide < PC_BANDS_STRIPS)
        return false;
    int count = high / each;
    double(*raw)[PC_BANDS_ROWS_MAX] = calloc(PC_BANDS_STRIPS, sizeof *raw);
    PC_ASSERT(raw != NULL);
    for (int s = 0; s < PC_BANDS_STRIPS; s++)
        for (int i = 0; i < count; i++) {
            struct pc_bands_cell cell = {all->row0 + i * each, all->row0 + (i + 1) * each,
                                         all->column0 + (int)((int64_t)wide * s / PC_BANDS_STRIPS),
                                         all->column0 + (int)((int64_t)wide * (s + 1) / PC_BANDS_STRIPS)};
            raw[s][i] = cell_log(source, &cell);
        }
    rows->share = (double)count * each / sensor_rows;
    rows->rows_each = each * (source->a->bin > 0 ? source->a->bin : 1);
    rows->rows_all = sensor_rows * rows->rows_each / each;
    bool enough = choose(rows, raw, count);
    free(raw);
    return enough;
}

double pc_bands_texture_ratio(const struct pc_bands_source *source, const struct pc_bands_cell *all)
{
    const struct pc_picture *a = source->a;
    double with[LAGS + 1] = {0}, sum = 0.0;
    int64_t count = 0;
    int every = (all->row1 - all->row0) / 64 + 1; // some rows are enough to tell
    for (int r = all->row0; r < all->row1; r += every) {
        double step[LAGS + 1] = {
            0}; // from a pixel to the next, the newest first; light that falls off has none
        for (int c = all->column0; c < all->column1; c++) {
            size_t pixel = pixel_at(source, r, c) * (size_t)a->channels + (size_t)source->channel;
            size_t next = pixel_at(source, r, c + 1 < all->column1 ? c + 1 : c) * (size_t)a->channels +
                          (size_t)source->channel;
            memmove(step + 1, step, LAGS * sizeof step[0]);
            step[0] = (double)a->px[next] - (double)a->px[pixel];
            sum += (double)a->px[pixel];
            count++;
            for (int lag = 2; lag <= LAGS; lag++)
                with[lag] += step[0] * step[lag];
        }
    }
    // Steps of noise go together with their neighbours only; from two on they are strangers.
    double most = 0.0;
    for (int lag = 2; lag <= LAGS; lag++)
        most = fmax(most, fabs(with[lag]));
    return sum > 0 ? sqrt(most / (double)count) / (sum / (double)count) : 0.0;
}
