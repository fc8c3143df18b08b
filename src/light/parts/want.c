// SPDX-License-Identifier: Apache-2.0
#include "light/parts/want.h"

#include "base/units.h"
#include "light/parts/reading_priv.h"
#include "light/parts/want_priv.h"

// Steps finer than this count as none.
static const double least_step_ratio = 1.0 / 2048;
static const double least_step_K = 1;
// A measured mixing is tabulated: this fine where the kelvin has no steps, in warm share where it goes past
// its ends.
static const double mixing_step_mired = 2, mixing_step_share = 1.0 / 64;
// A light that could be replaced by a stronger one: how much stronger is worth asking about.
static const double replaced_by = 4;
// How far past its two ends a kelvin range is stretched to see whether that would help, in warm share.
static const double past_ends_share = 0.5;
// How much worse than the best found the worst miss may be for the sake of the other goals.
static const double equal_ev = 0.004;
enum { STEPS_MAX = 2200 };

void pc_want_init(const struct pc_reading *reading, struct pc_want *want)
{
    *want = (struct pc_want){.goal_count = 0};
    for (int i = 0; i < reading->light_count; i++)
        want->limit[i] =
            (struct pc_limit){.may_change = true, .most_ratio = 1, .least_K = NAN, .most_K = NAN};
}

static enum pc_status check_limit(const struct pc_reading_light *light, const struct pc_limit *l,
                                  struct pc_err *err)
{
    if (!l->may_change)
        return PC_OK;
    if (!(l->least_ratio >= 0) || !(l->most_ratio <= 1) || !(l->least_ratio <= l->most_ratio))
        return pc_fail(
            err, PC_MISUSE, light->name,
            "%s may be set from %.3g %% to %.3g %%, which leaves nothing; give a lowest and a highest dial "
            "between 0 and 100 %%, the lowest first.",
            light->name, 100 * l->least_ratio, 100 * l->most_ratio);
    if (light->emitter_count == 2 && (l->least_K <= 0 || l->most_K <= 0 || l->least_K > l->most_K))
        return pc_fail(
            err, PC_MISUSE, light->name,
            "%s may be set from %.0f K to %.0f K, which leaves nothing; give the lower number first.",
            light->name, l->least_K, l->most_K);
    if (!(l->step_ratio >= 0) || !(l->step_K >= 0))
        return pc_fail(err, PC_MISUSE, light->name, "The dial step of %s is below nothing.", light->name);
    return PC_OK;
}

static bool has_place(const struct pc_goal *goal)
{
    return goal->kind == PC_GOAL_PLACE_LEVEL || goal->kind == PC_GOAL_PLACE_WARMTH;
}

static bool place_is_read(const struct pc_reading *reading, int place)
{
    bool read = isfinite(reading->reflect_ev[place]);
    for (int k = 0; k < 3; k++) {
        read = read && isfinite(reading->ambient_xyz[place][k]);
        for (int e = 0; e < reading->emitter_count; e++)
            read = read && isfinite(reading->emitter[e].xyz[place][k]);
    }
    return read;
}

static enum pc_status check_places(const struct pc_reading *reading, const struct pc_want *want,
                                   struct pc_err *err)
{
    bool asked[PC_PLACES_MAX] = {[PC_PLACE_HERO] = true, [PC_PLACE_SURFACE] = true};
    for (int g = 0; g < want->goal_count; g++) {
        if (has_place(&want->goal[g]))
            asked[want->goal[g].place] = true;
    }
    for (int p = 0; p < reading->place_count; p++) {
        if (asked[p] && !place_is_read(reading, p))
            return pc_fail(
                err, PC_BAD_INPUT, reading->place[p].name,
                "The light at %s could not be read in every frame (clipped, or off the picture); choose "
                "another spot for it.",
                reading->place[p].name);
    }
    return PC_OK;
}

static enum pc_status check_ends(const struct pc_reading *reading, int light, struct pc_err *err)
{
    double warm_K, cool_K;
    if (reading->light[light].emitter_count < 2)
        return PC_OK;
    pc_reading_ends(reading, light, &warm_K, &cool_K);
    if (warm_K > 0 && cool_K > warm_K)
        return PC_OK;
    return pc_fail(err, PC_MISUSE, reading->light[light].name,
                   "%s has a warm and a cool frame; say how many kelvin each was, the warm one lower.",
                   reading->light[light].name);
}

enum pc_status pc_want_check(const struct pc_reading *reading, const struct pc_want *want, struct pc_err *err)
{
    if (want->goal_count < 1 || want->goal_count > PC_GOALS_MAX)
        return pc_fail(err, PC_MISUSE, NULL, "Nothing is wanted: give at least one goal and at most %d.",
                       PC_GOALS_MAX);
    for (int g = 0; g < want->goal_count; g++) {
        const struct pc_goal *goal = &want->goal[g];
        if (has_place(goal) && (goal->place < 0 || goal->place >= reading->place_count))
            return pc_fail(err, PC_MISUSE, NULL,
                           "Goal %d is about a place that was not read; name its place first.", g + 1);
        if (!isfinite(goal->value))
            return pc_fail(err, PC_MISUSE, NULL, "Goal %d is not a number.", g + 1);
        if (goal->kind == PC_GOAL_PLACE_WARMTH && !reading->has_colour)
            return pc_fail(
                err, PC_MISUSE, NULL,
                "Goal %d wants a place warmer or cooler, and these frames do not tell colour: the camera's "
                "colour matrix is not known. Leave that goal out, or lay a colour chart in one frame.",
                g + 1);
    }
    for (int i = 0; i < reading->light_count; i++) {
        PC_TRY(check_limit(&reading->light[i], &want->limit[i], err));
        PC_TRY(check_ends(reading, i, err));
    }
    return check_places(reading, want, err);
}

// Steps as the photographer reads them, with what each gives, ascending in the latter.
struct steps {
    int count;
    double gives[STEPS_MAX], reads[STEPS_MAX];
};

static void add_step(struct steps *steps, double gives, double reads)
{
    if (steps->count && gives <= steps->gives[steps->count - 1] + 1e-12)
        return;
    PC_ASSERT(steps->count < STEPS_MAX);
    steps->gives[steps->count] = gives;
    steps->reads[steps->count++] = reads;
}

static const double *copy(struct pc_arena *arena, const double *list, int count)
{
    double *kept = pc_arena_alloc(arena, (size_t)count, sizeof *kept);
    memcpy(kept, list, (size_t)count * sizeof *kept);
    return kept;
}

static void lay_amounts(struct pc_arena *arena, const struct pc_reading_light *light,
                        const struct pc_limit *limit, int relaxed, struct pc_want_dial *d)
{
    double least = relaxed == PC_RELAX_LEAST ? 0 : limit->least_ratio, most = limit->most_ratio;
    d->least = pc_curve_light(&light->curve, least);
    d->most = pc_curve_light(&light->curve, most);
    if (limit->step_ratio >= least_step_ratio && relaxed != PC_RELAX_STEP) {
        struct steps steps;
        steps.count = 0;
        add_step(&steps, d->least, least);
        for (int k = (int)floor(least / limit->step_ratio); k * limit->step_ratio < most; k++) {
            double dial = k * limit->step_ratio;
            if (dial > least)
                add_step(&steps, pc_curve_light(&light->curve, dial), dial);
        }
        add_step(&steps, d->most, most);
        // Past the cap there is no dial to have steps: a twenty-fourth of a stop will do.
        for (int k = 1; relaxed == PC_RELAX_MOST && k <= 48; k++)
            add_step(&steps, d->most * pc_ratio_from_ev(k / 24.0), most);
        d->level_count = steps.count;
        d->level = copy(arena, steps.gives, steps.count);
        d->level_dial = copy(arena, steps.reads, steps.count);
    }
    if (relaxed == PC_RELAX_MOST)
        d->most *= replaced_by;
}

static void keep_shares(struct pc_arena *arena, const struct steps *steps, struct pc_want_dial *d)
{
    d->share_fine = false;
    d->share_count = steps->count;
    d->share = copy(arena, steps->gives, steps->count);
    d->share_K = copy(arena, steps->reads, steps->count);
}

// A measured mixing where the kelvin has no steps: so finely that none are felt, the kelvin as captured among
// them.
static void lay_mixing(struct pc_arena *arena, const struct pc_reading *reading, int light, double least_K,
                       double most_K, struct pc_want_dial *d)
{
    struct steps steps;
    steps.count = 0;
    double now_K = reading->light[light].kelvin_K, last_K = most_K;
    double most_mired = pc_mired_from_K(least_K);
    add_step(&steps, d->share_least, most_K);
    for (double mired = pc_mired_from_K(most_K) + mixing_step_mired; mired < most_mired;
         mired += mixing_step_mired) {
        double K = pc_K_from_mired(mired);
        if (now_K < last_K && now_K > K)
            add_step(&steps, d->now_share, now_K);
        add_step(&steps, pc_reading_warm_share(reading, light, K), K);
        last_K = K;
    }
    add_step(&steps, d->share_most, least_K);
    keep_shares(arena, &steps, d);
    d->share_fine = true;
}

static void lay_past_ends(struct pc_arena *arena, struct pc_want_dial *d)
{
    struct steps steps;
    steps.count = 0;
    for (double share = d->share_least; share <= d->share_most; share += mixing_step_share)
        add_step(&steps, share, NAN);
    keep_shares(arena, &steps, d);
    d->share_fine = true;
}

static void lay_shares(struct pc_arena *arena, const struct pc_reading *reading, int light,
                       const struct pc_limit *limit, int relaxed, struct pc_want_dial *d)
{
    double warm_K, cool_K;
    pc_reading_ends(reading, light, &warm_K, &cool_K);
    double least_K = isnan(limit->least_K) ? warm_K : fmin(fmax(limit->least_K, warm_K), cool_K);
    double most_K = isnan(limit->most_K) ? cool_K : fmin(fmax(limit->most_K, warm_K), cool_K);
    if (relaxed == PC_RELAX_KELVIN) {
        d->share_least = -past_ends_share;
        d->share_most = 1 + past_ends_share;
        if (d->kelvin)
            lay_past_ends(arena, d);
        return;
    }
    d->share_least = pc_reading_warm_share(reading, light, most_K);
    d->share_most = pc_reading_warm_share(reading, light, least_K);
    if (limit->step_K < least_step_K || relaxed == PC_RELAX_STEP) {
        if (d->kelvin)
            lay_mixing(arena, reading, light, least_K, most_K, d);
        return;
    }
    struct steps steps;
    steps.count = 0;
    double step_K = fmax(limit->step_K, (most_K - least_K) / 1000);
    add_step(&steps, d->share_least, most_K);
    for (int k = (int)floor(most_K / step_K); k * step_K > least_K; k--) {
        if (k * step_K < most_K)
            add_step(&steps, pc_reading_warm_share(reading, light, k * step_K), k * step_K);
    }
    add_step(&steps, d->share_most, least_K);
    keep_shares(arena, &steps, d);
}

static void lay_dial(struct pc_arena *arena, const struct pc_reading *reading, const struct pc_want *want,
                     int light, int relaxed, struct pc_want_dial *d)
{
    const struct pc_reading_light *l = &reading->light[light];
    const struct pc_limit *limit = &want->limit[light];
    *d = (struct pc_want_dial){.light = light, .two = l->emitter_count == 2};
    d->kelvin = d->two && l->kelvin.points > 0 ? &l->kelvin : NULL;
    for (int p = 0; p < reading->place_count; p++) {
        for (int k = 0; k < 3; k++) {
            d->base[p][k] = reading->emitter[l->emitter[d->two ? 1 : 0]].xyz[p][k];
            d->warm[p][k] = d->two ? reading->emitter[l->emitter[0]].xyz[p][k] - d->base[p][k] : 0;
        }
    }
    d->now_amount = pc_curve_light(&l->curve, l->dial_ratio);
    d->now_share = d->two ? pc_reading_warm_share(reading, light, l->kelvin_K) : 0;
    if (limit->may_change || relaxed == PC_RELAX_FIXED) {
        lay_amounts(arena, l, limit, relaxed, d);
        if (d->two)
            lay_shares(arena, reading, light, limit, relaxed, d);
        return;
    }
    d->least = d->most = d->now_amount;
    d->share_least = d->share_most = d->now_share;
    d->level = copy(arena, &d->now_amount, 1);
    d->level_dial = copy(arena, &l->dial_ratio, 1);
    d->share = copy(arena, &d->now_share, 1);
    d->share_K = copy(arena, &l->kelvin_K, 1);
    d->level_count = d->share_count = 1;
}

static void lay_ambient(const struct pc_reading *reading, struct pc_want_dial *d)
{
    *d = (struct pc_want_dial){.light = -1, .least = 1, .most = 1, .now_amount = 1};
    for (int p = 0; p < reading->place_count; p++)
        memcpy(d->base[p], reading->ambient_xyz[p], sizeof d->base[p]);
}

void pc_want_problem_init(struct pc_arena *arena, const struct pc_reading *reading,
                          const struct pc_want *want, const struct pc_warmth *warmth,
                          struct pc_want_problem *problem)
{
    *problem = (struct pc_want_problem){.reading = reading, .warmth = warmth, .goal_count = want->goal_count};
    memcpy(problem->goal, want->goal, (size_t)want->goal_count * sizeof *want->goal);
    struct pc_want_point now = {0};
    for (int i = 0; i < reading->light_count; i++) {
        struct pc_want_dial *d = &problem->dial[problem->dial_count];
        lay_dial(arena, reading, want, i, PC_RELAX_NONE, d);
        now.amount[problem->dial_count] = d->now_amount;
        now.share[problem->dial_count++] = d->now_share;
    }
    lay_ambient(reading, &problem->dial[problem->dial_count]);
    now.amount[problem->dial_count++] = 1;
    for (int p = 0; p < reading->place_count; p++) {
        pc_want_xyz(problem, &now, p, problem->now_xyz[p]);
        problem->now_mired[p] = warmth ? pc_warmth_mired(warmth, problem->now_xyz[p]) : (double)NAN;
    }
}

void pc_want_problem_relax(struct pc_arena *arena, const struct pc_want *want,
                           const struct pc_want_problem *problem, struct pc_want_relax relax,
                           struct pc_want_problem *relaxed)
{
    *relaxed = *problem;
    for (int i = 0; i < problem->dial_count; i++) {
        struct pc_want_dial *d = &relaxed->dial[i];
        if (d->light != relax.light)
            continue;
        if (relax.what == PC_RELAX_AMBIENT_LESS)
            d->least = 0;
        else if (relax.what == PC_RELAX_AMBIENT_MORE)
            d->most = replaced_by;
        else if (relax.what == PC_RELAX_MOST || relax.what == PC_RELAX_LEAST)
            lay_amounts(arena, &problem->reading->light[d->light], &want->limit[d->light], relax.what, d);
        else
            lay_dial(arena, problem->reading, want, d->light, relax.what, d);
    }
}

static bool has_steps(const struct pc_want_problem *problem)
{
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        if (d->level_count > 1 || (d->share_count > 1 && !d->share_fine))
            return true;
    }
    return false;
}

void pc_want_search_init(struct pc_lp *lp, const struct pc_want_problem *problem,
                         struct pc_want_search *search)
{
    *search = (struct pc_want_search){.problem = problem, .only = -1, .node_cap = 4000};
    search->least_gain = has_steps(problem) ? 0.004 : 0.001;
    search->aims = has_steps(problem) ? 0 : 6;
    search->lp = lp;
    for (int i = 0; i < problem->dial_count; i++) {
        search->best.amount[i] = problem->dial[i].now_amount;
        search->best.share[i] = problem->dial[i].now_share;
    }
    pc_want_round(problem, &search->best);
}

static void polish_and_keep_better(const struct pc_want_problem *problem, double worst_ev,
                                   struct pc_want_point point, struct pc_want_point *best)
{
    if (pc_want_merit(problem, &point, worst_ev) >= PC_WANT_MERIT_OUT)
        return;
    pc_want_polish(problem, worst_ev, &point);
    if (pc_want_merit(problem, &point, worst_ev) < pc_want_merit(problem, best, worst_ev))
        *best = point;
}

void pc_want_solve_problem(struct pc_arena *arena, const struct pc_want_problem *problem,
                           struct pc_want_point *best)
{
    struct pc_want_search search;
    pc_want_search_init(PC_NEW(arena, struct pc_lp), problem, &search);
    // The least change starts from now, so that is tried too.
    struct pc_want_point near = search.best;
    pc_want_least_squares(problem, &near);
    pc_want_round(problem, &near);
    pc_want_search_run(&search);
    double worst_ev = search.score + equal_ev;
    *best = search.best;
    polish_and_keep_better(problem, worst_ev, search.best, best);
    polish_and_keep_better(problem, worst_ev, near, best);
    // Where a goal is out of reach, single moves get stuck short of the others' best: each of them is sought
    // alone.
    double miss[PC_WANT_GOALS_MAX];
    pc_want_misses(problem, best, miss);
    for (int g = 0; g < problem->goal_count; g++) {
        if (miss[g] <= PC_WANT_MET_EV || problem->goal_count < 2)
            continue;
        search.best = *best;
        search.only = g;
        for (int h = 0; h < problem->goal_count; h++)
            search.hold[h] = worst_ev;
        pc_want_search_run(&search);
        polish_and_keep_better(problem, worst_ev, search.best, best);
    }
}

void pc_want_dials_from_point(const struct pc_want_problem *problem, const struct pc_want *want,
                              const struct pc_want_point *point, struct pc_dials *dials)
{
    pc_reading_dials_now(problem->reading, dials);
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        if (d->light < 0)
            continue;
        const struct pc_limit *limit = &want->limit[d->light];
        const struct pc_curve *curve = &problem->reading->light[d->light].curve;
        if (d->level_count)
            dials->dial_ratio[d->light] =
                d->level_dial[pc_want_nearest(d->level, d->level_count, point->amount[i])];
        else
            dials->dial_ratio[d->light] =
                fmin(fmax(pc_curve_dial(curve, point->amount[i]), limit->least_ratio), limit->most_ratio);
        if (!d->two)
            continue;
        if (d->share_count)
            dials->kelvin_K[d->light] =
                d->share_K[pc_want_nearest(d->share, d->share_count, point->share[i])];
        else
            dials->kelvin_K[d->light] = pc_reading_kelvin(problem->reading, d->light, point->share[i]);
    }
}

// A level is wanted against the level as captured, so there has to be one.
static enum pc_status check_lit(const struct pc_want_problem *problem, struct pc_err *err)
{
    for (int g = 0; g < problem->goal_count; g++) {
        const struct pc_goal *goal = &problem->goal[g];
        int place = has_place(goal) ? goal->place : PC_PLACE_HERO;
        if ((has_place(goal) || goal->kind == PC_GOAL_HERO_LEVEL) && !(problem->now_xyz[place][1] > 0))
            return pc_fail(
                err, PC_BAD_INPUT, problem->reading->place[place].name,
                "%s is in the dark at the dials as captured, so there is no level to go up or down from; "
                "light it first.",
                problem->reading->place[place].name);
    }
    return PC_OK;
}

static void fill_answer(struct pc_arena *arena, const struct pc_want *want,
                        const struct pc_want_problem *problem, const struct pc_want_point *point,
                        struct pc_want_answer *answer)
{
    *answer = (struct pc_want_answer){.worst_miss = 0};
    pc_want_dials_from_point(problem, want, point, &answer->dials);
    double miss[PC_WANT_GOALS_MAX];
    answer->worst_miss = pc_want_misses(problem, point, miss);
    for (int g = 0; g < want->goal_count; g++) {
        answer->value[g] = pc_want_value(problem, point, g);
        answer->miss[g] = miss[g];
        answer->binding_light[g] = -1;
        if (miss[g] > PC_WANT_MET_EV)
            answer->binding[g] =
                pc_want_binding(arena, problem->reading, want, problem, point, g, &answer->binding_light[g]);
    }
    for (int p = 0; p < problem->reading->place_count; p++) {
        double xyz[3];
        pc_want_xyz(problem, point, p, xyz);
        bool lit = xyz[1] > 0 && problem->now_xyz[p][1] > 0;
        answer->place_ev[p] = lit ? pc_ev_from_ratio(xyz[1] / problem->now_xyz[p][1]) : (double)NAN;
        answer->place_mired[p] =
            problem->warmth ? pc_warmth_mired(problem->warmth, xyz) - problem->now_mired[p] : (double)NAN;
    }
}

enum pc_status pc_want_solve(const struct pc_reading *reading, const struct pc_want *want,
                             struct pc_want_answer *answer, struct pc_err *err)
{
    PC_TRY(pc_want_check(reading, want, err));
    struct pc_arena *arena = pc_arena_create();
    if (!arena)
        return pc_fail(err, PC_NO_MEMORY, NULL, "There is no memory left to work in.");
    struct pc_warmth *warmth = NULL;
    if (reading->has_colour) {
        warmth = PC_NEW(arena, struct pc_warmth);
        pc_warmth_init(warmth);
    }
    struct pc_want_problem *problem = PC_NEW(arena, struct pc_want_problem);
    pc_want_problem_init(arena, reading, want, warmth, problem);
    enum pc_status status = check_lit(problem, err);
    if (status == PC_OK) {
        struct pc_want_point point;
        pc_want_solve_problem(arena, problem, &point);
        fill_answer(arena, want, problem, &point, answer);
    }
    pc_arena_destroy(arena);
    return status;
}
