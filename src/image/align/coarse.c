// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"

enum {
    PIECE = 24,
    REACH_MAX = 20,
    SPAN_MAX = 2 * REACH_MAX + 1,
    ANGLES = 7,
    SCALES = 5,
};

// A little past what is promised, so that the promise holds at its ends.
static const double SHIFT_RATIO = 0.034; // of the width
static const double ANGLE_RAD = 0.0195;
static const double SCALE_RATIO = 0.0112;

struct piece {
    double x, y; // centre about the picture's centre, layer pixels
    float score[SPAN_MAX * SPAN_MAX];
};

struct coarse {
    const float *a, *b; // features, 0 where there are none
    int width_px, height_px, reach_px, columns, rows;
    double centre[2];
    struct piece *pieces;
};

// Correlation of one piece of the reference with the other at every whole shift; squared where positive, so
// that few good matches outweigh many poor ones.
static enum pc_status score_piece(void *arg, int index, struct pc_err *err)
{
    (void)err;
    struct coarse *c = arg;
    struct piece *piece = &c->pieces[index];
    int x0 = (index % c->columns) * (c->width_px - PIECE) / (c->columns > 1 ? c->columns - 1 : 1);
    int y0 = (index / c->columns) * (c->height_px - PIECE) / (c->rows > 1 ? c->rows - 1 : 1);
    int reach = c->reach_px, span = 2 * reach + 1;
    piece->x = x0 + 0.5 * PIECE - c->centre[0];
    piece->y = y0 + 0.5 * PIECE - c->centre[1];
    double aa = 0.0;
    for (int j = 0; j < PIECE; j++)
        for (int i = 0; i < PIECE; i++) {
            double a = (double)c->a[(size_t)(y0 + j) * (size_t)c->width_px + (size_t)(x0 + i)];
            aa += a * a;
        }
    for (int v = -reach; v <= reach; v++)
        for (int u = -reach; u <= reach; u++) {
            float *score = &piece->score[(v + reach) * span + u + reach];
            *score = 0.0f;
            if (x0 + u < 0 || y0 + v < 0 || x0 + u + PIECE > c->width_px || y0 + v + PIECE > c->height_px)
                continue;
            float ab[PIECE] = {0}, bb[PIECE] = {0};
            for (int j = 0; j < PIECE; j++) {
                const float *a = c->a + (size_t)(y0 + j) * (size_t)c->width_px + (size_t)x0;
                const float *b = c->b + (size_t)(y0 + v + j) * (size_t)c->width_px + (size_t)(x0 + u);
                for (int i = 0; i < PIECE; i++) {
                    ab[i] += a[i] * b[i];
                    bb[i] += b[i] * b[i];
                }
            }
            double sab = 0.0, sbb = 0.0;
            for (int i = 0; i < PIECE; i++) {
                sab += (double)ab[i];
                sbb += (double)bb[i];
            }
            // A guard of a tenth of full contrast: a plain piece may not shout.
            double guard = 0.01 * PIECE * PIECE, norm = (aa + guard) * (sbb + guard);
            *score = sab > 0.0 ? (float)(sab * sab / norm) : 0.0f;
        }
    return PC_OK;
}

static double score_at(const struct coarse *c, const struct piece *piece, double u, double v)
{
    int span = 2 * c->reach_px + 1;
    double x = u + c->reach_px, y = v + c->reach_px;
    if (!(x >= 0.0 && y >= 0.0 && x < span - 1 && y < span - 1))
        return 0.0;
    int i = (int)x, j = (int)y;
    double fx = x - i, fy = y - j;
    const float *s = &piece->score[j * span + i];
    return (1.0 - fy) * ((1.0 - fx) * (double)s[0] + fx * (double)s[1]) +
           fy * ((1.0 - fx) * (double)s[span] + fx * (double)s[span + 1]);
}

// Every similarity of a grid is given the scores of all pieces where it puts them; the highest sum wins.
static void vote(const struct coarse *c, double full_px, struct warp *warp)
{
    int count = c->columns * c->rows;
    int most = (int)ceil(SHIFT_RATIO * c->width_px);
    double best = -1.0;
    for (int r = 0; r < ANGLES; r++)
        for (int s = 0; s < SCALES; s++) {
            double angle = ANGLE_RAD * (2.0 * r / (ANGLES - 1) - 1.0);
            double scale = 1.0 + SCALE_RATIO * (2.0 * s / (SCALES - 1) - 1.0);
            double a = scale * cos(angle), b = scale * sin(angle);
            for (int ty = -most; ty <= most; ty++)
                for (int tx = -most; tx <= most; tx++) {
                    double sum = 0.0;
                    for (int i = 0; i < count; i++) {
                        const struct piece *p = &c->pieces[i];
                        sum += score_at(c, p, (a - 1.0) * p->x - b * p->y + tx,
                                        b * p->x + (a - 1.0) * p->y + ty);
                    }
                    if (sum <= best)
                        continue;
                    best = sum;
                    *warp = (struct warp){a, b, tx * full_px, ty * full_px};
                }
        }
}

static enum pc_status coarse_in(struct pc_ctx *ctx, struct coarse *c, const struct layer *reference,
                                const struct layer *other, float *work, struct warp *warp, struct pc_err *err)
{
    size_t area = (size_t)c->width_px * (size_t)c->height_px;
    float *a = work, *b = a + area, *noise = b + area, *scratch = noise + area;
    pc_layer_feature(reference, 0, 0, c->width_px, c->height_px, a, noise, scratch);
    pc_layer_feature(other, 0, 0, c->width_px, c->height_px, b, noise, scratch);
    c->a = a;
    c->b = b;
    PC_TRY(pc_parallel(ctx, c->columns * c->rows, score_piece, c, err));
    vote(c, reference->full_px, warp);
    return PC_OK;
}

enum pc_status pc_align_coarse(struct pc_ctx *ctx, const struct layer *reference, const struct layer *other,
                               const double centre_px[2], struct warp *warp, struct pc_err *err)
{
    int w = reference->width_px, h = reference->height_px;
    double corner = 0.5 * hypot(w, h), turn = hypot(ANGLE_RAD, SCALE_RATIO);
    struct coarse c = {.width_px = w,
                       .height_px = h,
                       .centre = {centre_px[0] / reference->full_px, centre_px[1] / reference->full_px},
                       .columns = w / PIECE,
                       .rows = h / PIECE};
    c.reach_px = (int)ceil(SHIFT_RATIO * w + turn * corner) + 1;
    c.reach_px = c.reach_px < REACH_MAX ? c.reach_px : REACH_MAX;
    size_t area = (size_t)w * (size_t)h;
    struct pc_buffer pieces, work;
    PC_TRY(pc_buffer_init(ctx, &pieces, (size_t)(c.columns * c.rows), 1, sizeof(struct piece), err));
    enum pc_status status =
        pc_buffer_init(ctx, &work, 3 * area + pc_layer_feature_scratch(w, h), 1, sizeof(float), err);
    if (status == PC_OK) {
        c.pieces = pieces.data;
        status = coarse_in(ctx, &c, reference, other, work.data, warp, err);
        pc_buffer_finish(&work);
    }
    pc_buffer_finish(&pieces);
    return status;
}
