// SPDX-License-Identifier: Apache-2.0
#include "sim_bench.h"

#include <setjmp.h>
#include <cmocka.h>

void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g within %g", what, got, want, within);
}

struct sim_scene *scene_of(const struct sim_setup *setup)
{
    struct sim_scene *scene = NULL;
    struct pc_err err = {0};
    if (sim_scene_create(setup, &scene, &err) != PC_OK)
        fail_msg("%s", err.text);
    return scene;
}

struct sim_setup small(uint64_t seed)
{
    struct sim_setup setup;
    sim_setup_seeded(&setup, seed);
    sim_setup_resize(&setup, 480, 320);
    return setup;
}

float *render(struct sim_scene *scene, const struct sim_shot *shot)
{
    const struct sim_camera *c = &sim_scene_setup(scene)->camera;
    float *rgb = malloc((size_t)c->width_px / 2 * (size_t)c->height_px / 2 * 3 * sizeof(*rgb));
    assert_non_null(rgb);
    assert_int_equal(sim_render(scene, shot, rgb, NULL), PC_OK);
    return rgb;
}
