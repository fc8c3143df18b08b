// SPDX-License-Identifier: Apache-2.0
#include "front/answer/pictures.h"

#include "base/file.h"
#include "image/colour/colour.h"
#include "image/photo/write.h"
#include "light/parts/show.h"

#include <strings.h>
#include <sys/stat.h>

enum { JPEG_QUALITY = 92 };

struct album {
    struct pc_ctx *ctx;
    struct pc_arena *arena;
    const struct pc_weighed *weighed;
    const struct pc_measured *measured;
    const char *folder;
    const char *light_path[PC_LIGHTS_MAX]; // of each light alone
    uint8_t *profile;
    size_t profile_bytes;
};

// Letters that mean something to a file system or a terminal become dashes.
static const char *path_in(const struct album *album, const char *name, const char *ending)
{
    char *path = pc_arena_printf(album->arena, "%s/%s%s", album->folder, name, ending);
    for (char *c = path + strlen(album->folder) + 1; *c != '\0'; c++)
        if (strchr("/\\:*?\"<>|", *c) != NULL || (unsigned char)*c < 0x20)
            *c = '-';
    return path;
}

static bool is_taken(const char *const *taken, size_t count, const char *path)
{
    for (size_t i = 0; i < count; i++)
        if (strcasecmp(taken[i], path) == 0) // one name on many a disk
            return true;
    return false;
}

// A light may be called what another picture is called: then its picture is "NAME 2", and so on.
static void name_lights(struct album *album)
{
    const struct pc_reading *reading = &album->measured->reading;
    const char *taken[PC_LIGHTS_MAX + PC_COUNT(pc_ways) + 2];
    size_t count = 0;
    taken[count++] = path_in(album, "window", ".jpg");
    taken[count++] = path_in(album, "foretold", ".jpg");
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++)
        taken[count++] = path_in(album, pc_ways[i].name, ".jpg");
    for (int i = 0; i < reading->light_count; i++) {
        const char *name = reading->light[i].name, *path = path_in(album, name, ".jpg");
        for (int n = 2; is_taken(taken, count, path); n++)
            path = path_in(album, pc_arena_printf(album->arena, "%s %d", name, n), ".jpg");
        album->light_path[i] = taken[count++] = path;
    }
}

static enum pc_status write_shown(const struct album *album, const char *path,
                                  const struct pc_picture *picture, const double white_xyz[3],
                                  double exposure_ratio, struct pc_err *err)
{
    struct pc_buffer rgb;
    PC_TRY(pc_buffer_init(album->ctx, &rgb, (size_t)picture->width_px, (size_t)picture->height_px, 3, err));
    pc_show_srgb8(&album->measured->parts, picture, white_xyz, exposure_ratio, rgb.data);
    const struct pc_icc icc = {album->profile, album->profile_bytes};
    enum pc_status status =
        pc_write_jpeg(path, picture->width_px, picture->height_px, 3, rgb.data, JPEG_QUALITY, &icc, err);
    pc_buffer_finish(&rgb);
    return status;
}

static enum pc_status write_setting(const struct album *album, const char *name, const struct pc_dials *dials,
                                    double exposure_ratio, bool linear_too, struct pc_err *err)
{
    const struct pc_measured *m = album->measured;
    double weights[PC_EMITTERS_MAX], ambient_weight, white_xyz[3];
    struct pc_picture picture;
    pc_reading_weights(&m->reading, dials, weights, &ambient_weight);
    PC_TRY(pc_parts_weigh(album->ctx, &m->parts, &m->reading, weights, ambient_weight, &picture, err));
    pc_show_white(&m->reading, dials, PC_PLACE_HERO, white_xyz);
    enum pc_status status =
        write_shown(album, path_in(album, name, ".jpg"), &picture, white_xyz, exposure_ratio, err);
    struct pc_buffer linear = {0};
    if (status == PC_OK && linear_too)
        status = pc_buffer_init(album->ctx, &linear, (size_t)picture.width_px, (size_t)picture.height_px,
                                (size_t)picture.channels * sizeof(uint16_t), err);
    if (status == PC_OK && linear_too) {
        pc_show_linear16(&picture, linear.data);
        status = pc_write_tiff16(path_in(album, name, ".tif"), picture.width_px, picture.height_px,
                                 picture.channels, linear.data, NULL,
                                 "Linear camera colour; 65535 is the sensor's saturation.", err);
    }
    pc_buffer_finish(&linear);
    pc_picture_finish(&picture);
    return status;
}

static enum pc_status write_alone(const struct album *album, int light, struct pc_err *err)
{
    struct pc_dials alone = album->weighed->dials;
    const struct pc_reading *reading = &album->measured->reading;
    double weights[PC_EMITTERS_MAX], ambient_weight, white_xyz[3];
    struct pc_picture picture;
    for (int i = 0; i < reading->light_count; i++)
        alone.dial_ratio[i] = i == light ? reading->light[i].dial_ratio : 0.0;
    pc_reading_weights(reading, &alone, weights, &ambient_weight);
    PC_TRY(pc_parts_weigh(album->ctx, &album->measured->parts, reading, weights, light < 0 ? 1.0 : 0.0,
                          &picture, err));
    pc_show_white(reading, &album->weighed->dials, PC_PLACE_HERO, white_xyz);
    const char *path = light < 0 ? path_in(album, "window", ".jpg") : album->light_path[light];
    enum pc_status status = write_shown(album, path, &picture, white_xyz, 1.0, err);
    pc_picture_finish(&picture);
    return status;
}

static enum pc_status write_residual(const struct album *album, const struct pc_picture *residual_ev,
                                     struct pc_err *err)
{
    struct pc_buffer grey;
    PC_TRY(pc_buffer_init(album->ctx, &grey, (size_t)residual_ev->width_px, (size_t)residual_ev->height_px,
                          sizeof(uint16_t), err));
    pc_show_residual16(residual_ev, grey.data);
    enum pc_status status = pc_write_png16(path_in(album, "residual", ".png"), residual_ev->width_px,
                                           residual_ev->height_px, 1, grey.data, NULL, err);
    pc_buffer_finish(&grey);
    return status;
}

static enum pc_status write_album(const struct album *album, struct pc_err *err)
{
    const struct pc_weighed *w = album->weighed;
    for (int light = -1; light < album->measured->reading.light_count; light++)
        PC_TRY(write_alone(album, light, err));
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++)
        PC_TRY(
            write_setting(album, pc_ways[i].name, &w->way[i].dials, exp2(w->way[i].exposure_ev), false, err));
    PC_TRY(write_setting(album, "foretold", &w->dials, 1.0, true, err));
    return w->closed ? write_residual(album, &w->closing.residual, err) : PC_OK;
}

static bool lies_in(struct pc_arena *arena, const struct stat *folder, const char *path)
{
    struct stat st;
    const char *its_folder = pc_arena_printf(arena, "%.*s.", (int)(pc_file_name(path) - path), path);
    return stat(path, &st) == 0 && stat(its_folder, &st) == 0 && st.st_dev == folder->st_dev &&
           st.st_ino == folder->st_ino;
}

// A camera's JPEG may bear the very name that a picture gets, and a photograph is never written over.
static enum pc_status refuse_folder_of_frames(const struct album *album, const char *actual,
                                              struct pc_err *err)
{
    const struct pc_series *series = &album->measured->series;
    struct stat out;
    if (stat(album->folder, &out) != 0)
        return PC_OK;
    bool among = actual != NULL && lies_in(album->arena, &out, actual);
    for (int i = 0; i < series->frame_count && !among; i++)
        among = lies_in(album->arena, &out, series->frame[i].path);
    if (among)
        return pc_fail(
            err, PC_MISUSE, album->folder,
            "The frames lie in this folder, and pictures could take the place of photographs there; name "
            "another folder with --out.");
    return PC_OK;
}

enum pc_status pc_pictures_write(struct pc_ctx *ctx, struct pc_arena *arena, const struct pc_weighed *weighed,
                                 const char *actual, const char *folder, struct pc_err *err)
{
    struct album album = {
        .ctx = ctx, .arena = arena, .weighed = weighed, .measured = weighed->measured, .folder = folder};
    PC_TRY(refuse_folder_of_frames(&album, actual, err));
    name_lights(&album);
    PC_TRY(pc_file_make_folder(folder, err));
    PC_TRY(pc_colour_srgb_profile(&album.profile, &album.profile_bytes, err));
    enum pc_status status = write_album(&album, err);
    free(album.profile);
    return status;
}
