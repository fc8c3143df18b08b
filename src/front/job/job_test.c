// SPDX-License-Identifier: Apache-2.0
// The store: what goes in is there, twice is once, what is undone is gone, and nobody gets what is not
// theirs.
#include "front/job/job_fixture.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/digest.h"
#include "base/file.h"
#include "front/job/db.h"
#include "front/job/diary.h"

static void changes_fold_and_last(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(pc_job_rev(f->job), 0);
    assert_int_equal(
        job_say(f, "job", NULL, "{\"title\": \"Harbour kitchen\", \"client\": \"Tidehouse Orrevik\"}"), 1);
    assert_int_equal(job_say(f, "job", NULL, "{\"date\": \"2027-03-18\", \"client\": null}"), 2);
    job_reopen(f);
    assert_string_equal(job_now(f, "job", "", "title"), "\"Harbour kitchen\"");
    assert_string_equal(job_now(f, "job", "", "date"), "\"2027-03-18\"");
    assert_null(job_now(f, "job", "", "client"));
    job_say(f, "touch", "hero", "{\"x_ratio\": 0.5, \"y_ratio\": 0.5, \"radius_ratio\": 0.1}");
    job_say(f, "touch", "hero", "{\"x_ratio\": 0.25, \"y_ratio\": 0.5}"); // a touch is whole
    assert_null(job_now(f, "touch", "hero", "radius_ratio"));
    assert_int_equal(pc_job_rev(f->job), 4);
}

static void the_same_key_is_the_same_change(void **state)
{
    struct fixture *f = *state;
    int64_t first = 0, again = 0;
    job_say(f, "plate", "1", "{\"dish\": \"broth\"}");
    const char *down = "{\"state\": \"down\", \"ago_ms\": 1500}";
    assert_int_equal(job_say_as(f, PC_JOB_COOK, "phone", "tap", "1", down, "k1", &first, NULL), PC_OK);
    assert_int_equal(job_say_as(f, PC_JOB_COOK, "phone", "tap", "1", down, "k1", &again, NULL), PC_OK);
    assert_int_equal(first, again);
    struct pc_json *taps = NULL;
    assert_int_equal(pc_job_taps(f->job, &taps, NULL), PC_OK);
    assert_int_equal(pc_json_count(taps), 1);
    double made = 0;
    struct timespec t;
    clock_gettime(CLOCK_REALTIME, &t);
    assert_true(pc_json_number(pc_json_get(pc_json_at(taps, 0), "at_ms"), &made));
    double ago_s = (double)t.tv_sec + 1e-9 * (double)t.tv_nsec - made / 1000.0;
    assert_true(ago_s >= 1.499 && ago_s < 60.0);
    pc_json_destroy(taps);
}

static void undo_takes_back_and_undo_of_undo_gives_back(void **state)
{
    struct fixture *f = *state;
    job_say(f, "shot", "S1", "{\"dish\": \"broth\", \"angle_deg\": 30}");
    int64_t second = job_say(f, "shot", "S1", "{\"dish\": \"soup\"}");
    char body[64];
    snprintf(body, sizeof body, "{\"rev\": %lld}", (long long)second);
    int64_t undo = job_say(f, "undo", NULL, body);
    assert_string_equal(job_now(f, "shot", "S1", "dish"), "\"broth\"");
    struct pc_err err = {0};
    int64_t rev = 0;
    assert_int_equal(job_say_as(f, PC_JOB_PHOTOGRAPHER, "laptop", "undo", NULL, body, NULL, &rev, &err),
                     PC_MISUSE);
    assert_non_null(strstr(err.text, "undone already"));
    for (int round = 0; round < 4; round++) { // undo the undo, and undo that
        snprintf(body, sizeof body, "{\"rev\": %lld}", (long long)undo);
        undo = job_say(f, "undo", NULL, body);
        job_reopen(f);
        assert_string_equal(job_now(f, "shot", "S1", "dish"), round % 2 == 0 ? "\"soup\"" : "\"broth\"");
    }
    int64_t first_rev = 1;
    snprintf(body, sizeof body, "{\"rev\": %lld}", (long long)first_rev);
    job_say(f, "undo", NULL, body); // nothing of it is left but what the second says, which is undone
    assert_null(job_now(f, "shot", "S1", "dish"));
    // Somebody else's cannot be taken back by the cook.
    assert_int_equal(job_say_as(f, PC_JOB_COOK, "phone", "undo", NULL, "{\"rev\": 2}", NULL, &rev, NULL),
                     PC_MISUSE);
}

static void each_role_changes_only_its_own(void **state)
{
    struct fixture *f = *state;
    static const struct {
        enum pc_job_role role;
        const char *what, *subject, *body;
    } refused[] = {
        {PC_JOB_COOK, "job", NULL, "{\"title\": \"x\"}"},
        {PC_JOB_COOK, "dials", NULL, "{}"},
        {PC_JOB_CLIENT, "plate", "1", "{}"},
        {PC_JOB_CLIENT, "tap", "1", "{\"state\": \"down\"}"},
        {PC_JOB_PHOTOGRAPHER, "frame", "f1", "{\"from\": \"upload\"}"},
        {PC_JOB_PHOTOGRAPHER, "verdict", "f1", "{\"tone\": \"mend\"}"},
        {PC_JOB_PHOTOGRAPHER, "shots", "S1", "{}"},
        {PC_JOB_PHOTOGRAPHER, "shot", "", "{}"},
        {PC_JOB_PHOTOGRAPHER, "shot", "S1", "{\"angle_deg\": 91}"},
        {PC_JOB_PHOTOGRAPHER, "shot", "S1", "{\"angle\": 30}"},
        {PC_JOB_PHOTOGRAPHER, "shot", "S1", "{\"dish\": 3}"},
        {PC_JOB_PHOTOGRAPHER, "shot", "S1", "{\"dish\": \"two\\nlines\"}"},
        {PC_JOB_PHOTOGRAPHER, "shot", "S1", "{\"outlets\": [1]}"},
        {PC_JOB_PHOTOGRAPHER, "job", NULL, "{\"date\": \"2027-02-30\"}"},
        {PC_JOB_PHOTOGRAPHER, "touch", "nose", "{\"x_ratio\": 0.5, \"y_ratio\": 0.5}"},
        {PC_JOB_PHOTOGRAPHER, "touch", "hero", "{\"x_ratio\": 0.5}"},
        {PC_JOB_PHOTOGRAPHER, "dials", NULL, "{\"dials\": {\"P1\": 1.5}}"},
        {PC_JOB_PHOTOGRAPHER, "role", "f9", "{\"role\": \"ambient\"}"},
        {PC_JOB_PHOTOGRAPHER, "tap", "9", "{\"state\": \"down\"}"},
        {PC_JOB_PHOTOGRAPHER, "outlet", "cover", "{\"size_mm\": [215]}"},
        {PC_JOB_PHOTOGRAPHER, "undo", NULL, "{\"rev\": 7}"},
    };
    for (size_t i = 0; i < PC_COUNT(refused); i++) {
        struct pc_err err = {0};
        int64_t rev = 0;
        enum pc_status status = job_say_as(f, refused[i].role, "somebody", refused[i].what,
                                           refused[i].subject, refused[i].body, NULL, &rev, &err);
        if (status == PC_OK || err.text[0] == '\0')
            fail_msg("%s %s was let in", refused[i].what, refused[i].body);
    }
    assert_int_equal(pc_job_rev(f->job), 0);
}

static void frames_are_copied_once_and_never_over_another(void **state)
{
    struct fixture *f = *state;
    char a[160], b[160], id[24], other[24], again[24], *stored = NULL;
    job_write_frame(f, "a", "the first camera's", a);
    job_write_frame(f, "b", "the second camera's", b);
    job_take(f, a, "../../IMG_0001.DNG", true, id);
    job_take(f, b, "img_0001.dng", true, other); // on a disk that knows no case it would be the same name
    job_take(f, a, "elsewhere.dng", false, again);
    assert_string_equal(id, "f1");
    assert_string_equal(other, "f2");
    assert_string_equal(again, "f1");
    assert_int_equal(pc_job_frame_path(f->job, f->arena, "f1", &stored, NULL), PC_OK);
    assert_string_equal(pc_file_name(stored), "IMG_0001.DNG");
    char hex[PC_DIGEST_HEX_BYTES], said[PC_DIGEST_HEX_BYTES + 2];
    assert_int_equal(pc_digest_of_file(stored, hex, NULL), PC_OK);
    snprintf(said, sizeof said, "\"%s\"", hex);
    assert_string_equal(job_now(f, "frame", "f1", "sha256"), said);
    assert_int_equal(pc_job_frame_path(f->job, f->arena, "f2", &stored, NULL), PC_OK);
    assert_string_equal(pc_file_name(stored), "img_0001-2.dng");
    assert_int_equal(pc_job_frame_path(f->job, f->arena, "f3", &stored, NULL), PC_NOT_FOUND);
    // Nothing is left on the way.
    char inbox[128], **left = NULL;
    size_t count = 1;
    snprintf(inbox, sizeof inbox, "%s/inbox", f->folder);
    assert_int_equal(pc_file_list(f->arena, inbox, &left, &count, NULL), PC_OK);
    assert_int_equal(count, 0);
    job_say(f, "role", "f1", "{\"role\": \"ambient\"}");
}

static void what_is_no_frame_is_refused(void **state)
{
    struct fixture *f = *state;
    char path[160], id[24];
    bool fresh = false;
    struct pc_err err = {0};
    job_write_frame(f, "empty", "", path);
    assert_int_equal(
        pc_job_take_in(f->job, &(struct pc_job_arrival){path, "e.dng", "ftp", NULL}, id, &fresh, &err),
        PC_BAD_INPUT);
    char link_path[160];
    snprintf(link_path, sizeof link_path, "%s/link", f->parent);
    assert_int_equal(symlink("/etc/passwd", link_path), 0);
    assert_int_equal(
        pc_job_take_in(f->job, &(struct pc_job_arrival){link_path, "l.dng", "ftp", NULL}, id, &fresh, NULL),
        PC_NOT_FOUND);
    assert_int_equal(
        pc_job_take_in(f->job, &(struct pc_job_arrival){f->parent, "d.dng", "ftp", NULL}, id, &fresh, NULL),
        PC_NOT_FOUND);
    assert_int_equal(pc_job_rev(f->job), 0);
}

static void the_log_only_grows(void **state)
{
    struct fixture *f = *state;
    job_say(f, "job", NULL, "{\"title\": \"a\"}");
    struct pc_job_change *changes = NULL;
    size_t count = 0;
    for (int i = 0; i < 5; i++)
        job_say(f, "dials", NULL, "{\"dials\": {\"P1\": 0.5}}");
    assert_int_equal(pc_job_since(f->job, f->arena, 2, 3, &changes, &count, NULL), PC_OK);
    assert_int_equal(count, 3);
    assert_int_equal(changes[0].rev, 3);
    assert_string_equal(changes[0].what, "dials");
    assert_int_equal(changes[0].role, PC_JOB_PHOTOGRAPHER);
}

static void a_client_sees_what_is_the_clients(void **state)
{
    struct fixture *f = *state;
    char path[160], id[24];
    job_write_frame(f, "a", "frame", path);
    job_take(f, path, "a.dng", true, id);
    job_say(f, "touch", "hero", "{\"x_ratio\": 0.5, \"y_ratio\": 0.5}");
    struct pc_json *all = NULL, *theirs = NULL;
    assert_int_equal(pc_job_state_json(f->job, PC_JOB_PHOTOGRAPHER, &all, NULL), PC_OK);
    assert_int_equal(pc_job_state_json(f->job, PC_JOB_CLIENT, &theirs, NULL), PC_OK);
    assert_non_null(pc_json_get(pc_json_get(all, "touches"), "hero"));
    assert_string_equal(pc_json_text(pc_json_get(pc_json_at(pc_json_get(all, "frames"), 0), "id")), "f1");
    assert_null(pc_json_get(theirs, "touches"));
    assert_null(pc_json_get(theirs, "plates"));
    assert_int_equal(pc_json_count(pc_json_get(theirs, "frames")), 1);
    pc_json_destroy(all);
    pc_json_destroy(theirs);
}

// A record as version 1 wrote it, with an undo in it.
static const char version_1[] =
    "CREATE TABLE change (rev INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, who TEXT NOT NULL, role TEXT NOT "
    "NULL,"
    " what TEXT NOT NULL, subject TEXT NOT NULL, body TEXT NOT NULL, key TEXT UNIQUE,"
    " undoes INTEGER REFERENCES change (rev)) STRICT;"
    "CREATE TABLE frame (id TEXT PRIMARY KEY, sha256 TEXT NOT NULL UNIQUE, file TEXT NOT NULL UNIQUE) STRICT;"
    "INSERT INTO change VALUES (1, 1000, 'laptop', 'photographer', 'shot', 'S1', '{\"dish\": \"broth\"}', "
    "'a', NULL);"
    "INSERT INTO change VALUES (2, 2000, 'laptop', 'photographer', 'shot', 'S1', '{\"dish\": \"soup\"}', "
    "'b', NULL);"
    "INSERT INTO change VALUES (3, 3000, 'laptop', 'photographer', 'undo', '', '{\"rev\": 2}', 'c', 2);"
    "INSERT INTO change VALUES (4, 4000, 'laptop', 'photographer', 'shot', 'S2', '{\"dish\": \"hake\"}', "
    "'d', NULL);"
    "PRAGMA application_id = 1886151028; PRAGMA user_version = 1;";

static void an_older_record_is_brought_up_to_date(void **state)
{
    struct fixture *f = *state;
    char path[160];
    snprintf(f->folder, sizeof f->folder, "%s/old", f->parent);
    assert_int_equal(pc_file_make_folder(f->folder, NULL), PC_OK);
    snprintf(path, sizeof path, "%s/job.db", f->folder);
    struct pc_db *db = NULL;
    assert_int_equal(pc_db_open(path, true, &db, NULL), PC_OK);
    assert_int_equal(pc_db_run(db, version_1, NULL, 0, NULL, NULL, NULL), PC_OK);
    pc_db_close(db);
    for (int twice = 0; twice < 2; twice++) {
        job_reopen(f);
        assert_int_equal(pc_job_rev(f->job), 4 + twice);
        assert_string_equal(job_now(f, "shot", "S1", "dish"), "\"broth\"");
        assert_string_equal(job_now(f, "shot", "S2", "dish"), "\"hake\"");
        assert_null(job_now(f, "shot", "S1", "key"));
        if (twice == 0)
            job_say(f, "plate", "1", "{}");
    }
}

// Another program's database, or one of a version to come, is not written to, not even beside it.
static void what_is_not_ours_is_left_as_it_is(void **state)
{
    struct fixture *f = *state;
    static const char *const records[] = {
        "CREATE TABLE songs (name TEXT); INSERT INTO songs VALUES ('a');",
        "CREATE TABLE change (rev INTEGER); PRAGMA application_id = 1886151028; PRAGMA user_version = 99;",
    };
    for (size_t i = 0; i < PC_COUNT(records); i++) {
        const char *folder = pc_arena_printf(f->arena, "%s/theirs-%zu", f->parent, i);
        const char *record = pc_arena_printf(f->arena, "%s/job.db", folder);
        assert_int_equal(pc_file_make_folder(folder, NULL), PC_OK);
        struct pc_db *db = NULL;
        assert_int_equal(pc_db_open(record, true, &db, NULL), PC_OK);
        assert_int_equal(pc_db_run(db, records[i], NULL, 0, NULL, NULL, NULL), PC_OK);
        pc_db_close(db);
        char before[PC_DIGEST_HEX_BYTES], after[PC_DIGEST_HEX_BYTES];
        assert_int_equal(pc_digest_of_file(record, before, NULL), PC_OK);
        struct pc_job *job = NULL;
        struct pc_err err = {0};
        assert_int_equal(pc_job_open(folder, &job, &err), i == 0 ? PC_BAD_INPUT : PC_UNSUPPORTED);
        assert_null(job);
        struct pc_diary_line *lines = NULL;
        size_t count = 0;
        assert_int_equal(pc_diary_read(f->arena, f->parent, &lines, &count, NULL), PC_OK);
        assert_int_equal(pc_digest_of_file(record, after, NULL), PC_OK);
        assert_string_equal(before, after);
        assert_int_equal(unlink(record), 0);
        assert_int_equal(rmdir(folder), 0); // and so there was nothing else in it
    }
}

static void a_job_is_made_whole_or_not_at_all(void **state)
{
    struct fixture *f = *state;
    struct pc_job *job = NULL;
    const char *taken = pc_arena_printf(f->arena, "%s/taken", f->parent);
    const char *nowhere = pc_arena_printf(f->arena, "%s/no/where", f->parent);
    assert_int_equal(pc_file_write(taken, "x", 1, NULL), PC_OK);
    assert_int_equal(pc_job_create(taken, &job, NULL), PC_MISUSE);
    assert_int_equal(pc_job_create(f->folder, &job, NULL), PC_MISUSE);
    assert_int_equal(pc_job_create(nowhere, &job, NULL), PC_IO);
    assert_int_equal(pc_job_create(pc_arena_printf(f->arena, "%s/new//", f->parent), &job, NULL), PC_OK);
    assert_string_equal(pc_job_folder(job), pc_arena_printf(f->arena, "%s/new", f->parent));
    assert_int_equal(access(pc_arena_printf(f->arena, "%s/new/frames", f->parent), F_OK), 0);
    pc_job_close(job);
}

static void a_frame_that_was_removed_comes_back_with_its_bytes(void **state)
{
    struct fixture *f = *state;
    char path[160], id[24], again[24], *stored = NULL;
    job_write_frame(f, "a", "a frame", path);
    job_take(f, path, "DCIM\\Gar\xc3\xa7on \x1b[31m.DNG", true, id);
    assert_string_equal(job_now(f, "frame", id, "name"), "\"DCIM\\\\Gar\xc3\xa7on ?[31m.DNG\"");
    assert_int_equal(pc_job_frame_path(f->job, f->arena, id, &stored, NULL), PC_OK);
    assert_string_equal(pc_file_name(stored), "DCIM_Gar__on___31m.DNG");
    assert_int_equal(unlink(stored), 0);
    job_take(f, path, "a.dng", false, again);
    assert_string_equal(id, again);
    assert_int_equal(access(stored, F_OK), 0);
    assert_int_equal(pc_job_rev(f->job), 1);
    // What a run that ended in the middle of an arrival left is swept away a day later.
    const char *old = pc_arena_printf(f->arena, "%s/inbox/.arriving-0123456789abcdef.part-1-0", f->folder);
    const char *young = pc_arena_printf(f->arena, "%s/inbox/.arriving-fedcba9876543210", f->folder);
    assert_int_equal(pc_file_write(old, "half", 4, NULL), PC_OK);
    assert_int_equal(pc_file_write(young, "half", 4, NULL), PC_OK);
    struct timespec times[2] = {{.tv_sec = time(NULL) - 2 * 86400}, {.tv_sec = time(NULL) - 2 * 86400}};
    assert_int_equal(utimensat(AT_FDCWD, old, times, 0), 0);
    job_reopen(f);
    assert_int_not_equal(access(old, F_OK), 0);
    assert_int_equal(access(young, F_OK), 0);
}

// An undo that holds keeps taking, whatever becomes of another one of the same change.
static void two_undos_of_one_change(void **state)
{
    struct fixture *f = *state;
    job_say(f, "shot", "S1", "{\"dish\": \"broth\"}"); // 1
    job_say(f, "undo", NULL, "{\"rev\": 1}");          // 2: nothing holds
    job_say(f, "undo", NULL, "{\"rev\": 2}");          // 3: 1 holds again
    job_say(f, "undo", NULL, "{\"rev\": 1}");          // 4: nothing holds
    job_say(f, "undo", NULL, "{\"rev\": 3}");          // 5: 2 takes 1 as well
    job_say(f, "undo", NULL, "{\"rev\": 5}");          // 6: 2 does not, 4 still does
    assert_null(job_now(f, "shot", "S1", "dish"));
    job_say(f, "undo", NULL, "{\"rev\": 4}");
    assert_string_equal(job_now(f, "shot", "S1", "dish"), "\"broth\"");
}

static void names_of_jobs_are_plain_and_free(void **state)
{
    struct fixture *f = *state;
    char *name = NULL;
    assert_int_equal(pc_diary_name(f->arena, f->parent, "Larder!", &name, NULL), PC_OK);
    assert_string_equal(name, "larder-2");
    assert_int_equal(pc_diary_name(f->arena, f->parent,
                                   "../ Sm\xc3\xb8"
                                   "r & br\xc3\xb8"
                                   "d",
                                   &name, NULL),
                     PC_OK);
    assert_string_equal(name, "sm-r-br-d");
    assert_int_equal(pc_diary_name(f->arena, f->parent, "...", &name, NULL), PC_OK);
    assert_string_equal(name, "job");
    static const char *const no[] = {"", "..", "a/b", "a b", ".hidden", "a%2e"};
    for (size_t i = 0; i < PC_COUNT(no); i++)
        assert_false(pc_diary_is_name(no[i]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(changes_fold_and_last, job_begin, job_end),
        cmocka_unit_test_setup_teardown(the_same_key_is_the_same_change, job_begin, job_end),
        cmocka_unit_test_setup_teardown(undo_takes_back_and_undo_of_undo_gives_back, job_begin, job_end),
        cmocka_unit_test_setup_teardown(each_role_changes_only_its_own, job_begin, job_end),
        cmocka_unit_test_setup_teardown(frames_are_copied_once_and_never_over_another, job_begin, job_end),
        cmocka_unit_test_setup_teardown(what_is_no_frame_is_refused, job_begin, job_end),
        cmocka_unit_test_setup_teardown(the_log_only_grows, job_begin, job_end),
        cmocka_unit_test_setup_teardown(a_client_sees_what_is_the_clients, job_begin, job_end),
        cmocka_unit_test_setup_teardown(an_older_record_is_brought_up_to_date, job_begin, job_end),
        cmocka_unit_test_setup_teardown(what_is_not_ours_is_left_as_it_is, job_begin, job_end),
        cmocka_unit_test_setup_teardown(a_job_is_made_whole_or_not_at_all, job_begin, job_end),
        cmocka_unit_test_setup_teardown(a_frame_that_was_removed_comes_back_with_its_bytes, job_begin,
                                        job_end),
        cmocka_unit_test_setup_teardown(two_undos_of_one_change, job_begin, job_end),
        cmocka_unit_test_setup_teardown(names_of_jobs_are_plain_and_free, job_begin, job_end),
    };
    return cmocka_run_group_tests_name("job", tests, NULL, NULL);
}
