// SPDX-License-Identifier: Apache-2.0
#include "image/photo/photo_bench.h"
#include "base/file.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

static struct {
    struct pc_ctx ctx;
    struct pc_photo_reader *reader;
    char folder[256];
} on;

int photo_bench_open(void **state)
{
    (void)state;
    return photo_bench_open_with(2, NULL);
}

int photo_bench_open_with(int threads, const struct pc_photo_limits *limits)
{
    pc_ctx_init(&on.ctx, threads, 0);
    const char *tmp = getenv("TMPDIR");
    snprintf(on.folder, sizeof on.folder, "%s/photo-test-XXXXXX", tmp != NULL ? tmp : "/tmp");
    struct pc_err err = {0};
    if (mkdtemp(on.folder) == NULL || pc_photo_reader_create(&on.ctx, limits, &on.reader, &err) != PC_OK) {
        fprintf(stderr, "%s\n", err.text);
        return 1;
    }
    return 0;
}

int photo_bench_close(void **state)
{
    (void)state;
    pc_photo_reader_destroy(on.reader);
    struct pc_arena *arena = pc_arena_create();
    char **paths;
    size_t count;
    if (pc_file_list(arena, on.folder, &paths, &count, NULL) == PC_OK)
        for (size_t i = 0; i < count; i++)
            unlink(paths[i]);
    pc_arena_destroy(arena);
    rmdir(on.folder);
    return on.ctx.held_bytes == 0 ? 0 : 1;
}

const char *path_of(const char *name)
{
    static char path[512];
    snprintf(path, sizeof path, "%s/%s", on.folder, name);
    return path;
}

void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.9g, want %.9g within %g", got, want, within);
}

enum pc_status read_photo(const char *name, enum pc_photo_want want, bool linear, struct pc_photo *photo,
                          struct pc_err *err)
{
    memset(err, 0, sizeof *err);
    return pc_photo_read(on.reader, path_of(name), want, linear, photo, err);
}

struct pc_photo read_good(const char *name, enum pc_photo_want want, bool linear)
{
    struct pc_photo photo;
    struct pc_err err = {0};
    if (read_photo(name, want, linear, &photo, &err) != PC_OK)
        fail_msg("%s: %s", name, err.text);
    return photo;
}

struct pc_photo read_kept(const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/fuzz/corpus/%s", getenv("PC_SOURCE_ROOT"), name);
    struct pc_photo photo;
    struct pc_err err = {0};
    if (pc_photo_read(on.reader, path, PC_WANT_PICTURE, false, &photo, &err) != PC_OK)
        fail_msg("%s: %s", name, err.text);
    return photo;
}

void refused(const char *name, enum pc_photo_want want, enum pc_status status, const char *words)
{
    struct pc_photo photo;
    struct pc_err err = {0};
    enum pc_status got = read_photo(name, want, false, &photo, &err);
    if (got != status || strstr(err.text, words) == NULL || strstr(err.place, name) == NULL)
        fail_msg("%s: status %d, want %d; [%s] %s; want \"%s\"", name, got, status, err.place, err.text,
                 words);
    assert_null(photo.picture.px);
}

float px(const struct pc_photo *photo, int x, int y, int c)
{
    const struct pc_picture *p = &photo->picture;
    return p->px[((size_t)y * (size_t)p->width_px + (size_t)x) * (size_t)p->channels + (size_t)c];
}

struct pc_dng plain_dng(const uint16_t *dn)
{
    struct pc_dng dng = {
        .width_px = W,
        .height_px = H,
        .px = dn,
        .cfa = "RGGB",
        .black_dn = {500, 510, 520, 530},
        .white_dn = 16000,
        .camera_from_xyz = {{0.8, -0.2, -0.1}, {-0.4, 1.2, 0.2}, {-0.1, 0.2, 0.6}},
        .neutral_ratio = {0.5, 1, 0.625},
    };
    pc_facts_clear(&dng.facts);
    snprintf(dng.facts.maker, sizeof dng.facts.maker, "Maker");
    snprintf(dng.facts.model, sizeof dng.facts.model, "Model");
    dng.facts.orientation = 1;
    return dng;
}

void write_dng(const char *name, const struct pc_dng *dng)
{
    struct pc_err err = {0};
    if (pc_write_dng(path_of(name), dng, &err) != PC_OK)
        fail_msg("%s", err.text);
}

double srgb_light(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4); // IEC 61966-2-1
}
