// SPDX-License-Identifier: Apache-2.0
// A frame locked in a job, and others held against it; what is recorded is read back from the job.
#include "front/answer/verdict.h"
#include "tests/sim/sim.h"

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

static void say(struct pc_job *job, const char *what, const char *subject, const char *body)
{
    struct pc_json *json = NULL;
    struct pc_err err = {0};
    int64_t rev;
    assert_int_equal(pc_json_parse(body, strlen(body), "body", &json, NULL), PC_OK);
    if (pc_job_append(
            job,
            &(struct pc_job_wish){
                .who = "laptop", .role = PC_JOB_PHOTOGRAPHER, .what = what, .subject = subject, .body = json},
            &rev, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    pc_json_destroy(json);
}

static void shoot_in(struct sim_scene *scene, struct sim_shot *shot, const char *name, const char *folder,
                     struct pc_job *job, char id[24])
{
    struct pc_err err = {0};
    char path[256], file[64];
    bool fresh;
    snprintf(shot->name, sizeof shot->name, "%s", name);
    shot->noise_seed++;
    if (sim_shoot(scene, shot, folder, &err) != PC_OK)
        fail_msg("%s", err.text);
    snprintf(path, sizeof path, "%s/%s.dng", folder, name);
    snprintf(file, sizeof file, "%s.dng", name);
    struct pc_job_arrival arrival = {.path = path, .name = file, .from = "folder", .device = "card"};
    if (pc_job_take_in(job, &arrival, id, &fresh, &err) != PC_OK)
        fail_msg("%s", err.text);
}

static void verdict_is(struct pc_job *job, const char *id, const char *tone, const char *kind)
{
    struct pc_json *now = NULL;
    assert_int_equal(pc_job_now_of(job, "verdict", id, &now, NULL), PC_OK);
    assert_non_null(now);
    const char *said = pc_json_text(pc_json_get(now, "kind"));
    if (strcmp(pc_json_text(pc_json_get(now, "tone")), tone) != 0 ||
        strcmp(said != NULL ? said : "none", kind) != 0)
        fail_msg("of %s: \"%s\"", id, pc_json_text(pc_json_get(now, "sentence")));
    pc_json_destroy(now);
}

static void a_verdict_is_recorded_for_each_frame(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    struct pc_err err = {0};
    struct pc_photo_reader *reader;
    struct pc_job *job;
    struct sim_setup setup;
    struct sim_shot shot;
    struct sim_scene *scene;
    struct pc_verdict_keep keep = {0};
    char parent[] = "/tmp/pc-verdict-XXXXXX", folder[64], first[24], same[24], other[24];
    int64_t rev = 0;
    assert_non_null(mkdtemp(parent));
    snprintf(folder, sizeof folder, "%s/larder", parent);
    pc_ctx_init(&ctx, 1, 0);
    assert_int_equal(pc_photo_reader_create(&ctx, NULL, &reader, &err), PC_OK);
    assert_int_equal(pc_job_create(folder, &job, &err), PC_OK);
    sim_setup_demo(&setup);
    sim_setup_resize(&setup, 600, 400);
    assert_int_equal(sim_scene_create(&setup, &scene, &err), PC_OK);
    sim_shot_held_out(&setup, 3, false, &shot);

    shoot_in(scene, &shot, "one", parent, job, first);
    say(job, "touch", "hero", "{\"x_ratio\": 0.5, \"y_ratio\": 0.5, \"radius_ratio\": 0.05}");
    say(job, "locked", first, "{}");
    shoot_in(scene, &shot, "two", parent, job, same);
    shot.iso *= 2;
    shoot_in(scene, &shot, "three", parent, job, other);
    const char *const ids[] = {first, same, other};
    for (int i = 0; i < 3; i++)
        if (pc_verdict_record(&ctx, reader, job, ids[i], NULL, &keep, NULL, &rev, &err) != PC_OK)
            fail_msg("%s: %s", err.place, err.text);
    assert_int_equal(rev, pc_job_rev(job));
    verdict_is(job, first, "shoot_on", "none");
    verdict_is(job, same, "shoot_on", "none");
    verdict_is(job, other, "mend", "exposure");
    assert_int_equal(pc_verdict_record(&ctx, reader, job, "f99", NULL, &keep, NULL, &rev, NULL),
                     PC_NOT_FOUND);

    pc_verdict_keep_finish(&keep);
    pc_photo_reader_destroy(reader);
    assert_int_equal(ctx.held_bytes, 0);
    pc_job_close(job);
    sim_scene_destroy(scene);
    assert_int_equal(nftw(parent, remove_one, 8, FTW_DEPTH | FTW_PHYS), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_verdict_is_recorded_for_each_frame)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
