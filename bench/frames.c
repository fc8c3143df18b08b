// SPDX-License-Identifier: Apache-2.0
// The frames that are measured with: a made-up series of lossless-compressed raws, and places.txt with the
// places to read at. The folder is there whole or not at all.
#include "base/arena.h"
#include "base/ctx.h"
#include "base/file.h"
#include "bench.h"
#include "sim.h"

#include <unistd.h>

struct making {
    const struct sim_setup *setup;
    const struct sim_shot *shot;
    const char *folder;
    int count, threads;
};

// Each thread works in a scene of its own, which cannot be shared.
static enum pc_status make_some(void *arg, int thread, struct pc_err *err)
{
    const struct making *m = arg;
    struct sim_scene *scene = NULL;
    enum pc_status status = sim_scene_create(m->setup, &scene, err);
    for (int i = thread; status == PC_OK && i < m->count; i += m->threads)
        status = sim_shoot(scene, &m->shot[i], m->folder, err);
    sim_scene_destroy(scene);
    return status;
}

static enum pc_status write_places(const struct sim_setup *setup, const struct sim_shot *shot,
                                   struct pc_arena *arena, const char *folder, struct pc_err *err)
{
    static const enum sim_place places[] = {SIM_PLACE_HERO, SIM_PLACE_SURFACE, SIM_PLACE_CARD};
    char text[256];
    int used = 0;
    struct sim_scene *scene = NULL;
    PC_TRY(sim_scene_create(setup, &scene, err));
    for (size_t i = 0; i < PC_COUNT(places); i++) {
        double x_px, y_px;
        if (!sim_place_px(scene, shot, places[i], &x_px, &y_px)) {
            sim_scene_destroy(scene);
            return pc_fail(err, PC_BAD_INPUT, folder,
                           "A place of this series is not in its picture; take another seed.");
        }
        used += snprintf(text + used, sizeof text - (size_t)used, "%.0f,%.0f\n", x_px, y_px);
    }
    sim_scene_destroy(scene);
    return pc_file_write(pc_arena_printf(arena, "%s/places.txt", folder), text, (size_t)used, err);
}

static enum pc_status make(const char *folder, uint64_t seed, int width_px, int height_px, struct pc_err *err)
{
    struct pc_ctx ctx;
    struct sim_setup setup;
    struct pc_arena *arena = pc_arena_create();
    struct sim_shot *shots = PC_NEW_N(arena, SIM_SHOTS_MAX, struct sim_shot);
    const char *beside = pc_arena_printf(arena, "%s.part", folder);
    pc_ctx_init(&ctx, 0, 0);
    sim_setup_seeded(&setup, seed);
    sim_setup_resize(&setup, width_px, height_px);
    setup.camera.lossless = true;
    struct making m = {.setup = &setup, .shot = shots, .folder = beside, .threads = ctx.threads};
    m.count = sim_series_job(&setup, 1.0, shots);
    enum pc_status status = pc_file_make_folder(beside, err);
    if (status == PC_OK)
        status = pc_parallel(&ctx, m.threads, make_some, &m, err);
    if (status == PC_OK)
        status = write_places(&setup, &shots[0], arena, beside, err);
    if (status == PC_OK && rename(beside, folder) != 0)
        status = pc_fail(err, PC_IO, folder,
                         "The frames could not be put there; remove the folder and try again.");
    pc_arena_destroy(arena);
    return status;
}

int main(int argc, char **argv)
{
    unsigned long long seed;
    int width_px, height_px;
    struct pc_err err = {0};
    if (argc != 4 || sscanf(argv[2], "%llu", &seed) != 1 ||
        sscanf(argv[3], "%dx%d", &width_px, &height_px) != 2) {
        fprintf(stderr, "Usage: bench-frames FOLDER SEED WIDTHxHEIGHT\n");
        return 2;
    }
    if (access(argv[1], F_OK) != 0 && make(argv[1], seed, width_px, height_px, &err) != PC_OK)
        bench_fail(&err);
    return 0;
}
