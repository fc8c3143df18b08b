// SPDX-License-Identifier: Apache-2.0
#include "image/align/align_priv.h"

enum {
    WORK_SIDE = 1000, // the longer side of the layer in which the search goes on, at most
    COARSE_SIDE = 250,
    LAYERS_MAX = 4,
    GRID_LONG = 12, // tiles along the longer side, at most
    TILES_MAX = GRID_LONG * GRID_LONG,
    LEAST_STRUCTURED = 6,
    LEAST_AGREEING = 5,
    SEARCH_PX = 2,
};

static const double LEAST_AGREEING_RATIO = 0.25;
// In the coarsest layer, where noise is least and few tiles could agree by chance. One view in different
// lights has 0.9 and more there, two views 0.55 at most (measured on closed-form scenes and on the simulated
// sets).
static const double SAME_VIEW_CORRELATION = 0.7;

struct search {
    const struct layer *reference, *other;
    double centre_px[2];
    struct warp warp;
    int columns, rows;
    struct tile *tiles;
};

static int grid_count(int size_px, int longest_px)
{
    int most = GRID_LONG * size_px / longest_px, fit = size_px / (TILE * 7 / 8);
    int n = fit < most ? fit : most;
    return n < 1 ? 1 : n;
}

static void search_grid(struct search *search)
{
    const struct layer *l = search->reference;
    int longest = l->width_px > l->height_px ? l->width_px : l->height_px;
    search->columns = grid_count(l->width_px, longest);
    search->rows = grid_count(l->height_px, longest);
}

static enum pc_status search_one(void *arg, int i, struct pc_err *err)
{
    (void)err;
    struct search *search = arg;
    const struct layer *l = search->reference;
    int c = i % search->columns, r = i / search->columns;
    int room_x = l->width_px - TILE, room_y = l->height_px - TILE;
    int x0 = search->columns > 1 ? c * room_x / (search->columns - 1) : room_x / 2;
    int y0 = search->rows > 1 ? r * room_y / (search->rows - 1) : room_y / 2;
    pc_tile_register(l, search->other, search->centre_px, &search->warp, x0, y0, SEARCH_PX, &search->tiles[i],
                     NULL);
    return PC_OK;
}

static enum pc_status too_few(struct pc_err *err, int structured)
{
    if (structured < LEAST_STRUCTURED)
        return pc_fail(
            err, PC_BAD_INPUT, NULL,
            "This frame shows too little detail above its noise to be laid over the others; expose it "
            "longer, or leave it out.");
    return pc_fail(
        err, PC_BAD_INPUT, NULL,
        "This frame does not show the same view as the others: the camera or the set was moved by more "
        "than can be laid over (3 %% of the width, 1 degree). Take it again from the same place, or leave "
        "it out.");
}

// The tiles of one pair of layers: registered from fit->warp, and their consensus put there.
static enum pc_status search_layers(struct pc_ctx *ctx, struct search *search, int *count, struct fit *fit,
                                    struct pc_err *err)
{
    search->warp = fit->warp;
    search_grid(search);
    *count = search->columns * search->rows;
    PC_TRY(pc_parallel(ctx, *count, search_one, search, err));
    bool good = pc_align_fit(search->tiles, *count, search->centre_px[0], search->centre_px[1], fit);
    if (!good || fit->structured < LEAST_STRUCTURED || fit->agreeing < LEAST_AGREEING ||
        fit->agreeing < LEAST_AGREEING_RATIO * fit->structured)
        return too_few(err, fit->structured);
    return PC_OK;
}

struct stack {
    int count;
    struct layer layer[LAYERS_MAX]; // from fine to coarse
};

static void stack_finish(struct stack *stack)
{
    for (int i = 0; i < stack->count; i++)
        pc_layer_finish(&stack->layer[i]);
    stack->count = 0;
}

static enum pc_status stack_init(struct pc_ctx *ctx, struct stack *stack, const struct pc_picture *picture,
                                 int factor, struct pc_err *err)
{
    memset(stack, 0, sizeof *stack);
    enum pc_status status = pc_layer_init(ctx, &stack->layer[0], picture, factor, err);
    stack->count = status == PC_OK;
    while (status == PC_OK && stack->count < LAYERS_MAX) {
        const struct layer *last = &stack->layer[stack->count - 1];
        int longest = last->width_px > last->height_px ? last->width_px : last->height_px;
        int shortest = last->width_px + last->height_px - longest;
        if (longest <= COARSE_SIDE || shortest < 4 * TILE)
            break;
        status = pc_layer_halve(ctx, &stack->layer[stack->count], last, err);
        stack->count += status == PC_OK;
    }
    if (status != PC_OK)
        stack_finish(stack);
    return status;
}

// From coarse to fine, then once more in the pictures themselves where the finest layer is not yet these.
static enum pc_status find_in_stacks(struct pc_ctx *ctx, const struct stack *a, const struct stack *b,
                                     const struct pc_picture *reference, const struct pc_picture *other,
                                     struct fit *fit, double *used_ratio, struct pc_err *err)
{
    struct tile tiles[2 * TILES_MAX];
    struct search search = {.centre_px = {0.5 * reference->full_width_px, 0.5 * reference->full_height_px}};
    const struct layer *ca = &a->layer[a->count - 1], *cb = &b->layer[b->count - 1];
    if (ca->width_px < 2 * TILE || ca->height_px < 2 * TILE)
        return pc_fail(err, PC_BAD_INPUT, NULL,
                       "This picture is too small to be laid over another (%d x %d).", reference->width_px,
                       reference->height_px);
    PC_TRY(pc_align_coarse(ctx, ca, cb, search.centre_px, &fit->warp, err));
    int count = 0;
    for (int i = a->count - 1; i >= 0; i--) {
        search.reference = &a->layer[i];
        search.other = &b->layer[i];
        search.tiles = tiles;
        PC_TRY(search_layers(ctx, &search, &count, fit, err));
        if (i == a->count - 1 && fit->correlation < SAME_VIEW_CORRELATION)
            return too_few(err, fit->structured);
        *used_ratio = (double)fit->agreeing / fit->structured;
    }
    if (a->layer[0].full_px <= reference->bin)
        return PC_OK;
    // Both layers vote: fine detail tells more where there is some, the coarser one where noise drowns it.
    struct layer fine_a, fine_b;
    pc_layer_of_picture(reference, &fine_a);
    pc_layer_of_picture(other, &fine_b);
    search.reference = &fine_a;
    search.other = &fine_b;
    search.tiles = tiles + count;
    search.warp = fit->warp;
    PC_TRY(pc_parallel(ctx, count, search_one, &search, err));
    if (!pc_align_fit(tiles, 2 * count, search.centre_px[0], search.centre_px[1], fit))
        return too_few(err, fit->structured);
    return PC_OK;
}

enum pc_status pc_align_same_size(const struct pc_picture *a, const struct pc_picture *b, struct pc_err *err)
{
    if (a->width_px == b->width_px && a->height_px == b->height_px && a->bin == b->bin &&
        a->full_width_px == b->full_width_px && a->full_height_px == b->full_height_px)
        return PC_OK;
    return pc_fail(
        err, PC_BAD_INPUT, NULL,
        "This frame is %d x %d pixels and the others are %d x %d; take all frames of a series with one "
        "camera at one setting of size and shape.",
        b->full_width_px, b->full_height_px, a->full_width_px, a->full_height_px);
}

enum pc_status pc_align_find(struct pc_ctx *ctx, const struct pc_picture *reference,
                             const struct pc_picture *other, struct pc_align *align, struct pc_err *err)
{
    PC_TRY(pc_align_same_size(reference, other, err));
    int longest = reference->width_px > reference->height_px ? reference->width_px : reference->height_px;
    int factor = (longest + WORK_SIDE - 1) / WORK_SIDE;
    struct stack a, b;
    PC_TRY(stack_init(ctx, &a, reference, factor > 0 ? factor : 1, err));
    enum pc_status status = stack_init(ctx, &b, other, factor, err);
    struct fit fit = {.warp = {1.0, 0.0, 0.0, 0.0}};
    double used_ratio = 0.0;
    if (status == PC_OK)
        status = find_in_stacks(ctx, &a, &b, reference, other, &fit, &used_ratio, err);
    stack_finish(&a);
    stack_finish(&b);
    if (status == PC_OK)
        *align = (struct pc_align){.shift_x_px = fit.warp.tx,
                                   .shift_y_px = fit.warp.ty,
                                   .rotation_rad = atan2(fit.warp.b, fit.warp.a),
                                   .scale_ratio = hypot(fit.warp.a, fit.warp.b),
                                   .tolerance_px = fit.tolerance_px,
                                   .tiles_used_ratio = used_ratio};
    return status;
}
