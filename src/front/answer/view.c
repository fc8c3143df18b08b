// SPDX-License-Identifier: Apache-2.0
#include "front/answer/view.h"

#include "base/linalg.h"
#include "front/answer/shrink.h"
#include "image/colour/colour.h"
#include "image/photo/write.h"
#include "light/parts/show.h"

enum { JPEG_QUALITY = 92 };
static const int widths_px[] = {480, 960, 1440, 1920, PC_VIEW_WIDEST_PX};

int pc_view_width(int64_t asked_px)
{
    for (size_t i = 0; i < PC_COUNT(widths_px); i++)
        if (asked_px <= widths_px[i])
            return widths_px[i];
    return PC_VIEW_WIDEST_PX;
}

// A neutral that reaches the sensor's saturation is white.
static void development(const struct pc_photo *photo, const double white_xyz[3], double matrix[3][3])
{
    const double as_shot[3] = {NAN, NAN, NAN};
    struct pc_show_colour colour = {.has_xyz = photo->has_xyz_from_camera};
    if (photo->picture.space == PC_SPACE_DISPLAY || photo->picture.channels != 3) {
        const double same[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
        memcpy(matrix, same, sizeof same);
        return;
    }
    for (int c = 0; c < 3; c++)
        colour.neutral_ratio[c] = photo->has_neutral ? photo->neutral_ratio[c] : 1.0;
    double neutral_xyz[3];
    pc_linalg_apply3(photo->xyz_from_camera, colour.neutral_ratio, neutral_xyz);
    colour.has_xyz = colour.has_xyz && neutral_xyz[1] > 0.0;
    for (int i = 0; i < 9 && colour.has_xyz; i++)
        colour.xyz_from_camera[i / 3][i % 3] = photo->xyz_from_camera[i / 3][i % 3] / neutral_xyz[1];
    pc_show_matrix(&colour, white_xyz != NULL ? white_xyz : as_shot, matrix);
}

static enum pc_status write_shown(struct pc_ctx *ctx, const struct pc_picture *picture, double matrix[3][3],
                                  const char *path, struct pc_err *err)
{
    struct pc_buffer rgb;
    struct pc_icc icc;
    uint8_t *profile;
    PC_TRY(pc_buffer_init(ctx, &rgb, (size_t)picture->width_px, (size_t)picture->height_px, 3, err));
    pc_show_rgb8(picture, matrix, 1.0, rgb.data);
    enum pc_status status = pc_colour_srgb_profile(&profile, &icc.count, err);
    if (status == PC_OK) {
        icc.bytes = profile;
        status =
            pc_write_jpeg(path, picture->width_px, picture->height_px, 3, rgb.data, JPEG_QUALITY, &icc, err);
        free(profile);
    }
    pc_buffer_finish(&rgb);
    return status;
}

enum pc_status pc_view_write(struct pc_ctx *ctx, struct pc_photo_reader *reader, const char *frame,
                             const double white_xyz[3], int width_px, const char *path, struct pc_err *err)
{
    struct pc_photo photo;
    struct pc_picture small;
    double matrix[3][3];
    PC_TRY(pc_photo_read(reader, frame, PC_WANT_MEASURE, false, &photo, err));
    development(&photo, white_xyz, matrix);
    enum pc_status status = pc_shrink(ctx, &photo.picture, width_px, &small, err);
    pc_photo_finish(&photo);
    PC_TRY(status);
    status = write_shown(ctx, &small, matrix, path, err);
    pc_picture_finish(&small);
    return status;
}

static int begin_of(double ratio, int side, int all)
{
    double begin = floor(ratio * all - 0.5 * side);
    return (int)fmax(0.0, fmin(begin, all - side));
}

static enum pc_status cut_out(struct pc_ctx *ctx, const struct pc_picture *picture, double x_ratio,
                              double y_ratio, int side_px, struct pc_picture *cut, struct pc_err *err)
{
    int width = side_px < picture->width_px ? side_px : picture->width_px;
    int height = side_px < picture->height_px ? side_px : picture->height_px;
    int x0 = begin_of(x_ratio, width, picture->width_px), y0 = begin_of(y_ratio, height, picture->height_px);
    size_t channels = (size_t)picture->channels;
    PC_TRY(pc_picture_init(ctx, cut, width, height, picture->channels, err));
    for (int y = 0; y < height; y++) {
        size_t from = (size_t)(y0 + y) * (size_t)picture->width_px + (size_t)x0,
               to = (size_t)y * (size_t)width;
        memcpy(cut->px + to * channels, picture->px + from * channels,
               (size_t)width * channels * sizeof *cut->px);
        memcpy(cut->clipped + to, picture->clipped + from, (size_t)width);
    }
    return PC_OK;
}

enum pc_status pc_view_write_cut(struct pc_ctx *ctx, struct pc_photo_reader *reader, const char *frame,
                                 const double white_xyz[3], double x_ratio, double y_ratio, int side_px,
                                 const char *path, struct pc_err *err)
{
    struct pc_photo photo;
    struct pc_picture cut;
    double matrix[3][3];
    PC_TRY(pc_photo_read(reader, frame, PC_WANT_PICTURE, false, &photo, err));
    development(&photo, white_xyz, matrix);
    enum pc_status status = cut_out(ctx, &photo.picture, x_ratio, y_ratio, side_px, &cut, err);
    pc_photo_finish(&photo);
    PC_TRY(status);
    status = write_shown(ctx, &cut, matrix, path, err);
    pc_picture_finish(&cut);
    return status;
}

enum pc_status pc_view_write_residual(struct pc_ctx *ctx, const struct pc_picture *residual_ev,
                                      const char *path, struct pc_err *err)
{
    struct pc_buffer grey;
    PC_TRY(pc_buffer_init(ctx, &grey, (size_t)residual_ev->width_px, (size_t)residual_ev->height_px, 1, err));
    pc_show_residual8(residual_ev, grey.data);
    enum pc_status status = pc_write_jpeg(path, residual_ev->width_px, residual_ev->height_px, 1, grey.data,
                                          JPEG_QUALITY, NULL, err);
    pc_buffer_finish(&grey);
    return status;
}
