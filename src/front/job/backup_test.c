// SPDX-License-Identifier: Apache-2.0
// Copies on another disk: they follow the job, are held against its record, and never take another job's
// place.
#include "front/job/job_fixture.h"

#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/digest.h"
#include "base/file.h"
#include "front/job/backup.h"

static struct pc_ctx ctx;

static const char *under(struct fixture *f, const char *name)
{
    return pc_arena_printf(f->arena, "%s/%s", f->parent, name);
}

static void put_frame(struct fixture *f, const char *name, const char *bytes)
{
    char path[160], id[24];
    job_write_frame(f, name, bytes, path);
    job_take(f, path, name, true, id);
}

static struct pc_job_backed back_up(struct pc_job *job, const char *to, bool reread)
{
    struct pc_job_backed backed;
    struct pc_err err = {0};
    if (pc_job_backup(&ctx, job, to, reread, &backed, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    return backed;
}

static struct pc_job_backed restore(const char *from, const char *to)
{
    struct pc_job_backed backed;
    struct pc_err err = {0};
    if (pc_job_restore(&ctx, from, to, &backed, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    return backed;
}

static const char *digest_of(struct fixture *f, const char *path)
{
    char hex[PC_DIGEST_HEX_BYTES];
    assert_int_equal(pc_digest_of_file(path, hex, NULL), PC_OK);
    return pc_arena_strdup(f->arena, hex);
}

static void a_copy_follows_and_is_held_against_the_record(void **state)
{
    struct fixture *f = *state;
    char a[160], b[160], copy[160], id[24];
    snprintf(copy, sizeof copy, "%s/disk/larder", f->parent);
    job_write_frame(f, "a", "one frame", a);
    job_write_frame(f, "b", "another", b);
    job_take(f, a, "a.dng", true, id);
    struct pc_job_backed backed;
    assert_int_equal(pc_job_backup(&ctx, f->job, copy, false, &backed, NULL), PC_OK);
    assert_int_equal(backed.copied, 1);
    job_take(f, b, "b.dng", true, id);
    assert_int_equal(pc_job_backup(&ctx, f->job, copy, false, &backed, NULL), PC_OK);
    assert_int_equal(backed.frames, 2);
    assert_int_equal(backed.copied, 1);
    assert_int_equal(backed.bytes, strlen("another"));
    // A frame that went bad on the copy's disk is found by reading all back, and mended from the job.
    char bad[200];
    snprintf(bad, sizeof bad, "%s/frames/a.dng", copy);
    assert_int_equal(pc_file_write(bad, "one_frame", 9, NULL), PC_OK);
    assert_int_equal(pc_job_backup(&ctx, f->job, copy, true, &backed, NULL), PC_OK);
    assert_int_equal(backed.copied, 1);
    // One that went bad in the job is not copied over a good one's absence.
    assert_int_equal(unlink(bad), 0);
    char own[200];
    snprintf(own, sizeof own, "%s/frames/a.dng", f->folder);
    assert_int_equal(pc_file_write(own, "one_frame", 9, NULL), PC_OK);
    struct pc_err err = {0};
    assert_int_equal(pc_job_backup(&ctx, f->job, copy, false, &backed, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.place, "a.dng"));
    ctx.cancelled = true;
    assert_int_equal(pc_job_backup(&ctx, f->job, copy, false, &backed, NULL), PC_CANCELLED);
    ctx.cancelled = false;
}

static void a_copy_of_another_job_is_left_alone(void **state)
{
    struct fixture *f = *state;
    const char *copy = under(f, "disk/larder");
    put_frame(f, "IMG_1.DNG", "of the larder");
    back_up(f->job, copy, false);
    const char *record = pc_arena_printf(f->arena, "%s/job.db", copy);
    const char *before = digest_of(f, record);
    struct pc_job *other = NULL;
    assert_int_equal(pc_job_create(under(f, "other"), &other, NULL), PC_OK);
    struct pc_job_backed backed;
    struct pc_err err = {0};
    assert_int_equal(pc_job_backup(&ctx, other, copy, false, &backed, &err), PC_MISUSE);
    assert_non_null(strstr(err.text, "another job"));
    pc_job_close(other);
    assert_string_equal(digest_of(f, record), before);
    assert_int_equal(pc_job_backup(&ctx, f->job, f->folder, false, &backed, NULL), PC_MISUSE);
    assert_int_equal(pc_job_backup(&ctx, f->job, under(f, "other/../larder/"), false, &backed, NULL),
                     PC_MISUSE);
    assert_int_equal(pc_job_rev(f->job), 1);
}

static void an_older_state_does_not_take_the_place_of_a_newer(void **state)
{
    struct fixture *f = *state;
    const char *first = under(f, "first"), *second = under(f, "second");
    job_say(f, "job", NULL, "{\"title\": \"one\"}");
    put_frame(f, "IMG_1.DNG", "one");
    back_up(f->job, first, false);
    job_say(f, "job", NULL, "{\"title\": \"two\"}");
    back_up(f->job, second, false);
    restore(first, under(f, "again"));
    struct pc_job *again = NULL;
    assert_int_equal(pc_job_open(under(f, "again"), &again, NULL), PC_OK);
    struct pc_job_backed backed;
    assert_int_equal(pc_job_backup(&ctx, again, second, false, &backed, NULL), PC_MISUSE);
    assert_int_equal(back_up(again, first, false).copied, 0);
    pc_job_close(f->job);
    f->job = again;
    job_say(f, "job", NULL, "{\"title\": \"another two\"}"); // the same number as that of the second's last
    assert_int_equal(pc_job_backup(&ctx, again, second, false, &backed, NULL), PC_MISUSE);
    back_up(again, first, false);
}

static void what_a_broken_off_copy_left_is_mended(void **state)
{
    struct fixture *f = *state;
    const char *copy = under(f, "disk");
    put_frame(f, "a.dng", "first frame");
    back_up(f->job, copy, false);
    put_frame(f, "b.dng", "second frame");
    static const char *const left[] = {"job.db.part", "job.db.part-journal", "job.db.part-wal",
                                       "frames/b.dng"};
    for (size_t i = 0; i < PC_COUNT(left); i++)
        assert_int_equal(pc_file_write(pc_arena_printf(f->arena, "%s/%s", copy, left[i]), "junk", 4, NULL),
                         PC_OK);
    assert_int_equal(back_up(f->job, copy, false).copied, 1);
    for (size_t i = 0; i < 3; i++)
        assert_int_not_equal(access(pc_arena_printf(f->arena, "%s/%s", copy, left[i]), F_OK), 0);
    // One that was cut short on that disk is seen without reading it.
    assert_int_equal(truncate(pc_arena_printf(f->arena, "%s/frames/a.dng", copy), 3), 0);
    assert_int_equal(back_up(f->job, copy, false).copied, 1);
    assert_int_equal(restore(copy, under(f, "again")).frames, 2);
}

static size_t files_beside(struct fixture *f, const char *folder)
{
    char **names = NULL;
    size_t count = 0;
    assert_int_equal(pc_file_list(f->arena, folder, &names, &count, NULL), PC_OK);
    return count;
}

static void a_copy_is_only_read(void **state)
{
    struct fixture *f = *state;
    const char *copy = under(f, "a disk?with=marks&100%#");
    put_frame(f, "a.dng", "frame");
    back_up(f->job, copy, false);
    assert_int_equal(files_beside(f, copy), 1);
    const char *before = digest_of(f, pc_arena_printf(f->arena, "%s/job.db", copy));
    restore(copy, under(f, "one"));
    assert_int_equal(files_beside(f, copy), 1);
    assert_string_equal(digest_of(f, pc_arena_printf(f->arena, "%s/job.db", copy)), before);
    // The job's own folder, while it is open and after.
    restore(f->folder, under(f, "two"));
    pc_job_close(f->job);
    f->job = NULL;
    assert_int_equal(files_beside(f, f->folder), 1);
    restore(f->folder, under(f, "three"));
    assert_int_equal(files_beside(f, f->folder), 1);
}

// Killed with changes in the log beside the record only.
static void what_a_killed_writer_left_is_restored(void **state)
{
    struct fixture *f = *state;
    const char *killed = under(f, "killed");
    pc_job_close(f->job); // SQLite's locks may not be carried into another process
    f->job = NULL;
    pid_t child = fork();
    if (child == 0) {
        struct pc_job *job = NULL;
        if (pc_job_create(killed, &job, NULL) != PC_OK)
            _exit(1);
        f->job = job;
        for (int i = 0; i < 5; i++)
            job_say(f, "shot", "S1", "{\"dish\": \"broth\"}");
        _exit(0);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
    struct stat info;
    assert_int_equal(stat(pc_arena_printf(f->arena, "%s/job.db-wal", killed), &info), 0);
    assert_true(info.st_size > 0);
    restore(killed, under(f, "again"));
    struct pc_job *again = NULL;
    assert_int_equal(pc_job_open(under(f, "again"), &again, NULL), PC_OK);
    assert_int_equal(pc_job_rev(again), 5);
    pc_job_close(again);
}

static void a_job_is_restored_over_nothing(void **state)
{
    struct fixture *f = *state;
    put_frame(f, "a.dng", "frame");
    struct pc_job_backed backed;
    assert_int_equal(mkdir(under(f, "empty"), 0755), 0);
    assert_int_equal(symlink("nowhere", under(f, "link")), 0);
    assert_int_equal(pc_file_write(under(f, "file"), "x", 1, NULL), PC_OK);
    static const char *const taken[] = {"empty", "link", "file", "larder"};
    for (size_t i = 0; i < PC_COUNT(taken); i++)
        assert_int_equal(pc_job_restore(&ctx, f->folder, under(f, taken[i]), &backed, NULL), PC_MISUSE);
    assert_int_equal(pc_job_restore(&ctx, under(f, "empty"), under(f, "new"), &backed, NULL), PC_NOT_FOUND);
    ctx.cancelled = true;
    assert_int_equal(pc_job_restore(&ctx, f->folder, under(f, "new"), &backed, NULL), PC_CANCELLED);
    ctx.cancelled = false;
    struct stat info;
    assert_int_not_equal(lstat(under(f, "new"), &info), 0);
}

static int begin_all(void **state)
{
    (void)state;
    pc_ctx_init(&ctx, 1, 0);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_copy_follows_and_is_held_against_the_record, job_begin, job_end),
        cmocka_unit_test_setup_teardown(a_copy_of_another_job_is_left_alone, job_begin, job_end),
        cmocka_unit_test_setup_teardown(an_older_state_does_not_take_the_place_of_a_newer, job_begin,
                                        job_end),
        cmocka_unit_test_setup_teardown(what_a_broken_off_copy_left_is_mended, job_begin, job_end),
        cmocka_unit_test_setup_teardown(a_copy_is_only_read, job_begin, job_end),
        cmocka_unit_test_setup_teardown(what_a_killed_writer_left_is_restored, job_begin, job_end),
        cmocka_unit_test_setup_teardown(a_job_is_restored_over_nothing, job_begin, job_end),
    };
    return cmocka_run_group_tests_name("backup", tests, begin_all, NULL);
}
