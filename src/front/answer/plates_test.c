// SPDX-License-Identifier: Apache-2.0
#include "front/answer/plates.h"

#include <ftw.h>
#include <pthread.h>
#include <setjmp.h>
#include <cmocka.h>

enum { TAPS_EACH = 40, PLATES = 6, START_MS = 1000000 };

struct phone {
    struct pc_job *job;
    int number;
};

static struct pc_json *body_of(const char *text)
{
    struct pc_json *body = NULL;
    assert_int_equal(pc_json_parse(text, strlen(text), "body", &body, NULL), PC_OK);
    return body;
}

static enum pc_status append(struct pc_job *job, const char *what, const char *subject, const char *text,
                             const char *key, int64_t at_ms)
{
    struct pc_json *body = body_of(text);
    struct pc_job_wish wish = {.who = "a phone",
                               .role = PC_JOB_PHOTOGRAPHER,
                               .what = what,
                               .subject = subject,
                               .body = body,
                               .key = key,
                               .at_ms = at_ms};
    int64_t rev;
    struct pc_err err = {0};
    enum pc_status status = pc_job_append(job, &wish, &rev, &err);
    if (status != PC_OK)
        print_error("%s: %s\n", err.place, err.text);
    pc_json_destroy(body);
    return status;
}

// Each tap goes twice: the second time as a phone sends it again that has not heard of the first.
static void *tap_away(void *user)
{
    const struct phone *phone = user;
    static const char *const states[] = {"stand_in", "called", "down", "have_it", "gone"};
    for (int i = 0; i < 2 * TAPS_EACH; i++) {
        int nth = i / 2;
        char key[32], plate[8], body[64];
        snprintf(key, sizeof key, "phone-%d-%d", phone->number, nth);
        snprintf(plate, sizeof plate, "p%d", nth % PLATES);
        snprintf(body, sizeof body, "{\"state\": \"%s\"}", states[(nth / PLATES) % 5]);
        if (append(phone->job, "tap", plate, body, key, START_MS + 1000 * (2 * nth + phone->number)) != PC_OK)
            return phone->job;
    }
    return NULL;
}

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *at)
{
    (void)info;
    (void)kind;
    (void)at;
    return remove(path);
}

static void two_phones_lose_no_tap(void **state)
{
    (void)state;
    char folder[] = "/tmp/plates-XXXXXX";
    assert_non_null(mkdtemp(folder));
    struct pc_arena *arena = pc_arena_create();
    char *path = pc_arena_printf(arena, "%s/job", folder), *first = NULL;
    struct pc_job *job;
    assert_int_equal(pc_job_create(path, &job, NULL), PC_OK);
    assert_int_equal(
        append(job, "shot", "S5", "{\"dish\": \"roast hake\", \"dish_class\": \"sauce\"}", NULL, 0), PC_OK);
    for (int p = 0; p < PLATES; p++)
        assert_int_equal(
            append(job, "plate", pc_arena_printf(arena, "p%d", p), "{\"shot\": \"S5\"}", NULL, 0), PC_OK);
    struct phone phones[2] = {{job, 0}, {job, 1}};
    pthread_t threads[2];
    for (int i = 0; i < 2; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, tap_away, &phones[i]), 0);
    for (int i = 0; i < 2; i++) {
        void *failed;
        assert_int_equal(pthread_join(threads[i], &failed), 0);
        assert_null(failed);
    }
    // Before and after the job is closed and opened again: the same to the byte.
    for (int again = 0; again < 2; again++) {
        struct pc_plate_clock clock;
        assert_int_equal(pc_plates_clock(job, arena, START_MS + 200000, &clock, NULL), PC_OK);
        assert_int_equal(clock.taps, 2 * TAPS_EACH);
        assert_int_equal(clock.strays, 0);
        assert_int_equal(clock.count, PLATES);
        assert_string_equal(clock.plates[0].plate->dish, "roast hake");
        // Plate 0 was put down by the first phone at its 12th tap, and is gone since its 24th.
        assert_int_equal(clock.plates[0].at_ms[PC_PLATE_DOWN], START_MS + 24000);
        assert_int_equal(clock.plates[0].state, PC_PLATE_GONE);
        struct pc_json *json = pc_clock_json(&clock);
        char *text = pc_json_print(arena, json, true);
        pc_json_destroy(json);
        if (first != NULL)
            assert_string_equal(text, first);
        first = text;
        pc_job_close(job);
        assert_int_equal(pc_job_open(path, &job, NULL), PC_OK);
    }
    pc_job_close(job);
    pc_arena_destroy(arena);
    assert_int_equal(nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_phones_lose_no_tap)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
