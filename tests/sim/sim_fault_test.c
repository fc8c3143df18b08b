// SPDX-License-Identifier: Apache-2.0
// What goes wrong does just that, and leaves the rest alone.
#include "sim_bench.h"

#include <setjmp.h>
#include <cmocka.h>

static const struct sim_fault NOTHING = {0};

// A row of the picture with a fault, and without; 2 x 2 binned.
struct both {
    struct sim_setup setup;
    struct sim_scene *scene;
    struct sim_shot shot;
    float *without, *with;
    int width, height;
};

static void begin(struct both *b, const struct sim_fault *fault)
{
    b->setup = small(3);
    b->setup.camera.orientation = 1;
    b->scene = scene_of(&b->setup);
    sim_shot_held_out(&b->setup, 3, false, &b->shot);
    b->shot.fault = NOTHING;
    b->without = render(b->scene, &b->shot);
    b->shot.fault = *fault;
    b->with = render(b->scene, &b->shot);
    b->width = b->setup.camera.width_px / 2;
    b->height = b->setup.camera.height_px / 2;
}

static void end(struct both *b)
{
    free(b->without);
    free(b->with);
    sim_scene_destroy(b->scene);
}

static double ratio_at(const struct both *b, int x, int y, int c)
{
    size_t at = 3 * ((size_t)y * (size_t)b->width + (size_t)x) + (size_t)c;
    return (double)b->with[at] / (double)b->without[at];
}

static double mean(const struct both *b, const float *rgb)
{
    double sum = 0;
    for (int y = 20; y < b->height - 20; y++)
        for (int x = 20; x < b->width - 20; x++)
            sum += (double)rgb[3 * ((size_t)y * (size_t)b->width + (size_t)x) + 1];
    return sum / ((b->height - 40) * (b->width - 40));
}

static void a_filter_takes_the_same_everywhere(void **state)
{
    (void)state;
    struct both b;
    begin(&b, &(struct sim_fault){.gain_ratio = 0.5, .tint_ratio = {1.2, 1, 0.8}});
    near(ratio_at(&b, 30, 40, 0), 0.6, 1e-4, "red");
    near(ratio_at(&b, 200, 100, 1), 0.5, 1e-4, "green");
    near(ratio_at(&b, 120, 10, 2), 0.4, 1e-4, "blue");
    end(&b);
}

// At a quarter of the first wave the sine is 1, at three quarters -1; a row here is the mean of two.
static void bands_follow_the_rows(void **state)
{
    (void)state;
    struct both b;
    begin(&b, &(struct sim_fault){.bands = 2, .bands_ratio = 0.1});
    near(ratio_at(&b, 50, b.height / 8, 1), 1.1, 1e-3, "at the crest");
    near(ratio_at(&b, 150, 3 * b.height / 8, 1), 0.9, 1e-3, "in the trough");
    end(&b);
}

static void a_patch_adds_in_its_disc_only(void **state)
{
    (void)state;
    struct both b;
    begin(&b,
          &(struct sim_fault){.patch_px = {200, 150}, .patch_radius_px = 20, .patch_ratio = {1, 0.5, 0.25}});
    size_t in = 3 * ((size_t)75 * (size_t)b.width + 100), out = 3 * ((size_t)75 * (size_t)b.width + 115);
    // the lens's fall-off takes a little
    near((double)(b.with[in] - b.without[in]), 1.0, 0.1, "red inside");
    near((double)(b.with[in + 2] - b.without[in + 2]), 0.25, 0.03, "blue inside");
    near((double)(b.with[out] - b.without[out]), 0.0, 1e-6, "outside");
    end(&b);
}

// Neither blur makes or takes light; the second moment of neither is looked at here but by what reads it.
static void smearing_keeps_the_light(void **state)
{
    (void)state;
    struct both b;
    begin(&b, &(struct sim_fault){.shake_px = {6, -3}});
    near(mean(&b, b.with) / mean(&b, b.without), 1.0, 0.01, "shaken");
    end(&b);
    begin(&b, &(struct sim_fault){.blur_px_per_m = 60});
    near(mean(&b, b.with) / mean(&b, b.without), 1.0, 0.01, "out of focus");
    end(&b);
}

static void the_plane_in_focus_stays_sharp(void **state)
{
    (void)state;
    struct both b;
    begin(&b, &NOTHING);
    double x_px, y_px;
    assert_true(sim_place_px(b.scene, &b.shot, SIM_PLACE_SURFACE, &x_px, &y_px));
    double behind_m = sim_behind_m(b.scene, &b.shot, x_px, y_px);
    end(&b);
    begin(&b, &(struct sim_fault){.blur_px_per_m = 60, .behind_m = behind_m});
    near(ratio_at(&b, (int)(x_px / 2), (int)(y_px / 2), 1), 1.0, 1e-3, "at the surface");
    end(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_filter_takes_the_same_everywhere), cmocka_unit_test(bands_follow_the_rows),
        cmocka_unit_test(a_patch_adds_in_its_disc_only),      cmocka_unit_test(smearing_keeps_the_light),
        cmocka_unit_test(the_plane_in_focus_stays_sharp),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
