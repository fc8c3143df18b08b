// SPDX-License-Identifier: Apache-2.0
// The picture maker's frames: linear in light, noisy as said, read back as written, the same every time.
#include "oracle_raw.h"
#include "oracle_still.h"
#include "sim_bench.h"

#include "base/file.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

static void lights_add_up(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        struct sim_setup setup = small(seed);
        struct sim_scene *scene = scene_of(&setup);
        struct sim_shot all;
        size_t count = 240 * 160 * 3;
        double *sum = calloc(count, sizeof(*sum)), most = 0;
        assert_non_null(sum);
        sim_shot_init(&setup, &all);
        float *window = render(scene, &all);
        for (size_t k = 0; k < count; k++)
            sum[k] = (double)window[k];
        for (int i = 0; i < setup.light_count; i++) {
            struct sim_shot one;
            sim_shot_one_light(&setup, i, 0.3 + 0.1 * i, 4500, &one);
            one.window_ratio = 0;
            all.lit[i] = true;
            all.dial_ratio[i] = one.dial_ratio[i];
            all.kelvin_K[i] = 4500;
            float *rgb = render(scene, &one);
            for (size_t k = 0; k < count; k++)
                sum[k] += (double)rgb[k];
            free(rgb);
        }
        float *together = render(scene, &all);
        for (size_t k = 0; k < count; k++)
            most = fmax(most, fabs((double)together[k] / sum[k] - 1));
        // float rounding of a few sums
        near(most, 0, 3e-6, "sum of the lights against all at once");
        free(together);
        free(window);
        free(sum);
        sim_scene_destroy(scene);
    }
}

// EMVA 1288's photon transfer: the variance of the difference of two frames, halved, against the level, is a
// line whose slope is the gain and whose foot is the read noise (and a twelfth for rounding).
static void noise_gives_back_its_gain(void **state)
{
    (void)state;
    struct sim_setup setup = small(7);
    setup.camera.black_wander_dn = 0;
    setup.camera.dead_column = -1;
    setup.iso = 400;
    setup.camera.iso_error_ev = 0.05;
    sim_setup_resize(&setup, 1200, 800);
    sim_setup_expose(&setup, 0.2);
    struct sim_scene *scene = scene_of(&setup);
    struct sim_shot shot;
    size_t count = 1200 * 800;
    sim_shot_one_light(&setup, 0, 1, 4500, &shot);
    uint16_t *a = malloc(count * 2), *b = malloc(count * 2);
    float *level = malloc(count * sizeof(*level));
    assert_true(a && b && level);
    assert_int_equal(sim_mosaic(scene, &shot, a, NULL), PC_OK);
    shot.noise_seed = 99;
    assert_int_equal(sim_mosaic(scene, &shot, b, NULL), PC_OK);
    assert_int_equal(sim_signal(scene, &shot, level, NULL), PC_OK);
    double range = setup.camera.white_dn - setup.camera.black_dn, w = 0, wx = 0, wy = 0, wxx = 0, wxy = 0;
    enum { BINS = 24 };
    double n[BINS] = {0}, x[BINS] = {0}, v[BINS] = {0};
    for (size_t i = 0; i < count; i++) {
        int k = (int)(level[i] * 0.7f * BINS * 2);
        if (level[i] > 0.7f || k >= BINS)
            continue;
        double d = (double)a[i] - (double)b[i];
        n[k] += 1;
        x[k] += (double)level[i] * range;
        v[k] += d * d / 2;
    }
    for (int k = 0; k < BINS; k++)
        if (n[k] > 500) {
            double xx = x[k] / n[k], vv = v[k] / n[k], weight = n[k] / (vv * vv);
            w += weight;
            wx += weight * xx;
            wy += weight * vv;
            wxx += weight * xx * xx;
            wxy += weight * xx * vv;
        }
    double slope = (w * wxy - wx * wy) / (w * wxx - wx * wx), foot = (wy - slope * wx) / w;
    double gain = setup.camera.gain_dn_per_e * exp2(2 * 1.05), read = gain * setup.camera.read_noise_e;
    near(slope / gain, 1, 0.02, "gain");
    near(foot / (read * read + 1.0 / 12), 1, 0.3, "read noise (as variance, found far from zero level)");
    double sd = sim_noise_at(&setup, 400, 0.25) * range;
    near(sd * sd, gain * 0.25 * range + read * read + 1.0 / 12, 1e-6, "noise as told");
    free(a);
    free(b);
    free(level);
    sim_scene_destroy(scene);
}

// A grey card of known illuminance: ISO 2720's H = 0.65 L t / N^2 against ISO 12232's H_sat = 78 / S.
static void exposure_is_the_standards(void **state)
{
    (void)state;
    struct sim_setup setup = small(5);
    struct sim_truth truth;
    double x, y;
    setup.camera.vignette_ratio = setup.camera.flare_ratio = 0;
    setup.window.cct_K = 6504;
    setup.window.duv = 0.0032;
    struct sim_scene *scene = scene_of(&setup);
    struct sim_shot shot;
    sim_shot_init(&setup, &shot);
    assert_true(sim_place_px(scene, &shot, SIM_PLACE_CARD, &x, &y));
    assert_int_equal(sim_truth_at(scene, &shot, x, y, &truth, NULL), PC_OK);
    near(truth.reflect_ratio, 0.18, 1e-9, "card");
    double L = truth.lx * 0.18 / SIM_PI;
    near(truth.xyz[1] / L, 1, 1e-6, "luminance of the card");
    double speed =
        setup.iso * exp2(setup.camera.sensitivity_ev + log2(setup.iso / 100) * setup.camera.iso_error_ev);
    double want = 0.65 * L * sim_shutter_s(&shot) / (setup.fnumber * setup.fnumber) * speed / 78;
    // the light is D65 to 1 K or so
    near(truth.camera_rgb[1] / want, 1, 0.003, "green of the card");
    float *rgb = render(scene, &shot);
    int w, h;
    sim_upright_size(&setup, &w, &h);
    double seen = (double)rgb[3 * ((size_t)(y / 2) * (size_t)(w / 2) + (size_t)(x / 2)) + 1];
    near(seen / truth.camera_rgb[1], 1, 0.005, "picture against point");
    // the lamp's own closed form at the card, where nothing stands in the way
    if (truth.visible_ratio[2 * setup.light_count] > 0.9999) {
        struct sim_vec p = sim_flat_point(&setup.table.card, 0, 0), up = {0, 0, 1};
        near(truth.lx,
             sim_panel_lx(&scene->panel[setup.light_count], p, up) +
                 setup.window.hero_lx * setup.window.fill_ratio,
             0.002 * truth.lx, "lux of the window at the card");
    }
    free(rgb);
    sim_scene_destroy(scene);
}

static void flash_does_not_care_for_the_shutter(void **state)
{
    (void)state;
    struct sim_setup setup = small(3);
    sim_setup_make_flash(&setup, 0);
    struct sim_scene *scene = scene_of(&setup);
    struct sim_shot shot;
    struct sim_truth slow, fast, none, none_fast;
    double x, y;
    sim_shot_one_light(&setup, 0, 1, 0, &shot);
    assert_true(sim_place_px(scene, &shot, SIM_PLACE_CARD, &x, &y));
    assert_int_equal(sim_truth_at(scene, &shot, x, y, &slow, NULL), PC_OK);
    shot.shutter_thirds -= 3;
    assert_int_equal(sim_truth_at(scene, &shot, x, y, &fast, NULL), PC_OK);
    shot.lit[0] = false;
    assert_int_equal(sim_truth_at(scene, &shot, x, y, &none_fast, NULL), PC_OK);
    shot.shutter_thirds += 3;
    assert_int_equal(sim_truth_at(scene, &shot, x, y, &none, NULL), PC_OK);
    near(none_fast.camera_rgb[1] / none.camera_rgb[1], 0.5, 1e-9, "window at half the time");
    near((fast.camera_rgb[1] - none_fast.camera_rgb[1]) / (slow.camera_rgb[1] - none.camera_rgb[1]), 1, 1e-9,
         "flash");
    sim_scene_destroy(scene);
}

static void orientation_maps_there_and_back(void **state)
{
    (void)state;
    static const int orientations[] = {1, 3, 6, 8};
    for (int i = 0; i < 4; i++) {
        struct sim_camera c = {.width_px = 12, .height_px = 8, .orientation = orientations[i]};
        for (int sy = 0; sy < 8; sy++)
            for (int sx = 0; sx < 12; sx++) {
                int ux, uy, bx, by;
                sim_upright_from_sensor(&c, sx, sy, &ux, &uy);
                sim_sensor_from_upright(&c, ux, uy, &bx, &by);
                assert_int_equal(bx, sx);
                assert_int_equal(by, sy);
            }
    }
    // Exif 2.32: 6 means that the stored row 0 is the picture's right side and column 0 its top
    struct sim_camera c = {.width_px = 12, .height_px = 8, .orientation = 6};
    int ux, uy;
    sim_upright_from_sensor(&c, 0, 0, &ux, &uy);
    assert_int_equal(ux, 7);
    assert_int_equal(uy, 0);
}

static void make_folder(char folder[256], const char *name)
{
    const char *root = getenv("TMPDIR");
    snprintf(folder, 256, "%s/platecall-sim-%s-%d", root ? root : "/tmp", name, (int)getpid());
    assert_int_equal(pc_file_make_folder(folder, NULL), PC_OK);
}

static void remove_folder(const char *folder)
{
    struct pc_arena *arena = pc_arena_create();
    char **paths;
    size_t count;
    assert_int_equal(pc_file_list(arena, folder, &paths, &count, NULL), PC_OK);
    for (size_t i = 0; i < count; i++)
        unlink(paths[i]);
    rmdir(folder);
    pc_arena_destroy(arena);
}

// Written and read back through another reader: numbers, black in the masked border, a dead column, facts.
static void files_hold_what_was_shot(void **state)
{
    (void)state;
    char folder[256], path[400];
    make_folder(folder, "files");
    struct sim_setup setup = small(2);
    setup.camera.masked_left_px = 24;
    setup.camera.black_wander_dn = 20;
    setup.camera.dead_column = 101;
    setup.camera.orientation = 6;
    setup.camera.nominal_shutter = setup.camera.apex = true;
    setup.camera.lossless = true;
    setup.shutter_thirds = -18;
    snprintf(setup.camera.cfa, sizeof(setup.camera.cfa), "GRBG");
    struct sim_scene *scene = scene_of(&setup);
    struct sim_shot shot;
    sim_shot_one_light(&setup, 0, 1, 5000, &shot);
    shot.iso = 3200;
    shot.shutter_thirds = -9;
    shot.jpeg_too = true;
    shot.noise_seed = 5;
    assert_int_equal(sim_shoot(scene, &shot, folder, NULL), PC_OK);
    uint16_t *mosaic = malloc(480 * 320 * 2);
    assert_int_equal(sim_mosaic(scene, &shot, mosaic, NULL), PC_OK);
    struct oracle_raw raw;
    snprintf(path, sizeof(path), "%s/%s.dng", folder, shot.name);
    assert_true(oracle_raw_read(path, &raw));
    assert_int_equal(raw.raw_width_px, 504);
    assert_int_equal(raw.left_px, 24);
    assert_int_equal(raw.width_px, 480);
    assert_string_equal(raw.cfa, "GRBG");
    near(raw.white_dn, setup.camera.white_dn, 0, "white");
    near(raw.iso, 3200, 0, "ISO");
    near(raw.fnumber, setup.fnumber, 0.01, "f-number");
    double border = 0, dead = 0, clipped = 0, differ = 0;
    for (int y = 0; y < 320; y++) {
        const uint16_t *row = raw.px + 504 * y;
        for (int x = 0; x < 24; x++)
            border += row[x] / (24.0 * 320);
        dead += row[24 + 101] / 320.0;
        for (int x = 0; x < 480; x++) {
            differ += row[24 + x] != mosaic[480 * y + x];
            clipped += row[24 + x] == (uint16_t)setup.camera.white_dn;
            assert_true(row[24 + x] <= (uint16_t)setup.camera.white_dn);
        }
    }
    near(raw.black_dn[0], border, 1.5, "black, as the reader found it in the border");
    near(differ, 0, 0, "pixels unlike the mosaic's");
    near(dead, border, 4, "a dead column reads black");
    if (fabs(border - setup.camera.black_dn) < 0.5 || fabs(border - setup.camera.black_dn) > 100)
        fail_msg("the border reads %g where %g is written: the black level ought to have wandered", border,
                 setup.camera.black_dn);
    if (clipped < 1000)
        fail_msg("five stops over, %g pixels clip", clipped);
    struct oracle_still still;
    snprintf(path, sizeof(path), "%s/%s.jpg", folder, shot.name);
    assert_true(oracle_jpeg_read(path, &still));
    assert_int_equal(still.width_px, 320);
    assert_int_equal(still.height_px, 480);
    free(still.px);
    free(still.icc);
    free(raw.px);
    free(mosaic);
    sim_scene_destroy(scene);
    remove_folder(folder);
}

static void one_seed_gives_one_file(void **state)
{
    (void)state;
    static struct sim_shot shots[SIM_SHOTS_MAX];
    char folder[2][256], path[400];
    struct pc_arena *arena = pc_arena_create();
    assert_non_null(arena);
    struct sim_setup setup = small(9);
    int count = sim_series_job(&setup, 1, shots);
    for (int run = 0; run < 2; run++) {
        char name[8];
        snprintf(name, sizeof(name), "run%d", run);
        make_folder(folder[run], name);
        struct sim_scene *scene = scene_of(&setup);
        // in the second run the frames are asked for in another order first
        if (run) {
            float *rgb = render(scene, &shots[count - 2]);
            free(rgb);
        }
        struct pc_err err = {0};
        if (sim_shoot_series(scene, shots, count, folder[run], &err) != PC_OK)
            fail_msg("%s", err.text);
        sim_scene_destroy(scene);
    }
    char **paths;
    size_t files, size[2];
    assert_int_equal(pc_file_list(arena, folder[0], &paths, &files, NULL), PC_OK);
    assert_int_equal((int)files, count + 1);
    for (size_t i = 0; i < files; i++) {
        char *bytes[2];
        snprintf(path, sizeof(path), "%s/%s", folder[1], pc_file_name(paths[i]));
        assert_int_equal(pc_file_read(arena, paths[i], 1 << 24, &bytes[0], &size[0], NULL), PC_OK);
        assert_int_equal(pc_file_read(arena, path, 1 << 24, &bytes[1], &size[1], NULL), PC_OK);
        assert_true(size[0] == size[1] && memcmp(bytes[0], bytes[1], size[0]) == 0);
    }
    // and the next seed another one
    struct sim_setup other = small(10);
    assert_memory_not_equal(&other.light, &setup.light, sizeof(other.light));
    remove_folder(folder[0]);
    remove_folder(folder[1]);
    pc_arena_destroy(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lights_add_up),
        cmocka_unit_test(noise_gives_back_its_gain),
        cmocka_unit_test(exposure_is_the_standards),
        cmocka_unit_test(flash_does_not_care_for_the_shutter),
        cmocka_unit_test(orientation_maps_there_and_back),
        cmocka_unit_test(files_hold_what_was_shot),
        cmocka_unit_test(one_seed_gives_one_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
