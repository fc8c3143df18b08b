// SPDX-License-Identifier: Apache-2.0
#include "shoot/day/plate.h"

#include <setjmp.h>
#include <cmocka.h>

enum { INTERLEAVINGS = 1000, TAPS = 24 };
enum { CLEAR_SOUP = 1, SAUCE = 2 }; // places in the table of classes

static const struct pc_plate plates[] = {{"p1", "broth", CLEAR_SOUP},
                                         {"p2", "hake", SAUCE},
                                         {"p3", "hake", SAUCE},
                                         {"p4", "hake", SAUCE},
                                         {"p5", "hake", SAUCE}};

static uint64_t drawn(uint64_t *seed, uint64_t below)
{
    *seed = *seed * 6364136223846793005U + 1442695040888963407U;
    return (*seed >> 33) % below;
}

static void near(double value, double wanted, double within)
{
    if (!(fabs(value - wanted) <= within))
        fail_msg("%.9g, wanted %.9g", value, wanted);
}

static char *told(struct pc_arena *arena, const struct pc_tap *taps, size_t count, int64_t now_ms)
{
    struct pc_plate_clock clock;
    pc_plate_clock_find(arena, plates, PC_COUNT(plates), taps, count, now_ms, &clock);
    assert_int_equal(clock.taps, count);
    assert_int_equal(clock.strays, 0);
    struct pc_json *json = pc_clock_json(&clock);
    char *text = pc_json_print(arena, json, true);
    pc_json_destroy(json);
    return text;
}

static void whatever_order_taps_arrive_in(void **state)
{
    (void)state;
    uint64_t seed = 93;
    for (int run = 0; run < INTERLEAVINGS; run++) {
        struct pc_arena *arena = pc_arena_create();
        struct pc_tap taps[TAPS + 4], mixed[TAPS + 4];
        for (int i = 0; i < TAPS; i++)
            taps[i] = (struct pc_tap){plates[drawn(&seed, PC_COUNT(plates))].id,
                                      (enum pc_plate_state)drawn(&seed, PC_PLATE_STATE_COUNT),
                                      1000000 + (int64_t)drawn(&seed, 600) * 1000};
        for (int i = 0; i < 4; i++) // sent twice
            taps[TAPS + i] = taps[drawn(&seed, TAPS)];
        memcpy(mixed, taps, sizeof taps);
        for (size_t i = PC_COUNT(mixed) - 1; i > 0; i--) {
            size_t j = drawn(&seed, i + 1);
            struct pc_tap held = mixed[i];
            mixed[i] = mixed[j];
            mixed[j] = held;
        }
        assert_string_equal(told(arena, taps, PC_COUNT(taps), 1700000),
                            told(arena, mixed, PC_COUNT(mixed), 1700000));
        // No tap is lost: each state tapped has a time, not later than that tap.
        struct pc_plate_clock clock;
        pc_plate_clock_find(arena, plates, PC_COUNT(plates), mixed, PC_COUNT(mixed), 1700000, &clock);
        for (size_t i = 0; i < PC_COUNT(taps); i++) {
            const struct pc_plate_now *now = &clock.plates[taps[i].plate[1] - '1'];
            assert_true(now->state >= (int)taps[i].state);
            assert_true(now->at_ms[taps[i].state] >= 0 && now->at_ms[taps[i].state] <= taps[i].made_ms);
        }
        pc_arena_destroy(arena);
    }
}

static void a_plate_runs_down(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    static const struct pc_tap taps[] = {
        {"p1", PC_PLATE_CALLED, 940000}, {"p1", PC_PLATE_DOWN, 1000000}, {"p2", PC_PLATE_STAND_IN, 900000}};
    struct pc_plate_clock clock;
    // 240 s of life: the last fifth begins at 192 s.
    pc_plate_clock_find(arena, plates, PC_COUNT(plates), taps, PC_COUNT(taps), 1191000, &clock);
    near(clock.plates[0].left_s, 49, 1e-9);
    assert_false(clock.plates[0].alarm);
    assert_int_equal(clock.plates[0].gone_at_ms, 1240000);
    pc_plate_clock_find(arena, plates, PC_COUNT(plates), taps, PC_COUNT(taps), 1192000, &clock);
    assert_true(clock.plates[0].alarm);
    assert_string_equal(clock.line_now, "The broth is down, 48 s left.");
    assert_string_equal(clock.line_next, "Fire the hake now."); // 60 s from call to set
    pc_plate_clock_find(arena, plates, PC_COUNT(plates), taps, PC_COUNT(taps), 1000000, &clock);
    assert_string_equal(clock.line_next, "Fire the hake in 3 min.");
    // The laptop's clock was put back: never more than its life.
    pc_plate_clock_find(arena, plates, PC_COUNT(plates), taps, PC_COUNT(taps), 500000, &clock);
    near(clock.plates[0].left_s, 240, 0);
    assert_null(clock.caution);
    // The lid was shut for an hour.
    pc_plate_clock_find(arena, plates, PC_COUNT(plates), taps, PC_COUNT(taps), 1000000 + 3600000, &clock);
    assert_true(clock.plates[0].left_s < 0 && clock.plates[0].alarm);
    assert_non_null(clock.caution);
    pc_arena_destroy(arena);
}

static void life_is_learned_from_three_plates_on(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct pc_tap taps[6];
    for (int i = 0; i < 3; i++) {
        taps[2 * i] = (struct pc_tap){plates[1 + i].id, PC_PLATE_DOWN, 1000000 * (i + 1)};
        taps[2 * i + 1] = (struct pc_tap){plates[1 + i].id, PC_PLATE_GONE, 1000000 * (i + 1) + 200000};
    }
    struct pc_plate_clock clock;
    pc_plate_clock_find(arena, plates, PC_COUNT(plates), taps, 4, 5000000, &clock);
    near(clock.plates[4].life_s, 300, 0);
    near(clock.plates[4].life_tolerance_s, 120, 0);
    pc_plate_clock_find(arena, plates, PC_COUNT(plates), taps, 6, 5000000, &clock);
    // By hand: spread2 = 2 * 15^2 / 4 = 112.5, weights 3 / 112.5 = 0.0266667 and 1 / 60^2 = 0.000277778:
    // (5.333333 + 0.083333) / 0.02694444 = 201.0309; 2 sqrt(112.5 + 37.11340) = 24.4634.
    near(clock.plates[4].life_s, 201.0309, 1e-3);
    near(clock.plates[4].life_tolerance_s, 24.4634, 1e-3);
    near(clock.plates[0].life_s, 240, 0);
    pc_arena_destroy(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whatever_order_taps_arrive_in),
        cmocka_unit_test(a_plate_runs_down),
        cmocka_unit_test(life_is_learned_from_three_plates_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
