// SPDX-License-Identifier: Apache-2.0
#include "image/picture/picture.h"

enum pc_status pc_picture_init(struct pc_ctx *ctx, struct pc_picture *picture, int width_px, int height_px,
                               int channels, struct pc_err *err)
{
    PC_ASSERT(channels == 1 || channels == 3);
    memset(picture, 0, sizeof *picture);
    if (width_px <= 0 || height_px <= 0)
        return pc_fail(err, PC_BAD_INPUT, NULL, "A picture of %d x %d pixels has nothing in it.", width_px,
                       height_px);
    struct pc_buffer pixels, mask;
    PC_TRY(pc_buffer_init(ctx, &pixels, (size_t)width_px, (size_t)height_px, sizeof(float) * (size_t)channels,
                          err));
    enum pc_status status = pc_buffer_init(ctx, &mask, (size_t)width_px, (size_t)height_px, 1, err);
    if (status != PC_OK) {
        pc_buffer_finish(&pixels);
        return status;
    }
    *picture = (struct pc_picture){
        .width_px = width_px,
        .height_px = height_px,
        .channels = channels,
        .bin = 1,
        .full_width_px = width_px,
        .full_height_px = height_px,
        .px = pixels.data,
        .clipped = mask.data,
        .pixels = pixels,
        .mask = mask,
    };
    return PC_OK;
}

void pc_picture_finish(struct pc_picture *picture)
{
    if (picture == NULL)
        return;
    pc_buffer_finish(&picture->pixels);
    pc_buffer_finish(&picture->mask);
    memset(picture, 0, sizeof *picture);
}
