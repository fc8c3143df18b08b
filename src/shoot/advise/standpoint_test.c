// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/standpoint.h"

#include "base/units.h"

#include <setjmp.h>
#include <cmocka.h>

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

static struct pc_lens lens(const char *name, double focal_mm)
{
    return (struct pc_lens){.name = name,
                            .focal_mm = focal_mm,
                            .focal_mm_tolerance = 0.03 * focal_mm,
                            .equivalent_mm = NAN,
                            .pupil_ratio = 1,
                            .nearest_m = NAN,
                            .front_m = NAN};
}

struct kitchen {
    struct pc_lens lenses[3];
    struct pc_camera camera;
    struct pc_support supports[2];
    struct pc_standpoint_wish wish;
};

static void set_up(struct kitchen *k)
{
    *k = (struct kitchen){
        .lenses = {lens("35 mm", 35), lens("50 mm", 50), lens("90 mm", 90)},
        .camera = {.name = "C1",
                   .sensor_mm = {36, 24},
                   .pixels = {8192, 5464},
                   .above_sensor_m = 0.15,
                   .lens_count = 3},
        .supports = {{.name = "table", .height_m = 0.76}, {.name = "trestles", .height_m = 0.45}},
        .wish = {.camera_count = 1,
                 .support_count = 2,
                 .ceiling_m = 2.32,
                 .picture_width_m = 1.14,
                 .picture_height_m = NAN,
                 .page_width_m = 0.436,
                 .page_height_m = 0.286,
                 .least_ppi = PC_STANDPOINT_LEAST_PPI,
                 .elevation_rad = PC_PI / 2,
                 .board_width_m = 1.4,
                 .board_depth_m = 1.1,
                 .tall_m = 0.16,
                 .tall_off_axis_m = 0.40},
    };
    k->camera.lenses = k->lenses;
    k->wish.cameras = &k->camera;
    k->wish.supports = k->supports;
}

static void the_one_that_leans_least_comes_first(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct kitchen k;
    struct pc_standpoint *points;
    size_t count;
    set_up(&k);
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, NULL), PC_OK);
    assert_int_equal(count, 3);
    assert_ptr_equal(points[0].lens, &k.lenses[1]);
    assert_ptr_equal(points[0].support, &k.supports[1]);
    assert_true(pc_standpoint_does(&points[0]) && !points[0].spare_is_sure);
    near(points[0].spare_m, 0.035, 5e-4, "to spare");
    assert_ptr_equal(points[1].lens, &k.lenses[0]);
    assert_ptr_equal(points[1].support, &k.supports[0]);
    assert_true(points[1].spare_is_sure);
    assert_null(points[2].support);
    assert_false(pc_standpoint_does(&points[2]));
    // From the lowest table, by hand: 1.72 m = 90 mm (2 + m + 1/m), m = 0.0586, 36/m mm wide.
    near(points[2].widest_width_m, 0.6144, 1e-3, "what the 90 mm shows instead");
    // A page that wants more pixels than there are, and a lens that does not focus so near.
    k.wish.least_ppi = 600;
    k.lenses[1].nearest_m = 2;
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, NULL), PC_OK);
    assert_ptr_equal(points[0].lens, &k.lenses[0]);
    assert_false(points[0].ppi_enough || pc_standpoint_does(&points[0]));
    assert_true(points[1].framing.too_near);
    pc_arena_destroy(arena);
}

static void what_cannot_be_done_says_why(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct kitchen k;
    struct pc_standpoint *points;
    size_t count;
    struct pc_err err = {0};
    set_up(&k);
    k.wish.tall_m = 1.3; // as high as the 35 mm stands
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, NULL), PC_OK);
    assert_ptr_equal(points[2].lens, &k.lenses[0]);
    assert_non_null(points[2].why_not);
    assert_null(points[0].why_not);
    k.wish.tall_m = 4;
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, &err), PC_BAD_INPUT);
    assert_string_equal(err.place, "tall thing");
    set_up(&k);
    k.camera.lens_count = 0;
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, NULL), PC_BAD_INPUT);
    set_up(&k);
    k.wish.support_count = 0;
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, NULL), PC_BAD_INPUT);
    pc_arena_destroy(arena);
}

// A focal length stated by the diagonal goes with the sensor: how large that is does not matter to the
// distance.
static void a_sensor_of_unknown_size(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct kitchen k;
    struct pc_standpoint *points;
    size_t count;
    set_up(&k);
    k.camera.sensor_mm_tolerance = 3.6; // a tenth
    k.camera.lens_count = 1;
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, NULL), PC_OK);
    double told = points[0].framing.sensor_distance_m_tolerance / points[0].framing.sensor_distance_m;
    near(told, hypot(0.1, 0.03), 0.005, "marked");
    k.lenses[0].equivalent_mm = 35;
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, NULL), PC_OK);
    told = points[0].framing.sensor_distance_m_tolerance / points[0].framing.sensor_distance_m;
    near(told, 0.03, 0.003, "by the diagonal");
    pc_arena_destroy(arena);
}

static void a_section_has_the_heights(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct kitchen k;
    struct pc_standpoint *points;
    size_t count;
    struct pc_site site;
    struct pc_section section;
    set_up(&k);
    pc_site_default(&site);
    assert_int_equal(pc_standpoint_find(arena, &k.wish, &points, &count, NULL), PC_OK);
    pc_standpoint_section(&k.wish, &points[0], &site, 0.9, &section);
    assert_int_equal(pc_section_check(&section, NULL), PC_OK);
    near(section.camera_m, 0.45 + 1.6849, 1e-3, "sensor over the floor");
    near(section.camera_x_m, 0, 1e-9, "straight over the hero");
    near(section.arm_x_m, 0.9, 1e-9, "arm");
    near(tan(section.view_rad / 2) * points[0].framing.pupil_distance_m, 1.14 / 2, 1e-3, "angle of view");
    assert_true(section.trestles);
    pc_arena_destroy(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_one_that_leans_least_comes_first),
        cmocka_unit_test(what_cannot_be_done_says_why),
        cmocka_unit_test(a_sensor_of_unknown_size),
        cmocka_unit_test(a_section_has_the_heights),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
