// SPDX-License-Identifier: Apache-2.0
// The wall between reader and worker, from both sides: a worker that does evil costs one file an error.
#include "base/clock.h"
#include "base/file.h"
#include "image/photo/photo.h"

#include <errno.h>
#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

static struct {
    struct pc_ctx ctx;
    struct pc_photo_reader *reader;
    char path[512];
} on;

static const struct pc_photo_limits limits = {
    .time_s = 1, .memory_bytes = (size_t)1 << 30, .pixels = 200000000};

static int set_up(void **state)
{
    (void)state;
    pc_ctx_init(&on.ctx, 2, 0);
    const char *tmp = getenv("TMPDIR");
    snprintf(on.path, sizeof on.path, "%s/worker-test-%ld.jpg", tmp != NULL ? tmp : "/tmp", (long)getpid());
    char program[4096];
    snprintf(program, sizeof program, "%s/src/image/photo/worker/hostile-worker", getenv("PC_BUILD_ROOT"));
    setenv("PLATECALL_DECODER", program, 1);
    return pc_photo_reader_create(&on.ctx, &limits, &on.reader, NULL) == PC_OK ? 0 : 1;
}

static int tear_down(void **state)
{
    (void)state;
    pc_photo_reader_destroy(on.reader);
    unlink(on.path);
    return on.ctx.held_bytes == 0 ? 0 : 1;
}

static enum pc_status ask(const char *word, struct pc_photo *photo, struct pc_err *err)
{
    memset(err, 0, sizeof *err);
    assert_int_equal(pc_file_write(on.path, word, strlen(word), err), PC_OK);
    return pc_photo_read(on.reader, on.path, PC_WANT_PICTURE, false, photo, err);
}

static void reads_well(void)
{
    struct pc_photo photo;
    struct pc_err err;
    if (ask("good", &photo, &err) != PC_OK)
        fail_msg("%s", err.text);
    assert_int_equal(photo.picture.width_px, 4);
    assert_true(photo.picture.px[23] == 0.25f);
    assert_int_equal(photo.picture.clipped[7], 7); // the bits beyond three channels are gone
    pc_photo_finish(&photo);
}

static void evil_costs_one_file(void **state)
{
    (void)state;
    static const struct {
        const char *word;
        enum pc_status status;
        const char *words;
    } cases[] = {
        {"crash", PC_CRASHED, "crashed (signal"},
        {"end", PC_CRASHED, "ended with 3"},
        {"hang", PC_TIMEOUT, "within 1 seconds"},
        {"hang-up", PC_CRASHED, ""},
        {"short", PC_CRASHED, ""},
        {"lie-large", PC_CRASHED, "impossible"},
        {"lie-negative", PC_CRASHED, "impossible"},
        {"lie-channels", PC_CRASHED, "impossible"},
        {"lie-bin", PC_CRASHED, "impossible"},
        {"lie-form", PC_CRASHED, "impossible"},
        {"lie-flag", PC_CRASHED, "impossible"},
        {"lie-status", PC_CRASHED, "impossible"},
        {"lie-ok", PC_CRASHED, "impossible"},
        {"lie-nan", PC_CRASHED, "impossible"},
        {"lie-raw", PC_CRASHED, "impossible"},
        {"lie-magic", PC_CRASHED, "impossible"},
    };
    for (size_t i = 0; i < PC_COUNT(cases); i++) {
        struct pc_photo photo;
        struct pc_err err;
        double began_s = pc_clock_monotonic_s();
        enum pc_status status = ask(cases[i].word, &photo, &err);
        if (status != cases[i].status || strstr(err.text, cases[i].words) == NULL ||
            strcmp(err.place, on.path) != 0)
            fail_msg("%s: %d [%s] %s", cases[i].word, status, err.place, err.text);
        assert_null(photo.picture.px);
        assert_true(pc_clock_monotonic_s() - began_s < 10);
        reads_well();
    }
}

static void wild_facts_become_missing(void **state)
{
    (void)state;
    struct pc_photo photo;
    struct pc_err err;
    assert_int_equal(ask("wild-facts", &photo, &err), PC_OK);
    assert_int_equal(strlen(photo.facts.maker), sizeof photo.facts.maker - 1);
    assert_string_equal(photo.facts.lens, "");
    assert_true(isnan(photo.facts.shutter_s) && isnan(photo.facts.iso));
    assert_int_equal(photo.facts.orientation, 0);
    assert_int_equal(photo.facts.flash_fired, -1);
    assert_false(photo.has_neutral || photo.has_xyz_from_camera);
    pc_photo_finish(&photo);
    assert_int_equal(ask("wild-text", &photo, &err), PC_BAD_INPUT);
    assert_null(strchr(err.text, 27));
}

static void gave(const char *word, int code)
{
    struct pc_photo photo;
    struct pc_err err;
    char want[64];
    snprintf(want, sizeof want, "%s gave %d", word, code);
    enum pc_status status = ask(word, &photo, &err);
    if (status != PC_BAD_INPUT || strcmp(err.text, want) != 0)
        fail_msg("%s: %d %s", want, status, err.text);
}

static void the_sandbox_holds(void **state)
{
    (void)state;
    gave("open", EPERM);
    gave("create", EPERM);
    gave("unlink", EPERM);
    gave("socket", EPERM);
    gave("fork", EPERM);
    gave("exec", EPERM);
    gave("kill", EPERM);
    gave("executable", EPERM);
    gave("shrink", EPERM); // sealed
    gave("descriptors", 0);
    gave("thread", 0); // allowed: HEIF's decoder needs them
#ifndef __SANITIZE_ADDRESS__
    gave("memory", ENOMEM);
#endif
    reads_well();
}

struct many {
    char paths[12][576];
};

static enum pc_status read_one(void *arg, int i, struct pc_err *err)
{
    struct many *many = arg;
    struct pc_photo photo;
    struct pc_err own = {0};
    enum pc_status status = pc_photo_read(on.reader, many->paths[i], PC_WANT_PICTURE, false, &photo, &own);
    enum pc_status want = i % 3 == 1 ? PC_CRASHED : PC_OK;
    pc_photo_finish(&photo);
    return status == want ? PC_OK : pc_fail(err, PC_MISUSE, many->paths[i], "%d: %s", status, own.text);
}

static void threads_share_the_workers(void **state)
{
    (void)state;
    static struct many many;
    struct pc_err err = {0};
    for (int i = 0; i < 12; i++) {
        snprintf(many.paths[i], sizeof many.paths[i], "%s-%d", on.path, i);
        const char *word = i % 3 == 1 ? "crash" : "good";
        assert_int_equal(pc_file_write(many.paths[i], word, strlen(word), &err), PC_OK);
    }
    struct pc_ctx wide;
    pc_ctx_init(&wide, 6, 0); // more threads than workers
    if (pc_parallel(&wide, 12, read_one, &many, &err) != PC_OK)
        fail_msg("%s", err.text);
    for (int i = 0; i < 12; i++)
        unlink(many.paths[i]);
}

static void stop_is_heard_at_once(void **state)
{
    (void)state;
    struct pc_photo photo;
    struct pc_err err;
    on.ctx.cancelled = true;
    assert_int_equal(ask("hang", &photo, &err), PC_CANCELLED);
    on.ctx.cancelled = false;
    reads_well();
}

static void a_missing_decoder_is_said(void **state)
{
    (void)state;
    char kept[4096];
    snprintf(kept, sizeof kept, "%s", getenv("PLATECALL_DECODER"));
    struct pc_photo_reader *reader;
    struct pc_err err = {0};
    setenv("PLATECALL_DECODER", "/nowhere/decode", 1);
    assert_int_equal(pc_photo_reader_create(&on.ctx, NULL, &reader, &err), PC_NOT_FOUND);
    assert_non_null(strstr(err.text, "PLATECALL_DECODER"));
    assert_string_equal(err.place, "/nowhere/decode");
    // A program that is something else.
    setenv("PLATECALL_DECODER", "/bin/true", 1);
    memset(&err, 0, sizeof err);
    assert_int_equal(pc_photo_reader_create(&on.ctx, NULL, &reader, &err), PC_OK);
    struct pc_photo photo;
    assert_int_equal(pc_photo_read(reader, on.path, PC_WANT_FACTS, false, &photo, &err), PC_CRASHED);
    assert_non_null(strstr(err.text, "ends at once"));
    pc_photo_reader_destroy(reader);
    setenv("PLATECALL_DECODER", kept, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(evil_costs_one_file),   cmocka_unit_test(wild_facts_become_missing),
        cmocka_unit_test(the_sandbox_holds),     cmocka_unit_test(threads_share_the_workers),
        cmocka_unit_test(stop_is_heard_at_once), cmocka_unit_test(a_missing_decoder_is_said),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
