// SPDX-License-Identifier: Apache-2.0
// What is kept of a frame.
#include "image/picture/lines.h"
#include "shoot/check/check_priv.h"

static const double SMALL_PX = 1.6e6; // about as many as parts have, by the same rule
enum { TILE_SIDE_PX = 192, PLACE_SIDE_MOST_PX = 512, GRAIN_SIDE_PX = 768 };

static enum pc_status average(struct pc_ctx *ctx, const struct pc_picture *full, int factor,
                              struct pc_picture *small, struct pc_err *err)
{
    int width = full->width_px / factor, height = full->height_px / factor, channels = full->channels;
    PC_TRY(pc_picture_init(ctx, small, width, height, channels, err));
    small->bin = full->bin * factor;
    small->full_width_px = full->full_width_px;
    small->full_height_px = full->full_height_px;
    small->space = full->space;
    float share = 1.0f / (float)(factor * factor);
    for (int y = 0; y < height * factor; y++) {
        const float *in = full->px + (size_t)y * (size_t)full->width_px * (size_t)channels;
        const uint8_t *clipped = full->clipped + (size_t)y * (size_t)full->width_px;
        float *out = small->px + (size_t)(y / factor) * (size_t)width * (size_t)channels;
        uint8_t *mask = small->clipped + (size_t)(y / factor) * (size_t)width;
        for (int x = 0; x < width; x++)
            for (int k = 0; k < factor; k++) {
                size_t at = (size_t)x * (size_t)factor + (size_t)k;
                mask[x] |= clipped[at];
                for (int c = 0; c < channels; c++)
                    out[x * channels + c] += share * in[at * (size_t)channels + (size_t)c];
            }
    }
    for (int c = 0; c < 3; c++) {
        small->noise.offset_var[c] = full->noise.offset_var[c] * (double)share;
        small->noise.per_signal_var[c] = full->noise.per_signal_var[c] * (double)share;
    }
    return PC_OK;
}

// The grain of the whole from a piece about its middle: as good, and a tenth of the time.
static enum pc_status learn_grain(struct pc_ctx *ctx, struct pc_picture *full, struct pc_err *err)
{
    int width = full->width_px < GRAIN_SIDE_PX ? full->width_px : GRAIN_SIDE_PX;
    int height = full->height_px < GRAIN_SIDE_PX ? full->height_px : GRAIN_SIDE_PX;
    size_t channels = (size_t)full->channels;
    struct pc_picture piece;
    PC_TRY(pc_picture_init(ctx, &piece, width, height, full->channels, err));
    for (int y = 0; y < height; y++) {
        size_t from = (size_t)((full->height_px - height) / 2 + y) * (size_t)full->width_px +
                      (size_t)((full->width_px - width) / 2);
        memcpy(piece.px + (size_t)y * (size_t)width * channels, full->px + from * channels,
               (size_t)width * channels * sizeof *full->px);
        memcpy(piece.clipped + (size_t)y * (size_t)width, full->clipped + from, (size_t)width);
    }
    pc_picture_noise_from_one(&piece);
    full->noise = piece.noise;
    pc_picture_finish(&piece);
    return PC_OK;
}

static void add_window(const struct pc_picture *full, double x_px, double y_px, double radius_px,
                       double side_most_px, struct pc_blur *blur)
{
    double half = fmin(radius_px / full->bin, 0.5 * side_most_px);
    double x = x_px / full->bin - half, y = y_px / full->bin - half;
    if (!(x > -half && y > -half && x < full->width_px && y < full->height_px))
        return;
    int x0 = x > 0.0 ? (int)x : 0, y0 = y > 0.0 ? (int)y : 0;
    pc_blur_add(full, x0, y0, (int)ceil(2.0 * half), (int)ceil(2.0 * half), blur);
}

static void look_at_edges(const struct pc_picture *full, struct pc_check_look *look)
{
    const struct pc_check_spot *at = look->spots.at, *hero = &at[PC_CHECK_HERO], *front = &at[PC_CHECK_FRONT];
    for (int p = 0; p < PC_CHECK_PLACES; p++)
        if (at[p].radius_px > 0.0)
            add_window(full, at[p].x_px, at[p].y_px, at[p].radius_px, PLACE_SIDE_MOST_PX, &look->place[p]);
    if (hero->radius_px > 0.0 && front->radius_px > 0.0)
        add_window(full, 2.0 * hero->x_px - front->x_px, 2.0 * hero->y_px - front->y_px, front->radius_px,
                   PLACE_SIDE_MOST_PX, &look->back);
    double wide = (double)full->full_width_px / PC_CHECK_TILES_X,
           high = (double)full->full_height_px / PC_CHECK_TILES_Y;
    for (int t = 0; t < PC_CHECK_TILES; t++)
        add_window(full, (t % PC_CHECK_TILES_X + 0.5) * wide, ((double)(t / PC_CHECK_TILES_X) + 0.5) * high,
                   0.5 * fmax(wide, high), TILE_SIDE_PX, &look->tile[t]);
}

enum pc_status pc_check_look_make(struct pc_ctx *ctx, struct pc_photo *photo,
                                  const struct pc_check_spots *spots, struct pc_check_look *look,
                                  struct pc_err *err)
{
    struct pc_picture *full = &photo->picture;
    memset(look, 0, sizeof *look);
    if (full->width_px < 1 || full->px == NULL)
        return pc_fail(err, PC_BAD_INPUT, NULL, "There are no pixels in this frame: send it again.");
    look->facts = photo->facts;
    look->tone_mapped = photo->tone_mapped;
    look->has_xyz = photo->has_xyz_from_camera && full->channels == 3;
    memcpy(look->xyz_from_camera, photo->xyz_from_camera, sizeof look->xyz_from_camera);
    look->has_neutral = photo->has_neutral;
    memcpy(look->neutral_ratio, photo->neutral_ratio, sizeof look->neutral_ratio);
    look->bin = full->bin;
    look->spots = *spots;
    pc_picture_mend_lines(full);
    PC_TRY(learn_grain(ctx, full, err));
    double factor = round(sqrt((double)full->width_px * full->height_px / SMALL_PX));
    PC_TRY(average(ctx, full, factor > 1.0 ? (int)factor : 1, &look->small, err));
    look_at_edges(full, look);
    for (int p = 0; p < PC_CHECK_PLACES; p++)
        if (spots->at[p].radius_px > 0.0)
            look->clipped_pct[p] = pc_check_clipped_pct(full, &spots->at[p]);
    return PC_OK;
}

void pc_check_look_finish(struct pc_check_look *look)
{
    if (look != NULL)
        pc_picture_finish(&look->small);
}
