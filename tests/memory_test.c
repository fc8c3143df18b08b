// SPDX-License-Identifier: Apache-2.0
// A set measured within less and less memory: each time the same answer, or PC_NO_MEMORY with a sentence, and
// nothing held afterwards.
#include "base/arena.h"
#include "base/file.h"
#include "light/parts/closing.h"

#include <setjmp.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>

enum { STEPS = 40, FRAMES = 4 };

static const char *const frame_name[FRAMES] = {"window-1.dng", "left.dng", "right.dng", "window-2.dng"};
static const struct pc_place places[2] = {{.name = "hero", .x_px = 240, .y_px = 130},
                                          {.name = "surface", .x_px = 240, .y_px = 255}};

enum stage { NOTHING, SERIES, PARTS, READING, CLOSING, WEIGHED };

struct answer {
    enum pc_status status;
    enum stage stage; // how far it came
    struct pc_closing_place closing[2];
    double weighed_sum;
    struct pc_err err;
};

static struct pc_ctx ctx;
static struct pc_photo_reader *reader;
static char folder[4096], path[FRAMES][4200];

static enum pc_status add_up(const struct pc_parts *parts, const struct pc_reading *reading,
                             struct answer *answer)
{
    double weights[PC_EMITTERS_MAX] = {0.25, 0.75};
    struct pc_picture picture;
    PC_TRY(pc_parts_weigh(&ctx, parts, reading, weights, 1.0, &picture, &answer->err));
    size_t n = (size_t)picture.width_px * (size_t)picture.height_px * (size_t)picture.channels;
    for (size_t i = 0; i < n; i++)
        answer->weighed_sum += (double)picture.px[i];
    pc_picture_finish(&picture);
    return PC_OK;
}

static enum pc_status measure(struct pc_arena *arena, struct pc_parts *parts, struct answer *answer)
{
    const char *paths[FRAMES] = {path[0], path[1], path[2], path[3]};
    struct pc_series_wish wish = {.paths = paths, .path_count = FRAMES, .folder = folder};
    struct pc_notes notes = {.arena = arena};
    struct pc_series *series = PC_NEW(arena, struct pc_series);
    struct pc_reading *reading = PC_NEW(arena, struct pc_reading);
    struct pc_closing *closing = PC_NEW(arena, struct pc_closing);
    struct pc_dials dials;
    PC_TRY(pc_series_make(reader, arena, &wish, series, &notes, &answer->err));
    answer->stage = SERIES;
    PC_TRY(pc_parts_make(&ctx, reader, series, parts, &notes, NULL, &answer->err));
    answer->stage = PARTS;
    PC_TRY(pc_parts_read(parts, places, 2, 0.0, reading, &notes, &answer->err));
    answer->stage = READING;
    pc_reading_dials_now(reading, &dials);
    dials.dial_ratio[1] = 0.0; // the closing frame is that of the first light
    PC_TRY(pc_closing_check(&ctx, reader, parts, reading, &dials, path[1], closing, &answer->err));
    answer->stage = CLOSING;
    memcpy(answer->closing, closing->place, sizeof answer->closing);
    enum pc_status status = add_up(parts, reading, answer);
    pc_picture_finish(&closing->residual);
    if (status == PC_OK)
        answer->stage = WEIGHED;
    return status;
}

static struct answer measure_within(size_t budget_bytes)
{
    struct answer answer = {0};
    struct pc_arena *arena = pc_arena_create();
    assert_non_null(arena);
    struct pc_parts *parts = PC_NEW(arena, struct pc_parts);
    ctx.budget_bytes = budget_bytes;
    ctx.peak_bytes = 0;
    answer.status = measure(arena, parts, &answer);
    pc_parts_finish(parts);
    pc_arena_destroy(arena);
    assert_int_equal(ctx.held_bytes, 0);
    return answer;
}

static void assert_same(const struct answer *got, const struct answer *want, size_t budget_bytes)
{
    for (int p = 0; p < 2; p++)
        if (got->closing[p].foretold_ev != want->closing[p].foretold_ev ||
            got->closing[p].actual_ev != want->closing[p].actual_ev || got->weighed_sum != want->weighed_sum)
            fail_msg("within %zu bytes: foretold %.9g, actual %.9g, sum %.9g; want %.9g, %.9g, %.9g",
                     budget_bytes, got->closing[p].foretold_ev, got->closing[p].actual_ev, got->weighed_sum,
                     want->closing[p].foretold_ev, want->closing[p].actual_ev, want->weighed_sum);
}

static void less_memory_gives_the_same_answer_or_none(void **state)
{
    (void)state;
    struct answer whole = measure_within((size_t)1 << 30);
    if (whole.status != PC_OK)
        fail_msg("%s: %s", whole.err.place, whole.err.text);
    const size_t peak_bytes = ctx.peak_bytes;
    enum stage last = NOTHING;
    for (size_t k = 0; k <= STEPS; k++) {
        size_t budget_bytes = peak_bytes * k / STEPS;
        struct answer answer = measure_within(budget_bytes);
        assert_true(ctx.peak_bytes <= budget_bytes);
        if (answer.status == PC_OK) {
            assert_same(&answer, &whole, budget_bytes);
        } else if (answer.status != PC_NO_MEMORY || strstr(answer.err.text, "of memory allowed") == NULL) {
            fail_msg("within %zu of %zu bytes, stage %d: status %d, %s: %s", budget_bytes, peak_bytes,
                     (int)answer.stage, (int)answer.status, answer.err.place, answer.err.text);
        }
        // One thread: what fitted into less fits into more.
        assert_true(answer.stage >= last);
        last = answer.stage;
    }
    assert_int_equal(last, WEIGHED); // what it took is enough
    assert_int_equal(measure_within(peak_bytes - 1).status, PC_NO_MEMORY);
}

static int set_up(void **state)
{
    (void)state;
    char program[4200], work[] = "/tmp/platecall-memory-XXXXXX";
    if (mkdtemp(work) == NULL)
        return -1;
    snprintf(folder, sizeof folder, "%s", work);
    for (int i = 0; i < FRAMES; i++)
        snprintf(path[i], sizeof path[i], "%s/%s", folder, frame_name[i]);
    const char *build = getenv("PC_BUILD_ROOT");
    snprintf(program, sizeof program, "%s/tests/make-set", build != NULL ? build : ".");
    char *arguments[] = {program, folder, NULL};
    pid_t pid;
    int status;
    if (posix_spawn(&pid, program, NULL, NULL, arguments, environ) != 0 || waitpid(pid, &status, 0) != pid ||
        status != 0)
        return -1;
    pc_ctx_init(&ctx, 1, 0);
    return pc_photo_reader_create(&ctx, NULL, &reader, NULL) == PC_OK ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    pc_photo_reader_destroy(reader);
    for (int i = 0; i < FRAMES; i++)
        unlink(path[i]);
    rmdir(folder);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(less_memory_gives_the_same_answer_or_none)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
