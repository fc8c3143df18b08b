// SPDX-License-Identifier: Apache-2.0
// How much of a light one part of it holds against another, what is not its light set apart.
#include "base/linalg.h"
#include "light/parts/parts_priv.h"

enum { BLOCK_PX = 8, BLOCKS_MAX = 4000, FITS = 6, LEAST_ROWS = 60 };

// What may be left in a part besides its light, known beforehand (standard deviations): ambient, where it was
// not what its two frames foretell, and a black level that wandered, of saturation.
static const double AMBIENT_LEFT_RATIO = 0.01, BLACK_LEFT_RATIO = 0.0015;
static const double MODEL_ERROR_RATIO = 0.02; // lens and sensor repeat no better than this block by block
static const double HUBER = 1.5;              // standard deviations

struct row {
    double light, ambient, level, noise_var; // of the bright part, the ambient, the faint part
};

static void block_means(const struct pc_picture *p, int bx, int by, double mean[3])
{
    memset(mean, 0, 3 * sizeof *mean);
    for (int y = by; y < by + BLOCK_PX; y++)
        for (int x = bx; x < bx + BLOCK_PX; x++) {
            const float *px = p->px + ((size_t)y * (size_t)p->width_px + (size_t)x) * (size_t)p->channels;
            for (int c = 0; c < p->channels; c++)
                mean[c] += (double)px[c] / (BLOCK_PX * BLOCK_PX);
        }
}

static bool block_usable(const struct pc_parts *parts, const struct pc_picture *bright,
                         const struct pc_picture *faint, int bx, int by)
{
    for (int y = by; y < by + BLOCK_PX; y++)
        for (int x = bx; x < bx + BLOCK_PX; x++) {
            size_t i = (size_t)y * (size_t)faint->width_px + (size_t)x;
            if ((bright->clipped[i] | faint->clipped[i] | parts->ambient.clipped[i] | parts->leave_out[i]) !=
                0)
                return false;
        }
    return true;
}

static int gather_rows(const struct pc_parts *parts, const struct pc_picture *bright,
                       const struct pc_picture *faint, struct row *rows)
{
    int across = faint->width_px / BLOCK_PX, down = faint->height_px / BLOCK_PX, count = 0;
    int step = (int)fmax(1.0, ceil(sqrt((double)across * down / BLOCKS_MAX)));
    for (int by = 0; by + BLOCK_PX <= faint->height_px; by += step * BLOCK_PX)
        for (int bx = 0; bx + BLOCK_PX <= faint->width_px; bx += step * BLOCK_PX) {
            if (!block_usable(parts, bright, faint, bx, by))
                continue;
            double a[3], b[3], ambient[3];
            block_means(bright, bx, by, a);
            block_means(faint, bx, by, b);
            block_means(&parts->ambient, bx, by, ambient);
            for (int c = 0; c < faint->channels; c++) {
                double signal = fmax(a[c], 0.0) + ambient[c]; // not b's own noise, which would choose
                double var = faint->noise.offset_var[c] + faint->noise.per_signal_var[c] * signal;
                rows[count++] = (struct row){.light = a[c],
                                             .ambient = ambient[c],
                                             .level = b[c],
                                             .noise_var = var / (BLOCK_PX * BLOCK_PX)};
            }
        }
    return count;
}

// One step of iteratively reweighted least squares (Huber): x is ratio, ambient left, black left.
static bool step(const struct row *rows, int count, double x[3], double inverse[3][3])
{
    double normal[3][3] = {{0}}, right[3] = {0};
    normal[1][1] = 1.0 / (AMBIENT_LEFT_RATIO * AMBIENT_LEFT_RATIO);
    normal[2][2] = 1.0 / (BLACK_LEFT_RATIO * BLACK_LEFT_RATIO);
    for (int r = 0; r < count; r++) {
        const double a[3] = {rows[r].light, rows[r].ambient, 1.0};
        double var = rows[r].noise_var + pow(MODEL_ERROR_RATIO * x[0] * a[0], 2);
        double off = fabs(rows[r].level - x[0] * a[0] - x[1] * a[1] - x[2]) / sqrt(var);
        double weight = (off > HUBER ? HUBER / off : 1.0) / var;
        for (int i = 0; i < 3; i++) {
            right[i] += weight * a[i] * rows[r].level;
            for (int j = 0; j < 3; j++)
                normal[i][j] += weight * a[i] * a[j];
        }
    }
    if (!pc_linalg_invert3(normal, inverse))
        return false;
    pc_linalg_apply3(inverse, right, x);
    return true;
}

bool pc_parts_light_ratio(const struct pc_parts *parts, const struct pc_picture *bright,
                          const struct pc_picture *faint, double *ratio, double *se)
{
    struct row *rows = calloc(4 * (size_t)BLOCKS_MAX * 3, sizeof *rows);
    PC_ASSERT(rows != NULL);
    int count = gather_rows(parts, bright, faint, rows);
    bool good = count >= LEAST_ROWS;
    double x[3] = {1.0, 0.0, 0.0}, inverse[3][3];
    for (int i = 0; i < FITS && good; i++)
        good = step(rows, count, x, inverse);
    free(rows);
    if (good) {
        *ratio = x[0];
        *se = sqrt(inverse[0][0]);
    }
    return good;
}
