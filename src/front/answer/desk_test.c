// SPDX-License-Identifier: Apache-2.0
// A job from its first frame to its closing check, as a page asks for it; the numbers against those of the
// same frames weighed without a job.
#include "front/answer/desk.h"

#include "base/clock.h"
#include "base/file.h"
#include "front/answer/weighed.h"
#include "tests/sim/sim.h"

#include <fcntl.h>
#include <ftw.h>
#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

enum { WIDTH = 600, HEIGHT = 400 };
static const double LONGEST_S = 40.0;

struct place {
    struct pc_arena *arena;
    char parent[64], shots_folder[96], folder[96];
    struct pc_job *job;
    struct pc_desk *desk;
    struct sim_setup setup;
    struct sim_scene *scene;
    struct sim_shot shot[SIM_SHOTS_MAX], closing;
    int shots, upright_px[2];
    char id[SIM_SHOTS_MAX + 1][24];
    _Atomic int ready, refused, works;
    struct pc_err err;
};

static void ok(struct place *p, enum pc_status status)
{
    if (status != PC_OK)
        fail_msg("%s: %s", p->err.place, p->err.text);
}

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *at)
{
    (void)info;
    (void)kind;
    (void)at;
    return remove(path);
}

static void told_work(void *user, const char *doing, double done_ratio)
{
    struct place *p = user;
    p->works += doing[0] != '\0' && done_ratio >= 0.0 && done_ratio <= 1.0;
}

static void told_answers(void *user, const char *kind, const char *state)
{
    struct place *p = user;
    assert_string_equal(kind, "weigh");
    *(strcmp(state, "ready") == 0 ? &p->ready : &p->refused) += 1;
}

// One card of frames for all tests; each has a job of its own.
static int shoot_all(void **state)
{
    struct place *p = calloc(1, sizeof *p);
    *state = p;
    snprintf(p->parent, sizeof p->parent, "/tmp/pc-desk-XXXXXX");
    assert_non_null(mkdtemp(p->parent));
    snprintf(p->shots_folder, sizeof p->shots_folder, "%s/card", p->parent);
    snprintf(p->folder, sizeof p->folder, "%s/larder", p->parent);
    sim_setup_demo(&p->setup);
    sim_setup_resize(&p->setup, WIDTH, HEIGHT);
    sim_upright_size(&p->setup, &p->upright_px[0], &p->upright_px[1]);
    ok(p, sim_scene_create(&p->setup, &p->scene, &p->err));
    p->shots = sim_series_job(&p->setup, 1.0, p->shot);
    ok(p, sim_shoot_series(p->scene, p->shot, p->shots, p->shots_folder, &p->err));
    sim_shot_held_out(&p->setup, 5, false, &p->closing);
    snprintf(p->closing.name, sizeof p->closing.name, "plate");
    ok(p, sim_shoot(p->scene, &p->closing, p->shots_folder, &p->err));
    return 0;
}

static int begin(void **state)
{
    struct place *p = *state;
    struct pc_desk_told told = {told_work, told_answers, p};
    p->arena = pc_arena_create();
    p->ready = p->refused = p->works = 0;
    ok(p, pc_job_create(p->folder, &p->job, &p->err));
    ok(p, pc_desk_create(p->job, 2, &told, &p->desk, &p->err));
    return 0;
}

static int end(void **state)
{
    struct place *p = *state;
    pc_desk_destroy(p->desk);
    pc_job_close(p->job);
    pc_arena_destroy(p->arena);
    return nftw(p->folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

static int put_away(void **state)
{
    struct place *p = *state;
    sim_scene_destroy(p->scene);
    int status = nftw(p->parent, remove_one, 8, FTW_DEPTH | FTW_PHYS);
    free(p);
    return status;
}

static const char *shot_file(struct place *p, const struct sim_shot *shot)
{
    return pc_arena_printf(p->arena, "%s/%s.dng", p->shots_folder, shot->name);
}

static void take_in(struct place *p, const char *path, char id[24])
{
    bool fresh;
    struct pc_job_arrival arrival = {.path = path, .name = path, .from = "upload", .device = "laptop"};
    ok(p, pc_job_take_in(p->job, &arrival, id, &fresh, &p->err));
    pc_desk_changed(p->desk, "frame");
}

static void say(struct place *p, const char *what, const char *subject, const char *fmt, ...) PC_PRINTF(4, 5);
static void say(struct place *p, const char *what, const char *subject, const char *fmt, ...)
{
    char body[512];
    va_list args;
    va_start(args, fmt);
    vsnprintf(body, sizeof body, fmt, args);
    va_end(args);
    struct pc_json *json;
    int64_t rev;
    ok(p, pc_json_parse(body, strlen(body), "body", &json, &p->err));
    struct pc_job_wish wish = {
        .who = "laptop", .role = PC_JOB_PHOTOGRAPHER, .what = what, .subject = subject, .body = json};
    ok(p, pc_job_append(p->job, &wish, &rev, &p->err));
    pc_json_destroy(json);
    pc_desk_changed(p->desk, what);
}

static void touch(struct place *p, const char *subject, enum sim_place place)
{
    double x, y;
    assert_true(sim_place_px(p->scene, &p->shot[0], place, &x, &y));
    say(p, "touch", subject, "{\"x_ratio\": %.9f, \"y_ratio\": %.9f}", x / p->upright_px[0],
        y / p->upright_px[1]);
}

static const char *text_of(const struct pc_json *json, const char *key)
{
    const char *text = pc_json_text(pc_json_get(json, key));
    return text != NULL ? text : "";
}

static void state_is(struct place *p, const char *state, const char *sentence)
{
    struct pc_json *said = pc_desk_weigh(p->desk);
    assert_string_equal(text_of(said, "state"), state);
    if (strstr(text_of(said, "sentence"), sentence) == NULL)
        fail_msg("\"%s\" says nothing of \"%s\"", text_of(said, "sentence"), sentence);
    pc_json_destroy(said);
}

// The answer once it is there; fails when it takes too long or is refused.
static struct pc_json *wait_for(struct place *p, const char *state)
{
    for (double begun_s = pc_clock_monotonic_s(); pc_clock_monotonic_s() - begun_s < LONGEST_S;
         usleep(20000)) {
        struct pc_json *said = pc_desk_weigh(p->desk);
        if (strcmp(text_of(said, "state"), "working") != 0) {
            if (strcmp(text_of(said, "state"), state) != 0)
                fail_msg("%s: %s", text_of(said, "state"), text_of(said, "sentence"));
            return said;
        }
        pc_json_destroy(said);
    }
    fail_msg("not %s within %.0f s", state, LONGEST_S);
    return NULL;
}

static void send_set(struct place *p)
{
    for (int i = 0; i < p->shots; i++)
        take_in(p, shot_file(p, &p->shot[i]), p->id[i]);
}

static void ready_set(struct place *p)
{
    send_set(p);
    touch(p, "hero", SIM_PLACE_HERO);
    touch(p, "surface", SIM_PLACE_SURFACE);
    pc_json_destroy(wait_for(p, "ready"));
}

// What is missing is a sentence, one after the other; then there is an answer.
static void what_is_missing_is_said(void **state)
{
    struct place *p = *state;
    state_is(p, "needs", "Send the frames of the set");
    send_set(p);
    state_is(p, "needs", "Touch the hero");
    touch(p, "hero", SIM_PLACE_HERO);
    state_is(p, "needs", "Touch the surface");
    assert_int_equal(p->ready, 0);
    touch(p, "surface", SIM_PLACE_SURFACE);
    struct pc_json *said = wait_for(p, "ready");
    assert_int_equal(pc_json_count(pc_json_get(pc_json_get(said, "answer"), "lights")), p->setup.light_count);
    pc_json_destroy(said);
    assert_int_equal(p->ready, 1);
    assert_true(p->works > 0);
}

// The same frames, places and dials weighed without a job, by paths and pixels.
static struct pc_json *weighed_alone(struct place *p, const struct pc_asked_dial *dials, int dial_count,
                                     bool closed)
{
    struct pc_ctx ctx;
    struct pc_asked asked;
    struct pc_measured *measured;
    struct pc_weighed *weighed = calloc(1, sizeof *weighed);
    const char *paths[SIM_SHOTS_MAX];
    double x, y;
    pc_ctx_init(&ctx, 1, 0);
    pc_asked_init(&asked);
    for (int i = 0; i < p->shots; i++)
        paths[i] = shot_file(p, &p->shot[i]);
    asked.paths = paths;
    asked.path_count = p->shots;
    asked.actual = closed ? shot_file(p, &p->closing) : NULL;
    asked.dial = dials;
    asked.dial_count = dial_count;
    assert_true(sim_place_px(p->scene, &p->shot[0], SIM_PLACE_HERO, &x, &y));
    ok(p, pc_asked_add_place(&asked, "hero", x, y, &p->err));
    assert_true(sim_place_px(p->scene, &p->shot[0], SIM_PLACE_SURFACE, &x, &y));
    ok(p, pc_asked_add_place(&asked, "surface", x, y, &p->err));
    ok(p, pc_measured_create(&ctx, p->arena, &asked, &measured, &p->err));
    ok(p, pc_weighed_make(&ctx, measured, &asked, weighed, &p->err));
    struct pc_json *json = pc_weighed_json(weighed);
    pc_weighed_finish(weighed);
    pc_measured_destroy(measured);
    free(weighed);
    assert_int_equal(ctx.held_bytes, 0);
    return json;
}

// The frames have got other names in the job, and so have their lights.
static void same_numbers(struct place *p, const struct pc_json *a, const struct pc_json *b)
{
    struct pc_json *one = pc_json_copy(a), *other = pc_json_copy(b);
    char *x = pc_json_print(p->arena, one, true), *y = pc_json_print(p->arena, other, true);
    for (char *c = x; *c != '\0'; c++)
        *c = *c == '_' ? ' ' : *c;
    for (char *c = y; *c != '\0'; c++)
        *c = *c == '_' ? ' ' : *c;
    assert_string_equal(x, y);
    pc_json_destroy(one);
    pc_json_destroy(other);
}

static void a_job_answers_as_its_frames_do(void **state)
{
    struct place *p = *state;
    ready_set(p);
    struct pc_json *said = wait_for(p, "ready"), *alone = weighed_alone(p, NULL, 0, false);
    same_numbers(p, pc_json_get(said, "answer"), alone);
    pc_json_destroy(alone);
    pc_json_destroy(said);
}

// Dials set, one more frame, foretold against actual: takes of which nothing is said do not disturb the set.
static void a_closing_frame_is_held_against_the_dials(void **state)
{
    struct place *p = *state;
    struct pc_asked_dial dials[SIM_LIGHTS_MAX];
    char body[512] = "{\"dials\": {", names[SIM_LIGHTS_MAX][64];
    char *path;
    ready_set(p);
    struct pc_json *said = wait_for(p, "ready");
    const struct pc_json *lights = pc_json_get(pc_json_get(said, "answer"), "lights");
    int n = p->setup.light_count;
    for (int i = 0; i < n; i++) {
        snprintf(names[i], sizeof names[i], "%s", text_of(pc_json_at(lights, (size_t)i), "name"));
        dials[i] =
            (struct pc_asked_dial){p->shot[i + 1].name, round(1e3 * p->closing.dial_ratio[i]) / 1e3, NAN};
        size_t at = strlen(body);
        snprintf(body + at, sizeof body - at, "%s\"%s\": %.3f", i > 0 ? ", " : "", names[i],
                 dials[i].dial_ratio);
    }
    pc_json_destroy(said);
    assert_int_equal(pc_desk_residual(p->desk, p->arena, &path, NULL), PC_NOT_FOUND);
    say(p, "dials", "", "%s, \"P9\": 0.5}}", body);
    said = wait_for(p, "ready");
    assert_non_null(strstr(text_of(said, "sentence"), "P9"));
    pc_json_destroy(said);
    take_in(p, shot_file(p, &p->closing), p->id[n + 2]);
    said = wait_for(p, "ready");
    assert_null(pc_json_get(pc_json_get(said, "answer"), "closing"));
    pc_json_destroy(said);
    say(p, "role", p->id[n + 2], "{\"role\": \"closing\"}");
    said = wait_for(p, "ready");
    struct pc_json *alone = weighed_alone(p, dials, n, true);
    assert_non_null(pc_json_get(alone, "closing"));
    same_numbers(p, pc_json_get(said, "answer"), alone);
    pc_json_destroy(alone);
    pc_json_destroy(said);
    ok(p, pc_desk_residual(p->desk, p->arena, &path, &p->err));
    assert_int_equal(access(path, R_OK), 0);
}

static double number_of(const struct pc_json *json, const char *key)
{
    double value = NAN;
    pc_json_number(pc_json_get(json, key), &value);
    return value;
}

static enum pc_status want(struct place *p, const char *body, struct pc_json **said)
{
    struct pc_json *wish;
    struct pc_err err = {0};
    ok(p, pc_json_parse(body, strlen(body), "wish", &wish, &p->err));
    enum pc_status status = pc_desk_want(p->desk, wish, said, &err);
    pc_json_destroy(wish);
    return status;
}

static void a_wish_is_answered_from_where_it_is_touched(void **state)
{
    struct place *p = *state;
    struct pc_json *said;
    char body[512];
    assert_int_equal(want(p, "{\"goals\": [{\"goal\": \"hero_ev\", \"value\": 1}]}", &said), PC_OK);
    assert_string_equal(text_of(said, "state"), "needs");
    pc_json_destroy(said);
    ready_set(p);
    snprintf(
        body, sizeof body,
        "{\"places\": [{\"name\": \"here\", \"x_ratio\": 0.3, \"y_ratio\": 0.7, \"radius_ratio\": 0.02}],"
        " \"goals\": [{\"goal\": \"place_ev\", \"place\": \"here\", \"value\": -0.3333}]}");
    assert_int_equal(want(p, body, &said), PC_OK);
    assert_string_equal(text_of(said, "state"), "ready");
    const struct pc_json *goal = pc_json_at(pc_json_get(said, "goals"), 0);
    assert_string_equal(text_of(goal, "place"), "here");
    assert_true(fabs(number_of(goal, "reached") + 0.333) < 0.05);
    // From those dials the same place is where it is: nothing has to change.
    struct pc_json *wish = pc_json_object(), *again, *goals = pc_json_array(), *none = pc_json_object();
    pc_json_put_text(none, "goal", "hero_ev");
    pc_json_put_number(none, "value", 0.0, 1);
    pc_json_add(goals, none);
    pc_json_put(wish, "goals", goals);
    pc_json_put(wish, "dials", pc_json_copy(pc_json_get(said, "dials")));
    ok(p, pc_desk_want(p->desk, wish, &again, &p->err));
    assert_string_equal(pc_json_print(p->arena, pc_json_get(again, "dials"), true),
                        pc_json_print(p->arena, pc_json_get(said, "dials"), true));
    pc_json_destroy(wish);
    pc_json_destroy(again);
    pc_json_destroy(said);
    assert_int_equal(want(p, "{\"goals\": []}", &said), PC_BAD_INPUT);
    assert_int_equal(want(p, "{\"goals\": [{\"goal\": \"more\", \"value\": 1}]}", &said), PC_BAD_INPUT);
    assert_int_equal(want(p, "{\"goals\": [{\"goal\": \"hero_ev\", \"value\": 99}]}", &said), PC_BAD_INPUT);
    assert_int_equal(
        want(p, "{\"goals\": [{\"goal\": \"hero_ev\", \"value\": 1}], \"dials\": {\"P9\": 1}}", &said),
        PC_MISUSE);
    assert_int_equal(
        want(p,
             "{\"goals\": [{\"goal\": \"hero_ev\", \"value\": 1}], \"places\": [{\"name\": \"x\", "
             "\"x_ratio\": 2, \"y_ratio\": 0}]}",
             &said),
        PC_BAD_INPUT);
}

static void what_is_no_raw_file_is_refused_by_name(void **state)
{
    struct place *p = *state;
    char path[128], id[24];
    snprintf(path, sizeof path, "%s/plate.jpg", p->parent);
    ok(p, pc_file_write(path, "x", 1, &p->err));
    take_in(p, path, id);
    state_is(p, "needs", "Send the raw files");
    send_set(p);
    state_is(p, "needs", "Touch the hero");
    say(p, "role", id, "{\"role\": \"light\", \"light\": \"P1\"}");
    state_is(p, "refused", "plate.jpg: It is no raw file");
    say(p, "role", id, "{\"role\": \"aside\"}");
    state_is(p, "needs", "Touch the hero");
}

// Other frames while it works: the older question is given up, and only the newer is answered.
static void a_newer_question_stops_the_older(void **state)
{
    struct place *p = *state;
    send_set(p);
    touch(p, "hero", SIM_PLACE_HERO);
    touch(p, "surface", SIM_PLACE_SURFACE);
    for (int i = 0; i < 4; i++)
        say(p, "touch", "hero", "{\"x_ratio\": 0.5, \"y_ratio\": %.2f}", 0.4 + 0.02 * i);
    touch(p, "hero", SIM_PLACE_HERO);
    struct pc_json *said = wait_for(p, "ready"), *alone = weighed_alone(p, NULL, 0, false);
    same_numbers(p, pc_json_get(said, "answer"), alone);
    pc_json_destroy(alone);
    pc_json_destroy(said);
    assert_true(p->ready <= 2);
    assert_int_equal(p->refused, 0);
}

// The size that a JPEG says (ITU-T T.81, B.2.2).
static void jpeg_size(struct place *p, const char *path, int *width, int *height)
{
    char *bytes;
    size_t count;
    ok(p, pc_file_read(p->arena, path, 8 << 20, &bytes, &count, &p->err));
    const unsigned char *b = (const unsigned char *)bytes;
    assert_true(count > 4 && b[0] == 0xff && b[1] == 0xd8);
    for (size_t i = 2; i + 9 < count; i += 2 + (size_t)(b[i + 2] << 8 | b[i + 3])) {
        assert_int_equal(b[i], 0xff);
        if (b[i + 1] == 0xc0) {
            *height = b[i + 5] << 8 | b[i + 6];
            *width = b[i + 7] << 8 | b[i + 8];
            return;
        }
    }
    fail_msg("%s: no frame header", path);
}

static void pictures_are_made_once(void **state)
{
    struct place *p = *state;
    char *path = NULL, *again = NULL;
    int width = 0, height = 0;
    send_set(p);
    ok(p, pc_desk_view(p->desk, p->arena, p->id[1], 100, &path, &p->err));
    jpeg_size(p, path, &width, &height);
    assert_int_equal(width, p->upright_px[0] / 2); // as wide as it can be measured
    assert_int_equal(height, p->upright_px[1] / 2);
    struct stat first, second;
    assert_int_equal(stat(path, &first), 0);
    ok(p, pc_desk_view(p->desk, p->arena, p->id[1], 480, &again, &p->err));
    assert_string_equal(path, again);
    assert_int_equal(stat(path, &second), 0);
    assert_int_equal(first.st_ino, second.st_ino);
    assert_int_equal(pc_desk_hero(p->desk, p->arena, p->id[1], 0, &path, NULL), PC_NOT_FOUND);
    touch(p, "hero", SIM_PLACE_HERO);
    ok(p, pc_desk_hero(p->desk, p->arena, p->id[1], 160, &path, &p->err));
    jpeg_size(p, path, &width, &height);
    assert_int_equal(width, 160);
    assert_int_equal(height, 160);
    say(p, "touch", "hero", "{\"x_ratio\": 0.9, \"y_ratio\": 0.9}");
    ok(p, pc_desk_hero(p->desk, p->arena, p->id[1], 160, &again, &p->err));
    assert_string_not_equal(path, again);
    assert_int_not_equal(access(path, F_OK), 0); // the older one is gone
    assert_int_equal(pc_desk_view(p->desk, p->arena, "f99", 0, &path, NULL), PC_NOT_FOUND);
    assert_int_equal(pc_desk_view(p->desk, p->arena, "../job.db", 0, &path, NULL), PC_NOT_FOUND);
}

static void parts_go_with_their_answer(void **state)
{
    struct place *p = *state;
    char *path;
    struct pc_json *head = pc_desk_parts(p->desk, "/api/jobs/larder/parts/");
    assert_string_equal(text_of(head, "state"), "needs");
    pc_json_destroy(head);
    ready_set(p);
    head = pc_desk_parts(p->desk, "/api/jobs/larder/parts/");
    assert_string_equal(text_of(head, "state"), "ready");
    const char *url = text_of(pc_json_get(head, "ambient"), "url");
    assert_int_equal(strncmp(url, "/api/jobs/larder/parts/0.f16?of=", 32), 0);
    for (int n = 0; n <= (int)pc_json_count(pc_json_get(head, "parts")); n++) {
        struct stat info;
        ok(p, pc_desk_part_path(p->desk, p->arena, url + 32, n, &path, &p->err));
        assert_int_equal(stat(path, &info), 0);
        assert_int_equal(info.st_size, 8 * number_of(head, "width_px") * number_of(head, "height_px"));
    }
    assert_int_equal(pc_desk_part_path(p->desk, p->arena, url + 32, 99, &path, NULL), PC_NOT_FOUND);
    assert_int_equal(pc_desk_part_path(p->desk, p->arena, "other", 0, &path, NULL), PC_NOT_FOUND);
    pc_json_destroy(head);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_is_missing_is_said, begin, end),
        cmocka_unit_test_setup_teardown(a_job_answers_as_its_frames_do, begin, end),
        cmocka_unit_test_setup_teardown(a_closing_frame_is_held_against_the_dials, begin, end),
        cmocka_unit_test_setup_teardown(a_wish_is_answered_from_where_it_is_touched, begin, end),
        cmocka_unit_test_setup_teardown(what_is_no_raw_file_is_refused_by_name, begin, end),
        cmocka_unit_test_setup_teardown(a_newer_question_stops_the_older, begin, end),
        cmocka_unit_test_setup_teardown(pictures_are_made_once, begin, end),
        cmocka_unit_test_setup_teardown(parts_go_with_their_answer, begin, end),
    };
    return cmocka_run_group_tests(tests, shoot_all, put_away);
}
