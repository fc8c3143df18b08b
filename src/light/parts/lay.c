// SPDX-License-Identifier: Apache-2.0
// One more frame laid over the parts.
#include "base/file.h"
#include "image/picture/lines.h"
#include "light/parts/parts_priv.h"

// picture: what was read, finished here unless it goes into laid.
static enum pc_status lay(struct pc_ctx *ctx, const struct pc_parts *parts, struct pc_picture *picture,
                          const char *name, struct pc_laid *laid, struct pc_err *err)
{
    const struct pc_picture *ambient = &parts->ambient;
    if (picture->width_px != ambient->width_px || picture->height_px != ambient->height_px ||
        picture->channels != ambient->channels) {
        pc_picture_finish(picture);
        return pc_fail(err, PC_BAD_INPUT, name,
                       "It is not of the size of the set's frames; take it with the same camera, "
                       "locked off.");
    }
    pc_picture_noise_from_one(picture);
    struct pc_align align;
    struct pc_err inner = {0};
    enum pc_status status = pc_align_find(ctx, ambient, picture, &align, &inner);
    if (status != PC_OK) {
        pc_picture_finish(picture);
        return pc_fail(err, status, name, "%s", inner.text);
    }
    if (pc_parts_largest_move_px(picture, &align) > fmax(0.15, align.tolerance_px)) {
        status = pc_align_resample(ctx, picture, &align, &laid->picture, err);
        laid->picture.noise = picture->noise;
        pc_picture_finish(picture);
        PC_TRY(status);
    } else {
        laid->picture = *picture;
    }
    const struct pc_series *series = &parts->series;
    laid->gain_ratio = pc_series_gain_of(series, &laid->facts);
    laid->shutter_ratio = pc_shutter_like(series, &laid->facts) / series->frame[series->reference].shutter_s;
    pc_parts_scale(&laid->picture, 1.0 / (laid->gain_ratio * laid->shutter_ratio));
    return PC_OK;
}

enum pc_status pc_parts_lay(struct pc_ctx *ctx, struct pc_photo_reader *reader, const struct pc_parts *parts,
                            const char *path, struct pc_laid *laid, struct pc_err *err)
{
    memset(laid, 0, sizeof *laid);
    struct pc_loaded loaded;
    PC_TRY(pc_parts_load(reader, path, parts->series.linear, &loaded, &laid->facts, err));
    laid->clipped_ratio = loaded.clipped_ratio;
    return lay(ctx, parts, &loaded.picture, pc_file_name(path), laid, err);
}

enum pc_status pc_parts_lay_picture(struct pc_ctx *ctx, const struct pc_parts *parts,
                                    struct pc_picture *picture, const struct pc_facts *facts,
                                    const char *name, struct pc_laid *laid, struct pc_err *err)
{
    memset(laid, 0, sizeof *laid);
    laid->facts = *facts;
    laid->clipped_ratio = pc_picture_clipped_ratio(picture);
    pc_picture_mend_lines(picture);
    struct pc_picture taken = *picture;
    memset(picture, 0, sizeof *picture);
    return lay(ctx, parts, &taken, name, laid, err);
}
