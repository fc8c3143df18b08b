// SPDX-License-Identifier: Apache-2.0
#include "light/sky/daylight_quick.h"

#include <setjmp.h>
#include <cmocka.h>

#include "light/sky/check_priv.h"

// A window of 1.8 x 1.3 m before the table and one aside, a roof across the street.
static struct pc_daylight_place kitchen(void)
{
    struct pc_daylight_place place = {
        .opening.table = {.facing_rad = 3.58, .long_m = 1.4, .short_m = 0.8, .top_m = 0.76},
        .opening.opening[0] =
            {.facing_rad = 3.58, .away_m = 1.25, .width_m = 1.8, .height_m = 1.3, .sill_m = 0.85},
        .opening.opening[1] = {.facing_rad = 5.15,
                               .away_m = 3.1,
                               .aside_m = 0.75,
                               .width_m = 0.9,
                               .height_m = 1.1,
                               .sill_m = 1.0},
        .opening.opening_count = 2,
        .opening.skyline[0] = {3.75, 4.57, 0.33},
        .opening.skyline_count = 1,
        .pass_ratio = pc_daylight_usual_pass_ratio,
        .room = pc_daylight_usual_room(),
    };
    for (int i = 0; i < 2; i++)
        assert_int_equal(pc_glass_make(2, 0.78, &place.glass[i], NULL), PC_OK);
    assert_int_equal(pc_opening_check(&place.opening, NULL), PC_OK);
    return place;
}

static void the_quick_way_is_near_the_whole_one(void **state)
{
    (void)state;
    const struct pc_daylight_place place = kitchen();
    const struct pc_daylight_care none = {0};
    for (int e = 0; e < 3; e++)
        for (int a = 0; a < 4; a++) {
            struct pc_sun sun = {.azimuth_rad = 1.6 * a, .elevation_rad = 0.15 + 0.4 * e};
            struct pc_daylight whole;
            double overcast_lx, clear_lx;
            struct pc_daylight_skies skies = pc_daylight_skies_of(&sun, 80);
            assert_int_equal(pc_daylight_at(&place, &none, &sun, 80, &whole, NULL), PC_OK);
            pc_daylight_quick(&place, &skies, &overcast_lx, &clear_lx);
            near(overcast_lx, whole.overcast.lx, 0.03 * whole.overcast.lx);
            near(clear_lx, whole.clear.lx, 0.03 * whole.clear.lx);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_quick_way_is_near_the_whole_one)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
