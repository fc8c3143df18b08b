// SPDX-License-Identifier: Apache-2.0
#include "base/units.h"
#include "light/parts/want_priv.h"

// Reasons in docs/ways.md.
const struct pc_way pc_ways[3] = {
    {"airy", 1.0 / 3, 1.0, 1.5},
    {"middle", 1.0, 2.0, 2.0 / 3},
    {"dark", 3.0, 3.0, 1.0 / 3},
};

static const double reached_ev = 0.15;
// How far a stop may be given up (inside what counts as reached) so that the lights can be stronger.
static const double given_up_ev = 0.05;
static const double mid_grey_ratio = 0.18;
enum { SURFACE, KEY }; // the two goals, in their order
// More light than any lamp has: the lights go as high as the ratios let them.
static const double as_strong_as_may_be_ev = 20;
// So near to the most light there is.
static const double least_gain_ev = 1e-4;

// Raises all the light at the hero to the most there is without letting the two ratios go.
static void strengthen(struct pc_arena *arena, struct pc_want_problem *problem, struct pc_want_point *point)
{
    double miss[PC_WANT_GOALS_MAX];
    pc_want_misses(problem, point, miss);
    int strength = problem->goal_count++;
    problem->goal[strength] = (struct pc_goal){.kind = PC_GOAL_HERO_LEVEL, .value = as_strong_as_may_be_ev};
    struct pc_want_search search;
    pc_want_search_init(PC_NEW(arena, struct pc_lp), problem, &search);
    search.best = *point;
    search.only = strength;
    search.least_gain = least_gain_ev;
    for (int g = 0; g < strength; g++)
        search.hold[g] = fmax(miss[g], given_up_ev);
    pc_want_search_run(&search);
    *point = search.best;
    problem->goal_count--;
}

// Sets the point for one of the two goals alone; returns how far that is missed.
static double meet_alone(struct pc_arena *arena, const struct pc_want_problem *problem, int goal,
                         struct pc_want_point *point)
{
    struct pc_want_problem *alone = PC_NEW(arena, struct pc_want_problem);
    *alone = *problem;
    alone->goal[0] = problem->goal[goal];
    alone->goal_count = 1;
    pc_want_solve_problem(arena, alone, point);
    double miss[PC_WANT_GOALS_MAX];
    return pc_want_misses(alone, point, miss);
}

// Where the two cannot be had together: the surface as wanted, else the key as wanted, and the other as near
// as it goes. Where neither can be had, not even alone, the point stays.
static void take_sides(struct pc_arena *arena, const struct pc_want_problem *problem,
                       struct pc_want_point *point)
{
    for (int lead = SURFACE; lead <= KEY; lead++) {
        struct pc_want_search search;
        pc_want_search_init(PC_NEW(arena, struct pc_lp), problem, &search);
        double miss = meet_alone(arena, problem, lead, &search.best);
        if (miss > reached_ev)
            continue;
        search.only = SURFACE + KEY - lead;
        search.hold[lead] = fmax(miss, given_up_ev);
        pc_want_search_run(&search);
        *point = search.best;
        return;
    }
}

static int lights_at_hero(const struct pc_want_problem *problem)
{
    int n = 0;
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        n += d->light >= 0 && d->most * d->base[PC_PLACE_HERO][1] > 0;
    }
    return n;
}

static void say_why_not(struct pc_arena *arena, const struct pc_want *want,
                        const struct pc_want_problem *problem, const struct pc_want_point *point, int goal,
                        struct pc_way_answer *answer)
{
    const struct pc_reading *reading = problem->reading;
    double value = pc_want_value(problem, point, goal), wanted = problem->goal[goal].value;
    static const char *const name[] = {"surface", "key"};
    int light, other = SURFACE + KEY - goal;
    double miss[PC_WANT_GOALS_MAX];
    pc_want_misses(problem, point, miss);
    enum pc_binding binding = pc_want_binding(arena, reading, want, problem, point, goal, &light);
    size_t n = sizeof answer->why_not;
    int used = value <= -PC_WANT_MISS_MAX_EV / 2
                   ? snprintf(answer->why_not, n, "No light reaches the hero. ")
                   : snprintf(answer->why_not, n, "The %s gets %.1f stops %s, not %.1f. ", name[goal], value,
                              goal == KEY ? "over the rest" : "under the hero", wanted);
    char *rest = answer->why_not + used;
    n -= (size_t)used;
    if (binding == PC_BINDING_AMBIENT && value < wanted)
        snprintf(rest, n, "The window is too bright for more: draw a blind, or use flash.");
    else if (binding == PC_BINDING_GOALS && miss[other] <= reached_ev)
        snprintf(rest, n, "%s set for the %s, and cannot do both.",
                 lights_at_hero(problem) == 1 ? "There is only one light: its dial is" : "The dials are",
                 name[other]);
    else if (binding == PC_BINDING_GOALS && lights_at_hero(problem) == 1)
        snprintf(rest, n, "There is only one light, and its dial cannot change this.");
    else if (binding == PC_BINDING_GOALS)
        snprintf(rest, n, "Where the lights stand decides this, not their dials.");
    else
        pc_want_binding_words(reading, want, binding, light, rest, n);
}

enum pc_status pc_way_solve(const struct pc_reading *reading, const struct pc_want *limits,
                            const struct pc_way *way, struct pc_way_answer *answer, struct pc_err *err)
{
    struct pc_want want = *limits;
    // A way is about how much light falls where; no kelvin is turned for it.
    for (int i = 0; i < reading->light_count; i++)
        want.limit[i].least_K = want.limit[i].most_K = reading->light[i].kelvin_K;
    want.goal_count = 2;
    want.goal[SURFACE] = (struct pc_goal){.kind = PC_GOAL_SURFACE_UNDER, .value = way->surface_under_ev};
    want.goal[KEY] = (struct pc_goal){.kind = PC_GOAL_KEY_OVER, .value = way->key_over_rest_ev};
    PC_TRY(pc_want_check(reading, &want, err));
    struct pc_arena *arena = pc_arena_create();
    if (!arena)
        return pc_fail(err, PC_NO_MEMORY, NULL, "There is no memory left to work in.");
    struct pc_want_problem *problem = PC_NEW(arena, struct pc_want_problem);
    pc_want_problem_init(arena, reading, &want, NULL, problem);
    struct pc_want_point point;
    pc_want_solve_problem(arena, problem, &point);
    double miss[PC_WANT_GOALS_MAX];
    if (pc_want_misses(problem, &point, miss) > reached_ev)
        take_sides(arena, problem, &point);
    strengthen(arena, problem, &point);
    *answer = (struct pc_way_answer){.surface_under_ev = pc_want_value(problem, &point, SURFACE),
                                     .key_over_rest_ev = pc_want_value(problem, &point, KEY)};
    pc_want_dials_from_point(problem, &want, &point, &answer->dials);
    double xyz[3];
    pc_want_xyz(problem, &point, PC_PLACE_HERO, xyz);
    answer->exposure_ev =
        xyz[1] > 0 ? way->hero_level_ev + pc_ev_from_ratio(mid_grey_ratio / xyz[1]) : (double)NAN;
    answer->reached = pc_want_misses(problem, &point, miss) <= reached_ev;
    if (!answer->reached)
        say_why_not(arena, &want, problem, &point, miss[KEY] > miss[SURFACE] ? KEY : SURFACE, answer);
    pc_arena_destroy(arena);
    return PC_OK;
}
