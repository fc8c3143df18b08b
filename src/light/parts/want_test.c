// SPDX-License-Identifier: Apache-2.0
// Wanting against closed forms and limits whose part is known by construction.
#include "light/parts/want_bench.h"

#include "base/units.h"
#include "image/colour/colour.h"

#include <setjmp.h>
#include <cmocka.h>

static uint64_t rng;

static double uniform(double low, double high)
{
    rng ^= rng << 13;
    rng ^= rng >> 7;
    rng ^= rng << 17;
    return low + (high - low) * (double)(rng >> 11) * 0x1p-53;
}

static void add_goal(struct pc_want *want, enum pc_goal_kind kind, int place, double value)
{
    want->goal[want->goal_count++] = (struct pc_goal){.kind = kind, .place = place, .value = value};
}

static void solve(const struct pc_reading *reading, const struct pc_want *want, struct pc_want_answer *answer)
{
    struct pc_err err = {0};
    if (pc_want_solve(reading, want, answer, &err) != PC_OK)
        fail_msg("%s", err.text);
}

static void expect_binding(const struct pc_want_answer *answer, int goal, enum pc_binding binding, int light)
{
    if (answer->binding[goal] != binding || answer->binding_light[goal] != light)
        fail_msg("goal %d misses by %.3f: binding %d of light %d, not %d of light %d", goal,
                 answer->miss[goal], (int)answer->binding[goal], answer->binding_light[goal], (int)binding,
                 light);
}

// The ambient floor: with 3500 lx of key and 700 lx of ambient the surface gets at most log2(1 + 3500/700)
// stops below the hero.
static void the_ambient_is_the_floor(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_want want;
    struct pc_want_answer answer;
    make_flagged_key(&r);
    pc_want_init(&r, &want);
    add_goal(&want, PC_GOAL_SURFACE_UNDER, 0, 4);
    solve(&r, &want, &answer);
    near(answer.value[0], log2(1 + 3500.0 / 700), 1e-9);
    near(answer.dials.dial_ratio[0], 1, 1e-9);
    near(answer.miss[0], 4 - log2(6), 1e-9);
    expect_binding(&answer, 0, PC_BINDING_AMBIENT, -1);
    char text[120];
    pc_want_binding_text(&r, &want, &answer, 0, text, sizeof text);
    assert_non_null(strstr(text, "ambient"));
}

static void one_light_by_hand(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_want want;
    struct pc_want_answer answer;
    make_reading(&r, 1, 2, (double[][4]){{1000, 400}, {100, 100}}, 0.3);
    pc_want_init(&r, &want);
    add_goal(&want, PC_GOAL_HERO_LEVEL, 0, 1);
    solve(&r, &want, &answer);
    near(answer.dials.dial_ratio[0], (2 * 400 - 100) / 1000.0, 0.002);
    near(answer.place_ev[0], 1, 0.005);
    near(answer.place_ev[1], log2((0.7 * 400 + 100) / (0.3 * 400 + 100)), 0.005);
    // With a curve that gives the square of the dial, the dial is its root.
    r.light[0].curve = (struct pc_curve){.points = 2, .dial_ratio = {0.1, 1}, .light_ratio = {0.01, 1}};
    r.light[0].dial_ratio = sqrt(0.3);
    solve(&r, &want, &answer);
    near(answer.dials.dial_ratio[0], sqrt(0.7), 0.002);
    // Reflectance is divided out: a hero that sends back a stop more than the surface is a stop less in
    // light.
    r.reflect_ev[PC_PLACE_HERO] = 1;
    want.goal_count = 0;
    add_goal(&want, PC_GOAL_SURFACE_UNDER, 0, -0.5);
    solve(&r, &want, &answer);
    double light =
        (2 * sqrt(0.5) - 1) * 100 / (1000 - 2 * sqrt(0.5) * 400); // (1000 x + 100) / (400 x + 100) = 2^0.5
    near(answer.dials.dial_ratio[0], sqrt(light), 0.01);
    near(answer.value[0], -0.5, 0.005);
}

static void untouched_where_all_is_as_wanted(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_want want;
    struct pc_want_answer answer;
    make_reading(&r, 3, 3, (double[][4]){{900, 300, 500}, {200, 800, 100}, {300, 300, 700}, {90, 60, 80}},
                 0.4);
    pc_want_init(&r, &want);
    add_goal(&want, PC_GOAL_HERO_LEVEL, 0, 0);
    add_goal(&want, PC_GOAL_PLACE_LEVEL, 2, 0);
    solve(&r, &want, &answer);
    for (int i = 0; i < 3; i++)
        near(answer.dials.dial_ratio[i], 0.4, 0.002);
}

static void second_shadow_goes_under(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_want want;
    struct pc_want_answer answer;
    make_reading(&r, 2, 2, (double[][4]){{3500, 3500}, {3500, 3500}, {750, 750}}, 1);
    pc_want_init(&r, &want);
    for (int i = 0; i < 2; i++)
        want.limit[i].step_ratio = 0.05;
    add_goal(&want, PC_GOAL_SECOND_SHADOW, 0, 0.3);
    add_goal(&want, PC_GOAL_HERO_LEVEL, 0, -0.55);
    solve(&r, &want, &answer);
    int second;
    assert_true(pc_reading_second_shadow_ev(&r, &answer.dials, &second, NULL) <= 0.3 + 0.02);
    near(answer.value[1], -0.55, 0.05);
    assert_int_equal(answer.binding[0], PC_BINDING_NONE);
}

// As many places as there are unknowns (three lights and the ambient) and a level wanted at each: only one
// setting gives them all, and one limit is drawn so that it alone keeps that setting out.
static void make_puzzle(struct pc_reading *r, struct pc_want *want, double solution[3])
{
    double lx[4][4];
    for (int i = 0; i < 4; i++) {
        for (int p = 0; p < 4; p++)
            lx[i][p] = exp2(uniform(-4, -2)) + (i == p ? 1 : 0);
    }
    make_reading(r, 3, 4, lx, 0.3);
    pc_want_init(r, want);
    for (int i = 0; i < 3; i++)
        solution[i] = uniform(0.2, 0.48);
    for (int p = 0; p < 4; p++) {
        double now = lx[3][p], then = lx[3][p];
        for (int i = 0; i < 3; i++) {
            now += 0.3 * lx[i][p];
            then += solution[i] * lx[i][p];
        }
        add_goal(want, PC_GOAL_PLACE_LEVEL, p, log2(then / now));
    }
}

enum { PUZZLES = 60 };

static void binding_is_known_by_construction(void **state)
{
    (void)state;
    rng = 58;
    int asked = 0, wrong = 0;
    for (int n = 0; n < PUZZLES; n++) {
        struct pc_reading r;
        struct pc_want want;
        struct pc_want_answer answer;
        double solution[3];
        make_puzzle(&r, &want, solution);
        int kind = n % 4, light = (int)uniform(0, 3);
        struct pc_limit *limit = &want.limit[light];
        enum pc_binding binding = PC_BINDING_MOST;
        if (kind == 0) {
            limit->most_ratio = solution[light] * uniform(0.3, 0.6);
        } else if (kind == 1) {
            binding = PC_BINDING_LEAST;
            limit->least_ratio = solution[light] * uniform(1.6, 2);
        } else if (kind == 2) {
            binding = PC_BINDING_FIXED;
            limit->may_change = false;
            r.light[light].dial_ratio = 0.9; // the goals are against now
            for (int p = 0; p < 4; p++) {
                double was = r.ambient_xyz[p][1], is = was;
                for (int i = 0; i < 3; i++) {
                    was += 0.3 * r.emitter[i].xyz[p][1];
                    is += r.light[i].dial_ratio * r.emitter[i].xyz[p][1];
                }
                want.goal[p].value += log2(was / is);
            }
        } else {
            binding = PC_BINDING_STEP;
            limit->step_ratio = 1;
        }
        solve(&r, &want, &answer);
        if (answer.worst_miss < 0.1)
            continue;
        for (int g = 0; g < 4; g++) {
            if (answer.binding[g] == PC_BINDING_NONE)
                continue;
            asked++;
            bool right = answer.binding[g] == binding && answer.binding_light[g] == light;
            wrong += !right;
            if (!right)
                print_message(
                    "# puzzle %d, goal %d misses by %.3f: binding %d of light %d, drawn %d of light %d\n", n,
                    g, answer.miss[g], (int)answer.binding[g], answer.binding_light[g], (int)binding, light);
        }
    }
    print_message("# %d unmet goals, %d named otherwise\n", asked, wrong);
    assert_true(asked > PUZZLES);
    assert_int_equal(wrong, 0);
}

static void goals_that_contradict(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_want want;
    struct pc_want_answer answer;
    make_reading(&r, 2, 2, (double[][4]){{900, 300}, {200, 800}, {90, 60}}, 0.2);
    pc_want_init(&r, &want);
    add_goal(&want, PC_GOAL_HERO_LEVEL, 0, 0.5);
    add_goal(&want, PC_GOAL_PLACE_LEVEL, 0, 1.5);
    solve(&r, &want, &answer);
    near(answer.worst_miss, 0.5, 0.01);
    near(answer.value[0], 1, 0.01);
    for (int g = 0; g < 2; g++)
        expect_binding(&answer, g, PC_BINDING_GOALS, -1);
}

static void xyz_of(double cct_K, double Y, double xyz[3])
{
    double xy[2];
    pc_colour_planck_xy(cct_K, xy);
    pc_colour_xyz_from_xy(xy, Y, xyz);
}

// A panel from 2700 to 6500 K, alone at the hero, set to 5300 K: 55 mired cooler would be 7500 K, and its own
// end is 1e6/6500 - 1e6/7500 = 20.5 mired short of that.
static void a_panel_ends_at_its_coolest(void **state)
{
    (void)state;
    struct pc_reading r = {.place_count = 2, .light_count = 1, .emitter_count = 2, .has_colour = true};
    r.light[0] = (struct pc_reading_light){.name = "P1",
                                           .emitter_count = 2,
                                           .emitter = {0, 1},
                                           .dial_ratio = 0.5,
                                           .kelvin_K = 5300,
                                           .curve = pc_curve_straight()};
    for (int e = 0; e < 2; e++) {
        r.emitter[e].cct_K = e ? 6500 : 2700;
        for (int p = 0; p < 2; p++)
            xyz_of(r.emitter[e].cct_K, 1, r.emitter[e].xyz[p]);
    }
    struct pc_want want;
    struct pc_want_answer answer;
    pc_want_init(&r, &want);
    add_goal(&want, PC_GOAL_PLACE_WARMTH, 0, 1e6 / 7500 - 1e6 / 5300);
    add_goal(&want, PC_GOAL_HERO_LEVEL, 0, -0.5);
    solve(&r, &want, &answer);
    near(answer.dials.kelvin_K[0], 6500, 1);
    near(answer.value[0], 1e6 / 6500 - 1e6 / 5300, 0.5);
    near(answer.miss[0], (1e6 / 6500 - 1e6 / 7500) * 0.05 / 8, 0.005);
    expect_binding(&answer, 0, PC_BINDING_KELVIN, 0);
    // 30 mired cooler is in reach, and by steps of 100 K.
    want.goal[0].value = -30;
    want.limit[0].step_K = 100;
    solve(&r, &want, &answer);
    near(answer.dials.kelvin_K[0], 6300, 0.01); // 1e6 / (1e6 / 5300 - 30) = 6302
    near(answer.place_mired[0], 1e6 / 6300 - 1e6 / 5300, 0.5);
    near(answer.place_ev[1], -0.5, 0.01);
}

static void the_same_again_gives_the_same(void **state)
{
    (void)state;
    rng = 7;
    for (int n = 0; n < 20; n++) {
        struct pc_reading r;
        struct pc_want want;
        struct pc_want_answer one, two;
        double solution[3];
        make_puzzle(&r, &want, solution);
        want.limit[n % 3].step_ratio = 0.1;
        memset(&one, 0, sizeof one);
        memset(&two, 1, sizeof two);
        solve(&r, &want, &one);
        solve(&r, &want, &two);
        assert_memory_equal(one.dials.dial_ratio, two.dials.dial_ratio, sizeof one.dials.dial_ratio);
        assert_memory_equal(one.miss, two.miss, sizeof one.miss);
        assert_memory_equal(one.binding, two.binding, sizeof one.binding);
    }
}

static void nonsense_is_refused(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_want want;
    struct pc_want_answer answer;
    struct pc_err err = {0};
    make_flagged_key(&r);
    pc_want_init(&r, &want);
    assert_int_equal(pc_want_solve(&r, &want, &answer, NULL), PC_MISUSE);
    add_goal(&want, PC_GOAL_PLACE_LEVEL, 7, 1);
    assert_int_equal(pc_want_solve(&r, &want, &answer, NULL), PC_MISUSE);
    want.goal[0] = (struct pc_goal){.kind = PC_GOAL_PLACE_WARMTH, .value = 10};
    assert_int_equal(pc_want_solve(&r, &want, &answer, NULL), PC_MISUSE);
    want.goal[0] = (struct pc_goal){.kind = PC_GOAL_HERO_LEVEL, .value = NAN};
    assert_int_equal(pc_want_solve(&r, &want, &answer, NULL), PC_MISUSE);
    want.goal[0].value = 1;
    want.limit[0].least_ratio = 0.8;
    want.limit[0].most_ratio = 0.6;
    assert_int_equal(pc_want_solve(&r, &want, &answer, &err), PC_MISUSE);
    assert_non_null(strstr(err.text, "leaves nothing"));
    pc_want_init(&r, &want);
    add_goal(&want, PC_GOAL_HERO_LEVEL, 0, 1);
    r.emitter[0].xyz[PC_PLACE_SURFACE][1] = NAN;
    assert_int_equal(pc_want_solve(&r, &want, &answer, NULL), PC_BAD_INPUT);
    make_reading(&r, 1, 2, (double[][4]){{3500, 0}, {0, 0}}, 0);
    assert_int_equal(pc_want_solve(&r, &want, &answer, NULL), PC_BAD_INPUT);
    make_flagged_key(&r);
    r.light[0].emitter_count = 2;
    assert_int_equal(pc_want_solve(&r, &want, &answer, NULL), PC_MISUSE);
}

// A place that no goal is about may be unread; and noise may leave a place a little less than nothing.
static void unread_places_do_not_matter(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_want want;
    struct pc_want_answer answer;
    make_reading(&r, 2, 3, (double[][4]){{900, -0.2, NAN}, {200, 800, 3}, {90, 60, 4}}, 0.4);
    pc_want_init(&r, &want);
    want.limit[0].step_ratio = want.limit[1].step_ratio = 0.01;
    add_goal(&want, PC_GOAL_HERO_LEVEL, 0, 0.5);
    add_goal(&want, PC_GOAL_SURFACE_UNDER, 0, 1.5);
    solve(&r, &want, &answer);
    near(answer.worst_miss, 0, 0.02);
    double hero = 900 * answer.dials.dial_ratio[0] + 200 * answer.dials.dial_ratio[1] + 90;
    near(log2(hero / (0.4 * 1100 + 90)), answer.value[0], 1e-9);
    assert_true(isnan(answer.place_ev[2]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_ambient_is_the_floor),
        cmocka_unit_test(one_light_by_hand),
        cmocka_unit_test(untouched_where_all_is_as_wanted),
        cmocka_unit_test(second_shadow_goes_under),
        cmocka_unit_test(binding_is_known_by_construction),
        cmocka_unit_test(goals_that_contradict),
        cmocka_unit_test(a_panel_ends_at_its_coolest),
        cmocka_unit_test(the_same_again_gives_the_same),
        cmocka_unit_test(nonsense_is_refused),
        cmocka_unit_test(unread_places_do_not_matter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
