// SPDX-License-Identifier: Apache-2.0
#include "light/sky/daylight.h"

#include <setjmp.h>
#include <cmocka.h>

#include "light/sky/check_priv.h"
#include "light/sky/daylight_priv.h"
#include "tests/monte_carlo.h"

// A hole in a wall before a table at its sill: nothing but sky.
static struct pc_daylight_place hole(double away_m, double aside_m, double width_m, double height_m)
{
    return (struct pc_daylight_place){
        .opening = {.table = {.facing_rad = 1.0, .long_m = 0.2, .short_m = 0.2, .top_m = 0.8},
                    .opening = {{.facing_rad = 1.0,
                                 .away_m = away_m,
                                 .aside_m = aside_m,
                                 .width_m = width_m,
                                 .height_m = height_m,
                                 .sill_m = 0.8}},
                    .opening_count = 1},
        .glass = {{0, 1.0, 1.0}},
        .pass_ratio = 1.0,
        .room = {4.0, 4.0, 2.5, 0.0, 0.0, 0.0, 0.0, 0.0},
    };
}

static double sky_component(const struct pc_daylight_place *place, int type)
{
    struct heaven heaven = {.type = type, .zenith_cd_m2 = 1.0, .azimuth_rad = 0.3, .elevation_rad = 0.5};
    return pc_daylight_brought(place, &heaven, 16).sky_lx / pc_sky_horizontal_sr(type, 0.3, 0.5);
}

// Closed form, one side, from directly opposite the point to W sideways; h = H / D, w = W / D.
static double closed_form(double h, double w)
{
    double k = sqrt(1.0 + h * h);
    return 3.0 / (14.0 * PC_PI) * (atan(w) - atan(w / k) / k) +
           2.0 / (7.0 * PC_PI) *
               (asin(h * w / sqrt((1.0 + h * h) * (1.0 + w * w))) - h * w / (k * k * sqrt(k * k + w * w)));
}

static void the_sky_component_has_a_closed_form(void **state)
{
    (void)state;
    // Computed independently, equal to quadrature to 8 digits.
    near(closed_form(1, 1), 0.04525138, 5e-9);
    near(closed_form(0.5, 0.5), 0.00943028, 5e-9);
    near(closed_form(2, 1), 0.08816429, 5e-9);
    near(closed_form(1e6, 1e6), 0.25, 1e-5); // a wall of glass without end to one side
    near(closed_form(1, 1e6), 0.05733715, 5e-9);
    static const double rows[][2] = {{1, 1}, {0.5, 0.5}, {2, 1}, {0.3, 3}};
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_daylight_place place = hole(1.0, 0.5 * rows[i][1], rows[i][1], rows[i][0]);
        near(sky_component(&place, PC_SKY_OVERCAST), closed_form(rows[i][0], rows[i][1]), 1e-7);
    }
    struct pc_daylight_place far = hole(2.0, 0.0, 1.2, 1.5), close = hole(1.0, 0.0, 1.2, 1.5),
                             even = hole(1.0, 0.5, 1.0, 1.0);
    near(sky_component(&far, PC_SKY_OVERCAST), 0.02519579, 5e-8);
    near(sky_component(&close, PC_SKY_OVERCAST), 0.10336445, 5e-8);
    near(sky_component(&even, PC_SKY_UNIFORM), 0.05573420, 5e-8);
    // A sill above the table takes its part away.
    far.opening.table.top_m -= 0.5;
    near(sky_component(&far, PC_SKY_OVERCAST), 2.0 * (closed_form(1.0, 0.3) - closed_form(0.25, 0.3)), 1e-7);
}

// A wall outside that is as bright as the uniform sky changes nothing: white, on white ground, lit by half a
// sky of pi / 2 and by the ground's pi / 2.
static void what_is_not_sky_is_skyline(void **state)
{
    (void)state;
    struct pc_daylight_place place = hole(1.0, 0.2, 1.0, 1.0);
    struct heaven heaven = {.type = PC_SKY_UNIFORM, .zenith_cd_m2 = 1.0, .elevation_rad = 0.5};
    double open_lx = pc_daylight_brought(&place, &heaven, 16).sky_lx;
    place.room.ground_ratio = place.room.skyline_ratio = 1.0;
    place.opening.skyline[0] = (struct pc_skyline_step){0.5, 1.7, 0.4};
    place.opening.skyline_count = 1;
    struct brought some = pc_daylight_brought(&place, &heaven, 16);
    assert_true(some.skyline_lx > 0.1 * open_lx && some.sky_lx > 0.1 * open_lx);
    near(some.sky_lx + some.skyline_lx, open_lx, 2e-4 * open_lx);
    // A skyline to the zenith leaves no sky.
    place.opening.skyline[0] = (struct pc_skyline_step){0.0, 6.2, 1.57};
    near(pc_daylight_brought(&place, &heaven, 16).sky_lx, 0.0, 0.0);
}

// In a room of one reflectance r: the flux that enters times r over area and (1 - r).
static void a_room_throws_back_as_a_sphere_does(void **state)
{
    (void)state;
    struct pc_daylight_place place = hole(1.0, 0.0, 1.0, 1.0);
    struct pc_daylight_room *room = &place.room;
    room->walls_ratio = room->floor_ratio = room->ceiling_ratio = 0.5;
    room->ground_ratio = 1.0;
    struct heaven heaven = {.type = PC_SKY_UNIFORM, .zenith_cd_m2 = 1000.0, .elevation_rad = 0.5};
    double area_m2 = 2 * 16.0 + 4 * 4.0 * 2.5, enters_lm = 1000.0 * PC_PI;
    double mean = (0.5 * (area_m2 - 1.0) + 0.15) / area_m2;
    near(pc_daylight_brought(&place, &heaven, 4).room_lx, enters_lm * 0.5 / (area_m2 * (1.0 - mean)), 0.02);
}

// A closed room 4 x 4 x 4 m (the room of CIE 171:2006, case 5.8; the values derived from Phi r / (S (1 - r)),
// the report's own table was not at hand): 10 000 lm throw back 26.0 to 937.5 lx. What a room adds to what it
// was first lit with is that over the first light, r / (1 - r); here a small hole lets the light in.
static void a_cube_throws_back_as_published(void **state)
{
    (void)state;
    static const struct {
        double reflectance, lx;
    } rows[] = {{0.2, 26.042}, {0.5, 104.167}, {0.8, 416.667}, {0.9, 937.5}};
    const double hole_m2 = 1e-4, cube_m2 = 96.0;
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_daylight_place place = hole(1.0, 0.0, 0.01, 0.01);
        struct pc_daylight_room *room = &place.room;
        room->length_m = room->width_m = room->ceiling_m = 4.0;
        room->walls_ratio = room->floor_ratio = room->ceiling_ratio = rows[i].reflectance;
        room->ground_ratio = 1.0; // a uniform world outside: pi lx on the hole for each cd/m2
        struct heaven heaven = {.type = PC_SKY_UNIFORM, .zenith_cd_m2 = 1.0, .elevation_rad = 0.5};
        heaven.zenith_cd_m2 = 10000.0 / (PC_PI * hole_m2);
        double first_lx = pc_daylight_brought(&place, &heaven, 4).room_lx;
        near(10000.0 * rows[i].reflectance / (cube_m2 * (1.0 - rows[i].reflectance)), rows[i].lx, 0.0005);
        near(first_lx, rows[i].lx, 0.002 * rows[i].lx);
    }
}

static struct pc_daylight_place kitchen(void)
{
    double wide = pc_rad_from_deg(205), narrow = pc_rad_from_deg(295);
    struct pc_daylight_place place = {
        .opening = {.table = {.facing_rad = wide, .long_m = 1.40, .short_m = 0.80, .top_m = 0.76},
                    .opening = {{.facing_rad = wide,
                                 .away_m = 1.25,
                                 .width_m = 1.80,
                                 .height_m = 1.30,
                                 .sill_m = 0.85},
                                {.facing_rad = narrow,
                                 .away_m = 3.1,
                                 .aside_m = 0.75,
                                 .width_m = 0.90,
                                 .height_m = 1.10,
                                 .sill_m = 1.00}},
                    .opening_count = 2,
                    .skyline = {{pc_rad_from_deg(215), pc_rad_from_deg(262), pc_rad_from_deg(19)}},
                    .skyline_count = 1},
        .pass_ratio = pc_daylight_usual_pass_ratio,
        .room = {6.2, 4.4, 2.32, 0.72, 0.30, 0.80, 0.20, 0.20},
        .scrim_stops = 4.0 / 3.0,
    };
    assert_int_equal(pc_glass_make(2, 0.78, &place.glass[0], NULL), PC_OK);
    place.glass[1] = place.glass[0];
    return place;
}

// 18 March 2027, UTC+1.
enum { DAY_OF_YEAR = 77 };

static struct pc_sun sun_at(double hour)
{
    struct pc_sun_station station = pc_sun_station_at(pc_rad_from_deg(58.35), pc_rad_from_deg(11.25));
    return pc_sun_at(&station, utc_s(2027, 3, 17, 23, 0, 0) + 3600.0 * hour);
}

static void the_kitchen_has_its_daylight(void **state)
{
    (void)state;
    struct pc_daylight_place place = kitchen();
    struct pc_daylight_care care = pc_daylight_usual_care();
    struct pc_sun noon = sun_at(12.4);
    struct pc_daylight d;
    assert_int_equal(pc_daylight_at(&place, &care, &noon, DAY_OF_YEAR, &d, NULL), PC_OK);
    // Computed another way, tests/sky_check.py: sky seen 600 lx, the beam 33 400 lx through clean glass.
    near(d.direct.lx, 33400, 400);
    near(d.scrimmed.lx, d.direct.lx / exp2(4.0 / 3.0), 1.0);
    near(d.overcast.lx, 760, 30);
    near(d.factor_pct, 100.0 * d.overcast.lx / d.outside_overcast_lx, 1e-9);
    near(d.factor_pct_tolerance / d.factor_pct, 0.25, 0.03);
    assert_true(d.sun_on_hero && d.sun_on_hero_sure && d.clear.lx > 2.0 * d.overcast.lx);
    assert_true(d.clear_K < d.overcast_K + 4000.0 && d.direct_K < d.clear_K && d.direct_K > 4900.0);
    // Before the sun reaches the hero and after, there is no beam.
    struct pc_sun morning = sun_at(9.5), late = sun_at(16.0), night = sun_at(3.0);
    assert_int_equal(pc_daylight_at(&place, &care, &morning, DAY_OF_YEAR, &d, NULL), PC_OK);
    assert_true(!d.sun_on_hero && isnan(d.direct_K));
    near(d.direct.lx, 0.0, 0.0);
    assert_int_equal(pc_daylight_at(&place, &care, &late, DAY_OF_YEAR, &d, NULL), PC_OK);
    assert_false(d.sun_on_hero);
    // It comes at 11:46, give or take four minutes.
    struct pc_sun soon = sun_at(11.75), just = sun_at(11.8);
    assert_int_equal(pc_daylight_at(&place, &care, &soon, DAY_OF_YEAR, &d, NULL), PC_OK);
    assert_true(!d.sun_on_hero && !d.sun_on_hero_sure);
    assert_int_equal(pc_daylight_at(&place, &care, &just, DAY_OF_YEAR, &d, NULL), PC_OK);
    assert_true(d.sun_on_hero && !d.sun_on_hero_sure);
    assert_int_equal(pc_daylight_at(&place, &care, &night, DAY_OF_YEAR, &d, NULL), PC_BAD_INPUT);
}

static void daylight_is_good_to_what_it_says(void **state)
{
    (void)state;
    struct pc_daylight_place place = kitchen();
    struct pc_daylight_care care = pc_daylight_usual_care();
    double x[IN_COUNT] = {0.0}, care_of[IN_COUNT];
    struct pc_sun noon = sun_at(12.4);
    struct daylight_given given = pc_daylight_given(&place, &noon, DAY_OF_YEAR, 3);
    pc_daylight_care_ins(&care, care_of);
    mc_judge("daylight", pc_daylight_answer, &given, IN_COUNT, x, care_of, OUT_COUNT, NULL);
}

static void colours_are_good_to_what_they_say(void **state)
{
    (void)state;
    double x[MIX_COUNT] = {0.0};
    struct mixed noon = {pc_rad_from_deg(30.7), 2500.0, 1400.0, 33000.0},
                 low = {pc_rad_from_deg(8), 900.0, 150.0, 0.0};
    mc_judge("colour at noon", pc_daylight_colours, &noon, MIX_COUNT, x, pc_daylight_mix_care, MIX_K_COUNT,
             NULL);
    mc_judge("colour at a low sun", pc_daylight_colours, &low, MIX_COUNT, x, pc_daylight_mix_care, 1, NULL);
    // One light alone keeps its colour.
    struct mixed only_sun = {pc_rad_from_deg(30), 0.0, 1000.0, 0.0},
                 only_sky = {pc_rad_from_deg(30), 1000.0, 0.0, 0.0};
    double y[MIX_K_COUNT];
    assert_true(pc_daylight_colours(&only_sun, x, y));
    near(y[MIX_CLEAR_K], 4964, 1);
    assert_true(pc_daylight_colours(&only_sky, x, y));
    near(y[MIX_CLEAR_K], pc_sky_colour_of_clear(pc_rad_from_deg(30)).cct_K, 1);
}

// What is fast enough to be asked for tolerances agrees with what is exact.
static void few_points_do(void **state)
{
    (void)state;
    struct pc_daylight_place place = kitchen();
    struct pc_sun noon = sun_at(12.4);
    double x[IN_COUNT] = {0.0}, coarse[OUT_COUNT], fine[OUT_COUNT], exact[OUT_COUNT];
    struct daylight_given given = pc_daylight_given(&place, &noon, DAY_OF_YEAR, 3);
    assert_true(pc_daylight_answer(&given, x, coarse));
    given.bands = 8;
    assert_true(pc_daylight_answer(&given, x, fine));
    given.bands = 48;
    assert_true(pc_daylight_answer(&given, x, exact));
    for (int o = 0; o < OUT_COUNT; o++) {
        near(fine[o], exact[o], 0.01 * exact[o]);
        near(coarse[o], exact[o], 0.03 * exact[o]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_sky_component_has_a_closed_form),
        cmocka_unit_test(what_is_not_sky_is_skyline),
        cmocka_unit_test(a_room_throws_back_as_a_sphere_does),
        cmocka_unit_test(a_cube_throws_back_as_published),
        cmocka_unit_test(the_kitchen_has_its_daylight),
        cmocka_unit_test(daylight_is_good_to_what_it_says),
        cmocka_unit_test(colours_are_good_to_what_they_say),
        cmocka_unit_test(few_points_do),
    };
    return cmocka_run_group_tests_name("daylight", tests, NULL, NULL);
}
