// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"
#include "base/linalg.h"

enum { ROUNDS = 12, LEAST_TILES = 4 };

static const double LEAST_CORRELATION = 0.3;
static const double OWN_SD_PX =
    0.04;                        // of a layer's pixel: what tiles disagree by beside noise (shading, corners)
static const double REACH = 4.0; // standard deviations at which a tile's vote has fallen to nothing
static const double AGREE = 3.0;
static const double AGREE_WITHIN = 0.5; // of a layer's pixel, along the direction that the tile knows best

// Half of W = (covariance + own^2)^-1 as L^T with L L^T = W, from the tile's information.
static void half_weight(const struct tile *tile, double own_px, double u[3])
{
    // (I^-1 + s I)^-1 = I (E + s I)^-1, written out for 2 x 2, without inverting a singular I.
    double s = own_px * own_px, a = tile->info[0], b = tile->info[1], d = tile->info[2];
    double p = 1.0 + s * a, q = s * b, r = 1.0 + s * d, det = p * r - q * q;
    double xx = (a * r - b * q) / det, xy = (b * p - a * q) / det, yy = (d * p - b * q) / det;
    u[0] = sqrt(xx > 1e-12 ? xx : 1e-12);
    u[1] = xy / u[0];
    double rest = yy - u[1] * u[1];
    u[2] = sqrt(rest > 1e-12 ? rest : 1e-12);
}

struct vote {
    double x, y;   // in the reference
    double tx, ty; // found at
    double u[3];   // weights
    double layer_px, correlation;
    double weight; // robust
    double misfit; // standard deviations
};

static void weigh(struct vote *votes, int count, const struct warp *warp, double reach)
{
    for (int i = 0; i < count; i++) {
        struct vote *v = &votes[i];
        double x, y;
        warp_point(warp, v->x, v->y, &x, &y);
        double ex = v->tx - x, ey = v->ty - y;
        v->misfit = hypot(v->u[0] * ex + v->u[1] * ey, v->u[2] * ey);
        double t = v->misfit / reach;
        v->weight = t < 1.0 ? (1.0 - t * t) : 0.0;
    }
}

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median_misfit(const struct vote *votes, int count, double *work)
{
    for (int i = 0; i < count; i++)
        work[i] = votes[i].misfit;
    qsort(work, (size_t)count, sizeof *work, compare_doubles);
    return work[count / 2];
}

static bool solve(const struct vote *votes, int count, double unit_px, double *rows, double *right,
                  struct warp *warp)
{
    int m = 0;
    for (int i = 0; i < count; i++) {
        const struct vote *v = &votes[i];
        if (v->weight <= 0.0)
            continue;
        // e = target - J theta, rows of U e with U = [u0 u1; 0 u2]; theta = (a, b) * unit, tx, ty.
        double jx[4] = {v->x / unit_px, -v->y / unit_px, 1.0, 0.0};
        double jy[4] = {v->y / unit_px, v->x / unit_px, 0.0, 1.0};
        for (int k = 0; k < 4; k++) {
            rows[4 * m + k] = v->weight * (v->u[0] * jx[k] + v->u[1] * jy[k]);
            rows[4 * (m + 1) + k] = v->weight * v->u[2] * jy[k];
        }
        right[m] = v->weight * (v->u[0] * v->tx + v->u[1] * v->ty);
        right[m + 1] = v->weight * v->u[2] * v->ty;
        m += 2;
    }
    double theta[4];
    if (m < 2 * LEAST_TILES || !pc_linalg_least_squares(m, 4, rows, right, theta))
        return false;
    *warp = (struct warp){theta[0] / unit_px, theta[1] / unit_px, theta[2], theta[3]};
    return true;
}

// 95 % of where a point lands, root mean square over the picture, from the votes that count.
static double tolerance(const struct vote *votes, int count, const double half_px[2], double scale)
{
    double m[4][4] = {{0}};
    for (int i = 0; i < count; i++) {
        const struct vote *v = &votes[i];
        double jx[4] = {v->x, -v->y, 1.0, 0.0}, jy[4] = {v->y, v->x, 0.0, 1.0};
        for (int k = 0; k < 4; k++)
            for (int l = 0; l < 4; l++) {
                double p = v->u[0] * jx[k] + v->u[1] * jy[k], q = v->u[0] * jx[l] + v->u[1] * jy[l];
                m[k][l] += v->weight * v->weight * (p * q + v->u[2] * jy[k] * v->u[2] * jy[l]);
            }
    }
    double var[4];
    for (int k = 0; k < 4; k++) {
        double a[16], x[4] = {0};
        memcpy(a, m, sizeof a);
        x[k] = 1.0;
        var[k] = pc_align_solve_small(4, a, x) ? x[k] : HUGE_VAL;
    }
    double spread = (half_px[0] * half_px[0] + half_px[1] * half_px[1]) / 3.0; // mean of x^2 + y^2
    double mean = 0.5 * (var[2] + var[3]) + 0.5 * (var[0] + var[1]) * spread;  // per axis
    return 2.45 * scale * sqrt(mean); // 95 % of a two-dimensional Gaussian lies within 2.45 sd
}

// The misfit in pixels along the direction that the tile knows best.
static double misplaced_px(const struct vote *v)
{
    double xx = v->u[0] * v->u[0], xy = v->u[0] * v->u[1], yy = v->u[1] * v->u[1] + v->u[2] * v->u[2];
    return v->misfit / sqrt(0.5 * (xx + yy + hypot(xx - yy, 2.0 * xy)));
}

static double median_of(const struct vote *votes, int count, bool y, const struct warp *warp, double *work)
{
    for (int i = 0; i < count; i++) {
        double ox, oy;
        warp_point(warp, votes[i].x, votes[i].y, &ox, &oy);
        work[i] = y ? votes[i].ty - oy : votes[i].tx - ox;
    }
    qsort(work, (size_t)count, sizeof *work, compare_doubles);
    return work[count / 2];
}

bool pc_align_fit(const struct tile *tiles, int count, double half_width_px, double half_height_px,
                  struct fit *fit)
{
    fit->structured = fit->agreeing = 0;
    fit->correlation = 0.0;
    fit->tolerance_px = HUGE_VAL;
    struct vote *votes = calloc((size_t)count + 1, sizeof *votes);
    double *work = calloc((size_t)count * 11 + 11, sizeof *work); // medians, rows, right-hand sides
    PC_ASSERT(votes != NULL && work != NULL);
    int n = 0;
    for (int i = 0; i < count; i++) {
        const struct tile *t = &tiles[i];
        if (!t->structured)
            continue;
        fit->structured++;
        if (!t->found || t->correlation < LEAST_CORRELATION)
            continue;
        struct vote *v = &votes[n++];
        v->x = t->x_px;
        v->y = t->y_px;
        v->tx = t->found_x_px;
        v->ty = t->found_y_px;
        v->layer_px = t->layer_px;
        v->correlation = t->correlation;
        half_weight(t, OWN_SD_PX * t->layer_px, v->u);
    }
    bool good = n >= LEAST_TILES;
    if (good) {
        struct warp warp = fit->warp;
        double mx = median_of(votes, n, false, &warp, work), my = median_of(votes, n, true, &warp, work);
        warp.tx += mx;
        warp.ty += my;
        double scale = 1.0;
        for (int round = 0; good && round < ROUNDS; round++) {
            weigh(votes, n, &warp, REACH * scale);
            // The median misfit of a two-dimensional Gaussian is 1.18 sd. Never below what the tiles say of
            // themselves, and wide at first, while rotation and scale are not in the fit yet.
            double least = round < 3 ? 3.0 : 1.0;
            scale = median_misfit(votes, n, work) / 1.1774;
            scale = scale < least ? least : scale;
            weigh(votes, n, &warp, REACH * scale);
            good = solve(votes, n, half_width_px, work + count, work + 9 * count, &warp);
        }
        if (good) {
            weigh(votes, n, &warp, REACH * scale);
            for (int i = 0; i < n; i++)
                if (votes[i].misfit < AGREE * scale &&
                    misplaced_px(&votes[i]) < AGREE_WITHIN * votes[i].layer_px)
                    work[fit->agreeing++] = votes[i].correlation;
            qsort(work, (size_t)fit->agreeing, sizeof *work, compare_doubles);
            fit->correlation = fit->agreeing > 0 ? work[fit->agreeing / 2] : 0.0;
            fit->warp = warp;
            const double half_px[2] = {half_width_px, half_height_px};
            fit->tolerance_px = tolerance(votes, n, half_px, scale);
        }
    }
    free(votes);
    free(work);
    return good;
}
