// SPDX-License-Identifier: Apache-2.0
// Writes the frames of a made-up series into a folder, with the truth beside them.
#include "base/text.h"
#include "sim.h"

static const char help[] =
    "Usage: platecall-sim FOLDER [OPTION VALUE]...\n"
    "Writes the raw frames of a made-up series and truth.json into FOLDER.\n"
    "  --seed N          a set-up of its own for every N; without it the demo's\n"
    "  --size WxH        sensor size in pixels\n"
    "  --series KIND     job (default), emitters, hand\n"
    "  --dial RATIO      of every light in the series (default 1)\n"
    "  --actual RATIO    one more frame, all lights on at this dial; with 0 at drawn dials\n"
    "  --drift RATIO     of the window over the series\n"
    "  --cloud RATIO     a cloud in the middle of it\n"
    "  --nudge PIXELS    the napkin moves before the last light\n"
    "  --jpeg 1          a JPEG beside every raw\n"
    "  --raw NAME        plain or lossless\n";

struct wish {
    const char *folder, *series, *raw;
    double seed, dial, actual, drift, cloud, nudge, jpeg;
    int width_px, height_px;
};

static bool read_size(const char *text, struct wish *wish)
{
    return sscanf(text, "%dx%d", &wish->width_px, &wish->height_px) == 2 && wish->width_px >= 64 &&
           wish->height_px >= 64;
}

static bool read_wish(int argc, char **argv, struct wish *wish)
{
    const struct {
        const char *name;
        double *value;
    } numbers[] = {{"--seed", &wish->seed},   {"--dial", &wish->dial},   {"--actual", &wish->actual},
                   {"--drift", &wish->drift}, {"--cloud", &wish->cloud}, {"--nudge", &wish->nudge},
                   {"--jpeg", &wish->jpeg}};
    *wish = (struct wish){.series = "job", .seed = NAN, .dial = 1, .actual = NAN, .drift = NAN, .cloud = NAN};
    if (argc < 2 || argv[1][0] == '-' || argc % 2)
        return false;
    wish->folder = argv[1];
    for (int i = 2; i < argc; i += 2) {
        bool known = false;
        for (size_t k = 0; k < PC_COUNT(numbers); k++)
            if (!strcmp(argv[i], numbers[k].name))
                known = pc_text_double(argv[i + 1], numbers[k].value);
        if (!strcmp(argv[i], "--size"))
            known = read_size(argv[i + 1], wish);
        if (!strcmp(argv[i], "--series")) {
            wish->series = argv[i + 1];
            known = !strcmp(wish->series, "job") || !strcmp(wish->series, "emitters") ||
                    !strcmp(wish->series, "hand");
        }
        if (!strcmp(argv[i], "--raw")) {
            wish->raw = argv[i + 1];
            known = !strcmp(wish->raw, "plain") || !strcmp(wish->raw, "lossless");
        }
        if (!known)
            return false;
    }
    return !(wish->seed < 0);
}

static void make_setup(const struct wish *wish, struct sim_setup *setup)
{
    if (isfinite(wish->seed))
        sim_setup_seeded(setup, (uint64_t)wish->seed);
    else
        sim_setup_demo(setup);
    if (wish->width_px)
        sim_setup_resize(setup, wish->width_px, wish->height_px);
    if (isfinite(wish->drift))
        setup->window.drift_ratio = wish->drift;
    if (isfinite(wish->cloud)) {
        setup->window.cloud_ratio = wish->cloud;
        setup->window.cloud_at_s = 0.5 * setup->step_s * (setup->light_count + 1);
    }
    if (wish->raw)
        setup->camera.lossless = !strcmp(wish->raw, "lossless");
}

static int make_shots(const struct wish *wish, const struct sim_setup *setup, struct sim_shot *shots)
{
    int count = !strcmp(wish->series, "hand")       ? sim_series_hand(setup, wish->dial, 0.3, 10, shots)
                : !strcmp(wish->series, "emitters") ? sim_series_emitters(setup, wish->dial, shots)
                                                    : sim_series_job(setup, wish->dial, shots);
    if (wish->nudge != 0)
        sim_series_nudge(shots, count, count - 2, wish->nudge, 0);
    if (isfinite(wish->actual)) {
        sim_shot_held_out(setup, 1, false, &shots[count]);
        for (int i = 0; i < setup->light_count && wish->actual > 0; i++)
            shots[count].dial_ratio[i] = wish->actual;
        shots[count].shutter_thirds = sim_shot_expose(setup, &shots[count], 0.3);
        snprintf(shots[count].name, sizeof(shots[count].name), "actual");
        count++;
    }
    for (int i = 0; i < count; i++)
        shots[i].jpeg_too = wish->jpeg > 0;
    return count;
}

int main(int argc, char **argv)
{
    struct wish wish;
    if (!read_wish(argc, argv, &wish)) {
        fputs(help, argc == 2 && !strcmp(argv[1], "--help") ? stdout : stderr);
        return argc == 2 && !strcmp(argv[1], "--help") ? 0 : 2;
    }
    struct sim_setup setup;
    struct sim_shot *shots = calloc(SIM_SHOTS_MAX, sizeof(*shots));
    struct sim_scene *scene = NULL;
    struct pc_err err = {0};
    make_setup(&wish, &setup);
    enum pc_status status = shots ? sim_scene_create(&setup, &scene, &err) : PC_NO_MEMORY;
    if (status == PC_OK)
        status = sim_shoot_series(scene, shots, make_shots(&wish, &setup, shots), wish.folder, &err);
    if (status != PC_OK)
        fprintf(stderr, "%s: %s\n", err.place, err.text);
    sim_scene_destroy(scene);
    free(shots);
    return status == PC_OK ? 0 : 1;
}
