// SPDX-License-Identifier: Apache-2.0
// Samples are put into bands of equal counts by level; each band gives one point from its quietest samples; a
// straight line is laid through the points that agree, for a band full of detail reads high and none reads
// low.
#include "image/picture/transfer_priv.h"

enum {
    BANDS_MAX = 16,
    BAND_SAMPLES = PC_TRANSFER_SAMPLES_LEAST, // so that a tenth is a handful
};

static const double AGREE_RATIO = 1.25; // a band further above the line holds detail in every sample

struct band {
    double var, x_offset, x_signal;
};

static int by_level(const void *a, const void *b)
{
    const struct pc_transfer_sample *p = a, *q = b;
    if (p->level != q->level)
        return p->level < q->level ? -1 : 1;
    return (p->var > q->var) - (p->var < q->var);
}

static int by_var(const void *a, const void *b)
{
    const struct pc_transfer_sample *p = a, *q = b;
    if (p->var != q->var)
        return p->var < q->var ? -1 : 1;
    return (p->level > q->level) - (p->level < q->level);
}

static double normal_below(double z)
{
    return 0.5 * erfc(-z * M_SQRT1_2);
}

// The mean of the lowest share of variances over the true one, if all are plain: chi-square with n
// degrees, E[X | X below its quantile q] = n F_{n+2}(q) / share, with Wilson and Hilferty's normal form for F
// (PNAS 17:684, 1931).
static double quiet_mean_ratio(int freedom, double share)
{
    double n = freedom, n2 = n + 2.0, low = -8.0, high = 8.0;
    for (int i = 0; i < 60; i++) {
        double z = 0.5 * (low + high);
        if (normal_below(z) < share)
            low = z;
        else
            high = z;
    }
    double root = 1.0 - 2.0 / (9.0 * n) + low * sqrt(2.0 / (9.0 * n)), quantile = n * root * root * root;
    double z2 = (cbrt(quantile / n2) - 1.0 + 2.0 / (9.0 * n2)) / sqrt(2.0 / (9.0 * n2));
    return normal_below(z2) / share;
}

// Samples become bands: sorted by level, cut into equal counts, each the mean of its quietest share.
static int bands_from_samples(struct pc_transfer_sample *samples, int count, int freedom, double share,
                              struct band bands[BANDS_MAX])
{
    int band_count = count / BAND_SAMPLES < BANDS_MAX ? count / BAND_SAMPLES : BANDS_MAX;
    double ratio = quiet_mean_ratio(freedom, share);
    qsort(samples, (size_t)count, sizeof *samples, by_level);
    for (int b = 0; b < band_count; b++) {
        int first = (int)((int64_t)count * b / band_count);
        int end = (int)((int64_t)count * (b + 1) / band_count);
        qsort(samples + first, (size_t)(end - first), sizeof *samples, by_var);
        int quiet = (int)lround(share * (end - first));
        struct band band = {0};
        for (int i = first; i < first + quiet; i++) {
            band.var += samples[i].var / ratio / quiet;
            band.x_offset += samples[i].x_offset / quiet;
            band.x_signal += samples[i].x_signal / quiet;
        }
        bands[b] = band;
    }
    return band_count;
}

static double line_at(const struct pc_transfer_line *line, const struct band *band)
{
    return line->offset_var * band->x_offset + line->per_signal_var * band->x_signal;
}

// How ill a line fits: below it by so much counts in full, far above it counts no more (detail).
static double line_misfit(const struct pc_transfer_line *line, const struct band *bands, int count)
{
    double sum = 0.0;
    for (int b = 0; b < count; b++) {
        double at = line_at(line, &bands[b]);
        double off = at > 0.0 && bands[b].var > 0.0 ? log(bands[b].var / at) : -HUGE_VAL;
        sum += fmin(fabs(off), off > 0.0 ? 2.0 * log(AGREE_RATIO) : 10.0);
    }
    return sum;
}

static void line_try(struct pc_transfer_line line, const struct band *bands, int count,
                     struct pc_transfer_line *best, double *least)
{
    if (!(line.offset_var >= 0.0 && line.per_signal_var >= 0.0))
        return;
    double misfit = line_misfit(&line, bands, count);
    if (misfit < *least) {
        *least = misfit;
        *best = line;
    }
}

// The best of the lines through two bands, or through one and nothing else but offset or signal.
static struct pc_transfer_line line_start(const struct band *bands, int count)
{
    struct pc_transfer_line best = {0};
    double least = HUGE_VAL;
    for (int i = 0; i < count; i++) {
        const struct band *p = &bands[i];
        line_try((struct pc_transfer_line){p->var / p->x_offset, 0.0}, bands, count, &best, &least);
        if (p->x_signal > 0.0)
            line_try((struct pc_transfer_line){0.0, p->var / p->x_signal}, bands, count, &best, &least);
        for (int j = 0; j < i; j++) {
            const struct band *q = &bands[j];
            double det = p->x_offset * q->x_signal - p->x_signal * q->x_offset;
            if (fabs(det) > 0.0)
                line_try((struct pc_transfer_line){(p->var * q->x_signal - p->x_signal * q->var) / det,
                                                   (p->x_offset * q->var - p->var * q->x_offset) / det},
                         bands, count, &best, &least);
        }
    }
    return best;
}

// Weighted least squares with neither term below zero.
static struct pc_transfer_line line_solve(const struct band *bands, const double *weight, int count)
{
    double oo = 0, os = 0, ss = 0, ov = 0, sv = 0;
    for (int b = 0; b < count; b++) {
        double w = weight[b], o = bands[b].x_offset, s = bands[b].x_signal, v = bands[b].var;
        oo += w * o * o;
        os += w * o * s;
        ss += w * s * s;
        ov += w * o * v;
        sv += w * s * v;
    }
    double det = oo * ss - os * os;
    struct pc_transfer_line both = {(ov * ss - os * sv) / det, (oo * sv - os * ov) / det};
    if (det > 1e-9 * oo * ss && both.offset_var >= 0.0 && both.per_signal_var >= 0.0)
        return both;
    bool signal_explains_more = ss > 0.0 && sv * sv / ss > ov * ov / oo;
    return signal_explains_more ? (struct pc_transfer_line){0.0, sv / ss}
                                : (struct pc_transfer_line){ov / oo, 0.0};
}

static struct pc_transfer_line line_through(const struct band *bands, int count)
{
    struct pc_transfer_line line = line_start(bands, count);
    for (int round = 0; round < 10; round++) {
        double weight[BANDS_MAX];
        for (int b = 0; b < count; b++) {
            double at = line_at(&line, &bands[b]);
            if (!(at > 0.0))
                return line;
            double above = fmax(bands[b].var / at - 1.0, 0.0) / (AGREE_RATIO - 1.0);
            weight[b] = 1.0 / (at * at * (1.0 + above * above * above * above)); // equal relative errors
        }
        line = line_solve(bands, weight, count);
    }
    return line;
}

struct pc_transfer_line pc_transfer_fit(struct pc_transfer_sample *samples, int count, int freedom,
                                        double share)
{
    struct band bands[BANDS_MAX];
    if (count < PC_TRANSFER_SAMPLES_LEAST)
        return (struct pc_transfer_line){0};
    return line_through(bands, bands_from_samples(samples, count, freedom, share, bands));
}
