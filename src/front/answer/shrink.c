// SPDX-License-Identifier: Apache-2.0
#include "front/answer/shrink.h"

struct shrinking {
    const struct pc_picture *picture;
    struct pc_picture *small;
};

// The pixels from..to-1 that the i-th of count equal pieces of all touches.
struct stretch {
    double from, to;
    int first, end;
};

static struct stretch stretch_of(int i, int count, int all)
{
    struct stretch s = {.from = (double)i * all / count, .to = (double)(i + 1) * all / count};
    s.first = (int)floor(s.from);
    s.end = (int)ceil(s.to);
    if (s.end > all)
        s.end = all;
    return s;
}

static double covered(const struct stretch *s, int at)
{
    return fmin(s->to, at + 1.0) - fmax(s->from, at);
}

static void shrink_pixel(const struct shrinking *sh, const struct stretch *rows, int row, int column)
{
    const struct pc_picture *p = sh->picture;
    const struct stretch columns = stretch_of(column, sh->small->width_px, p->width_px);
    size_t channels = (size_t)p->channels;
    double sum[3] = {0}, area = 0.0;
    uint8_t clipped = 0;
    for (int y = rows->first; y < rows->end; y++) {
        double high = covered(rows, y);
        for (int x = columns.first; x < columns.end; x++) {
            double weight = high * covered(&columns, x);
            size_t at = (size_t)y * (size_t)p->width_px + (size_t)x;
            if (!(weight > 0.0))
                continue;
            for (size_t c = 0; c < channels; c++)
                sum[c] += weight * (double)p->px[at * channels + c];
            area += weight;
            clipped |= p->clipped[at];
        }
    }
    size_t to = (size_t)row * (size_t)sh->small->width_px + (size_t)column;
    for (size_t c = 0; c < channels; c++)
        sh->small->px[to * channels + c] = (float)(sum[c] / area);
    sh->small->clipped[to] = clipped;
}

static enum pc_status shrink_row(void *arg, int row, struct pc_err *err)
{
    (void)err;
    const struct shrinking *sh = arg;
    const struct stretch rows = stretch_of(row, sh->small->height_px, sh->picture->height_px);
    for (int x = 0; x < sh->small->width_px; x++)
        shrink_pixel(sh, &rows, row, x);
    return PC_OK;
}

enum pc_status pc_shrink(struct pc_ctx *ctx, const struct pc_picture *picture, int width_px,
                         struct pc_picture *small, struct pc_err *err)
{
    PC_ASSERT(width_px > 0 && picture->width_px > 0);
    int width = width_px < picture->width_px ? width_px : picture->width_px;
    int height = (int)lround((double)picture->height_px * width / picture->width_px);
    PC_TRY(pc_picture_init(ctx, small, width, height > 0 ? height : 1, picture->channels, err));
    small->bin = picture->bin;
    small->full_width_px = picture->full_width_px;
    small->full_height_px = picture->full_height_px;
    small->space = picture->space;
    struct shrinking sh = {picture, small};
    enum pc_status status = pc_parallel(ctx, small->height_px, shrink_row, &sh, err);
    if (status != PC_OK)
        pc_picture_finish(small);
    return status;
}
