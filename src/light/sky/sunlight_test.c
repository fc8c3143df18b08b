// SPDX-License-Identifier: Apache-2.0
#include "light/sky/sunlight.h"

#include <setjmp.h>
#include <cmocka.h>

#include "light/sky/check_priv.h"
#include "light/sky/sunlight_priv.h"
#include "tests/monte_carlo.h"

static const double HOUR_S = 3600.0;

static struct pc_sun_station orrevik(void)
{
    return pc_sun_station_at(pc_rad_from_deg(58.35), pc_rad_from_deg(11.25));
}

// The harbour kitchen of the demo: the wall of the wide window looks to 205 degrees, that of the narrow one
// to 295, the table stands along the first, centred on its window.
static struct pc_opening_place kitchen(void)
{
    double wide = pc_rad_from_deg(205), narrow = pc_rad_from_deg(295);
    return (struct pc_opening_place){
        .table = {.facing_rad = wide, .long_m = 1.40, .short_m = 0.80, .top_m = 0.76},
        .opening = {{.facing_rad = wide, .away_m = 1.25, .width_m = 1.80, .height_m = 1.30, .sill_m = 0.85},
                    {.facing_rad = narrow,
                     .away_m = 3.1,
                     .aside_m = 0.75,
                     .width_m = 0.90,
                     .height_m = 1.10,
                     .sill_m = 1.00}},
        .opening_count = 2,
        .skyline = {{pc_rad_from_deg(215), pc_rad_from_deg(262), pc_rad_from_deg(19)}},
        .skyline_count = 1,
    };
}

static double march_18(double hour)
{
    return utc_s(2027, 3, 17, 23, 0, 0) + hour * HOUR_S;
}

// What the times below were computed to, another way (tests/sky_check.py: the almanac's low-precision sun,
// 0.02 degrees, and rays from a grid of points). A minute of time is a quarter of a degree of the sun's way.
static const double MINUTE_S = 60.0;

static void the_kitchen_gets_its_sun(void **state)
{
    (void)state;
    struct pc_sun_station station = orrevik();
    struct pc_opening_place place = kitchen();
    struct pc_sunlight_care care = pc_sunlight_usual_care();
    struct pc_sunlight day;
    pc_sunlight_day(&station, &place, &care, march_18(0), &day);
    near(day.sun.rise_s, march_18(6.0 + 23.5 / 60.0), MINUTE_S);
    near(day.sun.highest_s, march_18(12.0 + 23.5 / 60.0), MINUTE_S);
    near(pc_deg_from_rad(day.sun.highest_rad), 30.7, 0.05);
    near(day.sun.set_s, march_18(18.0 + 23.9 / 60.0), MINUTE_S);
    assert_int_equal(day.table.count, 2);
    near(day.table.spell[0].from_s, march_18(10.0 + 10.0 / 60.0), MINUTE_S);
    assert_int_equal(day.hero.count, 1);
    near(day.hero.spell[0].from_s, march_18(11.0 + 46.0 / 60.0), MINUTE_S);
    near(day.hero.spell[0].to_s, march_18(15.0 + 42.6 / 60.0), MINUTE_S);
    assert_int_equal(day.hero_open.count, 1);
    near(day.hero_open.spell[0].to_s, march_18(16.0 + 11.5 / 60.0), MINUTE_S);
    assert_int_equal(pc_sunlight_why_not(&place, &day), PC_SUNLIGHT_COMES);
    // Rows and spells tell of the same sun. The hero lies on the table.
    for (int i = 0; i < PC_SUNLIGHT_ROWS; i++) {
        const struct pc_sunlight_row *row = &day.row[i];
        bool table = false, hero = false;
        for (int k = 0; k < day.table.count; k++)
            table = table || (row->at_s >= day.table.spell[k].from_s && row->at_s <= day.table.spell[k].to_s);
        for (int k = 0; k < day.hero.count; k++)
            hero = hero || (row->at_s >= day.hero.spell[k].from_s && row->at_s <= day.hero.spell[k].to_s);
        assert_int_equal(row->hero_lit, hero);
        if (row->share_ratio > 0.0)
            assert_true(table);
        assert_true(row->share_ratio <= 1.0 + 1e-12 && (!hero || row->share_ratio > 0.0));
    }
    // At 12:10 from the share of a grid of rays of the sun's middle: tests/sky_check.py.
    near(day.row[146].share_ratio, 0.652, 0.002);
}

// Four minutes a degree of bearing and two of tape: what such an answer is worth at this place.
static void times_are_good_to_what_they_say(void **state)
{
    (void)state;
    struct pc_sun_station station = orrevik();
    struct pc_opening_place place = kitchen();
    struct pc_sunlight_care care = pc_sunlight_usual_care();
    struct pc_sunlight day;
    struct track track;
    double x[OFF_COUNT] = {0.0}, off[OFF_COUNT];
    pc_sunlight_day(&station, &place, &care, march_18(0), &day);
    pc_sunlight_track(&station, march_18(0), &track);
    pc_sunlight_care_offs(&care, off);
    struct events events = {.place = &place,
                            .track = &track,
                            .event = {{ON_TABLE, false, true, day.table.spell[0].from_s},
                                      {ON_TABLE, false, false, day.table.spell[0].to_s},
                                      {ON_HERO, false, true, day.hero.spell[0].from_s},
                                      {ON_HERO, false, false, day.hero.spell[0].to_s},
                                      {ON_HERO, true, false, day.hero_open.spell[0].to_s}},
                            .count = 5};
    double stated[] = {day.table.spell[0].from_tolerance_s, day.table.spell[0].to_tolerance_s,
                       day.hero.spell[0].from_tolerance_s, day.hero.spell[0].to_tolerance_s,
                       day.hero_open.spell[0].to_tolerance_s};
    mc_judge("times of the sun", pc_sunlight_event_times, &events, OFF_COUNT, x, off, events.count, stated);
    for (int i = 0; i < events.count; i++)
        assert_true(stated[i] > 2.0 * MINUTE_S && stated[i] < 6.0 * MINUTE_S);
    // The two apart, where the skyline has no say: the bearing alone, then the tape alone.
    double y[EVENTS_MAX], by_bearing[EVENTS_MAX], by_tape[EVENTS_MAX],
        only[OFF_COUNT] = {[OFF_BEARING] = off[OFF_BEARING]};
    assert_true(
        pc_tolerance(pc_sunlight_event_times, &events, OFF_COUNT, x, only, events.count, y, by_bearing));
    off[OFF_BEARING] = 0.0;
    assert_true(pc_tolerance(pc_sunlight_event_times, &events, OFF_COUNT, x, off, events.count, y, by_tape));
    for (int i = 0; i < events.count; i += 2) {
        near(by_bearing[i], 4.0 * MINUTE_S, 1.0 * MINUTE_S);
        near(by_tape[i], 2.5 * MINUTE_S, 1.5 * MINUTE_S);
    }
}

// A compass held to the wall indoors, a tape held by one person, a skyline guessed.
static void rough_times_are_good_to_what_they_say(void **state)
{
    (void)state;
    struct pc_sun_station station = orrevik();
    struct pc_opening_place place = kitchen();
    double degree = pc_rad_from_deg(1.0);
    struct pc_sunlight_care rough = {5.0 * degree, 0.03, 0.05, 0.03,         0.03,
                                     0.03,         0.01, 0.02, 2.0 * degree, 5.0 * degree};
    struct pc_sunlight day;
    struct track track;
    double x[OFF_COUNT] = {0.0}, off[OFF_COUNT];
    pc_sunlight_day(&station, &place, &rough, march_18(0), &day);
    pc_sunlight_track(&station, march_18(0), &track);
    pc_sunlight_care_offs(&rough, off);
    struct events events = {.place = &place,
                            .track = &track,
                            .event = {{ON_TABLE, false, true, day.table.spell[0].from_s},
                                      {ON_TABLE, false, false, day.table.spell[0].to_s},
                                      {ON_HERO, false, true, day.hero.spell[0].from_s},
                                      {ON_HERO, false, false, day.hero.spell[0].to_s},
                                      {ON_HERO, true, false, day.hero_open.spell[0].to_s}},
                            .count = 5};
    mc_judge("rough times", pc_sunlight_event_times, &events, OFF_COUNT, x, off, events.count, NULL);
}

static void shares_are_good_to_what_they_say(void **state)
{
    (void)state;
    struct pc_sun_station station = orrevik();
    struct pc_opening_place place = kitchen();
    struct pc_sunlight_care care = pc_sunlight_usual_care();
    struct pc_sunlight day;
    double x[OFF_COUNT] = {0.0}, off[OFF_COUNT];
    pc_sunlight_day(&station, &place, &care, march_18(0), &day);
    pc_sunlight_care_offs(&care, off);
    for (int i = 130; i < 186; i += 12) {
        double direction[3];
        pc_direction(day.row[i].azimuth_rad, day.row[i].elevation_rad, direction);
        struct seen seen = {&place, direction};
        if (day.row[i].share_ratio < 0.99)
            mc_judge("share in the sun", pc_sunlight_share, &seen, OFF_COUNT, x, off, 1,
                     &day.row[i].share_ratio_tolerance);
    }
}

static void no_sun_has_a_reason(void **state)
{
    (void)state;
    struct pc_sun_station station = orrevik();
    struct pc_opening_place place = kitchen();
    struct pc_sunlight_care care = pc_sunlight_usual_care();
    struct pc_sunlight day;
    place.opening_count = 1;
    place.opening[0].facing_rad = place.table.facing_rad = 0.0;
    pc_sunlight_day(&station, &place, &care, march_18(0), &day);
    assert_int_equal(day.table.count, 0);
    assert_int_equal(pc_sunlight_why_not(&place, &day), PC_SUNLIGHT_WRONG_SIDE);
    // Looking south, and the table far from it.
    place.opening[0].facing_rad = place.table.facing_rad = PC_PI;
    place.opening[0].away_m = 12.0;
    pc_sunlight_day(&station, &place, &care, utc_s(2027, 6, 20, 23, 0, 0), &day);
    assert_int_equal(pc_sunlight_why_not(&place, &day), PC_SUNLIGHT_MISSES);
    place.opening[0].away_m = 1.25;
    place.skyline[0] =
        (struct pc_skyline_step){pc_rad_from_deg(60), pc_rad_from_deg(300), pc_rad_from_deg(60)};
    pc_sunlight_day(&station, &place, &care, march_18(0), &day);
    assert_int_equal(pc_sunlight_why_not(&place, &day), PC_SUNLIGHT_SKYLINE);
    station = pc_sun_station_at(pc_rad_from_deg(78), pc_rad_from_deg(15));
    pc_sunlight_day(&station, &place, &care, utc_s(2027, 12, 21, 0, 0, 0), &day);
    assert_int_equal(pc_sunlight_why_not(&place, &day), PC_SUNLIGHT_NO_SUN);
}

// The demo's table is built up again on 25 September, on summer time.
static void the_same_sun_comes_in_september(void **state)
{
    (void)state;
    struct pc_sun_station station = orrevik();
    struct pc_sun march = pc_sun_at(&station, march_18(14.0));
    double off_rad, again_s = pc_sun_again_s(&station, &march, utc_s(2027, 9, 24, 22, 0, 0), &off_rad);
    near(again_s, utc_s(2027, 9, 25, 12, 44, 0), MINUTE_S);
    assert_true(off_rad < pc_rad_from_deg(0.1));
}

static void a_shadow_tells_the_bearing(void **state)
{
    (void)state;
    struct pc_sun_station station = orrevik();
    struct pc_bearing bearing;
    struct pc_err err = {0};
    double at_s = march_18(13.5), turn_rad = pc_rad_from_deg(0.7);
    double sun_deg = pc_deg_from_rad(pc_sun_at(&station, at_s).azimuth_rad);
    // A bar at the origin, 1 m high, and the tip of its shadow on the table: by hand, in the wall's own axes.
    double turned_rad = pc_rad_from_deg(sun_deg - 205.0);
    assert_int_equal(pc_bearing_from_shadow(&station, at_s, 60.0, turned_rad, turn_rad, &bearing, &err),
                     PC_OK);
    near(pc_deg_from_rad(bearing.facing_rad), 205.0, 1e-9);
    near(pc_deg_from_rad(bearing.facing_tolerance_rad), hypot(0.7, 0.287), 0.01);
    struct shadow shadow = {&station, at_s};
    double x[2] = {0.0, turned_rad}, off[2] = {60.0, turn_rad};
    mc_judge("bearing from a shadow", pc_sunlight_facing, &shadow, 2, x, off, 1,
             &bearing.facing_tolerance_rad);
    assert_int_equal(pc_bearing_from_shadow(&station, march_18(3.0), 60.0, 0.0, turn_rad, &bearing, &err),
                     PC_BAD_INPUT);
    assert_int_equal(pc_bearing_from_shadow(&station, at_s, 60.0, PC_PI, turn_rad, &bearing, NULL),
                     PC_BAD_INPUT);
    // On the equator at noon of an equinox a minute turns the shadow round.
    struct pc_sun_station equator = pc_sun_station_at(0.0, 0.0);
    double noon_s = pc_sun_day_from(&equator, utc_s(2027, 3, 20, 0, 0, 0)).highest_s;
    assert_int_equal(pc_bearing_from_shadow(&equator, noon_s, 60.0, 0.0, turn_rad, &bearing, NULL),
                     PC_BAD_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_kitchen_gets_its_sun),
        cmocka_unit_test(times_are_good_to_what_they_say),
        cmocka_unit_test(rough_times_are_good_to_what_they_say),
        cmocka_unit_test(shares_are_good_to_what_they_say),
        cmocka_unit_test(no_sun_has_a_reason),
        cmocka_unit_test(the_same_sun_comes_in_september),
        cmocka_unit_test(a_shadow_tells_the_bearing),
    };
    return cmocka_run_group_tests_name("sunlight", tests, NULL, NULL);
}
