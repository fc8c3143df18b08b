// SPDX-License-Identifier: Apache-2.0
// make-check FOLDER: the series of docs/selfcheck.md with a kit whose faults are known, for the tests of the
// command line: "left" loses 5 % while it warms up and its dial is the power 1.3 of a straight line, "right"
// has no fault; the camera keeps thirds of a stop and writes their rounded names; the window grows by 2 %.
#include "base/file.h"
#include "tests/sim/sim.h"

enum { WIDTH = 720, HEIGHT = 480, SET_THIRDS = -18 }; // 1/60 by name

struct step {
    const char *name;
    double left, right; // dials, 0: off
    int thirds;
};

static const struct step steps[] = {
    {"01 window", 0.0, 0.0, SET_THIRDS},      {"02 left longer", 1.0, 0.0, SET_THIRDS + 5},
    {"03 left", 1.0, 0.0, SET_THIRDS},        {"04 left 80", 0.8, 0.0, SET_THIRDS},
    {"05 left 60", 0.6, 0.0, SET_THIRDS},     {"06 left 40", 0.4, 0.0, SET_THIRDS + 5},
    {"07 left 20", 0.2, 0.0, SET_THIRDS + 5}, {"08 left 10", 0.1, 0.0, SET_THIRDS + 5},
    {"09 right", 0.0, 1.0, SET_THIRDS},       {"10 both", 1.0, 1.0, SET_THIRDS},
    {"11 left again", 1.0, 0.0, SET_THIRDS},  {"12 window again", 0.0, 0.0, SET_THIRDS},
};

static void make_setup(struct sim_setup *setup)
{
    sim_setup_demo(setup);
    sim_setup_resize(setup, WIDTH, HEIGHT);
    setup->light_count = 2;
    for (int i = 0; i < 2; i++) {
        setup->light[i].curve = SIM_CURVE_STRAIGHT;
        setup->light[i].sag_ratio = 0.0;
    }
    setup->light[0].curve = SIM_CURVE_POWER;
    setup->light[0].curve_shape = 1.3;
    setup->step_s = 45.0;
    setup->light[0].sag_ratio = 0.05;
    setup->light[0].sag_s = 120.0;
    setup->light[0].on_since_s = setup->step_s;
    setup->camera.nominal_shutter = true;
    setup->camera.apex = false;
    setup->window.drift_ratio = 0.02;
    setup->window.drift_s = setup->step_s * (PC_COUNT(steps) - 1);
    struct sim_shot both;
    sim_shot_init(setup, &both);
    for (int i = 0; i < 2; i++) {
        both.lit[i] = true;
        both.dial_ratio[i] = 1.0;
    }
    // Brighter or dimmer all alike, so that the set's shutter is 1/60.
    double gain = exp2((sim_shot_expose(setup, &both, 0.4) - SET_THIRDS) / 3.0);
    for (int i = 0; i < 2; i++)
        setup->light[i].full_lx_at_1m *= gain;
    setup->window.hero_lx *= gain;
}

int main(int argc, char **argv)
{
    struct sim_setup setup;
    struct sim_scene *scene = NULL;
    struct pc_err err = {0};
    if (argc != 2) {
        fputs("make-check FOLDER\n", stderr);
        return 2;
    }
    make_setup(&setup);
    enum pc_status status = pc_file_make_folder(argv[1], &err);
    if (status == PC_OK)
        status = sim_scene_create(&setup, &scene, &err);
    for (size_t i = 0; i < PC_COUNT(steps) && status == PC_OK; i++) {
        struct sim_shot shot;
        sim_shot_init(&setup, &shot);
        snprintf(shot.name, sizeof shot.name, "%s", steps[i].name);
        shot.time_s = setup.step_s * (double)i;
        shot.noise_seed = i + 1;
        shot.shutter_thirds = steps[i].thirds;
        shot.lit[0] = steps[i].left > 0.0;
        shot.lit[1] = steps[i].right > 0.0;
        shot.dial_ratio[0] = steps[i].left;
        shot.dial_ratio[1] = steps[i].right;
        status = sim_shoot(scene, &shot, argv[1], &err);
    }
    sim_scene_destroy(scene);
    if (status != PC_OK)
        fprintf(stderr, "make-check: %s: %s\n", err.place, err.text);
    return status == PC_OK ? 0 : 1;
}
