// SPDX-License-Identifier: Apache-2.0
// The limit that stands in the way of a goal, by name: each limit is lifted alone, the goal is brought as
// near as it then goes with no other goal worse than it was, and the limit whose lifting helps most is named.
#include "light/parts/want_priv.h"

// Lifting a limit must bring a goal nearer by this much to be named, and by a tenth of the miss: less is the
// steps of other dials falling luckily.
static const double least_help_ev = 0.03, least_help_ratio = 0.1;
// Limits that help alike within this are named in the order of how easily they are lifted.
static const double alike_ev = 0.02;

struct lifting {
    struct pc_want_relax relax;
    enum pc_binding binding;
};

// In the order of how easily a photographer lifts them: let a light be changed, turn it lower or higher than
// said, turn its colour, set it between steps, draw a blind, hire a stronger lamp, wait for more daylight.
static int list_liftings(const struct pc_reading *reading, const struct pc_want *want, struct lifting *list)
{
    static const struct {
        int relax;
        enum pc_binding binding;
    } order[] = {
        {PC_RELAX_FIXED, PC_BINDING_FIXED}, {PC_RELAX_LEAST, PC_BINDING_LEAST},
        {PC_RELAX_MOST, PC_BINDING_MOST},   {PC_RELAX_KELVIN, PC_BINDING_KELVIN},
        {PC_RELAX_STEP, PC_BINDING_STEP},   {PC_RELAX_AMBIENT_LESS, PC_BINDING_AMBIENT},
        {PC_RELAX_MOST, PC_BINDING_MOST},   {PC_RELAX_AMBIENT_MORE, PC_BINDING_AMBIENT},
    };
    int n = 0;
    bool caps_seen = false;
    for (size_t k = 0; k < PC_COUNT(order); k++) {
        int what = order[k].relax;
        if (what == PC_RELAX_AMBIENT_LESS || what == PC_RELAX_AMBIENT_MORE) {
            list[n++] = (struct lifting){{what, -1}, order[k].binding};
            continue;
        }
        for (int i = 0; i < reading->light_count; i++) {
            const struct pc_limit *l = &want->limit[i];
            bool two = reading->light[i].emitter_count == 2;
            bool has = l->may_change != (what == PC_RELAX_FIXED);
            if (what == PC_RELAX_MOST)
                has =
                    has && (l->most_ratio >= 1) == caps_seen; // full power comes after the caps that were set
            if (what == PC_RELAX_LEAST)
                has = has && l->least_ratio > 0;
            if (what == PC_RELAX_KELVIN)
                has = has && two;
            if (what == PC_RELAX_STEP)
                has = has && (l->step_ratio > 0 || (two && l->step_K > 0));
            if (has)
                list[n++] = (struct lifting){{what, i}, order[k].binding};
        }
        caps_seen = caps_seen || what == PC_RELAX_MOST;
    }
    return n;
}

static void aim(struct pc_lp *lp, const struct pc_want_problem *problem, const struct pc_want_point *from,
                int goal, struct pc_want_search *search)
{
    double miss[PC_WANT_GOALS_MAX];
    pc_want_search_init(lp, problem, search);
    search->best = *from;
    search->only = goal;
    search->node_cap = 600;
    search->least_gain = fmax(search->least_gain, alike_ev);
    pc_want_misses(problem, from, miss);
    for (int g = 0; g < problem->goal_count; g++)
        search->hold[g] = fmax(miss[g], PC_WANT_MET_EV);
}

enum pc_binding pc_want_binding(struct pc_arena *arena, const struct pc_reading *reading,
                                const struct pc_want *want, const struct pc_want_problem *problem,
                                const struct pc_want_point *point, int goal, int *light)
{
    struct pc_want_search search;
    struct pc_lp *lp = PC_NEW(arena, struct pc_lp);
    aim(lp, problem, point, goal, &search);
    pc_want_search_run(&search);
    double miss = search.score;
    struct lifting list[6 * PC_LIGHTS_MAX + 2];
    int count = list_liftings(reading, want, list);
    enum pc_binding found = PC_BINDING_GOALS;
    double help = fmax(least_help_ev, least_help_ratio * miss);
    *light = -1;
    struct pc_want_problem *lifted = PC_NEW(arena, struct pc_want_problem);
    for (int k = 0; k < count; k++) {
        pc_want_problem_relax(arena, want, problem, list[k].relax, lifted);
        aim(lp, lifted, point, goal, &search);
        search.enough = miss - help - (found == PC_BINDING_GOALS ? 0 : alike_ev);
        pc_want_search_run(&search);
        double by = miss - search.score;
        if (by >= help + (found == PC_BINDING_GOALS ? 0 : alike_ev)) {
            found = list[k].binding;
            *light = list[k].relax.light;
            help = by;
        }
    }
    return found;
}

void pc_want_binding_words(const struct pc_reading *reading, const struct pc_want *want,
                           enum pc_binding binding, int light, char *out, size_t size)
{
    // What is no light's own limit has no light.
    const char *name = reading->light[light >= 0 ? light : 0].name;
    const struct pc_limit *limit = &want->limit[light >= 0 ? light : 0];
    out[0] = 0;
    switch (binding) {
    case PC_BINDING_NONE:
        break;
    case PC_BINDING_MOST:
        if (limit->most_ratio < 1)
            snprintf(out, size, "%s is at its cap of %.3g %%.", name, 100 * limit->most_ratio);
        else
            snprintf(out, size, "%s is too weak even at full: bring it nearer or use a stronger one.", name);
        break;
    case PC_BINDING_LEAST:
        snprintf(out, size, "%s may not go below %.3g %%.", name, 100 * limit->least_ratio);
        break;
    case PC_BINDING_FIXED:
        snprintf(out, size, "%s may not be changed from %.3g %%.", name,
                 100 * reading->light[light].dial_ratio);
        break;
    case PC_BINDING_STEP:
        snprintf(out, size, "The dial steps of %s are too coarse.", name);
        break;
    case PC_BINDING_KELVIN:
        snprintf(out, size, "%s is at the end of its kelvin range.", name);
        break;
    case PC_BINDING_AMBIENT:
        snprintf(out, size, "The ambient stands in the way, and no dial changes it.");
        break;
    case PC_BINDING_GOALS:
        snprintf(out, size, "The goals contradict each other: no single limit stands in the way.");
        break;
    }
}

void pc_want_binding_text(const struct pc_reading *reading, const struct pc_want *want,
                          const struct pc_want_answer *answer, int goal, char *out, size_t size)
{
    pc_want_binding_words(reading, want, answer->binding[goal], answer->binding_light[goal], out, size);
}
