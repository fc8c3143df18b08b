// SPDX-License-Identifier: Apache-2.0
#include "base/arena.h"
#include "base/buffer.h"
#include "base/clock.h"
#include "base/file.h"
#include "base/json.h"
#include "base/linalg.h"
#include "base/text.h"
#include "base/units.h"

#include <setjmp.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

static void first_error_stays(void **state)
{
    (void)state;
    struct pc_err err = {0};
    assert_int_equal(pc_fail(&err, PC_IO, "a", "one %d\n", 1), PC_IO);
    assert_int_equal(pc_fail(&err, PC_MISUSE, "b", "two"), PC_MISUSE);
    assert_string_equal(err.text, "one 1 ");
    assert_string_equal(err.place, "a");
}

static void a_long_place_keeps_its_end(void **state)
{
    (void)state;
    struct pc_err err = {0};
    char place[400];
    memset(place, 'a', sizeof place);
    snprintf(place + 300, sizeof place - 300, "/crumb.jpg");
    assert_int_equal(pc_fail(&err, PC_IO, place, "x"), PC_IO);
    assert_int_equal(strlen(err.place), sizeof err.place - 1);
    assert_memory_equal(err.place, "...a", 4);
    assert_string_equal(err.place + strlen(err.place) - 11, "a/crumb.jpg");
    // Cut between two letters of two bytes, not within one.
    for (size_t i = 0; i < 300; i += 2)
        memcpy(place + i, "\xc3\xb6", 2);
    static const char *const ends[] = {"/crumb.jpg", "/crumbs.jpg"};
    for (size_t i = 0; i < PC_COUNT(ends); i++) {
        err = (struct pc_err){0};
        snprintf(place + 300, sizeof place - 300, "%s", ends[i]);
        assert_int_equal(pc_fail(&err, PC_IO, place, "x"), PC_IO);
        assert_memory_equal(err.place + 3, "\xc3\xb6", 2);
    }
}

static void moments_are_read_as_they_are_written(void **state)
{
    (void)state;
    struct pc_moment m;
    char text[32];
    assert_true(pc_clock_moment("2027-03-18T14:00:00+01:00", &m));
    assert_true(m.day_s == 20895 * 86400.0 && m.of_day_s == 50400.0 && m.offset_s == 3600.0);
    pc_clock_rfc3339(m.day_s + m.of_day_s - m.offset_s, m.offset_s, text);
    assert_string_equal(text, "2027-03-18T14:00:00+01:00");
    assert_true(pc_clock_moment("2003-10-17T12:30:30.25-07:00", &m));
    near(m.of_day_s, 45030.25, 1e-9);
    assert_true(m.offset_s == -25200.0);
    assert_true(pc_clock_moment("2027-03-18 14:00Z", &m) && m.offset_s == 0.0);
    assert_true(pc_clock_moment("2027-03-18T14:00", &m) && isnan(m.offset_s));
    assert_true(pc_clock_moment("2027-03-18", &m) && isnan(m.of_day_s) && isnan(m.offset_s));
    assert_true(pc_clock_moment("14:05", &m) && isnan(m.day_s) && m.of_day_s == 50700.0);
    static const char *const none[] = {
        "",     "2027",  "2027-03",     "2027-02-29",         "2027-03-18T",   "2027-03-18T25:00",
        "14",   "14:60", "14:00+25:00", "2027-03-18T14:00+1", "14:00 o'clock", "2027-3-18",
        "-7:00"};
    for (size_t i = 0; i < PC_COUNT(none); i++)
        if (pc_clock_moment(none[i], &m))
            fail_msg("“%s” was read as a moment", none[i]);
    for (double s = -62135596800.0; s < 200e9; s += 86400.0 * 137.0) {
        int year, month, day;
        double back;
        pc_clock_civil(s, &year, &month, &day);
        assert_true(pc_clock_s_from_civil(year, month, day, 0, 0, 0.0, &back) && back == s);
    }
}

static void clock_agrees_with_known_days(void **state)
{
    (void)state;
    double s;
    // Unix time of 2001-09-09 01:46:40 is 1e9; leap day of a 400-year: 2000-02-29 is day 11016.
    assert_true(pc_clock_s_from_exif("2001:09:09 01:46:40", &s));
    near(s, 1e9, 0);
    assert_true(pc_clock_s_from_civil(2000, 2, 29, 0, 0, 0, &s));
    near(s, 11016.0 * 86400.0, 0);
    assert_false(pc_clock_s_from_exif("2001-09-09 01:46:40", &s));
    assert_false(pc_clock_s_from_exif("0000:00:00 00:00:00", &s));
    char hms[9];
    pc_clock_hms(1e9, hms);
    assert_string_equal(hms, "01:46:40");
}

static void numbers_are_read_whole_or_not_at_all(void **state)
{
    (void)state;
    double v, w;
    assert_true(pc_text_double("-2.5e1", &v));
    near(v, -25, 0);
    static const char *const bad[] = {"", "3x", "nan", "1e999", "0x10", "1,5", " 1"};
    for (size_t i = 0; i < PC_COUNT(bad); i++)
        assert_false(pc_text_double(bad[i], &v));
    assert_true(pc_text_pair("812.5,44", &v, &w));
    near(v, 812.5, 0);
    near(w, 44, 0);
    assert_false(pc_text_pair("812", &v, &w));
}

static void nearest_name_is_offered(void **state)
{
    (void)state;
    static const char *const names[] = {"weigh", "want", "read"};
    assert_string_equal(pc_text_nearest("wiegh", names, 3), "weigh");
    assert_null(pc_text_nearest("zzz", names, 3));
    assert_int_equal(pc_text_distance("kitten", "sitting"), 3);
}

static enum pc_status fail_at_seven(void *arg, int i, struct pc_err *err)
{
    atomic_fetch_add((_Atomic int *)arg, 1);
    return i >= 7 ? pc_fail(err, PC_BAD_INPUT, NULL, "at %d", i) : PC_OK;
}

static void parallel_gives_the_lowest_failure(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 4, 0);
    _Atomic int calls = 0;
    struct pc_err err = {0};
    assert_int_equal(pc_parallel(&ctx, 7, fail_at_seven, &calls, &err), PC_OK);
    assert_int_equal(calls, 7);
    assert_int_equal(pc_parallel(&ctx, 8, fail_at_seven, &calls, &err), PC_BAD_INPUT);
    assert_string_equal(err.text, "at 7");
}

static void buffers_stop_at_the_budget(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 1 << 20);
    struct pc_buffer a, b;
    struct pc_err err = {0};
    assert_int_equal(pc_buffer_init(&ctx, &a, 700, 1024, 1, &err), PC_OK);
    assert_int_equal(pc_buffer_init(&ctx, &b, 700, 1024, 1, &err), PC_NO_MEMORY);
    assert_null(b.data);
    assert_int_equal(pc_buffer_init(&ctx, &b, SIZE_MAX / 2, 4, 4, NULL), PC_NO_MEMORY);
    pc_buffer_finish(&a);
    assert_int_equal(ctx.held_bytes, 0);
    assert_int_equal(ctx.peak_bytes, 700 * 1024);
}

static void files_are_whole_or_not_there(void **state)
{
    (void)state;
    char folder[] = "/tmp/pc-base-XXXXXX";
    assert_non_null(mkdtemp(folder));
    struct pc_arena *arena = pc_arena_create();
    char *path = pc_arena_printf(arena, "%s/bröd one.txt", folder);
    assert_int_equal(pc_file_write(path, "crust", 5, NULL), PC_OK);
    struct pc_file_writer w;
    assert_int_equal(pc_file_create(&w, path, NULL), PC_OK);
    fputs("half", w.stream);
    pc_file_abandon(&w);
    char *bytes;
    size_t n;
    assert_int_equal(pc_file_read(arena, path, 1 << 20, &bytes, &n, NULL), PC_OK);
    assert_string_equal(bytes, "crust");
    // A last line that somebody left open is closed before another is added.
    assert_int_equal(pc_file_append_line(path, "crumb", NULL), PC_OK);
    assert_int_equal(pc_file_append_line(path, "butter", NULL), PC_OK);
    assert_int_equal(pc_file_read(arena, path, 1 << 20, &bytes, &n, NULL), PC_OK);
    assert_string_equal(bytes, "crust\ncrumb\nbutter\n");
    char **paths;
    assert_int_equal(pc_file_list(arena, folder, &paths, &n, NULL), PC_OK);
    assert_int_equal(n, 1);
    assert_string_equal(paths[0], path);
    struct pc_err err = {0};
    if (access("/dev/full", W_OK) == 0) {
        assert_int_equal(pc_file_append_line("/dev/full", "x", &err), PC_IO);
        assert_non_null(strstr(err.text, "disk is full"));
    }
    assert_int_equal(pc_file_read(arena, "/no/such/file", 10, &bytes, &n, NULL), PC_NOT_FOUND);
    unlink(path);
    rmdir(folder);
    pc_arena_destroy(arena);
}

static void json_goes_there_and_back(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct pc_json *o = pc_json_object();
    pc_json_put_number(o, "ev", 0.30000000000000004, 2);
    pc_json_put_number(o, "none", NAN, 2);
    pc_json_put_text(o, "name", "br\xff");
    struct pc_json *a = pc_json_array();
    pc_json_add_number(a, -0.001, 1);
    pc_json_put(o, "list", a);
    char *text = pc_json_print(arena, o, true);
    assert_string_equal(text, "{\"ev\":0.3,\"none\":null,\"name\":\"br\xef\xbf\xbd\",\"list\":[0.0]}");
    pc_json_destroy(o);
    assert_int_equal(pc_json_parse(text, strlen(text), "t", &o, NULL), PC_OK);
    double v;
    assert_true(pc_json_number(pc_json_get(o, "ev"), &v));
    near(v, 0.3, 0);
    assert_int_equal(pc_json_count(pc_json_get(o, "list")), 1);
    pc_json_destroy(o);
    struct pc_err err = {0};
    assert_int_equal(pc_json_parse("{\n \"a\": }", 9, "kit.json", &o, &err), PC_BAD_INPUT);
    assert_string_equal(err.place, "kit.json:2:7");
    pc_arena_destroy(arena);
}

static void linear_systems_solve(void **state)
{
    (void)state;
    // Normal equations by hand for y = 2 + 3 t at t = 0, 1, 2 with errors (+1, -2, +1): the fit is unmoved.
    const double a[] = {1, 0, 1, 1, 1, 2}, b[] = {3, 3, 9};
    double x[2];
    assert_true(pc_linalg_least_squares(3, 2, a, b, x));
    near(x[0], 2, 1e-12);
    near(x[1], 3, 1e-12);
    const double flat[] = {1, 1, 1, 1, 1, 1};
    assert_false(pc_linalg_least_squares(3, 2, flat, b, x));
    const double m[3][3] = {{2, 0, 1}, {0, 4, 0}, {1, 0, 1}},
                 singular[3][3] = {{1, 2, 3}, {2, 4, 6}, {0, 0, 1}};
    double inv[3][3], one[3][3];
    assert_true(pc_linalg_invert3(m, inv));
    pc_linalg_multiply3(m, inv, one);
    for (int i = 0; i < 9; i++)
        near(one[i / 3][i % 3], i % 4 == 0, 1e-12);
    assert_false(pc_linalg_invert3(singular, inv));
}

static void units_turn_and_return(void **state)
{
    (void)state;
    near(pc_mired_from_K(5300) - pc_mired_from_K(7500), 55.3, 0.1); // 188.7 - 133.3
    near(pc_mired_from_K(5500) - pc_mired_from_K(3200), -130.68, 0.005);
    near(pc_s_from_apex_tv(6.0), 1.0 / 64.0, 1e-15);
    near(pc_fnumber_from_apex_av(6.0), 8.0, 1e-12);
    near(pc_ev_from_ratio(pc_ratio_from_ev(1.3)), 1.3, 1e-12);
}

static void a_line_is_told_after_a_name_of_any_length(void **state)
{
    (void)state;
    char name[400];
    memset(name, 'a', sizeof name);
    memcpy(name + sizeof name - 7, "bc.ies", 7);
    static const size_t lengths[] = {6, 180, 188, 189, 190, 191, 192, 193, 250, 399};
    for (size_t i = 0; i < PC_COUNT(lengths); i++) {
        struct pc_err err = {0};
        const char *file = name + sizeof name - 1 - lengths[i];
        assert_int_equal(pc_fail_line(&err, file, 1234, "%d of it.", 3), PC_BAD_INPUT);
        assert_string_equal(err.text, "3 of it.");
        if (strstr(err.place, "bc.ies:1234") == NULL)
            fail_msg("%zu: %s", lengths[i], err.place);
        // The first error stays.
        assert_int_equal(pc_fail_line(&err, "other", 1, "no"), PC_BAD_INPUT);
        assert_string_equal(err.text, "3 of it.");
    }
    assert_int_equal(pc_fail_line(NULL, "other", 1, "no"), PC_BAD_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_is_told_after_a_name_of_any_length),
        cmocka_unit_test(first_error_stays),
        cmocka_unit_test(a_long_place_keeps_its_end),
        cmocka_unit_test(clock_agrees_with_known_days),
        cmocka_unit_test(moments_are_read_as_they_are_written),
        cmocka_unit_test(numbers_are_read_whole_or_not_at_all),
        cmocka_unit_test(nearest_name_is_offered),
        cmocka_unit_test(parallel_gives_the_lowest_failure),
        cmocka_unit_test(buffers_stop_at_the_budget),
        cmocka_unit_test(files_are_whole_or_not_there),
        cmocka_unit_test(json_goes_there_and_back),
        cmocka_unit_test(linear_systems_solve),
        cmocka_unit_test(units_turn_and_return),
    };
    return cmocka_run_group_tests_name("base", tests, NULL, NULL);
}
