// SPDX-License-Identifier: Apache-2.0
#include "light/kit/site_daylight.h"

#include "base/units.h"

#include <setjmp.h>
#include <cmocka.h>

static enum pc_status made(const char *text, struct pc_daylight_place *place, struct pc_daylight_care *care,
                           struct pc_err *err)
{
    struct pc_arena *arena = pc_arena_create();
    struct pc_site site;
    assert_int_equal(pc_site_read_text(arena, text, strlen(text), "site.json", &site, NULL), PC_OK);
    enum pc_status status = pc_site_daylight(&site, place, care, err);
    if (err != NULL)
        assert_true(status == PC_OK || strlen(err->text) > 20);
    pc_arena_destroy(arena);
    return status;
}

static void near(double got, double want)
{
    if (!(fabs(got - want) < 1e-9))
        fail_msg("got %.12g, want %.12g", got, want);
}

static void a_place_is_taken_over_figure_by_figure(void **state)
{
    (void)state;
    struct pc_daylight_place place;
    struct pc_daylight_care care;
    assert_int_equal(
        made("{\"ceiling_m\": 2.32, \"walls_reflectance\": 0.72, \"length_m\": 6.2, \"width_m\": 4.4,"
             " \"table\": {\"size_m\": [1.4, 0.8], \"height_m\": 0.76, \"long_side_to_window\": false},"
             " \"windows\": [{\"facing_deg\": 200, \"width_m\": 1.8, \"height_m\": 1.3, \"sill_m\": 0.9,"
             " \"from_table_m\": 1.25, \"right_m\": -0.3, \"reveal_m\": 0.2, \"glass\": 0.88},"
             " {\"facing_deg\": 290, \"from_table_m\": 3, \"glass\": 0.7}],"
             " \"skyline\": [{\"from_deg\": 215, \"to_deg\": 262, \"elevation_deg\": 19}]}",
             &place, &care, NULL),
        PC_OK);
    const struct pc_opening *wide = &place.opening.opening[0];
    assert_int_equal(place.opening.opening_count, 2);
    near(wide->facing_rad, pc_rad_from_deg(200));
    near(wide->width_m, 1.8);
    near(wide->height_m, 1.3);
    near(wide->sill_m, 0.9);
    near(wide->away_m, 1.25);
    near(wide->aside_m, -0.3);
    near(wide->depth_m, 0.2);
    near(place.opening.table.facing_rad, pc_rad_from_deg(290)); // its short side runs along the first window
    near(place.opening.table.long_m, 1.4);
    near(place.opening.table.top_m, 0.76);
    near(place.opening.skyline[0].elevation_rad, pc_rad_from_deg(19));
    near(place.room.ceiling_m, 2.32);
    near(place.room.walls_ratio, 0.72);
    assert_int_equal(place.glass[0].panes, 1);
    assert_int_equal(place.glass[1].panes, 2);
    near(pc_glass_ratio(&place.glass[1], 0.0), 0.7);
    assert_true(care.place.bearing_rad >= pc_rad_from_deg(1) && care.glass_ratio > 0.0 &&
                care.place.away_m > 0.0);
}

static void a_place_without_what_it_takes_is_refused(void **state)
{
    (void)state;
    struct pc_daylight_place place;
    struct pc_daylight_care care;
    struct pc_err err = {0};
    assert_int_equal(made("{\"windows\": [{\"name\": \"W9\"}]}", &place, &care, &err), PC_BAD_INPUT);
    assert_string_equal(err.place, "W9");
    assert_int_equal(made("{}", &place, &care, &(struct pc_err){0}), PC_BAD_INPUT);
    // A table through the wall.
    assert_int_equal(made("{\"windows\": [{\"facing_deg\": 10, \"from_table_m\": 0.2}]}", &place, &care,
                          &(struct pc_err){0}),
                     PC_BAD_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_place_is_taken_over_figure_by_figure),
        cmocka_unit_test(a_place_without_what_it_takes_is_refused),
    };
    return cmocka_run_group_tests_name("site in daylight", tests, NULL, NULL);
}
