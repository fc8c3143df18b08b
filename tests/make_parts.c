// SPDX-License-Identifier: Apache-2.0
// make-parts OUT HERO-X,HERO-Y SURFACE-X,SURFACE-Y FRAME...: what a browser is given to weigh by itself, the
// part files and parts.json, and beside them the library's own pictures of the same settings (NAME.rgb, 8
// bits sRGB), for the tests of the pages.
#include "base/file.h"
#include "front/answer/part_files.h"
#include "front/answer/shrink.h"
#include "light/parts/show.h"

static enum pc_status add_place(struct pc_asked *asked, const char *name, const char *text,
                                struct pc_err *err)
{
    char *end;
    double x = strtod(text, &end);
    double y = *end == ',' ? strtod(end + 1, &end) : (double)NAN;
    if (*end != '\0' || isnan(y))
        return pc_fail(err, PC_MISUSE, name, "A place is told as X,Y.");
    return pc_asked_add_place(asked, name, x, y, err);
}

static enum pc_status write_picture(struct pc_ctx *ctx, const struct pc_measured *m,
                                    const struct pc_dials *dials, double exposure_ratio, const char *path,
                                    struct pc_err *err)
{
    double weights[PC_EMITTERS_MAX], ambient_weight, white_xyz[3];
    struct pc_picture whole, small;
    struct pc_buffer rgb;
    pc_reading_weights(&m->reading, dials, weights, &ambient_weight);
    PC_TRY(pc_parts_weigh(ctx, &m->parts, &m->reading, weights, ambient_weight, &whole, err));
    enum pc_status status = pc_shrink(ctx, &whole, PC_PART_FILES_WIDTH_PX, &small, err);
    pc_picture_finish(&whole);
    PC_TRY(status);
    size_t n = (size_t)small.width_px * (size_t)small.height_px;
    status = pc_buffer_init(ctx, &rgb, n, 3, 1, err);
    if (status == PC_OK) {
        pc_show_white(&m->reading, dials, PC_PLACE_HERO, white_xyz);
        pc_show_srgb8(&m->parts, &small, white_xyz, exposure_ratio, rgb.data);
        status = pc_file_write(path, rgb.data, 3 * n, err);
        pc_buffer_finish(&rgb);
    }
    pc_picture_finish(&small);
    return status;
}

static enum pc_status write_all(struct pc_ctx *ctx, struct pc_arena *arena, const struct pc_weighed *weighed,
                                const char *out, struct pc_err *err)
{
    const struct pc_measured *m = weighed->measured;
    PC_TRY(pc_file_make_folder(out, err));
    PC_TRY(pc_part_files_write(ctx, m, PC_PART_FILES_WIDTH_PX, out, "parts", err));
    struct pc_json *head = pc_part_files_json(weighed, PC_PART_FILES_WIDTH_PX, "parts/", ".f16");
    char *text = pc_json_print(arena, head, false);
    pc_json_destroy(head);
    enum pc_status status =
        pc_file_write(pc_arena_printf(arena, "%s/parts.json", out), text, strlen(text), err);
    PC_TRY(status);
    PC_TRY(write_picture(ctx, m, &weighed->dials, 1.0, pc_arena_printf(arena, "%s/foretold.rgb", out), err));
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++)
        PC_TRY(write_picture(ctx, m, &weighed->way[i].dials, exp2(weighed->way[i].exposure_ev),
                             pc_arena_printf(arena, "%s/%s.rgb", out, pc_ways[i].name), err));
    return PC_OK;
}

static enum pc_status run(struct pc_ctx *ctx, struct pc_arena *arena, int count, char **words,
                          struct pc_err *err)
{
    struct pc_asked asked;
    struct pc_measured *measured = NULL;
    struct pc_weighed *weighed = calloc(1, sizeof *weighed);
    PC_ASSERT(weighed != NULL);
    pc_asked_init(&asked);
    enum pc_status status = add_place(&asked, "hero", words[1], err);
    if (status == PC_OK)
        status = add_place(&asked, "surface", words[2], err);
    asked.paths = (const char *const *)words + 3;
    asked.path_count = count - 3;
    if (status == PC_OK)
        status = pc_measured_create(ctx, arena, &asked, &measured, err);
    if (status == PC_OK)
        status = pc_weighed_make(ctx, measured, &asked, weighed, err);
    if (status == PC_OK)
        status = write_all(ctx, arena, weighed, words[0], err);
    pc_weighed_finish(weighed);
    pc_measured_destroy(measured);
    free(weighed);
    return status;
}

int main(int argc, char **argv)
{
    if (argc < 6) {
        fprintf(stderr, "make-parts OUT HERO-X,HERO-Y SURFACE-X,SURFACE-Y FRAME...\n");
        return 2;
    }
    struct pc_ctx ctx;
    struct pc_err err = {0};
    struct pc_arena *arena = pc_arena_create();
    pc_ctx_init(&ctx, 2, 0);
    enum pc_status status = run(&ctx, arena, argc - 1, argv + 1, &err);
    pc_arena_destroy(arena);
    if (status != PC_OK)
        fprintf(stderr, "make-parts: %s: %s\n", err.place, err.text);
    return status == PC_OK ? 0 : 1;
}
