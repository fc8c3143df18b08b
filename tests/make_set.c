// SPDX-License-Identifier: Apache-2.0
// make-set FOLDER [FAULT]: a small set of frames with one thing wrong, for the tests of the command line. Two
// lights, "left" and "right", between two window frames; hero at 240,130, surface at 240,255 (480 x 320
// pixels).
#include "base/arena.h"
#include "base/file.h"
#include "image/photo/write.h"
#include "tests/sim/sim.h"

enum { WIDTH = 480, HEIGHT = 320, SEED = 4, FRAMES = 4 };

static const char *const frame_name[FRAMES] = {"window-1", "left", "right", "window-2"};
static const char *const faults[] = {
    "none",     "one",          "windows",      "other-camera", "other-size", "other-zoom",
    "aperture", "iso",          "refocused",    "untold",       "half-told",  "clipped",
    "drift",    "moved-camera", "hero-clipped", "huge",         "linear",
};

struct set {
    struct sim_setup setup;
    struct sim_scene *scene;
    struct sim_shot shot[SIM_SHOTS_MAX];
    const char *fault, *folder;
    struct pc_err err;
};

static bool is(const struct set *set, const char *fault)
{
    return strcmp(set->fault, fault) == 0;
}

static void make_setup(struct set *set)
{
    struct sim_setup *setup = &set->setup;
    sim_setup_demo(setup);
    sim_setup_resize(setup, WIDTH, HEIGHT);
    setup->seed = SEED;
    setup->light_count = 2;
    setup->camera.black_wander_dn = 0.0;
    setup->camera.masked_left_px = 0;
    setup->camera.lossless = false;
    snprintf(setup->light[0].name, sizeof setup->light[0].name, "left");
    snprintf(setup->light[1].name, sizeof setup->light[1].name, "right");
    setup->window.drift_ratio = is(set, "drift") ? 0.3 : 0.0;
    setup->window.drift_s = setup->step_s * (FRAMES - 1);
    sim_series_job(setup, 1.0, set->shot);
    for (int i = 0; i < FRAMES; i++)
        snprintf(set->shot[i].name, sizeof set->shot[i].name, "%s", frame_name[i]);
    if (is(set, "refocused"))
        set->shot[2].move_m[2] = 0.012; // the picture grows as it does when the lens breathes
    if (is(set, "moved-camera"))
        set->shot[2].turn_deg[0] = 7.0;
    if (is(set, "clipped"))
        set->shot[1].shutter_thirds += 24;
    if (is(set, "hero-clipped"))
        set->shot[1].shutter_thirds += 9;
    if (is(set, "aperture"))
        set->shot[2].fnumber *= 1.26;
    if (is(set, "iso"))
        set->shot[2].iso *= 2.0;
}

static enum pc_status shoot(struct set *set, int i)
{
    const struct sim_camera *camera = &set->setup.camera;
    const struct sim_shot *shot = &set->shot[i];
    uint16_t *px = calloc((size_t)WIDTH * HEIGHT, sizeof *px);
    PC_ASSERT(px != NULL);
    enum pc_status status = sim_mosaic(set->scene, shot, px, &set->err);
    struct pc_dng dng = {
        .width_px = WIDTH,
        .height_px = is(set, "other-size") && i == 2 ? HEIGHT - 64 : HEIGHT,
        .px = px,
        .black_dn = {camera->black_dn, camera->black_dn, camera->black_dn, camera->black_dn},
        .white_dn = camera->white_dn,
        .facts = {.shutter_s = sim_shutter_s(shot),
                  .shutter_apex_s = NAN,
                  .fnumber = shot->fnumber,
                  .iso = shot->iso,
                  .focal_mm = is(set, "other-zoom") && i == 2 ? 70.0 : 50.0,
                  .focal_35mm_mm = NAN,
                  .time_s = set->setup.start_s + shot->time_s,
                  .utc_offset_s = NAN,
                  .orientation = 1,
                  .flash_fired = 0,
                  .maker = "Orrevik",
                  .model = "C1"},
    };
    memcpy(dng.cfa, camera->cfa, sizeof dng.cfa);
    sim_camera_matrix(set->scene, dng.camera_from_xyz, dng.neutral_ratio);
    if (is(set, "other-camera") && i == 2)
        snprintf(dng.facts.model, sizeof dng.facts.model, "C2");
    if (is(set, "untold") || (is(set, "half-told") && i == 2))
        dng.facts.shutter_s = NAN;
    char path[4096];
    snprintf(path, sizeof path, "%s/%s.dng", set->folder, shot->name);
    if (status == PC_OK)
        status = pc_write_dng(path, &dng, &set->err);
    free(px);
    return status;
}

// The frame without noise as a linear TIFF that says nothing of its exposure.
static enum pc_status shoot_linear(struct set *set, int i)
{
    size_t n = (size_t)3 * (WIDTH / 2) * (HEIGHT / 2);
    float *rgb = calloc(n, sizeof *rgb);
    uint16_t *px = calloc(n, sizeof *px);
    PC_ASSERT(rgb != NULL && px != NULL);
    enum pc_status status = sim_render(set->scene, &set->shot[i], rgb, &set->err);
    for (size_t k = 0; k < n; k++)
        px[k] = (uint16_t)lroundf(65535.0F * fminf(1.0F, fmaxf(0.0F, rgb[k])));
    char path[4096];
    snprintf(path, sizeof path, "%s/%s.tif", set->folder, set->shot[i].name);
    if (status == PC_OK)
        status = pc_write_tiff16(path, WIDTH / 2, HEIGHT / 2, 3, px, NULL, NULL, &set->err);
    free(rgb);
    free(px);
    return status;
}

// Width and length in the first directory become 60,000: a header that asks for far more than the file holds.
static enum pc_status make_huge(struct set *set)
{
    struct pc_arena *arena = pc_arena_create();
    char path[4096], *bytes;
    size_t count;
    snprintf(path, sizeof path, "%s/right.dng", set->folder);
    enum pc_status status = pc_file_read(arena, path, (size_t)32 << 20, &bytes, &count, &set->err);
    for (size_t k = 0; status == PC_OK && k + 12 <= count; k += 2)
        if ((bytes[k] == 0 || bytes[k] == 1) && memcmp(bytes + k + 1, "\1\4\0\1\0\0\0", 7) == 0)
            memcpy(bytes + k + 8, "\x60\xea\0\0", 4);
    if (status == PC_OK)
        status = pc_file_write(path, bytes, count, &set->err);
    pc_arena_destroy(arena);
    return status;
}

static enum pc_status make(struct set *set)
{
    PC_TRY(pc_file_make_folder(set->folder, &set->err));
    PC_TRY(sim_scene_create(&set->setup, &set->scene, &set->err));
    for (int i = 0; i < FRAMES; i++) {
        bool lit = i == 1 || i == 2;
        if ((is(set, "one") && i != 1) || (is(set, "windows") && lit))
            continue;
        PC_TRY(is(set, "linear") ? shoot_linear(set, i) : shoot(set, i));
    }
    return is(set, "huge") ? make_huge(set) : PC_OK;
}

int main(int argc, char **argv)
{
    struct set set = {.folder = argc > 1 ? argv[1] : NULL, .fault = argc > 2 ? argv[2] : "none"};
    bool known = false;
    for (size_t i = 0; i < PC_COUNT(faults); i++)
        known = known || is(&set, faults[i]);
    if (set.folder == NULL || argc > 3 || !known) {
        fputs("make-set FOLDER [FAULT]\n", stderr);
        return 2;
    }
    make_setup(&set);
    enum pc_status status = make(&set);
    sim_scene_destroy(set.scene);
    if (status != PC_OK)
        fprintf(stderr, "make-set: %s: %s\n", set.err.place, set.err.text);
    return status == PC_OK ? 0 : 1;
}
