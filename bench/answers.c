// SPDX-License-Identifier: Apache-2.0
// Six raws to answers and three ways, workers started and ended within, against LibRaw opening and unpacking
// the same six with as many threads and nothing else. The two take turns, and the median of the ratios
// counts.
#include "base/file.h"
#include "bench.h"
#include "light/parts/answers.h"
#include "light/parts/want.h"
#include "unpack.h"

enum { ROUNDS = 5 };
static const double LIMIT_RATIO = 2.0, ENOUGH_S = 20.0;

struct frames {
    const char *folder;
    char **paths; // everything in the folder
    size_t path_count;
    const char *raw[BENCH_FRAMES_MAX];
    int raw_count;
    struct pc_place place[3];
};

static enum pc_status find_frames(struct pc_arena *arena, const char *folder, struct frames *frames,
                                  struct pc_err *err)
{
    static const char *const names[] = {"hero", "surface", "grey card"};
    frames->folder = folder;
    PC_TRY(pc_file_list(arena, folder, &frames->paths, &frames->path_count, err));
    for (size_t i = 0; i < frames->path_count && frames->raw_count < BENCH_FRAMES_MAX; i++)
        if (pc_photo_name_is_raw(frames->paths[i]))
            frames->raw[frames->raw_count++] = frames->paths[i];
    FILE *file = fopen(pc_arena_printf(arena, "%s/places.txt", folder), "r");
    bool good = file != NULL;
    for (size_t i = 0; good && i < PC_COUNT(names); i++) {
        struct pc_place *place = &frames->place[i];
        snprintf(place->name, sizeof place->name, "%s", names[i]);
        good = fscanf(file, "%lf,%lf\n", &place->x_px, &place->y_px) == 2;
    }
    if (file != NULL)
        fclose(file);
    return good ? PC_OK
                : pc_fail(err, PC_NOT_FOUND, folder, "It holds no places.txt; remove it and run again.");
}

static enum pc_status answer_parts(struct pc_ctx *ctx, struct pc_photo_reader *reader, struct pc_arena *arena,
                                   const struct frames *frames, struct pc_parts *parts, struct pc_err *err)
{
    struct pc_notes notes = {.arena = arena};
    struct pc_series *series = PC_NEW(arena, struct pc_series);
    struct pc_reading *reading = PC_NEW(arena, struct pc_reading);
    struct pc_answers *answers = PC_NEW(arena, struct pc_answers);
    struct pc_series_wish wish = {.paths = (const char *const *)frames->paths,
                                  .path_count = (int)frames->path_count,
                                  .folder = frames->folder};
    PC_TRY(pc_series_make(reader, arena, &wish, series, &notes, err));
    PC_TRY(pc_parts_make(ctx, reader, series, parts, &notes, NULL, err));
    PC_TRY(pc_parts_read(parts, frames->place, PC_COUNT(frames->place), 0.0, reading, &notes, err));
    pc_parts_whites(parts, 2, reading);
    struct pc_dials dials;
    pc_reading_dials_now(reading, &dials);
    pc_answers_make(parts, reading, &dials, 2, NULL, answers);
    struct pc_want limits;
    pc_want_init(reading, &limits);
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++) {
        struct pc_way_answer way;
        PC_TRY(pc_way_solve(reading, &limits, &pc_ways[i], &way, err));
    }
    return answers->key >= 0
               ? PC_OK
               : pc_fail(err, PC_BAD_INPUT, frames->folder, "No light was found in these frames.");
}

static enum pc_status answer(struct pc_ctx *ctx, const struct frames *frames, struct pc_err *err)
{
    struct pc_photo_reader *reader;
    struct pc_arena *arena = pc_arena_create();
    struct pc_parts *parts = PC_NEW(arena, struct pc_parts);
    enum pc_status status = pc_photo_reader_create(ctx, NULL, &reader, err);
    if (status == PC_OK) {
        status = answer_parts(ctx, reader, arena, frames, parts, err);
        pc_photo_reader_destroy(reader);
    }
    pc_parts_finish(parts);
    pc_arena_destroy(arena);
    return status;
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "Usage: bench-answers FOLDER\n");
        return 2;
    }
    struct pc_err err = {0};
    struct pc_ctx ctx;
    struct frames frames = {0};
    struct pc_arena *arena = pc_arena_create();
    double ratio[ROUNDS], answers_s[ROUNDS], unpack_s[ROUNDS], answers_cpu_s[ROUNDS], unpack_cpu_s[ROUNDS];
    pc_ctx_init(&ctx, 0, 0);
    if (find_frames(arena, argv[1], &frames, &err) != PC_OK)
        bench_fail(&err);
    // Once before the clock runs: the files come into the page cache.
    bool unpacked = bench_unpack(frames.raw, frames.raw_count, ctx.threads);
    int rounds = 0;
    double began_s = pc_clock_monotonic_s();
    while (unpacked && rounds < ROUNDS && (rounds < 3 || pc_clock_monotonic_s() - began_s < ENOUGH_S)) {
        double t0_s = pc_clock_monotonic_s(), cpu0_s = bench_cpu_s();
        unpacked = bench_unpack(frames.raw, frames.raw_count, ctx.threads);
        double t1_s = pc_clock_monotonic_s(), cpu1_s = bench_cpu_s();
        if (answer(&ctx, &frames, &err) != PC_OK)
            bench_fail(&err);
        double t2_s = pc_clock_monotonic_s();
        unpack_cpu_s[rounds] = cpu1_s - cpu0_s;
        answers_cpu_s[rounds] = bench_cpu_s() - cpu1_s;
        unpack_s[rounds] = t1_s - t0_s;
        answers_s[rounds] = t2_s - t1_s;
        ratio[rounds] = answers_s[rounds] / unpack_s[rounds];
        rounds++;
    }
    if (!unpacked) {
        pc_fail(&err, PC_BAD_INPUT, argv[1],
                "LibRaw cannot unpack these frames; remove the folder and run again.");
        bench_fail(&err);
    }
    fprintf(
        stderr,
        "%d frames, %d threads, %d rounds: answers %.2f s (processor %.2f s), LibRaw alone %.2f s (%.2f s)\n",
        frames.raw_count, ctx.threads, rounds, bench_median(answers_s, rounds),
        bench_median(answers_cpu_s, rounds), bench_median(unpack_s, rounds),
        bench_median(unpack_cpu_s, rounds));
    bench_print("answers", bench_median(ratio, rounds), LIMIT_RATIO, "ratio");
    pc_arena_destroy(arena);
    return 0;
}
