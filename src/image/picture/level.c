// SPDX-License-Identifier: Apache-2.0
#include "image/picture/picture.h"

// Running sums over the pixels that count, per channel, about a first value so that digits are not lost.
struct sums {
    int used, clipped;
    double origin[3], sum[3], square[3];
};

static void sums_add(struct sums *sums, const struct pc_picture *picture, size_t pixel)
{
    if (picture->clipped[pixel] != 0) {
        sums->clipped++;
        return;
    }
    const float *px = picture->px + pixel * (size_t)picture->channels;
    for (int c = 0; c < picture->channels; c++) {
        double value = (double)px[c];
        if (sums->used == 0)
            sums->origin[c] = value;
        double off = value - sums->origin[c];
        sums->sum[c] += off;
        sums->square[c] += off * off;
    }
    sums->used++;
}

// The first and last pixel, in pixels of this picture, that a disc can reach along one axis. Cut to the
// picture before they become int, so that a place far outside is no trouble.
static void reach(double centre_px, double radius_px, int size_px, int *first, int *last)
{
    *first = (int)fmin(fmax(floor(centre_px - radius_px), 0.0), size_px);
    *last = (int)fmin(fmax(floor(centre_px + radius_px), -1.0), size_px - 1.0);
}

static void disc_add(struct sums *sums, const struct pc_picture *picture, double x_px, double y_px,
                     double radius_px, const uint8_t *leave_out)
{
    double x = x_px / picture->bin, y = y_px / picture->bin, radius = radius_px / picture->bin;
    int left, right, top, bottom;
    reach(x, radius, picture->width_px, &left, &right);
    reach(y, radius, picture->height_px, &top, &bottom);
    bool reached = false;
    for (int row = top; row <= bottom; row++)
        for (int column = left; column <= right; column++) {
            double dx = column + 0.5 - x, dy = row + 0.5 - y;
            if (dx * dx + dy * dy > radius * radius)
                continue;
            size_t pixel = (size_t)row * (size_t)picture->width_px + (size_t)column;
            reached = true;
            if (leave_out == NULL || leave_out[pixel] == 0)
                sums_add(sums, picture, pixel);
        }
    if (reached || x < 0.0 || y < 0.0 || x >= picture->width_px || y >= picture->height_px)
        return;
    // A disc smaller than a pixel: the pixel that it lies in.
    size_t pixel = (size_t)y * (size_t)picture->width_px + (size_t)x;
    if (leave_out == NULL || leave_out[pixel] == 0)
        sums_add(sums, picture, pixel);
}

void pc_picture_level(const struct pc_picture *picture, double x_px, double y_px, double radius_px,
                      const uint8_t *leave_out, struct pc_level *level)
{
    struct sums sums = {0};
    if (isfinite(x_px) && isfinite(y_px) && radius_px >= 0.0)
        disc_add(&sums, picture, x_px, y_px, radius_px, leave_out);
    *level = (struct pc_level){.pixels = sums.used};
    if (sums.used + sums.clipped > 0)
        level->clipped_ratio = (double)sums.clipped / (sums.used + sums.clipped);
    for (int i = 0; i < 3; i++) {
        int c = i < picture->channels ? i : 0;
        if (sums.used == 0) {
            level->value[i] = level->se[i] = (double)NAN;
            continue;
        }
        double n = sums.used, mean = sums.sum[c] / n;
        level->value[i] = sums.origin[c] + mean;
        double scatter = n > 1 ? fmax(sums.square[c] - n * mean * mean, 0.0) / (n - 1) : 0.0;
        double foretold =
            picture->noise.offset_var[c] + picture->noise.per_signal_var[c] * fmax(level->value[i], 0.0);
        level->se[i] = sqrt(fmax(scatter, foretold) / n);
    }
}

double pc_picture_clipped_ratio(const struct pc_picture *picture)
{
    size_t count = (size_t)picture->width_px * (size_t)picture->height_px, clipped = 0;
    for (size_t i = 0; i < count; i++)
        clipped += picture->clipped[i] != 0;
    return count > 0 ? (double)clipped / (double)count : 0.0;
}
