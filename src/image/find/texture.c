// SPDX-License-Identifier: Apache-2.0
#include "image/find/texture_priv.h"

#include "base/linalg.h"

enum { WINDOW_MAX = 95 }; // of the look, in pixels of the picture

// Luminance of a kind, as near to the photometric one as raw channels of equal weight come.
static double luminance(const struct pc_picture *picture, int x, int y)
{
    size_t at = (size_t)y * (size_t)picture->width_px + (size_t)x;
    const float *p = picture->px + at * (size_t)picture->channels;
    double first = (double)p[0];
    return picture->channels == 3 ? 0.25 * first + 0.5 * (double)p[1] + 0.25 * (double)p[2] : first;
}

// Takes the smooth light out of a square window: what is left over its mean, into left_over (NAN outside the
// disc).
static bool flatten(const struct pc_picture *picture, int x0, int y0, int radius, double *left_over)
{
    enum { FIT_MAX = 400 };
    double a[FIT_MAX * 6], b[FIT_MAX], model[6], mean = 0.0;
    int side = 2 * radius + 1, n = 0, inside = 0, every;
    for (int i = 0; i < side * side; i++) {
        int dx = i % side - radius, dy = i / side - radius;
        bool in = dx * dx + dy * dy <= radius * radius;
        left_over[i] = in ? luminance(picture, x0 + dx, y0 + dy) : (double)NAN;
        inside += in;
        mean += in ? left_over[i] : 0.0;
    }
    mean /= inside;
    if (!(mean > 0.0) || inside < 24)
        return false;
    every = (inside + FIT_MAX - 1) / FIT_MAX;
    for (int i = 0, seen = 0; i < side * side; i++) {
        if (isnan(left_over[i]) || seen++ % every != 0)
            continue;
        double u = (i % side - radius) / (double)radius, v = (i / side - radius) / (double)radius;
        const double row[6] = {1.0, u, v, u * u, u * v, v * v};
        memcpy(a + (ptrdiff_t)n * 6, row, sizeof row);
        b[n++] = left_over[i];
    }
    if (!pc_linalg_least_squares(n, 6, a, b, model))
        return false;
    for (int i = 0; i < side * side; i++) {
        double u = (i % side - radius) / (double)radius, v = (i / side - radius) / (double)radius;
        left_over[i] -=
            model[0] + model[1] * u + model[2] * v + model[3] * u * u + model[4] * u * v + model[5] * v * v;
        left_over[i] /= mean;
    }
    return true;
}

// A sensor's noise has nothing to do with its neighbours; grain, weave and print have, whatever the noise. So
// the texture is the largest covariance of what smooth light leaves over with itself one to three pixels on,
// less what chance gives.
double texture_ratio(const struct pc_picture *picture, double x, double y, double radius_px)
{
    static const int shifts[][2] = {{1, 0}, {0, 1}, {1, 1}, {1, -1}, {2, 0}, {0, 2}, {3, 0}, {0, 3}};
    double left_over[WINDOW_MAX * WINDOW_MAX];
    int radius = (int)fmin(radius_px, (WINDOW_MAX - 1) / 2), x0 = (int)x, y0 = (int)y, side = 2 * radius + 1;
    if (radius < 3 || x0 < radius || y0 < radius || x0 + radius >= picture->width_px ||
        y0 + radius >= picture->height_px || !flatten(picture, x0, y0, radius, left_over))
        return INFINITY;
    double most = 0.0;
    for (size_t s = 0; s < PC_COUNT(shifts); s++) {
        double sum = 0.0, square = 0.0;
        int n = 0;
        for (int j = 0; j < side; j++)
            for (int i = 0; i < side; i++) {
                int p = i + shifts[s][0], q = j + shifts[s][1];
                if (p >= side || q < 0 || q >= side || isnan(left_over[j * side + i]) ||
                    isnan(left_over[q * side + p]))
                    continue;
                double product = left_over[j * side + i] * left_over[q * side + p];
                sum += product;
                square += product * product;
                n++;
            }
        if (n > 0)
            most = fmax(most, (fabs(sum) - 2.5 * sqrt(square)) / n);
    }
    return sqrt(most);
}
