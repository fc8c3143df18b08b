// SPDX-License-Identifier: Apache-2.0
// From a frame's file to its sentence, beside a locked frame and parts, with the decode alone beside it.
// bench-check FOLDER: a series of raws and places.txt, as bench-frames makes.
#include "base/arena.h"
#include "base/file.h"
#include "bench.h"
#include "light/parts/parts.h"
#include "shoot/check/check.h"

enum { ROUNDS = 5, THREADS = 2 };
static const double LIMIT_S = 3.0;
static const double HERO_RATIO = 0.06; // of the width: its radius

struct set {
    struct pc_ctx ctx;
    struct pc_arena *arena;
    struct pc_photo_reader *reader;
    struct pc_parts parts;
    struct pc_reading reading;
    struct pc_check_spots spots;
    struct pc_check_look locked;
    const char *frame;
};

static void read_places(struct set *set, const char *folder, struct pc_place place[2], struct pc_err *err)
{
    char *text;
    size_t count;
    if (pc_file_read(set->arena, pc_arena_printf(set->arena, "%s/places.txt", folder), 4096, &text, &count,
                     err) != PC_OK)
        bench_fail(err);
    if (sscanf(text, "%lf,%lf %lf,%lf", &place[0].x_px, &place[0].y_px, &place[1].x_px, &place[1].y_px) != 4)
        exit(1);
    snprintf(place[0].name, sizeof place[0].name, "hero");
    snprintf(place[1].name, sizeof place[1].name, "surface");
}

static void open_set(struct set *set, const char *folder)
{
    struct pc_err err = {0};
    struct pc_series series;
    struct pc_notes notes = {0};
    struct pc_place place[2] = {0};
    char **paths;
    size_t count, raws = 0;
    pc_ctx_init(&set->ctx, THREADS, 0);
    set->arena = notes.arena = pc_arena_create();
    read_places(set, folder, place, &err);
    if (pc_photo_reader_create(&set->ctx, NULL, &set->reader, &err) != PC_OK ||
        pc_file_list(set->arena, folder, &paths, &count, &err) != PC_OK)
        bench_fail(&err);
    for (size_t i = 0; i < count; i++)
        if (pc_photo_name_is_raw(paths[i]))
            paths[raws++] = paths[i];
    struct pc_series_wish wish = {
        .paths = (const char *const *)paths, .path_count = (int)raws, .folder = folder};
    if (pc_series_make(set->reader, set->arena, &wish, &series, &notes, &err) != PC_OK ||
        pc_parts_make(&set->ctx, set->reader, &series, &set->parts, &notes, NULL, &err) != PC_OK ||
        pc_parts_read(&set->parts, place, 2, 0.0, &set->reading, &notes, &err) != PC_OK)
        bench_fail(&err);
    set->frame = paths[raws - 1];
    double radius_px = HERO_RATIO * set->parts.ambient.full_width_px;
    set->spots.at[PC_CHECK_HERO] = (struct pc_check_spot){place[0].x_px, place[0].y_px, radius_px};
    set->spots.at[PC_CHECK_FRONT] =
        (struct pc_check_spot){place[0].x_px, place[0].y_px + radius_px, 0.5 * radius_px};
    set->spots.at[PC_CHECK_SURFACE] = (struct pc_check_spot){place[1].x_px, place[1].y_px, 0.2 * radius_px};
}

static double decode(struct set *set, struct pc_photo *photo)
{
    struct pc_err err = {0};
    double from_s = pc_clock_monotonic_s();
    if (pc_photo_measure(set->reader, set->frame, 0, false, photo, &err) != PC_OK)
        bench_fail(&err);
    return pc_clock_monotonic_s() - from_s;
}

static double check(struct set *set, const struct pc_check_plan *plan)
{
    struct pc_err err = {0};
    struct pc_photo photo;
    struct pc_verdict verdict;
    double from_s = pc_clock_monotonic_s();
    decode(set, &photo);
    if (pc_check_frame(&set->ctx, &photo, &set->spots, &set->locked, plan, &verdict, &err) != PC_OK)
        bench_fail(&err);
    pc_photo_finish(&photo);
    return pc_clock_monotonic_s() - from_s;
}

int main(int argc, char **argv)
{
    static struct set set;
    struct pc_check_plan plan;
    struct pc_dials dials;
    struct pc_photo photo;
    struct pc_err err = {0};
    double decoded_s[ROUNDS], checked_s[ROUNDS];
    if (argc != 2) {
        fprintf(stderr, "Usage: bench-check FOLDER\n");
        return 2;
    }
    open_set(&set, argv[1]);
    pc_reading_dials_now(&set.reading, &dials);
    pc_check_plan_clear(&plan);
    plan.parts = &set.parts;
    plan.reading = &set.reading;
    plan.dials = &dials;
    decode(&set, &photo);
    if (pc_check_look_make(&set.ctx, &photo, &set.spots, &set.locked, &err) != PC_OK)
        bench_fail(&err);
    pc_photo_finish(&photo);
    for (int i = 0; i < ROUNDS; i++) {
        decoded_s[i] = decode(&set, &photo);
        pc_photo_finish(&photo);
        checked_s[i] = check(&set, &plan);
    }
    bench_print("check-decode", bench_median(decoded_s, ROUNDS), LIMIT_S, "s");
    bench_print("check", bench_median(checked_s, ROUNDS), LIMIT_S, "s");
    pc_check_look_finish(&set.locked);
    pc_parts_finish(&set.parts);
    pc_photo_reader_destroy(set.reader);
    pc_arena_destroy(set.arena);
    return 0;
}
