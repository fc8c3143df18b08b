// SPDX-License-Identifier: Apache-2.0
#include "front/answer/part_files.h"

#include "base/file.h"
#include "front/answer/half.h"
#include "front/answer/shrink.h"
#include "light/parts/show.h"

enum { CHANNELS = 4, HALF_BYTES = 2 };

char *pc_part_files_path(struct pc_arena *arena, const char *folder, const char *name, int n)
{
    return pc_arena_printf(arena, "%s/%s-%d.f16", folder, name, n);
}

int pc_part_files_count(const struct pc_measured *measured)
{
    return measured->hand_held ? 0 : measured->reading.emitter_count + 1;
}

static void put_half(uint8_t *bytes, float value)
{
    uint16_t half = pc_half(value);
    bytes[0] = (uint8_t)(half & 0xff);
    bytes[1] = (uint8_t)(half >> 8);
}

static enum pc_status write_picture(struct pc_ctx *ctx, const struct pc_picture *picture, int most_width_px,
                                    const char *path, struct pc_err *err)
{
    struct pc_picture small;
    struct pc_buffer bytes;
    PC_TRY(pc_shrink(ctx, picture, most_width_px, &small, err));
    size_t n = (size_t)small.width_px * (size_t)small.height_px, channels = (size_t)small.channels;
    enum pc_status status = pc_buffer_init(ctx, &bytes, n, CHANNELS, HALF_BYTES, err);
    if (status == PC_OK) {
        uint8_t *to = bytes.data;
        for (size_t i = 0; i < n; i++, to += (size_t)CHANNELS * HALF_BYTES) {
            for (size_t c = 0; c < 3; c++)
                put_half(to + c * HALF_BYTES, small.px[i * channels + (channels == 3 ? c : 0)]);
            put_half(to + 3UL * HALF_BYTES, small.clipped[i] != 0 ? 1.0F : 0.0F);
        }
        status = pc_file_write(path, bytes.data, n * CHANNELS * HALF_BYTES, err);
    }
    pc_buffer_finish(&bytes);
    pc_picture_finish(&small);
    return status;
}

enum pc_status pc_part_files_write(struct pc_ctx *ctx, const struct pc_measured *measured, int most_width_px,
                                   const char *folder, const char *name, struct pc_err *err)
{
    if (measured->hand_held)
        return pc_fail(err, PC_UNSUPPORTED, NULL,
                       "A set taken from the hand gives no pictures; take it with the camera locked off.");
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    struct pc_basis basis;
    pc_parts_basis(&measured->parts, &measured->reading, &basis);
    int count = pc_part_files_count(measured);
    enum pc_status status = PC_OK;
    for (int n = 0; n < count && status == PC_OK; n++) {
        const struct pc_picture *picture =
            n == 0 ? &measured->parts.ambient : &measured->parts.part[basis.part[n - 1]].picture;
        status = pc_ctx_step(ctx, "writing the pictures of each light", (double)n / count, err);
        if (status == PC_OK)
            status =
                write_picture(ctx, picture, most_width_px, pc_part_files_path(arena, folder, name, n), err);
    }
    pc_arena_destroy(arena);
    return status;
}

static struct pc_json *matrix_json(double m[3][3])
{
    struct pc_json *rows = pc_json_array();
    for (int r = 0; r < 3; r++) {
        struct pc_json *row = pc_json_array();
        for (int c = 0; c < 3; c++)
            pc_json_add_number(row, m[r][c], 8);
        pc_json_add(rows, row);
    }
    return rows;
}

static struct pc_json *matrix_of(const struct pc_measured *m, const struct pc_dials *dials)
{
    const struct pc_show_colour colour = pc_show_colour_of(&m->parts);
    double white_xyz[3], matrix[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    pc_show_white(&m->reading, dials, PC_PLACE_HERO, white_xyz);
    if (m->parts.ambient.channels == 3)
        pc_show_matrix(&colour, white_xyz, matrix);
    return matrix_json(matrix);
}

static struct pc_json *setting_json(const struct pc_measured *m, const struct pc_basis *basis,
                                    const char *name, const struct pc_dials *dials, double exposure_ratio)
{
    double weights[PC_EMITTERS_MAX], ambient_weight;
    pc_reading_weights(&m->reading, dials, weights, &ambient_weight);
    struct pc_json *o = pc_json_object(), *all = pc_json_array();
    pc_json_put_text(o, "name", name);
    pc_json_add_number(all, ambient_weight, 8);
    for (int e = 0; e < m->reading.emitter_count; e++)
        pc_json_add_number(all, weights[e] * basis->per_full[e], 8);
    pc_json_put(o, "weights", all);
    pc_json_put(o, "srgb_from_camera", matrix_of(m, dials));
    pc_json_put_number(o, "exposure_ratio", exposure_ratio, 8);
    return o;
}

static void put_url(struct pc_json *o, const char *before, int n, const char *after)
{
    char url[512];
    snprintf(url, sizeof url, "%s%d%s", before, n, after);
    pc_json_put_text(o, "url", url);
}

struct pc_json *pc_part_files_json(const struct pc_weighed *weighed, int most_width_px, const char *before,
                                   const char *after)
{
    const struct pc_measured *m = weighed->measured;
    const struct pc_picture *ambient = &m->parts.ambient;
    struct pc_basis basis;
    struct pc_json *o = pc_json_object(), *parts = pc_json_array(), *window = pc_json_object(),
                   *settings = pc_json_array();
    pc_parts_basis(&m->parts, &m->reading, &basis);
    int width_px = ambient->width_px < most_width_px ? ambient->width_px : most_width_px;
    pc_json_put_int(o, "width_px", width_px);
    pc_json_put_int(o, "height_px", lround((double)ambient->height_px * width_px / ambient->width_px));
    for (int e = 0; e < m->reading.emitter_count; e++) {
        struct pc_json *part = pc_json_object();
        int light = m->reading.emitter[e].light;
        pc_json_put_text(part, "light", m->reading.light[light].name);
        pc_json_put_int(part, "emitter", e - m->reading.light[light].emitter[0]);
        put_url(part, before, e + 1, after);
        pc_json_put_number(part, "per_full", basis.per_full[e], 8);
        pc_json_add(parts, part);
    }
    pc_json_put(o, "parts", parts);
    put_url(window, before, 0, after);
    pc_json_put(o, "ambient", window);
    pc_json_put(o, "srgb_from_camera", matrix_of(m, &weighed->dials));
    pc_json_put_number(o, "white_level", 1.0, 1);
    pc_json_add(settings, setting_json(m, &basis, "foretold", &weighed->dials, 1.0));
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++) {
        double exposure_ev = weighed->way[i].exposure_ev;
        pc_json_add(settings, setting_json(m, &basis, pc_ways[i].name, &weighed->way[i].dials,
                                           isnan(exposure_ev) ? 1.0 : exp2(exposure_ev)));
    }
    pc_json_put(o, "settings", settings);
    return o;
}
