// SPDX-License-Identifier: Apache-2.0
#include "tests/sets/bench.h"
#include "base/arena.h"
#include "base/file.h"
#include "light/parts/answers.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

void seeds_asked(int *from, int *count, int own)
{
    *from = 1;
    *count = own;
    const char *told = getenv("PC_SEEDS");
    if (told != NULL && sscanf(told, "%d+%d", from, count) != 2)
        fail_msg("PC_SEEDS is FROM+COUNT");
}

static void bench_open(struct bench *b, const struct sim_setup *setup)
{
    memset(b, 0, sizeof *b);
    pc_ctx_init(&b->ctx, 0, 0);
    b->arena = pc_arena_create();
    b->notes.arena = b->arena;
    snprintf(b->folder, sizeof b->folder, "/tmp/pc-sets-XXXXXX");
    assert_non_null(mkdtemp(b->folder));
    b->setup = *setup;
    assert_int_equal(sim_scene_create(&b->setup, &b->scene, &b->err), PC_OK);
    assert_int_equal(pc_photo_reader_create(&b->ctx, NULL, &b->reader, &b->err), PC_OK);
}

static void bench_close(struct bench *b)
{
    char **paths;
    size_t n;
    pc_parts_finish(&b->parts);
    if (pc_file_list(b->arena, b->folder, &paths, &n, NULL) == PC_OK)
        for (size_t i = 0; i < n; i++)
            unlink(paths[i]);
    rmdir(b->folder);
    pc_photo_reader_destroy(b->reader);
    sim_scene_destroy(b->scene);
    pc_arena_destroy(b->arena);
    assert_int_equal(b->ctx.held_bytes, 0);
}

struct bench *seeded(int seed, void (*change)(struct sim_setup *, int seed))
{
    struct sim_setup setup;
    struct bench *b = calloc(1, sizeof *b);
    assert_non_null(b);
    sim_setup_seeded(&setup, (uint64_t)seed);
    if (change != NULL)
        change(&setup, seed);
    bench_open(b, &setup);
    return b;
}

void bench_end(struct bench *b)
{
    bench_close(b);
    free(b);
}

void bench_shoot(struct bench *b)
{
    for (int i = 0; i < b->shots; i++)
        if (sim_shoot(b->scene, &b->shot[i], b->folder, &b->err) != PC_OK)
            fail_msg("%s: %s", b->err.place, b->err.text);
}

const char *shot_path(struct bench *b, const struct sim_shot *shot)
{
    return pc_arena_printf(b->arena, "%s/%s.dng", b->folder, shot->name);
}

enum pc_status bench_series(struct bench *b)
{
    char **paths;
    size_t n;
    PC_TRY(pc_file_list(b->arena, b->folder, &paths, &n, &b->err));
    struct pc_said *said = PC_NEW_N(b->arena, SIM_SHOTS_MAX, struct pc_said);
    int count = 0;
    for (int i = 0; i < b->shots; i++) {
        const struct sim_shot *shot = &b->shot[i];
        int light = -1;
        for (int k = 0; k < b->setup.light_count; k++)
            light = shot->lit[k] ? k : light;
        said[count++] = (struct pc_said){.path = shot_path(b, shot),
                                         .role = light < 0                     ? PC_ROLE_AMBIENT
                                                 : b->setup.light[light].flash ? PC_ROLE_FLASH
                                                                               : PC_ROLE_LIGHT,
                                         .light = light < 0 ? NULL : b->setup.light[light].name,
                                         .dial_ratio = light < 0 ? (double)NAN : shot->dial_ratio[light],
                                         .kelvin_K = light < 0 || b->setup.light[light].emitters < 2
                                                         ? (double)NAN
                                                         : shot->kelvin_K[light]};
    }
    struct pc_series_wish wish = {.paths = (const char *const *)paths,
                                  .path_count = (int)n,
                                  .folder = b->folder,
                                  .said = said,
                                  .said_count = count};
    return pc_series_make(b->reader, b->arena, &wish, &b->series, &b->notes, &b->err);
}

enum pc_status bench_parts(struct bench *b)
{
    PC_TRY(bench_series(b));
    return pc_parts_make(&b->ctx, b->reader, &b->series, &b->parts, &b->notes, NULL, &b->err);
}

static void place_of(struct bench *b, enum sim_place which, const char *name, struct pc_place *place)
{
    struct sim_shot shot;
    sim_shot_init(&b->setup, &shot);
    snprintf(place->name, sizeof place->name, "%s", name);
    if (!sim_place_px(b->scene, &shot, which, &place->x_px, &place->y_px))
        fail_msg("the %s is not in the picture", name);
}

enum pc_status bench_read(struct bench *b, bool card)
{
    struct pc_place places[3];
    place_of(b, SIM_PLACE_HERO, "hero", &places[0]);
    place_of(b, SIM_PLACE_SURFACE, "surface", &places[1]);
    if (card)
        place_of(b, SIM_PLACE_CARD, "grey card", &places[2]);
    PC_TRY(pc_parts_read(&b->parts, places, card ? 3 : 2, 0.0, &b->reading, &b->notes, &b->err));
    pc_parts_whites(&b->parts, card ? 2 : PC_NO_PLACE, &b->reading);
    return PC_OK;
}

int sim_light_of(const struct bench *b, const char *name)
{
    for (int k = 0; k < b->setup.light_count; k++)
        if (strcmp(b->setup.light[k].name, name) == 0)
            return k;
    fail_msg("no light %s in the set-up", name);
    return -1;
}

void straight_still_lamps(struct sim_setup *setup, int seed)
{
    (void)seed;
    for (int k = 0; k < setup->light_count; k++) {
        setup->light[k].curve = SIM_CURVE_STRAIGHT;
        setup->light[k].sag_ratio = 0.0;
    }
    setup->window.drift_ratio = 0.0;
    setup->window.cloud_ratio = 0.0;
}

void true_weights(struct bench *b, const struct sim_shot *shot, double *weights, double *ambient_weight)
{
    struct pc_basis basis;
    pc_parts_basis(&b->parts, &b->reading, &basis);
    int window = 2 * b->setup.light_count;
    double reference_s = sim_shutter_s(&b->shot[b->parts.series.reference]),
           shutter = sim_shutter_s(shot) / reference_s;
    int last = 0;
    for (int i = 0; i < b->shots; i++)
        if (b->parts.series.frame[i].role == PC_ROLE_AMBIENT)
            last = i;
    *ambient_weight = shutter * sim_emitter_level(&b->setup, shot, window) /
                      sim_emitter_level(&b->setup, &b->shot[last], window);
    for (int e = 0; e < b->reading.emitter_count; e++) {
        const struct pc_reading_light *light = &b->reading.light[b->reading.emitter[e].light];
        int sim_light = -1;
        for (int k = 0; k < b->setup.light_count; k++)
            if (strcmp(b->setup.light[k].name, light->name) == 0)
                sim_light = k;
        assert_true(sim_light >= 0);
        const struct sim_shot *captured = &b->shot[b->parts.part[basis.part[e]].frame];
        // A one-frame light with two emitters behind it keeps their mix: either emitter tells the level.
        int emitter = 2 * sim_light + (light->emitter_count == 2 && light->emitter[1] == e);
        double was = sim_emitter_level(&b->setup, captured, emitter),
               is = sim_emitter_level(&b->setup, shot, emitter);
        if (light->emitter_count == 1 && b->setup.light[sim_light].emitters == 2) {
            was += sim_emitter_level(&b->setup, captured, emitter + 1);
            is += sim_emitter_level(&b->setup, shot, emitter + 1);
        }
        weights[e] = (light->flash ? 1.0 : shutter) * is / was / basis.per_full[e];
    }
}

int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static const double LEAST_SNR = 20.0;

void held_out(struct bench *b, const struct sim_shot *shot, struct misses *misses)
{
    double weights[PC_EMITTERS_MAX], ambient_weight;
    struct pc_picture foretold;
    true_weights(b, shot, weights, &ambient_weight);
    assert_int_equal(
        pc_parts_weigh(&b->ctx, &b->parts, &b->reading, weights, ambient_weight, &foretold, &b->err), PC_OK);
    size_t n = (size_t)foretold.width_px * (size_t)foretold.height_px, used = 0, may = 0;
    float *truth = calloc(3 * n, sizeof *truth);
    double *ev = calloc(n + 1, sizeof *ev);
    assert_true(foretold.bin == 2);
    assert_int_equal(sim_render(b->scene, shot, truth, &b->err), PC_OK);
    for (size_t i = 0; i < n; i++) {
        double true_g = (double)truth[3 * i + 1], g = (double)foretold.px[3 * i + 1];
        bool unclipped = true;
        for (int c = 0; c < 3; c++)
            unclipped = unclipped && (double)truth[3 * i + (size_t)c] < 0.98;
        double sd = sim_noise_at(&b->setup, shot->iso, true_g) / sqrt(2.0); // two greens in a cell
        may++;
        if (!unclipped || foretold.clipped[i] != 0 || true_g < LEAST_SNR * sd || b->parts.leave_out[i] != 0)
            continue;
        ev[used++] = g > 0.0 ? fabs(log2(g / true_g)) : 10.0;
    }
    qsort(ev, used, sizeof *ev, compare_doubles);
    misses->median_ev = used > 0 ? ev[used / 2] : (double)INFINITY;
    misses->worst_twentieth_ev = used > 0 ? ev[used * 19 / 20] : (double)INFINITY;
    misses->used_ratio = (double)used / (double)may;
    free(truth);
    free(ev);
    pc_picture_finish(&foretold);
}

double true_Y(struct bench *b, const struct sim_shot *shot, enum sim_place which, int light)
{
    double x, y;
    struct sim_truth truth;
    assert_true(sim_place_px(b->scene, shot, which, &x, &y));
    int width_px, height_px;
    sim_upright_size(&b->setup, &width_px, &height_px);
    assert_int_equal(sim_truth_disc(b->scene, shot, x, y, 0.01 * width_px, &truth, &b->err), PC_OK);
    return truth.emitter_xyz[2 * light][1] +
           (light < b->setup.light_count ? truth.emitter_xyz[2 * light + 1][1] : 0.0);
}

void true_shares(struct bench *b, enum sim_place which, double *shares)
{
    double all = true_Y(b, &b->shot[b->shots - 1], which, b->setup.light_count);
    for (int k = 0; k < b->setup.light_count; k++)
        shares[k] = 0.0;
    for (int i = 0; i < b->shots; i++)
        for (int k = 0; k < b->setup.light_count; k++)
            if (b->shot[i].lit[k]) {
                double Y = true_Y(b, &b->shot[i], which, k);
                all += Y;
                shares[k] += Y;
            }
    for (int k = 0; k < b->setup.light_count; k++)
        shares[k] /= all;
}

double ev_between(double a, double b)
{
    return fabs(log2(a / b));
}

void judge(const char *what, int failed, int count, int most_pct)
{
    print_message("%s: %d of %d failed\n", what, failed, count);
    if (failed * 100 > count * most_pct)
        fail_msg("%s: %d of %d failed, at most %d %% may", what, failed, count, most_pct);
}
