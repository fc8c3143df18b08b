// SPDX-License-Identifier: Apache-2.0
#include "shoot/check/blur.h"

#include "base/units.h"

enum { REACH = 6, SIDE_MOST = 256, PADDED = SIDE_MOST + 2 * (REACH + 1) };
static const double FINE_PX = 0.7, COARSE_PX = 1.6; // of this picture
// The slope is taken between both neighbours, which is a box of two pixels.
static const double SLOPE_VAR = 4.0 / 12.0;
static const double LEAST_SNR = 6.0;       // of a slope
static const double LEAST_CONTRAST = 0.02; // a pixel; fainter is the grain of plain things
static const double MOST_VAR = 100.0;      // softer than that there is no edge

struct kernel {
    float tap[2 * REACH + 1];
    double slope_energy; // of white noise, in a slope smoothed by it
};

static void make_kernel(double sigma_px, struct kernel *kernel)
{
    double sum = 0.0, tap[2 * REACH + 1], square = 0.0, slope = 0.0;
    for (int i = -REACH; i <= REACH; i++)
        sum += tap[i + REACH] = exp(-0.5 * i * i / (sigma_px * sigma_px));
    for (int i = 0; i <= 2 * REACH; i++)
        tap[i] /= sum;
    for (int i = -1; i <= 2 * REACH + 1; i++) {
        double left = i >= 1 ? tap[i - 1] : 0.0, right = i < 2 * REACH ? tap[i + 1] : 0.0;
        slope += 0.25 * (right - left) * (right - left);
    }
    for (int i = 0; i <= 2 * REACH; i++) {
        square += tap[i] * tap[i];
        kernel->tap[i] = (float)tap[i];
    }
    kernel->slope_energy = slope * square;
}

// A window with a margin, row by row of PADDED floats.
struct window {
    int width, height; // with the margin
    float *level, *fine, *coarse, *across;
    uint8_t *unread;
};

static void smooth(const struct window *w, const struct kernel *kernel, float *out)
{
    for (int y = 0; y < w->height; y++)
        for (int x = REACH; x < w->width - REACH; x++) {
            float sum = 0.0f;
            for (int k = -REACH; k <= REACH; k++)
                sum += kernel->tap[k + REACH] * w->level[y * PADDED + x + k];
            w->across[y * PADDED + x] = sum;
        }
    for (int y = REACH; y < w->height - REACH; y++)
        for (int x = REACH; x < w->width - REACH; x++) {
            float sum = 0.0f;
            for (int k = -REACH; k <= REACH; k++)
                sum += kernel->tap[k + REACH] * w->across[(y + k) * PADDED + x];
            out[y * PADDED + x] = sum;
        }
}

static void fill(const struct pc_picture *picture, int x0, int y0, struct window *w)
{
    int c = picture->channels == 3 ? 1 : 0;
    for (int y = 0; y < w->height; y++)
        for (int x = 0; x < w->width; x++) {
            size_t at = (size_t)(y0 + y) * (size_t)picture->width_px + (size_t)(x0 + x);
            w->level[y * PADDED + x] = picture->px[at * (size_t)picture->channels + (size_t)c];
            w->unread[y * PADDED + x] = picture->clipped[at] != 0;
        }
}

static bool near_clipped(const struct window *w, int x, int y)
{
    for (int dy = -REACH; dy <= REACH; dy += 2)
        for (int dx = -REACH; dx <= REACH; dx += 2)
            if (w->unread[(y + dy) * PADDED + x + dx] != 0)
                return true;
    return false;
}

static double slope_at(const float *s, int at, double gradient[2])
{
    gradient[0] = 0.5 * (double)(s[at + 1] - s[at - 1]);
    gradient[1] = 0.5 * (double)(s[at + PADDED] - s[at - PADDED]);
    return hypot(gradient[0], gradient[1]);
}

static void add_edges(const struct pc_picture *picture, const struct window *w, double fine_energy,
                      double coarse_energy, struct pc_blur *blur)
{
    int c = picture->channels == 3 ? 1 : 0;
    for (int y = REACH + 2; y < w->height - REACH - 2; y++)
        for (int x = REACH + 2; x < w->width - REACH - 2; x++) {
            int at = y * PADDED + x;
            double g[2], f[2], beside[2], level = (double)w->coarse[at], slope = slope_at(w->coarse, at, g);
            double noise = picture->noise.offset_var[c] + picture->noise.per_signal_var[c] * fmax(level, 0.0);
            if (!(slope * slope > LEAST_SNR * LEAST_SNR * coarse_energy * noise) ||
                !(slope > LEAST_CONTRAST * level))
                continue;
            double ux = g[0] / slope, uy = g[1] / slope;
            int step = (int)lround(ux) + PADDED * (int)lround(uy);
            if (slope < slope_at(w->coarse, at + step, beside) ||
                slope < slope_at(w->coarse, at - step, beside) || near_clipped(w, x, y))
                continue;
            slope_at(w->fine, at, f);
            double fine = f[0] * ux + f[1] * uy;
            double way = atan2(uy, ux) / PC_PI * PC_BLUR_WAYS + PC_BLUR_WAYS;
            int bin = (int)lround(way) % PC_BLUR_WAYS;
            blur->fine[bin] += (fine * fine - fine_energy * noise) / (level * level);
            blur->coarse[bin] += (slope * slope - coarse_energy * noise) / (level * level);
            blur->edges[bin]++;
        }
}

void pc_blur_add(const struct pc_picture *picture, int x0, int y0, int width, int height,
                 struct pc_blur *blur)
{
    const int margin = REACH + 1;
    struct kernel fine, coarse;
    make_kernel(FINE_PX, &fine);
    make_kernel(COARSE_PX, &coarse);
    int left = x0 > margin ? x0 - margin : 0, top = y0 > margin ? y0 - margin : 0;
    int right = x0 + width + margin, bottom = y0 + height + margin;
    right = right < picture->width_px ? right : picture->width_px;
    bottom = bottom < picture->height_px ? bottom : picture->height_px;
    float *room = calloc(4 * (size_t)PADDED * PADDED, sizeof *room);
    uint8_t *unread = calloc((size_t)PADDED * PADDED, 1);
    PC_ASSERT(room != NULL && unread != NULL);
    for (int y = top; y < bottom - 2 * margin; y += SIDE_MOST)
        for (int x = left; x < right - 2 * margin; x += SIDE_MOST) {
            struct window w = {.width = right - x < PADDED ? right - x : PADDED,
                               .height = bottom - y < PADDED ? bottom - y : PADDED,
                               .level = room,
                               .fine = room + PADDED * PADDED,
                               .coarse = room + 2 * PADDED * PADDED,
                               .across = room + 3 * PADDED * PADDED,
                               .unread = unread};
            fill(picture, x, y, &w);
            smooth(&w, &fine, w.fine);
            smooth(&w, &coarse, w.coarse);
            add_edges(picture, &w, fine.slope_energy, coarse.slope_energy, blur);
        }
    free(room);
    free(unread);
}

void pc_blur_join(struct pc_blur *sum, const struct pc_blur *other)
{
    for (int i = 0; i < PC_BLUR_WAYS; i++) {
        sum->fine[i] += other->fine[i];
        sum->coarse[i] += other->coarse[i];
        sum->edges[i] += other->edges[i];
    }
}

// fine / coarse = (s^2 + b) / (s^2 + a), a and b what the two add of their own.
static double var_px2(double fine, double coarse, int edges, int bin)
{
    const double a = FINE_PX * FINE_PX + SLOPE_VAR, b = COARSE_PX * COARSE_PX + SLOPE_VAR;
    if (edges < PC_BLUR_EDGES_LEAST || !(coarse > 0.0))
        return (double)NAN;
    double ratio = fine / coarse;
    double var = ratio > 1.0 ? (b - ratio * a) / (ratio - 1.0) : MOST_VAR;
    return fmin(fmax(var, 0.0), MOST_VAR) * bin * bin;
}

double pc_blur_var_px2(const struct pc_blur *blur, int bin)
{
    double fine = 0.0, coarse = 0.0;
    int edges = 0;
    for (int i = 0; i < PC_BLUR_WAYS; i++) {
        fine += blur->fine[i];
        coarse += blur->coarse[i];
        edges += blur->edges[i];
    }
    return var_px2(fine, coarse, edges, bin);
}

double pc_blur_way_var_px2(const struct pc_blur *blur, int bin, int way, int beside)
{
    double fine = 0.0, coarse = 0.0;
    int edges = 0;
    for (int i = way + PC_BLUR_WAYS - beside; i <= way + PC_BLUR_WAYS + beside; i++) {
        fine += blur->fine[i % PC_BLUR_WAYS];
        coarse += blur->coarse[i % PC_BLUR_WAYS];
        edges += blur->edges[i % PC_BLUR_WAYS];
    }
    return var_px2(fine, coarse, edges, bin);
}
