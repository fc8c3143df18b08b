// SPDX-License-Identifier: Apache-2.0
#include "image/align/views.h"

#include "base/linalg.h"
#include "image/align/align_priv.h"

// A tile spans a tenth of a coarse layer, where its search reaches 3 % of the width, and a twentieth of the
// fine one.
enum { COARSE_WIDTH_PX = 320, FINE_WIDTH_PX = 640, FIT_ROUNDS = 6, LEAST_FOR_A_VIEW = 8 };

static const double LEAST_CORRELATION = 0.6; // grain that only looks alike reaches half
static const double TUKEY = 4.685;
static const double LEAST_SCATTER_PX = 1.0; // of the layer: what lies a little above the plane
static const double MOST_OFF_RATIO = 0.02;  // of the width, from the plane of the rest
static const double LEVEL_RADIUS_tiles = 0.45;

static bool view_point(const double view[3][3], double x, double y, double to[2])
{
    const double at[3] = {x, y, 1.0};
    double q[3];
    pc_linalg_apply3(view, at, q);
    if (!(q[2] > 1e-6))
        return false;
    to[0] = q[0] / q[2];
    to[1] = q[1] / q[2];
    return true;
}

// b laid on a's pixels (bilinear); what b does not show is marked clipped.
static void lay_row(const struct pc_picture *b, const double view[3][3], int y, struct pc_picture *laid)
{
    int channels = laid->channels, w = b->width_px, h = b->height_px;
    for (int x = 0; x < laid->width_px; x++) {
        size_t to = (size_t)y * (size_t)laid->width_px + (size_t)x;
        double at[2];
        bool seen = view_point(view, (x + 0.5) * laid->bin, (y + 0.5) * laid->bin, at);
        double fx = seen ? at[0] / b->bin - 0.5 : -1.0, fy = seen ? at[1] / b->bin - 0.5 : -1.0;
        laid->clipped[to] = 7;
        if (!(fx >= 0.0) || !(fy >= 0.0) || !(fx < w - 1) || !(fy < h - 1))
            continue;
        int ix = (int)fx, iy = (int)fy;
        float u = (float)(fx - ix), v = (float)(fy - iy);
        size_t p = (size_t)iy * (size_t)w + (size_t)ix, q = p + (size_t)w;
        laid->clipped[to] = b->clipped[p] | b->clipped[p + 1] | b->clipped[q] | b->clipped[q + 1];
        for (int c = 0; c < channels; c++) {
            const float *top = b->px + p * (size_t)channels + c, *low = b->px + q * (size_t)channels + c;
            laid->px[to * (size_t)channels + (size_t)c] =
                (1.0F - v) * ((1.0F - u) * top[0] + u * top[channels]) +
                v * ((1.0F - u) * low[0] + u * low[channels]);
        }
    }
}

struct laying {
    const struct pc_picture *b;
    const double (*view)[3];
    struct pc_picture *laid;
};

static enum pc_status lay_one(void *arg, int y, struct pc_err *err)
{
    (void)err;
    const struct laying *l = arg;
    lay_row(l->b, l->view, y, l->laid);
    return PC_OK;
}

struct looking {
    const struct layer *a, *laid;
    double centre_px[2];
    int columns, step, search_px;
    struct tile *tiles;
};

static enum pc_status look_one(void *arg, int i, struct pc_err *err)
{
    (void)err;
    struct looking *l = arg;
    const struct warp stay = {1.0, 0.0, 0.0, 0.0};
    pc_tile_register(l->a, l->laid, l->centre_px, &stay, i % l->columns * l->step, i / l->columns * l->step,
                     l->search_px, &l->tiles[i], NULL);
    return PC_OK;
}

// The plane's view through the areas found, in coordinates about the centre in half widths: iteratively
// reweighted least squares. Areas far off the plane are dropped from the list.
static bool fit_plane(const struct pc_picture *a, double layer_px, struct pc_shared *shared)
{
    int n = shared->count;
    double half = 0.5 * a->full_width_px, cx = half, cy = 0.5 * a->full_height_px;
    double *rows = calloc((size_t)n * 18 + (size_t)n * 2, sizeof *rows), *b = rows + (ptrdiff_t)n * 16;
    double *off = b + (ptrdiff_t)n * 2, *sorted = off + n;
    PC_ASSERT(rows != NULL);
    double view[8] = {0}, scatter = INFINITY;
    bool good = n >= LEAST_FOR_A_VIEW;
    for (int round = 0; good && round < FIT_ROUNDS; round++) {
        for (int i = 0; i < n; i++) {
            const struct pc_shared_area *area = &shared->area[i];
            double x = (area->a_px[0] - cx) / half, y = (area->a_px[1] - cy) / half,
                   u = (area->b_px[0] - cx) / half, v = (area->b_px[1] - cy) / half;
            double r = round == 0 ? 0.0 : off[i] / (TUKEY * scatter), w = r < 1.0 ? 1.0 - r * r : 0.0;
            const double two[2][8] = {{x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y},
                                      {0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y}};
            for (int k = 0; k < 16; k++)
                rows[16 * i + k] = w * two[k / 8][k % 8];
            b[2 * i] = w * u;
            b[2 * i + 1] = w * v;
        }
        good = pc_linalg_least_squares(2 * n, 8, rows, b, view);
        for (int i = 0; good && i < n; i++) {
            const struct pc_shared_area *area = &shared->area[i];
            double x = (area->a_px[0] - cx) / half, y = (area->a_px[1] - cy) / half,
                   w = view[6] * x + view[7] * y + 1.0;
            off[i] = half * hypot((view[0] * x + view[1] * y + view[2]) / w - (area->b_px[0] - cx) / half,
                                  (view[3] * x + view[4] * y + view[5]) / w - (area->b_px[1] - cy) / half);
            int at = i;
            for (; at > 0 && sorted[at - 1] > off[i]; at--)
                sorted[at] = sorted[at - 1];
            sorted[at] = off[i];
        }
        scatter = fmax(1.4826 * sorted[n / 2], LEAST_SCATTER_PX * layer_px);
    }
    if (good) {
        const double in[3][3] = {
            {1.0 / half, 0.0, -cx / half}, {0.0, 1.0 / half, -cy / half}, {0.0, 0.0, 1.0}};
        const double out[3][3] = {{half, 0.0, cx}, {0.0, half, cy}, {0.0, 0.0, 1.0}};
        const double plane[3][3] = {
            {view[0], view[1], view[2]}, {view[3], view[4], view[5]}, {view[6], view[7], 1.0}};
        double inner[3][3];
        pc_linalg_multiply3(plane, in, inner);
        pc_linalg_multiply3(out, inner, shared->b_from_a);
        int kept = 0;
        for (int i = 0; i < n; i++)
            if (off[i] < fmax(MOST_OFF_RATIO * a->full_width_px, 2.0 * layer_px))
                shared->area[kept++] = shared->area[i];
        shared->count = kept;
    }
    free(rows);
    return good;
}

static double green_at(const struct pc_picture *picture, double x_px, double y_px, double radius_px)
{
    struct pc_level level;
    pc_picture_level(picture, x_px, y_px, radius_px, NULL, &level);
    return level.pixels > 0 && level.clipped_ratio < 0.2 ? level.value[picture->channels == 3 ? 1 : 0] : 0.0;
}

static void gather_found(const struct pc_picture *a, const struct pc_picture *laid, const struct tile *tiles,
                         int count, struct pc_shared *shared)
{
    shared->structured = shared->count = 0;
    for (int i = 0; i < count && shared->count < PC_SHARED_AREAS_MAX; i++) {
        const struct tile *tile = &tiles[i];
        shared->structured += tile->structured;
        if (!tile->structured || !tile->found || tile->correlation < LEAST_CORRELATION)
            continue;
        double cx = 0.5 * a->full_width_px, cy = 0.5 * a->full_height_px;
        double radius_px = LEVEL_RADIUS_tiles * TILE * tile->layer_px;
        struct pc_shared_area area = {.a_px = {cx + tile->x_px, cy + tile->y_px}};
        double level = green_at(a, area.a_px[0], area.a_px[1], radius_px),
               now = green_at(laid, cx + tile->found_x_px, cy + tile->found_y_px, radius_px);
        if (!(level > 0.0) || !(now > 0.0) ||
            !view_point(shared->b_from_a, cx + tile->found_x_px, cy + tile->found_y_px, area.b_px))
            continue;
        area.log_ratio = log(now / level);
        shared->area[shared->count++] = area;
    }
}

static enum pc_status look(struct pc_ctx *ctx, const struct pc_picture *a, const struct pc_picture *laid,
                           int about_width_px, int search_px, struct pc_shared *shared, struct pc_err *err)
{
    struct layer layer[2];
    struct pc_buffer tiles = {0};
    int factor = (a->width_px + about_width_px - 1) / about_width_px;
    PC_TRY(pc_layer_init(ctx, &layer[0], a, factor, err));
    enum pc_status status = pc_layer_init(ctx, &layer[1], laid, factor, err);
    if (status == PC_OK) {
        const int step = TILE * 3 / 4;
        int columns = (layer[0].width_px - TILE) / step + 1, rows = (layer[0].height_px - TILE) / step + 1;
        int count = columns > 0 && rows > 0 ? columns * rows : 0;
        status = pc_buffer_init(ctx, &tiles, (size_t)count + 1, 1, sizeof(struct tile), err);
        struct looking looking = {.a = &layer[0],
                                  .laid = &layer[1],
                                  .centre_px = {0.5 * a->full_width_px, 0.5 * a->full_height_px},
                                  .columns = columns,
                                  .step = step,
                                  .search_px = search_px,
                                  .tiles = tiles.data};
        if (status == PC_OK)
            status = pc_parallel(ctx, count, look_one, &looking, err);
        if (status == PC_OK)
            gather_found(a, laid, tiles.data, count, shared);
        shared->count = status == PC_OK && fit_plane(a, layer[0].full_px, shared) ? shared->count : 0;
    }
    pc_buffer_finish(&tiles);
    pc_layer_finish(&layer[1]);
    pc_layer_finish(&layer[0]);
    return status;
}

enum pc_status pc_align_shared(struct pc_ctx *ctx, const struct pc_picture *a, const struct pc_picture *b,
                               const double b_from_a[3][3], bool fine, struct pc_shared *shared,
                               struct pc_err *err)
{
    static const struct {
        int about_width_px, search_px;
    } passes[] = {{COARSE_WIDTH_PX, TILE_SEARCH_MAX}, {COARSE_WIDTH_PX, 4}, {FINE_WIDTH_PX, 8}};
    memset(shared, 0, sizeof *shared);
    memcpy(shared->b_from_a, b_from_a, sizeof shared->b_from_a);
    PC_TRY(pc_align_same_size(a, b, err));
    struct pc_picture laid = {0};
    PC_TRY(pc_picture_init(ctx, &laid, a->width_px, a->height_px, a->channels, err));
    laid.bin = a->bin;
    laid.full_width_px = a->full_width_px;
    laid.full_height_px = a->full_height_px;
    laid.noise = b->noise;
    enum pc_status status = PC_OK;
    for (size_t i = 0; status == PC_OK && i < PC_COUNT(passes) - !fine; i++) {
        struct laying laying = {b, shared->b_from_a, &laid};
        status = pc_parallel(ctx, laid.height_px, lay_one, &laying, err);
        if (status == PC_OK)
            status = look(ctx, a, &laid, passes[i].about_width_px, passes[i].search_px, shared, err);
        if (shared->count == 0)
            break;
    }
    pc_picture_finish(&laid);
    return status;
}
