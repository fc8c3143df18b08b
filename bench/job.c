// SPDX-License-Identifier: Apache-2.0
// A job of six raws: from the moment the last one arrives to the answers, and what a screen then asks for.
// Two threads. bench-job FOLDER: a series of raws and places.txt, as bench-frames makes.
#include "base/file.h"
#include "bench.h"
#include "front/answer/desk.h"
#include "image/photo/photo.h"

#include <ftw.h>
#include <unistd.h>

enum { THREADS = 2, LOOK_AGAIN_US = 20000 };
static const double LIMIT_S = 60.0, VIEW_LIMIT_S = 10.0, WANT_LIMIT_S = 1.0;

struct bench {
    struct pc_arena *arena;
    struct pc_photo_reader *reader;
    struct pc_job *job;
    struct pc_desk *desk;
    char parent[64], id[24];
    double full_px[2];
};

static void need(enum pc_status status, const struct pc_err *err)
{
    if (status != PC_OK)
        bench_fail(err);
}

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *at)
{
    (void)info;
    (void)kind;
    (void)at;
    return remove(path);
}

static void touch(struct bench *b, const char *subject, double x_px, double y_px)
{
    struct pc_err err = {0};
    struct pc_json *body = pc_json_object();
    int64_t rev;
    pc_json_put_number(body, "x_ratio", x_px / b->full_px[0], 6);
    pc_json_put_number(body, "y_ratio", y_px / b->full_px[1], 6);
    struct pc_job_wish wish = {
        .who = "bench", .role = PC_JOB_PHOTOGRAPHER, .what = "touch", .subject = subject, .body = body};
    need(pc_job_append(b->job, &wish, &rev, &err), &err);
    pc_json_destroy(body);
    pc_desk_changed(b->desk, "touch");
}

static void take_in(struct bench *b, const char *path)
{
    struct pc_err err = {0};
    bool fresh;
    struct pc_job_arrival arrival = {.path = path, .name = path, .from = "upload", .device = "bench"};
    need(pc_job_take_in(b->job, &arrival, b->id, &fresh, &err), &err);
    pc_desk_changed(b->desk, "frame");
}

static void touch_all(struct bench *b, const char *folder, const char *frame)
{
    static const char *const subjects[] = {"hero", "surface", "greycard"};
    struct pc_err err = {0};
    struct pc_photo photo;
    need(pc_photo_read(b->reader, frame, PC_WANT_FACTS, false, &photo, &err), &err);
    b->full_px[0] = photo.facts.width_px;
    b->full_px[1] = photo.facts.height_px;
    pc_photo_finish(&photo);
    FILE *file = fopen(pc_arena_printf(b->arena, "%s/places.txt", folder), "r");
    if (file == NULL)
        exit(1);
    double x_px, y_px;
    for (size_t i = 0; i < PC_COUNT(subjects) && fscanf(file, "%lf,%lf\n", &x_px, &y_px) == 2; i++)
        touch(b, subjects[i], x_px, y_px);
    fclose(file);
}

static void wait_until(struct bench *b, bool ready)
{
    for (bool working = true; working; usleep(LOOK_AGAIN_US)) {
        struct pc_json *said = pc_desk_weigh(b->desk);
        const char *state = pc_json_text(pc_json_get(said, "state"));
        working = strcmp(state, "working") == 0;
        if (!working && ready && strcmp(state, "ready") != 0) {
            fprintf(stderr, "%s: %s\n", state, pc_json_text(pc_json_get(said, "sentence")));
            exit(1);
        }
        pc_json_destroy(said);
        if (!working)
            return;
    }
}

static void measure_set(struct bench *b, const char *folder)
{
    struct pc_err err = {0};
    char **paths;
    size_t count, raws = 0;
    need(pc_file_list(b->arena, folder, &paths, &count, &err), &err);
    for (size_t i = 0; i < count; i++)
        if (pc_photo_name_is_raw(paths[i]))
            paths[raws++] = paths[i];
    touch_all(b, folder, paths[0]);
    for (size_t i = 0; i + 1 < raws; i++)
        take_in(b, paths[i]);
    wait_until(b, false); // so far it is no set, or another one
    double from_s = pc_clock_monotonic_s();
    take_in(b, paths[raws - 1]);
    wait_until(b, true);
    bench_print("job-answers", pc_clock_monotonic_s() - from_s, LIMIT_S, "s");
}

static void measure_screens(struct bench *b)
{
    struct pc_err err = {0};
    char *path;
    double from_s = pc_clock_monotonic_s();
    need(pc_desk_view(b->desk, b->arena, b->id, 1440, &path, &err), &err);
    bench_print("job-view", pc_clock_monotonic_s() - from_s, VIEW_LIMIT_S, "s");
    from_s = pc_clock_monotonic_s();
    need(pc_desk_hero(b->desk, b->arena, b->id, 0, &path, &err), &err);
    bench_print("job-hero", pc_clock_monotonic_s() - from_s, VIEW_LIMIT_S, "s");
    static const char wish[] =
        "{\"places\": [{\"name\": \"here\", \"x_ratio\": 0.5, \"y_ratio\": 0.7}], "
        "\"goals\": [{\"goal\": \"place_ev\", \"place\": \"here\", \"value\": -0.33}]}";
    struct pc_json *json, *said;
    need(pc_json_parse(wish, strlen(wish), "wish", &json, &err), &err);
    from_s = pc_clock_monotonic_s();
    need(pc_desk_want(b->desk, json, &said, &err), &err);
    bench_print("job-want", pc_clock_monotonic_s() - from_s, WANT_LIMIT_S, "s");
    pc_json_destroy(json);
    pc_json_destroy(said);
}

int main(int argc, char **argv)
{
    struct bench b = {.arena = pc_arena_create()};
    struct pc_ctx ctx;
    struct pc_err err = {0};
    if (argc != 2) {
        fprintf(stderr, "Usage: bench-job FOLDER\n");
        return 2;
    }
    snprintf(b.parent, sizeof b.parent, "/tmp/bench-job-XXXXXX");
    if (mkdtemp(b.parent) == NULL)
        return 1;
    pc_ctx_init(&ctx, 1, 0);
    struct pc_desk_told told = {0};
    need(pc_photo_reader_create(&ctx, NULL, &b.reader, &err), &err);
    need(pc_job_create(pc_arena_printf(b.arena, "%s/job", b.parent), &b.job, &err), &err);
    need(pc_desk_create(b.job, THREADS, &told, &b.desk, &err), &err);
    measure_set(&b, argv[1]);
    measure_screens(&b);
    pc_desk_destroy(b.desk);
    pc_job_close(b.job);
    pc_photo_reader_destroy(b.reader);
    pc_arena_destroy(b.arena);
    return nftw(b.parent, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}
