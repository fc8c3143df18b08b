// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"

enum {
    REF = TILE + 2,                                  // one pixel around for the gradient
    OTHER = TILE + 2 * (TILE_SEARCH_MAX + TILE_PAD), // around the other's patch at the widest search
    STEPS = 10,
    LEAST_SEEN = TILE * TILE * 6 / 10,
};

static const double STRUCTURE_SD_PX = 0.25; // foretold, along the best-known direction
static const double FAR_COSTS = 0.004; // correlation a pixel: of a pattern that repeats, the nearest match
static const double PRIOR_SD_PX = 1.0; // of what a tile may still move after the search, across edges unseen
static const double TUKEY = 4.685;     // 95 % efficiency on Gaussian residuals

bool pc_align_solve_small(int n, double *a, double *b)
{
    for (int k = 0; k < n; k++) {
        for (int j = 0; j < k; j++)
            a[k * n + k] -= a[k * n + j] * a[k * n + j];
        if (!(a[k * n + k] > 1e-12))
            return false;
        a[k * n + k] = sqrt(a[k * n + k]);
        for (int i = k + 1; i < n; i++) {
            for (int j = 0; j < k; j++)
                a[i * n + k] -= a[i * n + j] * a[k * n + j];
            a[i * n + k] /= a[k * n + k];
        }
    }
    for (int i = 0; i < n; i++) {
        for (int j = 0; j < i; j++)
            b[i] -= a[i * n + j] * b[j];
        b[i] /= a[i * n + i];
    }
    for (int i = n - 1; i >= 0; i--) {
        for (int j = i + 1; j < n; j++)
            b[i] -= a[j * n + i] * b[j];
        b[i] /= a[i * n + i];
    }
    return true;
}

// Both sides' features, and the other's laid on the reference's pixels at the present estimate.
struct pair {
    float a[REF * REF], na[REF * REF];
    float b[OTHER * OTHER], nb[OTHER * OTHER];
    int side, left, top; // of the other's patch
    double origin_x, origin_y, ax,
        bx; // index in the patch of reference pixel (i, j): origin + [ax -bx; bx ax](i, j)
    float moved[REF * REF];
    float ok[REF * REF];
};

// Lays the other's patch, shifted by (dx, dy) of its pixels, on side x side of the reference's pixels, which
// begin before pixels ahead of the tile's first (bicubic, Catmull-Rom). ok: 1 where it could be used, else 0.
static void lay(const struct pair *pair, double dx, double dy, int side, int before, float *to, float *ok)
{
    for (int j = 0; j < side; j++)
        for (int i = 0; i < side; i++) {
            int at = j * side + i;
            double px = pair->origin_x + dx + pair->ax * (i - before) - pair->bx * (j - before);
            double py = pair->origin_y + dy + pair->bx * (i - before) + pair->ax * (j - before);
            int x = (int)px, y = (int)py; // inside the patch both are positive
            ok[at] = to[at] = 0.0f;
            if (px < 1.0 || py < 1.0 || x + 2 >= pair->side || y + 2 >= pair->side)
                continue;
            const float *noise = pair->nb + y * pair->side + x;
            if (noise[0] < 0.0f || noise[1] < 0.0f || noise[pair->side] < 0.0f ||
                noise[pair->side + 1] < 0.0f)
                continue;
            float wx[4], wy[4], value = 0.0f;
            cubic_weights((float)(px - x), wx);
            cubic_weights((float)(py - y), wy);
            for (int k = 0; k < 4; k++) {
                const float *row = pair->b + (y - 1 + k) * pair->side + x - 1;
                value += wy[k] * (wx[0] * row[0] + wx[1] * row[1] + wx[2] * row[2] + wx[3] * row[3]);
            }
            to[at] = value;
            ok[at] = 1.0f;
        }
}

// Correlation of the reference's features with a patch of the other's (stride floats a row); bad pixels are
// those of negative noise and of zero ok. Sums are kept by column so that they may go side by side.
static double correlate(const struct pair *pair, const float *patch, const float *ok, int stride, int *seen)
{
    float n[TILE] = {0}, sa[TILE] = {0}, sb[TILE] = {0}, aa[TILE] = {0}, bb[TILE] = {0}, ab[TILE] = {0};
    for (int j = 0; j < TILE; j++) {
        const float *a = pair->a + (j + 1) * REF + 1, *na = pair->na + (j + 1) * REF + 1;
        const float *b = patch + j * stride, *good = ok + j * stride;
        for (int i = 0; i < TILE; i++) {
            float w = na[i] >= 0.0f ? good[i] : 0.0f;
            n[i] += w;
            sa[i] += w * a[i];
            sb[i] += w * b[i];
            aa[i] += w * a[i] * a[i];
            bb[i] += w * b[i] * b[i];
            ab[i] += w * a[i] * b[i];
        }
    }
    double tn = 0, ta = 0, tb = 0, taa = 0, tbb = 0, tab = 0;
    for (int i = 0; i < TILE; i++) {
        tn += (double)n[i];
        ta += (double)sa[i];
        tb += (double)sb[i];
        taa += (double)aa[i];
        tbb += (double)bb[i];
        tab += (double)ab[i];
    }
    *seen = (int)tn;
    if (tn < 2.0)
        return 0.0;
    double va = taa - ta * ta / tn, vb = tbb - tb * tb / tn;
    return va > 1e-6 && vb > 1e-6 ? (tab - ta * tb / tn) / sqrt(va * vb) : 0.0;
}

static double pair_correlation(const struct pair *pair, int *seen)
{
    return correlate(pair, pair->moved + REF + 1, pair->ok + REF + 1, REF, seen);
}

// Whole-pixel search around the warp: the other's patch is laid once with room around, rotation and scale
// included.
static double pair_search(const struct pair *pair, int search, double *dx, double *dy, double *at_warp,
                          float *surface)
{
    enum { WIDE = TILE + 2 * TILE_SEARCH_MAX };
    float wide[WIDE * WIDE], ok[WIDE * WIDE];
    int side = TILE + 2 * search, seen;
    lay(pair, 0.0, 0.0, side, search, wide, ok);
    double best = -2.0;
    *dx = *dy = 0.0;
    for (int v = 0; v <= 2 * search; v++)
        for (int u = 0; u <= 2 * search; u++) {
            double c = correlate(pair, wide + v * side + u, ok + v * side + u, side, &seen);
            bool enough = seen >= LEAST_SEEN;
            if (surface != NULL)
                surface[v * (2 * search + 1) + u] = enough ? (float)c : 0.0f;
            if (u == search && v == search)
                *at_warp = enough ? c : 0.0;
            c -= FAR_COSTS * hypot(u - search, v - search);
            if (!enough || c <= best)
                continue;
            best = c;
            *dx = u - search;
            *dy = v - search;
        }
    return best;
}

// What one step of the refinement sums up. Unknowns: the shift (2), the gain of the reference's contrast, an
// offset.
struct normal {
    double m[4][4], r[4];
    double gg[3];    // of the gradient alone, weighted
    double noise;    // mean variance of the difference as the layers' noise has it
    double residual; // mean square, weighted
    double weight;
    int seen;
};

static double residual_scale(const struct pair *pair, double gain, double offset)
{
    double sum = 0.0;
    int n = 0;
    for (int j = 1; j <= TILE; j++)
        for (int i = 1; i <= TILE; i++) {
            int at = j * REF + i;
            if (pair->ok[at] <= 0.0f || pair->na[at] < 0.0f)
                continue;
            sum += fabs((double)pair->moved[at] - gain * (double)pair->a[at] - offset);
            n++;
        }
    return n > 0 ? 1.2533 * sum / n : 0.0; // sqrt(pi / 2): mean absolute to standard deviation
}

static void pair_sum(const struct pair *pair, double gain, double offset, double mean_nb, struct normal *s)
{
    memset(s, 0, sizeof *s);
    double scale = residual_scale(pair, gain, offset), reach = TUKEY * (scale > 1e-4 ? scale : 1e-4);
    for (int j = 1; j <= TILE; j++)
        for (int i = 1; i <= TILE; i++) {
            int at = j * REF + i;
            if (pair->ok[at] <= 0.0f || pair->na[at] < 0.0f)
                continue;
            double a = (double)pair->a[at], r = (double)pair->moved[at] - gain * a - offset;
            double t = r / reach, w = fabs(t) < 1.0 ? (1.0 - t * t) * (1.0 - t * t) : 0.0;
            // The mean of both sides' gradients: noise in either alone would pull the shift short.
            double gx = 0.25 * ((double)(pair->a[at + 1] - pair->a[at - 1]) * gain +
                                (double)(pair->moved[at + 1] - pair->moved[at - 1]));
            double gy = 0.25 * ((double)(pair->a[at + REF] - pair->a[at - REF]) * gain +
                                (double)(pair->moved[at + REF] - pair->moved[at - REF]));
            double row[4] = {gx, gy, -a, -1.0};
            for (int k = 0; k < 4; k++) {
                for (int l = 0; l <= k; l++)
                    s->m[k][l] += w * row[k] * row[l];
                s->r[k] -= w * row[k] * r;
            }
            s->gg[0] += w * gx * gx;
            s->gg[1] += w * gx * gy;
            s->gg[2] += w * gy * gy;
            s->noise += w * (gain * gain * (double)pair->na[at] + mean_nb);
            s->residual += w * r * r;
            s->weight += w;
            s->seen++;
        }
    if (s->weight > 0.0) {
        s->noise /= s->weight;
        s->residual /= s->weight;
    }
}

static double mean_noise(const struct pair *pair)
{
    double sum = 0.0;
    int n = 0;
    for (int i = 0; i < pair->side * pair->side; i++)
        if (pair->nb[i] >= 0.0f) {
            sum += (double)pair->nb[i];
            n++;
        }
    return n > 0 ? sum / n : 0.0;
}

// Inverse covariance of the shift, layer pixels^-2: gradients over the larger of the foretold noise and what
// is left, the latter brought to its unsmoothed equivalent: smoothed noise reaches as many times farther as
// it is weaker, so that the information about slow structure stays what it was.
static void information(const struct normal *s, double info[3])
{
    double left = s->residual / SMOOTHED_VAR;
    double var = left > s->noise ? left : s->noise;
    for (int k = 0; k < 3; k++)
        info[k] = var > 0.0 ? s->gg[k] / var : 0.0;
}

static bool pair_refine(struct pair *pair, double *dx, double *dy, double mean_nb, struct normal *s)
{
    double gain = 1.0, offset = 0.0, from_x = *dx, from_y = *dy;
    for (int step = 0; step < STEPS; step++) {
        lay(pair, *dx, *dy, REF, 1, pair->moved, pair->ok);
        pair_sum(pair, gain, offset, mean_nb, s);
        if (s->seen < LEAST_SEEN || s->weight < 1.0)
            return false;
        double m[16], x[4];
        for (int k = 0; k < 4; k++) {
            for (int l = 0; l < 4; l++)
                m[k * 4 + l] = l <= k ? s->m[k][l] : s->m[l][k];
            x[k] = s->r[k];
        }
        // A weak hold on the place the search found, so that an edge seen along one direction only cannot
        // slide.
        double hold = (s->residual / SMOOTHED_VAR + s->noise) / (PRIOR_SD_PX * PRIOR_SD_PX);
        m[0] += hold;
        m[5] += hold;
        x[0] -= hold * (*dx - from_x);
        x[1] -= hold * (*dy - from_y);
        m[10] += 1e-6 * s->weight;
        m[15] += 1e-6 * s->weight;
        if (!pc_align_solve_small(4, m, x))
            return false;
        double length = hypot(x[0], x[1]), shorten = length > 0.7 ? 0.7 / length : 1.0;
        *dx += shorten * x[0];
        *dy += shorten * x[1];
        gain += x[2];
        gain = gain < 0.1 ? 0.1 : gain > 4.0 ? 4.0 : gain;
        offset += x[3];
        if (hypot(*dx - from_x, *dy - from_y) > 1.5)
            return false;
        if (length < 0.004)
            break;
    }
    return true;
}

void pc_tile_register(const struct layer *reference, const struct layer *other, const double centre_px[2],
                      const struct warp *warp, int x0, int y0, int search_px, struct tile *tile,
                      float *surface)
{
    PC_ASSERT(search_px >= 0 && search_px <= TILE_SEARCH_MAX);
    memset(tile, 0, sizeof *tile);
    struct pair pair;
    float scratch[2 * (OTHER + 2 * FEATURE_BORDER) * (OTHER + 2 * FEATURE_BORDER) +
                  3 * OTHER * (OTHER + 2 * FEATURE_BORDER)];
    double f = reference->full_px;
    tile->layer_px = f;
    tile->x_px = (x0 + 0.5 * TILE) * f - centre_px[0];
    tile->y_px = (y0 + 0.5 * TILE) * f - centre_px[1];
    pc_layer_feature(reference, x0 - 1, y0 - 1, REF, REF, pair.a, pair.na, scratch);

    double fx, fy; // where the first pixel's centre of the tile lands in the other, as an index
    warp_point(warp, (x0 + 0.5) * f - centre_px[0], (y0 + 0.5) * f - centre_px[1], &fx, &fy);
    fx = (fx + centre_px[0]) / f - 0.5;
    fy = (fy + centre_px[1]) / f - 0.5;
    if (!(fabs(fx) < 1e6 && fabs(fy) < 1e6))
        return;
    pair.side = TILE + 2 * (search_px + TILE_PAD);
    pair.left = (int)floor(fx) - search_px - TILE_PAD;
    pair.top = (int)floor(fy) - search_px - TILE_PAD;
    pair.origin_x = fx - pair.left;
    pair.origin_y = fy - pair.top;
    pair.ax = warp->a;
    pair.bx = warp->b;
    pc_layer_feature(other, pair.left, pair.top, pair.side, pair.side, pair.b, pair.nb, scratch);

    // Is there anything to see? The reference's own gradients over both sides' noise.
    double mean_nb = mean_noise(&pair), dx, dy;
    struct normal s;
    lay(&pair, 0.0, 0.0, REF, 1, pair.moved, pair.ok);
    int seen;
    pair_correlation(&pair, &seen);
    tile->seen_ratio = seen / (double)(TILE * TILE);
    if (seen < LEAST_SEEN)
        return;
    double best = pair_search(&pair, search_px, &dx, &dy, &tile->correlation_at_warp, surface);
    if (best < -1.0)
        return;
    tile->found = pair_refine(&pair, &dx, &dy, mean_nb, &s);
    tile->correlation = pair_correlation(&pair, &seen);
    tile->dx_px = dx * f;
    tile->dy_px = dy * f;
    warp_point(warp, tile->x_px, tile->y_px, &tile->found_x_px, &tile->found_y_px);
    tile->found_x_px += tile->dx_px;
    tile->found_y_px += tile->dy_px;
    double info[3];
    information(&s, info);
    for (int k = 0; k < 3; k++)
        tile->info[k] = info[k] / (f * f);
    // Structure is judged by the foretold noise: what is left also holds everything that does not match.
    double gxx = s.gg[0] / s.noise, gxy = s.gg[1] / s.noise, gyy = s.gg[2] / s.noise;
    double most = 0.5 * (gxx + gyy + hypot(gxx - gyy, 2.0 * gxy));
    tile->structured =
        s.seen >= LEAST_SEEN && s.noise > 0.0 && most > 1.0 / (STRUCTURE_SD_PX * STRUCTURE_SD_PX);
}
