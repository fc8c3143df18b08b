// SPDX-License-Identifier: Apache-2.0
// Frames made here and read by the reader that photographs come in through: the same light at the same place,
// for every pattern of the sensor and every way the camera was held.
#include "image/photo/photo.h"
#include "sim.h"

#include <setjmp.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g within %g", what, got, want, within);
}

// Mean and scatter of what was read over what was meant, in units of the noise told, away from clipping.
static void compare(const struct sim_setup *setup, const struct sim_shot *shot, const struct pc_photo *photo,
                    const float *meant)
{
    const struct pc_picture *p = &photo->picture;
    double n = 0, sum = 0, square = 0;
    // the reader's 1.0 is saturation less the black it found, which wanders; here it is less the black as
    // written
    double range = (photo->white_dn - photo->black_dn) / (setup->camera.white_dn - setup->camera.black_dn);
    for (int i = 0; i < p->width_px * p->height_px; i++)
        for (int c = 0; c < 3; c++) {
            double want = (double)meant[3 * i + c];
            if (want > 0.8 || p->clipped[i])
                continue;
            double sd = sim_noise_at(setup, shot->iso, want) / (c == 1 ? sqrt(2.0) : 1.0);
            double off = ((double)p->px[3 * i + c] * range - want) / sd;
            n += 1;
            sum += off;
            square += off * off;
        }
    if (n < 1000)
        fail_msg("only %g pixels to compare", n);
    near(sum / n, 0, 0.05, "mean of read less meant, in noise");
    near(sqrt(square / n), 1, 0.03, "scatter of read less meant, in noise");
}

static void read_as_meant(void **state)
{
    (void)state;
    static const int orientations[] = {1, 3, 6, 8};
    static const char *const patterns[] = {"RGGB", "BGGR", "GRBG", "GBRG"};
    char folder[] = "/tmp/pc-sim-read-XXXXXX", path[256];
    struct pc_ctx ctx;
    struct pc_photo_reader *reader;
    struct pc_err err = {0};
    assert_non_null(mkdtemp(folder));
    pc_ctx_init(&ctx, 1, 0);
    assert_int_equal(pc_photo_reader_create(&ctx, NULL, &reader, &err), PC_OK);
    for (int i = 0; i < 4; i++) {
        struct sim_setup setup;
        struct sim_scene *scene;
        struct sim_shot shot;
        struct pc_photo photo;
        int w, h;
        sim_setup_seeded(&setup, 40 + (uint64_t)i);
        sim_setup_resize(&setup, 480, 320);
        setup.camera.orientation = orientations[i];
        setup.camera.dead_column = -1;
        setup.camera.masked_left_px = i % 2 ? 32 : 0;
        setup.camera.black_wander_dn = i % 2 ? 15 : 0;
        setup.camera.nominal_shutter = setup.camera.apex = true;
        setup.camera.lossless = i >= 2;
        snprintf(setup.camera.cfa, sizeof(setup.camera.cfa), "%s", patterns[i]);
        assert_int_equal(sim_scene_create(&setup, &scene, &err), PC_OK);
        sim_shot_one_light(&setup, 0, 1, setup.light[0].kelvin_K, &shot);
        shot.time_s = 12.25;
        assert_int_equal(sim_shoot(scene, &shot, folder, &err), PC_OK);
        snprintf(path, sizeof(path), "%s/%s.dng", folder, shot.name);
        if (pc_photo_read(reader, path, PC_WANT_MEASURE, false, &photo, &err) != PC_OK)
            fail_msg("%s: %s", err.place, err.text);
        sim_upright_size(&setup, &w, &h);
        assert_int_equal(photo.facts.width_px, w);
        assert_int_equal(photo.facts.height_px, h);
        assert_int_equal(photo.picture.width_px, w / 2);
        assert_int_equal(photo.picture.height_px, h / 2);
        near(photo.facts.shutter_apex_s / sim_shutter_s(&shot), 1, 1e-4, "true time");
        near(photo.facts.shutter_s / sim_shutter_nominal_s(&shot), 1, 1e-4, "named time");
        near(photo.facts.time_s, setup.start_s + 12.25, 0.011, "time of day");
        float *meant = malloc((size_t)w * (size_t)h / 4 * 3 * sizeof(*meant));
        assert_non_null(meant);
        assert_int_equal(sim_render(scene, &shot, meant, &err), PC_OK);
        compare(&setup, &shot, &photo, meant);
        free(meant);
        pc_photo_finish(&photo);
        sim_scene_destroy(scene);
        unlink(path);
    }
    pc_photo_reader_destroy(reader);
    rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(read_as_meant)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
