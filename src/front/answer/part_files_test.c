// SPDX-License-Identifier: Apache-2.0
// What a browser makes of the files of parts, reckoned here by itself from their bytes and the JSON beside
// them, against the library's own pictures.
#include "base/file.h"
#include "front/answer/part_files.h"
#include "front/answer/shrink.h"
#include "light/parts/show.h"
#include "tests/sim/sim.h"

#include <ftw.h>
#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

struct set {
    struct pc_ctx ctx;
    struct pc_arena *arena;
    char folder[64];
    struct pc_asked asked;
    struct pc_measured *measured;
    struct pc_weighed weighed;
    struct pc_err err;
};

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *at)
{
    (void)info;
    (void)kind;
    (void)at;
    return remove(path);
}

static void ok(struct set *s, enum pc_status status)
{
    if (status != PC_OK)
        fail_msg("%s: %s", s->err.place, s->err.text);
}

// Frames of the demo's lights, each of its emitters by itself so that one has a kelvin, in a folder.
static int make_set(void **state)
{
    struct set *s = calloc(1, sizeof *s);
    struct sim_setup setup;
    struct sim_scene *scene;
    struct sim_shot shots[SIM_SHOTS_MAX];
    *state = s;
    s->arena = pc_arena_create();
    pc_ctx_init(&s->ctx, 2, 0);
    snprintf(s->folder, sizeof s->folder, "/tmp/pc-parts-XXXXXX");
    assert_non_null(mkdtemp(s->folder));
    sim_setup_demo(&setup);
    sim_setup_resize(&setup, 600, 400);
    assert_int_equal(sim_scene_create(&setup, &scene, &s->err), PC_OK);
    int count = sim_series_job(&setup, 1.0, shots);
    ok(s, sim_shoot_series(scene, shots, count, s->folder, &s->err));
    double x, y;
    char **paths;
    size_t path_count;
    pc_asked_init(&s->asked);
    assert_true(sim_place_px(scene, &shots[0], SIM_PLACE_HERO, &x, &y));
    ok(s, pc_asked_add_place(&s->asked, "hero", x, y, &s->err));
    assert_true(sim_place_px(scene, &shots[0], SIM_PLACE_SURFACE, &x, &y));
    ok(s, pc_asked_add_place(&s->asked, "surface", x, y, &s->err));
    ok(s, pc_file_list(s->arena, s->folder, &paths, &path_count, &s->err));
    s->asked.paths = (const char *const *)paths;
    s->asked.path_count = (int)path_count;
    sim_scene_destroy(scene);
    ok(s, pc_measured_create(&s->ctx, s->arena, &s->asked, &s->measured, &s->err));
    ok(s, pc_weighed_make(&s->ctx, s->measured, &s->asked, &s->weighed, &s->err));
    return 0;
}

static int end_set(void **state)
{
    struct set *s = *state;
    pc_weighed_finish(&s->weighed);
    pc_measured_destroy(s->measured);
    pc_arena_destroy(s->arena);
    int status = nftw(s->folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
    free(s);
    return status;
}

static double number(const struct pc_json *json)
{
    double value = NAN;
    assert_true(pc_json_number(json, &value));
    return value;
}

// IEEE 754-2008, 3.4, from the bytes.
static double half_at(const char *bytes, size_t i)
{
    unsigned bits = (unsigned char)bytes[2 * i] | (unsigned)(unsigned char)bytes[2 * i + 1] << 8;
    int exponent = (int)(bits >> 10 & 0x1f), fraction = (int)(bits & 0x3ff);
    double size = exponent == 0 ? ldexp(fraction, -24) : ldexp(1024 + fraction, exponent - 25);
    return bits & 0x8000 ? -size : size;
}

// IEC 61966-2-1.
static double encoded(double linear)
{
    double x = fmin(1.0, fmax(0.0, linear));
    return 255.0 * (x <= 0.0031308 ? 12.92 * x : 1.055 * pow(x, 1.0 / 2.4) - 0.055);
}

struct browser {
    size_t pixels;
    int files;
    char *bytes[PC_PART_FILES_MAX];
    struct pc_json *head;
};

static void pixel_in_browser(const struct browser *b, const struct pc_json *setting, size_t i, double out[3])
{
    double camera[3] = {0}, linear[3], clipped = 0.0,
           exposure = number(pc_json_get(setting, "exposure_ratio"));
    for (int n = 0; n < b->files; n++) {
        double weight = number(pc_json_at(pc_json_get(setting, "weights"), (size_t)n));
        if (weight == 0.0)
            continue;
        for (size_t c = 0; c < 3; c++)
            camera[c] += weight * half_at(b->bytes[n], 4 * i + c);
        clipped += half_at(b->bytes[n], 4 * i + 3);
    }
    const struct pc_json *m = pc_json_get(setting, "srgb_from_camera");
    for (size_t r = 0; r < 3; r++) {
        linear[r] = 0.0;
        for (size_t c = 0; c < 3; c++)
            linear[r] += exposure * number(pc_json_at(pc_json_at(m, r), c)) * camera[c];
    }
    double most = fmax(linear[0], fmax(linear[1], linear[2]));
    for (size_t c = 0; c < 3; c++)
        out[c] = encoded(clipped > 0.0 ? most : linear[c]);
}

static void library_picture(struct set *s, const struct pc_dials *dials, double exposure_ratio, int width_px,
                            struct pc_buffer *rgb, size_t *pixels)
{
    double weights[PC_EMITTERS_MAX], ambient_weight, white_xyz[3];
    struct pc_picture whole, small;
    pc_reading_weights(&s->measured->reading, dials, weights, &ambient_weight);
    ok(s, pc_parts_weigh(&s->ctx, &s->measured->parts, &s->measured->reading, weights, ambient_weight, &whole,
                         &s->err));
    ok(s, pc_shrink(&s->ctx, &whole, width_px, &small, &s->err));
    pc_show_white(&s->measured->reading, dials, PC_PLACE_HERO, white_xyz);
    *pixels = (size_t)small.width_px * (size_t)small.height_px;
    ok(s, pc_buffer_init(&s->ctx, rgb, *pixels, 3, 1, &s->err));
    pc_show_srgb8(&s->measured->parts, &small, white_xyz, exposure_ratio, rgb->data);
    pc_picture_finish(&whole);
    pc_picture_finish(&small);
}

static void fetch(struct set *s, int width_px, const char *name, struct browser *b)
{
    ok(s, pc_part_files_write(&s->ctx, s->measured, width_px, s->folder, name, &s->err));
    b->head = pc_part_files_json(&s->weighed, width_px, "parts/", ".f16");
    b->pixels =
        (size_t)(number(pc_json_get(b->head, "width_px")) * number(pc_json_get(b->head, "height_px")));
    b->files = pc_part_files_count(s->measured);
    assert_int_equal(pc_json_count(pc_json_get(b->head, "parts")), b->files - 1);
    for (int n = 0; n < b->files; n++) {
        size_t count;
        ok(s, pc_file_read(s->arena, pc_part_files_path(s->arena, s->folder, name, n), 32 << 20, &b->bytes[n],
                           &count, &s->err));
        assert_int_equal(count, 8 * b->pixels);
    }
}

static void compare(struct set *s, int width_px, const char *name)
{
    struct browser b;
    fetch(s, width_px, name, &b);
    const struct pc_json *settings = pc_json_get(b.head, "settings");
    assert_int_equal(pc_json_count(settings), 1 + PC_COUNT(pc_ways));
    double worst = 0.0, brightest = 0.0;
    for (size_t k = 0; k < pc_json_count(settings); k++) {
        const struct pc_dials *dials = k == 0 ? &s->weighed.dials : &s->weighed.way[k - 1].dials;
        double exposure_ratio = k == 0 ? 1.0 : exp2(s->weighed.way[k - 1].exposure_ev);
        struct pc_buffer rgb;
        size_t pixels;
        library_picture(s, dials, exposure_ratio, width_px, &rgb, &pixels);
        assert_int_equal(pixels, b.pixels);
        for (size_t i = 0; i < pixels; i++) {
            double shown[3];
            pixel_in_browser(&b, pc_json_at(settings, k), i, shown);
            for (size_t c = 0; c < 3; c++) {
                worst = fmax(worst, fabs(shown[c] - ((uint8_t *)rgb.data)[3 * i + c]));
                brightest = fmax(brightest, shown[c]);
            }
        }
        pc_buffer_finish(&rgb);
    }
    print_message("# %d px wide: at most %.2f of 255 apart\n", width_px, worst);
    assert_true(worst <= 1.0);
    assert_true(brightest > 100.0);
    pc_json_destroy(b.head);
}

static void a_browser_shows_what_the_library_shows(void **state)
{
    compare(*state, PC_PART_FILES_WIDTH_PX, "whole");
    compare(*state, 131, "small");
}

// The picture alone of one light is per_full times its part at full dial.
static void per_full_is_the_weight_at_full_dial(void **state)
{
    struct set *s = *state;
    struct pc_json *head = pc_part_files_json(&s->weighed, PC_PART_FILES_WIDTH_PX, "p", "");
    struct pc_dials full;
    double weights[PC_EMITTERS_MAX], ambient_weight;
    pc_reading_dials_now(&s->measured->reading, &full);
    for (int i = 0; i < s->measured->reading.light_count; i++)
        full.dial_ratio[i] = 1.0;
    pc_reading_weights(&s->measured->reading, &full, weights, &ambient_weight);
    for (int e = 0; e < s->measured->reading.emitter_count; e++) {
        const struct pc_json *part = pc_json_at(pc_json_get(head, "parts"), (size_t)e);
        struct pc_picture alone;
        for (int k = 0; k < s->measured->reading.emitter_count; k++)
            weights[k] = k == e;
        ok(s, pc_parts_weigh(&s->ctx, &s->measured->parts, &s->measured->reading, weights, 0.0, &alone,
                             &s->err));
        struct pc_basis basis;
        pc_parts_basis(&s->measured->parts, &s->measured->reading, &basis);
        const float *px = s->measured->parts.part[basis.part[e]].picture.px;
        size_t middle =
            3 * ((size_t)alone.width_px * (size_t)(alone.height_px / 2) + (size_t)alone.width_px / 2);
        assert_true(fabs((double)alone.px[middle] -
                         number(pc_json_get(part, "per_full")) * (double)px[middle]) < 1e-6);
        pc_picture_finish(&alone);
    }
    pc_json_destroy(head);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_browser_shows_what_the_library_shows),
                                       cmocka_unit_test(per_full_is_the_weight_at_full_dial)};
    return cmocka_run_group_tests(tests, make_set, end_set);
}
