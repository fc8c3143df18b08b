// SPDX-License-Identifier: Apache-2.0
#include "image/picture/lines.h"

enum { LOOKS = 256, LEAST_LOOKS = 64 };
static const double LEAST_OFF_RATIO = 0.05, LEAST_LEVEL = 5e-4;
static const double NEARLY_ALL = 0.9;

struct axis {
    int across, along;
    size_t step, next; // floats from one line to the next one, and from one pixel on it to the next
};

static bool line_is_dead(const struct pc_picture *picture, const struct axis *axis, int line, int channel)
{
    int seen = 0, darker = 0, lighter = 0;
    for (int k = 0; k < LOOKS; k++) {
        size_t pixel = (size_t)((long)k * axis->along / LOOKS);
        const float *at = picture->px + (size_t)line * axis->step + pixel * axis->next + channel;
        double here = (double)at[0], before = (double)at[-(ptrdiff_t)axis->step],
               after = (double)at[axis->step];
        if (!(before > LEAST_LEVEL && after > LEAST_LEVEL))
            continue;
        seen++;
        darker += here < (1.0 - LEAST_OFF_RATIO) * fmin(before, after);
        lighter += here > (1.0 + LEAST_OFF_RATIO) * fmax(before, after);
    }
    return seen >= LEAST_LOOKS && (darker > NEARLY_ALL * seen || lighter > NEARLY_ALL * seen);
}

static void mend(struct pc_picture *picture, const struct axis *axis, int line)
{
    ptrdiff_t step = (ptrdiff_t)axis->step, channels = picture->channels;
    for (int i = 0; i < axis->along; i++) {
        float *at = picture->px + (size_t)line * axis->step + (size_t)i * axis->next;
        for (ptrdiff_t c = 0; c < channels; c++)
            at[c] = 0.5f * (at[c - step] + at[c + step]);
        uint8_t *clipped = picture->clipped + (at - picture->px) / channels;
        *clipped = clipped[-step / channels] | clipped[step / channels];
    }
}

int pc_picture_mend_lines(struct pc_picture *picture)
{
    size_t pixel = (size_t)picture->channels, row = (size_t)picture->width_px * pixel;
    const struct axis axes[2] = {{picture->width_px, picture->height_px, pixel, row},
                                 {picture->height_px, picture->width_px, row, pixel}};
    int mended = 0;
    for (int a = 0; a < 2; a++)
        for (int line = 1; line + 1 < axes[a].across; line++) {
            bool dead = false;
            for (int c = 0; c < picture->channels && !dead; c++)
                dead = line_is_dead(picture, &axes[a], line, c);
            if (dead)
                mend(picture, &axes[a], line);
            mended += dead;
        }
    return mended;
}
