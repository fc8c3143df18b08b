// SPDX-License-Identifier: Apache-2.0
// A shot's side section, with and without a place file.
#include "front/answer/shot_section.h"

#include "base/file.h"

#include <ftw.h>
#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *at)
{
    (void)info;
    (void)kind;
    (void)at;
    return remove(path);
}

static void say_shot(struct pc_job *job, const char *id, const char *body)
{
    struct pc_json *json;
    int64_t rev;
    assert_int_equal(pc_json_parse(body, strlen(body), "body", &json, NULL), PC_OK);
    struct pc_job_wish wish = {
        .who = "laptop", .role = PC_JOB_PHOTOGRAPHER, .what = "shot", .subject = id, .body = json};
    assert_int_equal(pc_job_append(job, &wish, &rev, NULL), PC_OK);
    pc_json_destroy(json);
}

static void a_shot_is_drawn_from_what_is_known(void **state)
{
    (void)state;
    char parent[] = "/tmp/pc-section-XXXXXX", folder[64], path[96];
    struct pc_job *job;
    struct pc_arena *arena = pc_arena_create();
    struct pc_err err = {0};
    const char *bytes, *placed;
    size_t count, placed_count;
    assert_non_null(mkdtemp(parent));
    snprintf(folder, sizeof folder, "%s/larder", parent);
    assert_int_equal(pc_job_create(folder, &job, &err), PC_OK);
    assert_int_equal(pc_shot_section(job, arena, "S3", &bytes, &count, NULL), PC_NOT_FOUND);
    say_shot(job, "S3", "{\"dish\": \"buckwheat galettes\"}");
    assert_int_equal(pc_shot_section(job, arena, "S3", &bytes, &count, NULL), PC_NOT_FOUND);
    say_shot(job, "S3", "{\"angle_deg\": 10, \"tallest_mm\": 140}");
    if (pc_shot_section(job, arena, "S3", &bytes, &count, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    assert_non_null(strstr(bytes, "<svg"));
    assert_true(count > 2000);
    snprintf(path, sizeof path, "%s/site.json", folder);
    const char site[] = "{\"ceiling_m\": 2.32}";
    assert_int_equal(pc_file_write(path, site, strlen(site), NULL), PC_OK);
    if (pc_shot_section(job, arena, "S3", &placed, &placed_count, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    assert_true(placed_count != count); // the ceiling is drawn
    assert_int_equal(pc_file_write(path, "{", 1, NULL), PC_OK);
    assert_int_equal(pc_shot_section(job, arena, "S3", &placed, &placed_count, NULL), PC_BAD_INPUT);
    say_shot(job, "S2", "{\"angle_deg\": 90}");
    assert_int_equal(unlink(path), 0);
    assert_int_equal(pc_shot_section(job, arena, "S2", &bytes, &count, NULL), PC_OK);
    pc_job_close(job);
    pc_arena_destroy(arena);
    assert_int_equal(nftw(parent, remove_one, 8, FTW_DEPTH | FTW_PHYS), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_shot_is_drawn_from_what_is_known)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
