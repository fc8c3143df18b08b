// SPDX-License-Identifier: Apache-2.0
#include "light/sky/opening.h"

#include <setjmp.h>
#include <cmocka.h>

#include "light/sky/check_priv.h"
#include "tests/monte_carlo.h"

// A table 2 x 1 m whose long edge looks south, a window 1 m wide from the table's height up to 1 m above it.
static struct pc_opening_place south(void)
{
    return (struct pc_opening_place){
        .table = {.facing_rad = PC_PI, .long_m = 2.0, .short_m = 1.0, .top_m = 0.75},
        .opening = {{.facing_rad = PC_PI, .away_m = 0.5, .width_m = 1.0, .height_m = 1.0, .sill_m = 0.75}},
        .opening_count = 1,
    };
}

static double share(const struct pc_opening_place *place, double azimuth_deg, double elevation_deg)
{
    double direction[3];
    pc_direction(pc_rad_from_deg(azimuth_deg), pc_rad_from_deg(elevation_deg), direction);
    return pc_opening_share_ratio(place, direction);
}

static void patches_have_the_area_of_sheared_rectangles(void **state)
{
    (void)state;
    struct pc_opening_place place = south();
    // From due south at 45 degrees, a square of 1 m from the table's outer edge in: half of the table.
    near(share(&place, 180, 45), 0.5, 1e-12);
    // The window's top throws its edge 1/tan in: atan 2 is half as far.
    near(share(&place, 180, pc_deg_from_rad(atan(2.0))), 0.25, 1e-12);
    // Sheared by 45 degrees to the left, seen from inside: x from the wall in runs sideways as far. The strip
    // between u and u + 1 for u = 0..1 lies on a table that ends at 1.0 either side: of the parallelogram
    // from
    // (-0.5, 0.5) the part beyond 1.0 is a triangle of legs 0.5.
    near(share(&place, 225, pc_deg_from_rad(atan(sqrt(0.5)))), (1.0 - 0.125) / 2.0, 1e-12);
    near(share(&place, 135, pc_deg_from_rad(atan(sqrt(0.5)))), (1.0 - 0.125) / 2.0, 1e-12);
    // From behind the wall, along it, and from below there is none.
    near(share(&place, 0, 45), 0.0, 0.0);
    near(share(&place, 90, 45), 0.0, 0.0);
    near(share(&place, 180, -1), 0.0, 0.0);
    // A sill above the table leaves a dark strip at the wall, a thick wall cuts the top: light enters under
    // the outer rim's head at 1 m and depth 0.2, so it reaches 0.8 m in.
    place.opening[0].sill_m += 0.25;
    place.opening[0].height_m -= 0.25;
    near(share(&place, 180, 45), 0.375, 1e-12);
    place.opening[0].depth_m = 0.2;
    near(share(&place, 180, 45), 0.55 / 2.0, 1e-12);
}

// The share by counting points of a grid, one ray each: the other way to answer.
static double counted(const struct pc_opening_place *place, const double direction[3], int n)
{
    struct pc_opening_place at = *place;
    int lit = 0;
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            double point_m[3];
            at.table.hero_right_m = ((i + 0.5) / n - 0.5) * at.table.long_m;
            at.table.hero_out_m = ((j + 0.5) / n - 0.5) * at.table.short_m;
            pc_opening_hero(&at.table, point_m);
            lit += pc_opening_seen_through(place, point_m, direction) >= 0;
        }
    return (double)lit / (n * n);
}

// A grid of n by n along edges of a polygon is right within its perimeter's cells: some 4 / n.
enum { GRID = 60 };

static void areas_agree_with_rays_counted(void **state)
{
    (void)state;
    uint64_t random = 20270318;
    int some = 0;
    for (int draw = 0; draw < 60; draw++) {
        double facing = 2.0 * PC_PI * mc_uniform(&random), direction[3];
        struct pc_opening_place place = {
            .table = {.facing_rad = facing, .long_m = 1.4, .short_m = 0.8, .top_m = 0.76},
            .opening = {{.facing_rad = facing,
                         .away_m = 1.25,
                         .width_m = 1.8,
                         .height_m = 1.3,
                         .sill_m = 0.85,
                         .depth_m = draw % 2 ? 0.25 : 0.0},
                        {.facing_rad = facing + 0.5 * PC_PI,
                         .away_m = 1.0,
                         .aside_m = 0.75,
                         .width_m = 0.9,
                         .height_m = 1.1,
                         .sill_m = 0.6}},
            .opening_count = 2,
        };
        assert_int_equal(pc_opening_check(&place, NULL), PC_OK);
        pc_direction(facing + 2.2 * mc_uniform(&random) - 0.6, 0.1 + 0.9 * mc_uniform(&random), direction);
        double exact = pc_opening_share_ratio(&place, direction);
        some += exact > 0.05 && exact < 0.95;
        near(counted(&place, direction, GRID), exact, 4.0 / GRID);
    }
    assert_true(some > 20);
}

// Windows whose edges fall on the table's and on each other's, walls that run alike, a sun along the wall:
// whatever comes, the share is one, and of one pane it is not more than of a whole wall of glass.
static void odd_places_have_a_share(void **state)
{
    (void)state;
    uint64_t random = 58;
    for (int draw = 0; draw < 4000; draw++) {
        struct pc_opening_place place = {
            .table = {.facing_rad = 0.0, .long_m = 2.0, .short_m = 1.0, .top_m = 0.5},
            .opening_count = PC_OPENINGS_MAX};
        for (int i = 0; i < PC_OPENINGS_MAX; i++)
            place.opening[i] =
                (struct pc_opening){.facing_rad = 0.25 * PC_PI * floor(8.0 * mc_uniform(&random)),
                                    .away_m = 1.25 + 0.25 * i,
                                    .aside_m = 0.5 * floor(3.0 * mc_uniform(&random)) - 0.5,
                                    .width_m = 0.5 * (1.0 + floor(4.0 * mc_uniform(&random))),
                                    .height_m = 0.5 * (1.0 + floor(4.0 * mc_uniform(&random))),
                                    .sill_m = 0.5 * floor(3.0 * mc_uniform(&random)),
                                    .depth_m = 0.25 * floor(3.0 * mc_uniform(&random))};
        double direction[3];
        pc_direction(0.125 * PC_PI * floor(16.0 * mc_uniform(&random)), 0.02 + 1.5 * mc_uniform(&random),
                     direction);
        double all = pc_opening_share_ratio(&place, direction);
        place.opening_count = 1;
        double one = pc_opening_share_ratio(&place, direction);
        assert_true(all >= 0.0 && all <= 1.0 + 1e-9 && one >= 0.0 && one <= 1.0 + 1e-9);
        place.opening[0].aside_m = 0.0;
        place.opening[0].width_m = 1e4;
        place.opening[0].sill_m = 0.0;
        place.opening[0].height_m = 1e4;
        place.opening[0].depth_m = 0.0;
        assert_true(one <= pc_opening_share_ratio(&place, direction) + 1e-9);
    }
}

static void skylines_stand_between_their_bearings(void **state)
{
    (void)state;
    struct pc_opening_place place = south();
    place.skyline[0] =
        (struct pc_skyline_step){pc_rad_from_deg(215), pc_rad_from_deg(262), pc_rad_from_deg(19)};
    place.skyline[1] =
        (struct pc_skyline_step){pc_rad_from_deg(350), pc_rad_from_deg(20), pc_rad_from_deg(5)};
    place.skyline_count = 2;
    near(pc_skyline_rad(&place, pc_rad_from_deg(214.9)), 0.0, 0.0);
    near(pc_skyline_rad(&place, pc_rad_from_deg(215.1)), pc_rad_from_deg(19), 0.0);
    near(pc_skyline_rad(&place, pc_rad_from_deg(262.1)), 0.0, 0.0);
    near(pc_skyline_rad(&place, pc_rad_from_deg(5)), pc_rad_from_deg(5), 0.0);
    near(pc_skyline_rad(&place, pc_rad_from_deg(355)), pc_rad_from_deg(5), 0.0);
    near(pc_skyline_rad(&place, pc_rad_from_deg(-5)), pc_rad_from_deg(5), 0.0);
    near(pc_skyline_rad(&place, pc_rad_from_deg(180)), 0.0, 0.0);
    place.skyline[2] = (struct pc_skyline_step){0.0, 2.0 * PC_PI, pc_rad_from_deg(3)};
    place.skyline_count = 3;
    near(pc_skyline_rad(&place, pc_rad_from_deg(180)), pc_rad_from_deg(3), 0.0);
    near(pc_skyline_rad(&place, pc_rad_from_deg(230)), pc_rad_from_deg(19), 0.0);
}

static void places_that_cannot_be_are_refused(void **state)
{
    (void)state;
    struct pc_opening_place good = south(), bad;
    struct pc_err err = {0};
    assert_int_equal(pc_opening_check(&good, &err), PC_OK);
    bad = good;
    bad.opening[0].away_m = 0.4;
    assert_int_equal(pc_opening_check(&bad, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "0.50 m towards its wall"));
    bad = good;
    bad.opening[bad.opening_count++] = bad.opening[0];
    assert_int_equal(pc_opening_check(&bad, NULL), PC_BAD_INPUT);
    bad = good;
    bad.opening[0].height_m = 0.0;
    assert_int_equal(pc_opening_check(&bad, NULL), PC_BAD_INPUT);
    bad = good;
    bad.table.top_m = 1.9;
    assert_int_equal(pc_opening_check(&bad, NULL), PC_BAD_INPUT);
    bad = good;
    bad.table.hero_out_m = 0.6;
    assert_int_equal(pc_opening_check(&bad, NULL), PC_BAD_INPUT);
    bad = good;
    bad.opening_count = 0;
    assert_int_equal(pc_opening_check(&bad, NULL), PC_BAD_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(patches_have_the_area_of_sheared_rectangles),
        cmocka_unit_test(areas_agree_with_rays_counted),
        cmocka_unit_test(odd_places_have_a_share),
        cmocka_unit_test(skylines_stand_between_their_bearings),
        cmocka_unit_test(places_that_cannot_be_are_refused),
    };
    return cmocka_run_group_tests_name("opening", tests, NULL, NULL);
}
