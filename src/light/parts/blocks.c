// SPDX-License-Identifier: Apache-2.0
#include "light/parts/blocks.h"

#include "base/linalg.h"

enum { BLOCK_PX = 8, BLOCKS_MAX = 4000, FITS = 6 };
static const double MODEL_ERROR_RATIO =
    0.02; // lens and sensor repeat no better than this from frame to frame

struct fit {
    struct pc_blocks *sum;
    int rows;
    double *a, *b, *sigma; // rows x terms, rows, rows
};

static double block_mean(const struct pc_picture *p, int bx, int by, int c)
{
    double sum = 0.0;
    for (int y = by; y < by + BLOCK_PX; y++)
        for (int x = bx; x < bx + BLOCK_PX; x++)
            sum += (double)
                       p->px[((size_t)y * (size_t)p->width_px + (size_t)x) * (size_t)p->channels + (size_t)c];
    return sum / (BLOCK_PX * BLOCK_PX);
}

static bool block_usable(const struct pc_parts *parts, const struct fit *fit, const struct pc_picture *actual,
                         int bx, int by)
{
    for (int y = by; y < by + BLOCK_PX; y++)
        for (int x = bx; x < bx + BLOCK_PX; x++) {
            size_t i = (size_t)y * (size_t)actual->width_px + (size_t)x;
            if (actual->clipped[i] != 0 || parts->leave_out[i] != 0)
                return false;
            for (int k = 0; k < fit->sum->terms; k++)
                if (fit->sum->picture[k]->clipped[i] != 0)
                    return false;
        }
    return true;
}

static void gather_rows(const struct pc_parts *parts, const struct pc_picture *actual, struct fit *fit)
{
    int across = actual->width_px / BLOCK_PX, down = actual->height_px / BLOCK_PX;
    int step = (int)ceil(sqrt((double)across * down / BLOCKS_MAX));
    if (step < 1)
        step = 1;
    for (int j = 0; j < down; j += step)
        for (int i = 0; i < across; i += step) {
            int bx = i * BLOCK_PX, by = j * BLOCK_PX;
            if (!block_usable(parts, fit, actual, bx, by))
                continue;
            for (int c = 0; c < actual->channels; c++) {
                double level = block_mean(actual, bx, by, c);
                double noise =
                    (actual->noise.offset_var[c] + actual->noise.per_signal_var[c] * fmax(level, 0.0)) /
                    (BLOCK_PX * BLOCK_PX);
                if (!(level > 0.0))
                    continue;
                fit->b[fit->rows] = level;
                fit->sigma[fit->rows] = hypot(sqrt(noise), MODEL_ERROR_RATIO * level);
                for (int k = 0; k < fit->sum->terms; k++) {
                    double unit = fit->sum->unit[k] * block_mean(fit->sum->picture[k], bx, by, c);
                    fit->a[fit->rows * fit->sum->terms + k] = unit;
                    fit->sum->mean[k] += unit;
                }
                fit->rows++;
            }
        }
    for (int k = 0; k < fit->sum->terms && fit->rows > 0; k++)
        fit->sum->mean[k] /= fit->rows;
}

static double residual_of(const struct fit *fit, int row)
{
    double sum = 0.0;
    for (int k = 0; k < fit->sum->terms; k++)
        sum += fit->sum->weight[k] * fit->a[row * fit->sum->terms + k];
    return (fit->b[row] - sum) / fit->sigma[row];
}

// Huber's weight: a block that cannot be explained (something moved) pulls no more than a middling one.
static double robust_weight(double residual)
{
    double r = fabs(residual);
    return r > 1.5 ? sqrt(1.5 / r) : 1.0;
}

// One least-squares solution over the terms in use; those that come out negative are put to zero one by one.
static bool solve_terms(struct fit *fit, const double *row_weight, double *wa, double *wb)
{
    bool use[PC_BLOCKS_TERMS_MAX];
    for (int k = 0; k < fit->sum->terms; k++)
        use[k] = true;
    for (;;) {
        int columns[PC_BLOCKS_TERMS_MAX], n = 0;
        for (int k = 0; k < fit->sum->terms; k++)
            if (use[k])
                columns[n++] = k;
        if (n == 0 || fit->rows < 2 * n)
            return false;
        for (int r = 0; r < fit->rows; r++) {
            double w = row_weight[r] / fit->sigma[r];
            for (int k = 0; k < n; k++)
                wa[r * n + k] = w * fit->a[r * fit->sum->terms + columns[k]];
            wb[r] = w * fit->b[r];
        }
        double x[PC_BLOCKS_TERMS_MAX];
        if (!pc_linalg_least_squares(fit->rows, n, wa, wb, x))
            return false;
        int worst = 0;
        for (int k = 1; k < n; k++)
            if (x[k] < x[worst])
                worst = k;
        if (x[worst] < 0.0) {
            use[columns[worst]] = false;
            continue;
        }
        memset(fit->sum->weight, 0, sizeof fit->sum->weight);
        for (int k = 0; k < n; k++)
            fit->sum->weight[columns[k]] = x[k];
        return true;
    }
}

// Variances of the weights: the diagonal of (A'A)^-1 scaled by the residual's own variance.
static void find_variances(struct fit *fit, const double *row_weight)
{
    int n = fit->sum->terms;
    double normal[PC_BLOCKS_TERMS_MAX * PC_BLOCKS_TERMS_MAX] = {0}, sum = 0.0;
    for (int r = 0; r < fit->rows; r++) {
        double w = row_weight[r] / fit->sigma[r], res = row_weight[r] * residual_of(fit, r);
        sum += res * res;
        for (int i = 0; i < n; i++)
            for (int j = 0; j < n; j++)
                normal[i * n + j] += w * w * fit->a[r * n + i] * fit->a[r * n + j];
    }
    double scale = fmax(1.0, sum / (fit->rows - n));
    for (int k = 0; k < n; k++) {
        double unit[PC_BLOCKS_TERMS_MAX] = {0}, column[PC_BLOCKS_TERMS_MAX];
        unit[k] = 1.0;
        fit->sum->variance[k] =
            pc_linalg_least_squares(n, n, normal, unit, column) ? column[k] * scale : (double)INFINITY;
    }
}

bool pc_blocks_explain(const struct pc_parts *parts, const struct pc_picture *actual, struct pc_blocks *sum)
{
    struct fit of_sum = {.sum = sum}, *fit = &of_sum;
    size_t room = 4 * (size_t)BLOCKS_MAX * (size_t)actual->channels, terms = (size_t)fit->sum->terms;
    double *memory = calloc(room * (2 * terms + 4), sizeof *memory);
    PC_ASSERT(memory != NULL);
    memset(sum->mean, 0, sizeof sum->mean);
    fit->a = memory;
    fit->b = fit->a + room * terms;
    fit->sigma = fit->b + room;
    double *wa = fit->sigma + room, *wb = wa + room * terms, *row_weight = wb + room;
    gather_rows(parts, actual, fit);
    for (int r = 0; r < fit->rows; r++)
        row_weight[r] = 1.0;
    bool good = fit->rows > 10 * fit->sum->terms;
    for (int i = 0; i < FITS && good; i++) {
        good = solve_terms(fit, row_weight, wa, wb);
        for (int r = 0; r < fit->rows && good; r++)
            row_weight[r] = robust_weight(residual_of(fit, r));
    }
    if (good)
        find_variances(fit, row_weight);
    free(memory);
    return good;
}
