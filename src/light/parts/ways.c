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
// More light than any lamp has: the lights go as high as the ratios let them.
static const double as_strong_as_may_be_ev = 20;

// Raises all the light at the hero without letting the two ratios go.
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
    for (int g = 0; g < strength; g++)
        search.hold[g] = fmax(miss[g], given_up_ev);
    pc_want_search_run(&search);
    *point = search.best;
    problem->goal_count--;
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
    int light;
    enum pc_binding binding = pc_want_binding(arena, reading, want, problem, point, goal, &light);
    size_t n = sizeof answer->why_not;
    int used =
        value <= -PC_WANT_MISS_MAX_EV / 2
            ? snprintf(answer->why_not, n, "No light reaches the hero. ")
            : snprintf(answer->why_not, n, "The %s gets %.1f stops %s, not %.1f. ", goal ? "key" : "surface",
                       value, goal ? "over the rest" : "under the hero", wanted);
    char *rest = answer->why_not + used;
    n -= (size_t)used;
    if (binding == PC_BINDING_AMBIENT && value < wanted)
        snprintf(rest, n, "The window is too bright for more: draw a blind, or use flash.");
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
    want.goal[0] = (struct pc_goal){.kind = PC_GOAL_SURFACE_UNDER, .value = way->surface_under_ev};
    want.goal[1] = (struct pc_goal){.kind = PC_GOAL_KEY_OVER, .value = way->key_over_rest_ev};
    PC_TRY(pc_want_check(reading, &want, err));
    struct pc_arena *arena = pc_arena_create();
    if (!arena)
        return pc_fail(err, PC_NO_MEMORY, NULL, "There is no memory left to work in.");
    struct pc_want_problem *problem = PC_NEW(arena, struct pc_want_problem);
    pc_want_problem_init(arena, reading, &want, NULL, problem);
    struct pc_want_point point;
    pc_want_solve_problem(arena, problem, &point);
    strengthen(arena, problem, &point);
    *answer = (struct pc_way_answer){.surface_under_ev = pc_want_value(problem, &point, 0),
                                     .key_over_rest_ev = pc_want_value(problem, &point, 1)};
    pc_want_dials_from_point(problem, &want, &point, &answer->dials);
    double xyz[3], miss[PC_WANT_GOALS_MAX];
    pc_want_xyz(problem, &point, PC_PLACE_HERO, xyz);
    answer->exposure_ev =
        xyz[1] > 0 ? way->hero_level_ev + pc_ev_from_ratio(mid_grey_ratio / xyz[1]) : (double)NAN;
    answer->reached = pc_want_misses(problem, &point, miss) <= reached_ev;
    if (!answer->reached)
        say_why_not(arena, &want, problem, &point, miss[1] > miss[0], answer);
    pc_arena_destroy(arena);
    return PC_OK;
}
