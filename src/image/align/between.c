// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"
#include "image/align/areas.h"

enum {
    WORK_SIDE = 1000,
    STRIDE = TILE / 2,
    REACH = TILE_SEARCH_MAX,
    SPAN = 2 * REACH + 1,
    WINDOW = 2,      // tiles along each side that are asked together
    LEAST_AGREE = 3, // of the four that must agree
    AROUND_PX = 3,   // the match must be worse this far to every side
};

static const double FAR_COSTS = 0.004;   // correlation a pixel: of a pattern that repeats, the nearest match
static const double STAYED = 0.85;       // correlation
static const double LEAST_MOVE_PX = 2.0; // full-resolution
static const double LEAST_CORRELATION = 0.75;                            // of the window where it went
static const double LEAST_GAIN = 0.2;                                    // over where it was
static const double LEAST_TILE_CORRELATION = 0.6, LEAST_TILE_GAIN = 0.1; // of each tile that agrees
// The edge of a shadow can be matched anywhere along itself: a thing cannot.
static const double LEAST_FALL = 0.08;

struct seen {
    struct tile tile;
    bool asked; // what matches well where it was is not looked for elsewhere: its surface stays 0
    float surface[SPAN * SPAN];
};

struct between {
    struct layer a, b;
    double centre_px[2];
    int columns, rows;
    struct seen *seen;
};

static enum pc_status between_one(void *arg, int i, struct pc_err *err)
{
    (void)err;
    static const struct warp stay = {1.0, 0.0, 0.0, 0.0};
    struct between *s = arg;
    struct seen *seen = &s->seen[i];
    int x = i % s->columns * STRIDE, y = i / s->columns * STRIDE;
    pc_tile_register(&s->a, &s->b, s->centre_px, &stay, x, y, 0, &seen->tile, NULL);
    seen->asked = seen->tile.structured && seen->tile.correlation_at_warp < STAYED;
    if (seen->asked)
        pc_tile_register(&s->a, &s->b, s->centre_px, &stay, x, y, REACH, &seen->tile, seen->surface);
    return PC_OK;
}

// Place of the highest point of a parabola through three heights at -1, 0, 1.
static double summit(double before, double here, double after)
{
    double bend = before - 2.0 * here + after;
    return bend < -1e-6 ? fmax(-0.5, fmin(0.5, 0.5 * (before - after) / bend)) : 0.0;
}

// Where the four tiles from (column, row) match best together, as one thing. False unless they went
// somewhere.
static bool window_went(const struct between *s, int column, int row, double least_px, double shift[2])
{
    const struct seen *tiles[WINDOW * WINDOW];
    float sum[SPAN * SPAN] = {0};
    int asked = 0;
    for (int k = 0; k < WINDOW * WINDOW; k++) {
        tiles[k] = &s->seen[(row + k / WINDOW) * s->columns + column + k % WINDOW];
        asked += tiles[k]->asked;
        if (!tiles[k]->tile.structured)
            return false;
        for (int i = 0; i < SPAN * SPAN; i++)
            sum[i] += tiles[k]->surface[i] / (WINDOW * WINDOW);
    }
    if (asked < LEAST_AGREE)
        return false;
    int best = 0, stay = REACH * SPAN + REACH;
    double most = -1.0;
    for (int i = 0; i < SPAN * SPAN; i++) {
        double worth = (double)sum[i] - FAR_COSTS * hypot(i % SPAN - REACH, i / SPAN - REACH);
        best = worth > most ? i : best;
        most = fmax(worth, most);
    }
    int u = best % SPAN, v = best / SPAN;
    if (u < 1 || v < 1 || u >= SPAN - 1 || v >= SPAN - 1 || (double)sum[best] < LEAST_CORRELATION ||
        (double)(sum[best] - sum[stay]) < LEAST_GAIN)
        return false;
    for (int k = 0; k < 8; k++) {
        static const int around[8][2] = {{1, 0},  {1, 1},   {0, 1},  {-1, 1},
                                         {-1, 0}, {-1, -1}, {0, -1}, {1, -1}};
        int x = u + AROUND_PX * around[k][0], y = v + AROUND_PX * around[k][1];
        if (x >= 0 && y >= 0 && x < SPAN && y < SPAN && (double)(sum[best] - sum[y * SPAN + x]) < LEAST_FALL)
            return false;
    }
    int agree = 0;
    for (int k = 0; k < WINDOW * WINDOW; k++)
        agree += (double)tiles[k]->surface[best] > LEAST_TILE_CORRELATION &&
                 (double)(tiles[k]->surface[best] - tiles[k]->surface[stay]) > LEAST_TILE_GAIN;
    double full_px = s->a.full_px;
    shift[0] =
        full_px * (u - REACH + summit((double)sum[best - 1], (double)sum[best], (double)sum[best + 1]));
    shift[1] =
        full_px * (v - REACH + summit((double)sum[best - SPAN], (double)sum[best], (double)sum[best + SPAN]));
    return agree >= LEAST_AGREE && hypot(shift[0], shift[1]) >= least_px;
}

static enum pc_status between_in(struct pc_ctx *ctx, struct between *s, const struct pc_picture *picture,
                                 double registered_within_px, struct pc_moved moved[PC_MOVED_MAX], int *found,
                                 struct pc_err *err)
{
    PC_TRY(pc_parallel(ctx, s->columns * s->rows, between_one, s, err));
    double stride_px = STRIDE * s->a.full_px, side_px = (TILE + STRIDE) * s->a.full_px;
    for (int row = 0; row + WINDOW <= s->rows; row++)
        for (int column = 0; column + WINDOW <= s->columns; column++) {
            double shift[2], x0 = column * stride_px, y0 = row * stride_px;
            if (window_went(s, column, row, LEAST_MOVE_PX + registered_within_px, shift))
                pc_areas_report(picture, x0, y0, x0 + side_px, y0 + side_px, hypot(shift[0], shift[1]), moved,
                                found);
        }
    return PC_OK;
}

enum pc_status pc_align_moved_between_lights(struct pc_ctx *ctx, const struct pc_picture *before,
                                             const struct pc_picture *after, double registered_within_px,
                                             uint8_t *leave_out, struct pc_moved moved[PC_MOVED_MAX],
                                             int *count, struct pc_err *err)
{
    *count = 0;
    PC_TRY(pc_align_same_size(before, after, err));
    int longest = before->width_px > before->height_px ? before->width_px : before->height_px;
    struct between s = {.centre_px = {0.5 * before->full_width_px, 0.5 * before->full_height_px}};
    PC_TRY(pc_layer_init(ctx, &s.a, before, (longest + WORK_SIDE - 1) / WORK_SIDE, err));
    enum pc_status status = pc_layer_init(ctx, &s.b, after, (longest + WORK_SIDE - 1) / WORK_SIDE, err);
    s.columns = s.a.width_px >= TILE ? (s.a.width_px - TILE) / STRIDE + 1 : 0;
    s.rows = s.a.height_px >= TILE ? (s.a.height_px - TILE) / STRIDE + 1 : 0;
    struct pc_buffer memory = {0};
    if (status == PC_OK && s.columns * s.rows > 0) {
        status = pc_buffer_init(ctx, &memory, (size_t)s.columns, (size_t)s.rows, sizeof(struct seen), err);
        s.seen = memory.data;
        if (status == PC_OK)
            status = between_in(ctx, &s, before, registered_within_px, moved, count, err);
    }
    pc_buffer_finish(&memory);
    pc_layer_finish(&s.a);
    pc_layer_finish(&s.b);
    if (status == PC_OK && leave_out != NULL)
        pc_areas_leave_out(before, moved, *count, leave_out);
    return status;
}
