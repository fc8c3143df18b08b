// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/section.h"

#include <unistd.h>

#include "base/file.h"
#include "base/units.h"
#include "shoot/advise/section_priv.h"

#include <setjmp.h>
#include <cmocka.h>

static char folder[] = "/tmp/platecall-section-XXXXXX";

static int make_folder(void **state)
{
    *state = pc_arena_create();
    return *state == NULL || mkdtemp(folder) == NULL;
}

static int remove_folder(void **state)
{
    pc_arena_destroy(*state);
    return rmdir(folder);
}

static void near(double value, double wanted, double within)
{
    if (!(fabs(value - wanted) <= within))
        fail_msg("%.12g, wanted %.12g", value, wanted);
}

// A bowl of broth towards a window.
static struct pc_section broth(void)
{
    struct pc_section s;
    pc_section_default(&s);
    s.title = "broth";
    s.ceiling_m = 2.32;
    s.table_m = 0.76;
    s.table_near_m = 0.4;
    s.table_far_m = -0.4;
    s.hero = PC_HERO_BOWL;
    s.hero_width_m = 0.24;
    s.hero_top_m = 0.82;
    s.liquid_m = 0.80;
    s.camera_x_m = 0.78;
    s.camera_m = 1.25;
    s.window_x_m = -1.25;
    s.sill_m = 0.85;
    s.head_m = 2.15;
    s.mirror_x_m = 0;
    s.view_rad = 0.26;
    return s;
}

static const char *drawn(struct pc_arena *arena, const struct pc_section *section, const char *name,
                         size_t *count)
{
    struct pc_err err = {0};
    char *path = pc_arena_printf(arena, "%s/%s", folder, name), *bytes;
    if (pc_section_save(section, path, &err) != PC_OK)
        fail_msg("%s", err.text);
    assert_int_equal(pc_file_read(arena, path, 1 << 24, &bytes, count, NULL), PC_OK);
    assert_int_equal(unlink(path), 0);
    return bytes;
}

static void the_reflected_ray_leaves_as_it_came(void **state)
{
    (void)state;
    struct pc_section s = broth();
    // Equal angles: rise over run on both sides, 0.45 / 0.78 over 1.25 m.
    near(pc_section_mirrored_m(&s), 0.80 + 1.25 * 0.45 / 0.78, 1e-12);
    s.mirror_x_m = 0.9; // behind the camera
    assert_true(isnan(pc_section_mirrored_m(&s)));
    s.mirror_x_m = 0;
    s.window_x_m = NAN;
    assert_true(isnan(pc_section_mirrored_m(&s)));
}

static void shadows_are_as_long_as_the_light_is_low(void **state)
{
    (void)state;
    struct pc_section s = broth();
    assert_true(isnan(pc_section_shadow_m(&s)));
    s.sun_elevation_rad = pc_rad_from_deg(45);
    near(pc_section_shadow_m(&s), 0.06, 1e-12);
    s.sun_elevation_rad = pc_rad_from_deg(30);
    near(pc_section_shadow_m(&s), 0.06 * sqrt(3), 1e-12);
    s.window_x_m = 1.5; // from the camera's side: away from it
    near(pc_section_shadow_m(&s), -0.06 * sqrt(3), 1e-12);
    // A lamp 1 m over the rim, 0.88 m beyond its near edge at 0.12: a slope of 1.
    s.light_x_m = -0.88;
    s.light_m = 1.82;
    near(pc_section_shadow_m(&s), 0.06, 1e-12);
    s.light_m = 0.81;
    assert_true(isnan(pc_section_shadow_m(&s)));
}

static void heights_are_told_in_whole_centimetres_from_below(void **state)
{
    (void)state;
    struct pc_section s = broth();
    struct section_heights heights;
    s.camera = "C1, 90 mm";
    section_heights(&s, &heights);
    static const char *const figures[] = {"76", "80", "85", "125", "215", "232"};
    static const char *const words[] = {"table", "liquid", "sill", "C1, 90 mm", "window head", "ceiling"};
    assert_int_equal(heights.count, PC_COUNT(figures));
    for (size_t i = 0; i < heights.count; i++) {
        assert_string_equal(heights.row[i].figure, figures[i]);
        assert_string_equal(heights.row[i].what, words[i]);
    }
}

static void labels_move_apart_and_stay_on_the_sheet(void **state)
{
    (void)state;
    double apart[] = {100, 60, 20};
    sketch_spread(apart, 3, 5, 8, 120);
    near(apart[0], 100, 0);
    near(apart[1], 60, 0);
    near(apart[2], 20, 0);
    for (int crowd = 1; crowd <= 12; crowd++) {
        for (int where = 0; where < 3; where++) {
            double y[12];
            for (int i = 0; i < crowd; i++)
                y[i] = (double[]){119, 60, 9}[where] - 0.1 * i;
            sketch_spread(y, (size_t)crowd, 5, 8, 120);
            for (int i = 0; i < crowd; i++) {
                assert_true(y[i] <= 120 && y[i] >= 8);
                assert_true(i == 0 || y[i - 1] - y[i] >= 5 - 1e-9);
            }
        }
    }
}

static void the_same_section_is_the_same_file(void **state)
{
    static const char *const names[] = {"a.svg", "a.pdf"};
    struct pc_section s = broth();
    for (size_t i = 0; i < PC_COUNT(names); i++) {
        size_t count[2];
        const char *first = drawn(*state, &s, names[i], &count[0]),
                   *second = drawn(*state, &s, names[i], &count[1]);
        assert_int_equal(count[0], count[1]);
        assert_memory_equal(first, second, count[0]);
    }
    size_t count[2];
    const char *first = drawn(*state, &s, "a.svg", &count[0]);
    s.camera_m = 1.26;
    const char *second = drawn(*state, &s, "a.svg", &count[1]);
    assert_true(count[0] != count[1] || memcmp(first, second, count[0]) != 0);
}

// Every value of a property in an SVG is one of three.
static void only(const char *svg, const char *property, const char *value, const char *other,
                 const char *third)
{
    size_t n = strlen(property);
    int seen = 0;
    for (const char *at = strstr(svg, property); at != NULL; at = strstr(at + n, property), seen++)
        if (strncmp(at + n, value, strlen(value)) != 0 && strncmp(at + n, other, strlen(other)) != 0 &&
            strncmp(at + n, third, strlen(third)) != 0)
            fail_msg("%.40s", at);
    assert_true(seen > 0);
}

static void one_pen_black_on_white(void **state)
{
    struct pc_section s = broth();
    s.sun_elevation_rad = 0.5;
    size_t count;
    for (int hero = PC_HERO_PLATE; hero <= PC_HERO_STACK; hero++) {
        s.hero = (enum pc_section_hero)hero;
        s.trestles = hero % 2 == 1;
        s.tall_x_m = 0.3;
        s.tall_top_m = 0.92;
        s.arm_x_m = hero == PC_HERO_GLASS ? 1.2 : (double)NAN;
        s.light_x_m = s.light_m = hero == PC_HERO_STACK ? 1.4 : (double)NAN;
        const char *svg = drawn(*state, &s, "all.svg", &count);
        only(svg, "stroke-width:", "0.42;", "0.42;", "0.42;");
        only(svg, "stroke:", "rgb(0%,0%,0%)", "none", "none");
        only(svg, "fill:", "rgb(0%,0%,0%)", "none", "rgb(100%,100%,100%)");
        assert_null(strstr(svg, "nan"));
        assert_null(strstr(svg, "inf"));
    }
}

static void what_cannot_be_drawn_is_refused(void **state)
{
    (void)state;
    struct pc_section nothing, low = broth(), behind = broth();
    struct pc_err err = {0};
    pc_section_default(&nothing);
    assert_int_equal(pc_section_check(&nothing, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "the table's height"));
    low.hero_top_m = 0.5;
    assert_int_equal(pc_section_check(&low, NULL), PC_BAD_INPUT);
    behind.sill_m = NAN;
    assert_int_equal(pc_section_check(&behind, NULL), PC_BAD_INPUT);
    behind.sill_m = INFINITY;
    assert_int_equal(pc_section_check(&behind, NULL), PC_BAD_INPUT);
    struct pc_section fine = broth();
    assert_int_equal(pc_section_save(&fine, "a.jpg", NULL), PC_MISUSE);
    assert_int_equal(pc_section_save(&fine, "/nowhere/at/all.svg", NULL), PC_IO);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_reflected_ray_leaves_as_it_came),
        cmocka_unit_test(shadows_are_as_long_as_the_light_is_low),
        cmocka_unit_test(heights_are_told_in_whole_centimetres_from_below),
        cmocka_unit_test(labels_move_apart_and_stay_on_the_sheet),
        cmocka_unit_test(the_same_section_is_the_same_file),
        cmocka_unit_test(one_pen_black_on_white),
        cmocka_unit_test(what_cannot_be_drawn_is_refused),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
