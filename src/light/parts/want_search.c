// SPDX-License-Identifier: Apache-2.0
// The least worst miss, exactly: branch and bound over the dials' steps. A part of the space is left as soon
// as no setting in it, steps aside, could be better than the best one known.
#include "light/parts/want_priv.h"

static const double on_step = 1e-9; // how near to a step counts as on it

int pc_want_nearest(const double *sorted, int count, double x)
{
    int lo = 0, hi = count - 1;
    while (hi - lo > 1) {
        int mid = (lo + hi) / 2;
        if (sorted[mid] <= x)
            lo = mid;
        else
            hi = mid;
    }
    return fabs(sorted[hi] - x) < fabs(sorted[lo] - x) ? hi : lo;
}

void pc_want_round(const struct pc_want_problem *problem, struct pc_want_point *point)
{
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        if (d->level_count)
            point->amount[i] = d->level[pc_want_nearest(d->level, d->level_count, point->amount[i])];
        else
            point->amount[i] = fmin(fmax(point->amount[i], d->least), d->most);
        if (!d->two)
            continue;
        if (d->share_count)
            point->share[i] = d->share[pc_want_nearest(d->share, d->share_count, point->share[i])];
        else
            point->share[i] = fmin(fmax(point->share[i], d->share_least), d->share_most);
    }
}

double pc_want_search_score(const struct pc_want_search *search, const struct pc_want_point *point)
{
    double miss[PC_WANT_GOALS_MAX];
    double worst = pc_want_misses(search->problem, point, miss);
    if (search->only < 0)
        return worst;
    double broken = 0;
    for (int g = 0; g < search->problem->goal_count; g++) {
        if (g != search->only)
            broken = fmax(broken, miss[g] - search->hold[g]);
    }
    return broken > 1e-6 ? 2 * PC_WANT_MISS_MAX_EV + broken : miss[search->only];
}

static bool meets(struct pc_want_search *search, const struct pc_want_box *box, double score,
                  struct pc_want_point *point)
{
    double tolerance_ev[PC_WANT_GOALS_MAX];
    for (int g = 0; g < search->problem->goal_count; g++)
        tolerance_ev[g] = search->only < 0 || search->only == g ? score : search->hold[g];
    return pc_want_box_meets(search->problem, box, tolerance_ev, search->lp, point);
}

static bool offer(struct pc_want_search *search, const struct pc_want_point *point)
{
    double score = pc_want_search_score(search, point);
    if (!(score < search->score))
        return false;
    search->score = score;
    search->best = *point;
    return true;
}

// One step of one dial or share to a side; false when there is none.
static bool step(const struct pc_want_dial *d, int index, bool share, int by, struct pc_want_point *point)
{
    const double *sorted = share ? d->share : d->level;
    int count = share ? d->share_count : d->level_count;
    double *x = share ? &point->share[index] : &point->amount[index];
    if (count < 2 || (share && !d->two))
        return false;
    int to = pc_want_nearest(sorted, count, *x) + by;
    if (to < 0 || to >= count)
        return false;
    *x = sorted[to];
    return true;
}

// Downhill from a point by single steps, then by exchanges between two dials, while it helps.
static void descend(struct pc_want_search *search, struct pc_want_point point)
{
    const struct pc_want_problem *p = search->problem;
    double score = pc_want_search_score(search, &point);
    int moves = 2 * p->dial_count;
    for (int pass = 0; pass < 12; pass++) {
        struct pc_want_point better = point;
        double better_score = score;
        for (int a = 0; a < 2 * moves; a++) {
            struct pc_want_point one = point;
            if (!step(&p->dial[a / 4], a / 4, a & 2, a & 1 ? 1 : -1, &one))
                continue;
            for (int b = a | 3; b < 2 * moves; b++) {
                struct pc_want_point two = one;
                if (b > (a | 3) && !step(&p->dial[b / 4], b / 4, b & 2, b & 1 ? 1 : -1, &two))
                    continue;
                double s = pc_want_search_score(search, &two);
                if (s < better_score - 1e-12) {
                    better_score = s;
                    better = two;
                }
            }
        }
        if (!(better_score < score))
            break;
        point = better;
        score = better_score;
    }
    offer(search, &point);
}

// How far a value is from the steps around it, as a share of the way between them; *below gets the lower one.
static double off_steps(const double *sorted, int low, int high, double x, int *below)
{
    while (high - low > 1) {
        int mid = (low + high) / 2;
        if (sorted[mid] <= x)
            low = mid;
        else
            high = mid;
    }
    *below = low;
    if (high == low)
        return 0;
    return fmin(fabs(x - sorted[low]), fabs(sorted[high] - x));
}

// How far the box's rows leave a measured mixing open, against its drive.
static double mixing_bend(const struct pc_want_dial *d, int share_low, int share_high, double share)
{
    double under = 0, over = 0;
    if (d->kelvin)
        pc_want_box_bend(d, share_low, share_high, &under, &over);
    return (over - under) * pc_want_drive(d, share);
}

// The dial whose distance from its steps changes most light, against the most there could be at each place.
static void choose_dial(const struct pc_want_problem *p, const struct pc_want_box *box,
                        const struct pc_want_point *point, int *dial, bool *share, int *below)
{
    double most = on_step, full[PC_PLACES_MAX] = {0};
    for (int k = 0; k < p->reading->place_count; k++) {
        for (int i = 0; i < p->dial_count; i++)
            full[k] += p->dial[i].most * (p->dial[i].base[k][1] + fmax(p->dial[i].warm[k][1], 0));
    }
    for (int i = 0; i < p->dial_count; i++) {
        const struct pc_want_dial *d = &p->dial[i];
        double amount_worth = 0, share_worth = 0;
        for (int k = 0; k < p->reading->place_count; k++) {
            if (!(full[k] > 0)) // dark or not read: says nothing
                continue;
            amount_worth += fabs(pc_want_dial_Y(d, point, i, k)) / full[k];
            share_worth += point->amount[i] * (d->base[k][1] + fabs(d->warm[k][1])) / full[k];
        }
        amount_worth = point->amount[i] > 0 ? amount_worth / point->amount[i] : amount_worth;
        int at;
        if (d->level_count && box->high[i] > box->low[i]) {
            double off = off_steps(d->level, box->low[i], box->high[i], point->amount[i], &at) * amount_worth;
            if (off > most) {
                most = off;
                *dial = i;
                *share = false;
                *below = at;
            }
        }
        if (d->two && d->share_count && box->share_high[i] > box->share_low[i]) {
            double off = off_steps(d->share, box->share_low[i], box->share_high[i], point->share[i], &at);
            off = fmax(off, mixing_bend(d, box->share_low[i], box->share_high[i], point->share[i])) *
                  share_worth;
            if (off > most) {
                most = off;
                *dial = i;
                *share = true;
                *below = at;
            }
        }
    }
}

static void explore(struct pc_want_search *search, const struct pc_want_box *box, struct pc_want_point point);

// Each light in turn as the leader of a goal that needs one. True when that is what is open here.
static bool branch_on_leader(struct pc_want_search *search, const struct pc_want_box *box,
                             const struct pc_want_point *point, double within_ev)
{
    const struct pc_want_problem *p = search->problem;
    for (int g = 0; g < p->goal_count; g++) {
        bool shadow = p->goal[g].kind == PC_GOAL_SECOND_SHADOW;
        int place = pc_want_leader_place(p->goal[g].kind);
        if (place < 0 || (shadow ? box->shadow_leader : box->key_leader) >= 0)
            continue;
        double tolerance_ev = search->only < 0 || search->only == g ? within_ev : search->hold[g];
        if (fabs(pc_want_residual(p, g, pc_want_value(p, point, g))) <= tolerance_ev + 1e-9)
            continue;
        // The strongest first, so that the best is found early.
        bool done[PC_WANT_DIALS_MAX] = {0};
        for (int k = 0; k < p->dial_count; k++) {
            int next = -1;
            double most = -1;
            for (int i = 0; i < p->dial_count; i++) {
                double Y = pc_want_dial_Y(&p->dial[i], point, i, place);
                if (!done[i] && p->dial[i].light >= 0 && Y > most) {
                    most = Y;
                    next = i;
                }
            }
            if (next < 0)
                break;
            done[next] = true;
            struct pc_want_box child = *box;
            if (shadow)
                child.shadow_leader = (signed char)next;
            else
                child.key_leader = (signed char)next;
            explore(search, &child, *point);
        }
        return true;
    }
    return false;
}

// Halves the way down to the bound a few times: a better point to round from than any that will do.
static void aim_lower(struct pc_want_search *search, const struct pc_want_box *box, double high,
                      struct pc_want_point *point)
{
    double low = search->bound;
    struct pc_want_point at = *point;
    for (int k = 0; k < search->aims && high - low > search->least_gain; k++) {
        double t = (low + high) / 2;
        if (meets(search, box, t, &at)) {
            high = t;
            *point = at;
        } else {
            low = t;
        }
    }
}

static void explore(struct pc_want_search *search, const struct pc_want_box *box, struct pc_want_point point)
{
    double goal;
    do {
        goal = search->score - search->least_gain;
        if (search->enough > 0)
            goal = fmin(goal, search->enough);
        if (goal < 0 || search->nodes >= search->node_cap)
            return;
        search->nodes++;
        if (!meets(search, box, goal, &point))
            return;
        aim_lower(search, box, goal, &point);
        struct pc_want_point rounded = point;
        pc_want_round(search->problem, &rounded);
        double score = pc_want_search_score(search, &rounded);
        if (search->only < 0 && score < search->score + 0.1 && search->nodes % 8 == 1)
            descend(search, rounded);
        offer(search, &rounded);
    } while (search->score - search->least_gain < goal);
    if (branch_on_leader(search, box, &point, goal))
        return;
    int dial = -1, below = 0;
    bool share = false;
    choose_dial(search->problem, box, &point, &dial, &share, &below);
    if (dial < 0)
        return;
    struct pc_want_box under = *box, over = *box;
    if (share) {
        under.share_high[dial] = (short)below;
        over.share_low[dial] = (short)(below + 1);
    } else {
        under.high[dial] = (short)below;
        over.low[dial] = (short)(below + 1);
    }
    const double *sorted = share ? search->problem->dial[dial].share : search->problem->dial[dial].level;
    double x = share ? point.share[dial] : point.amount[dial];
    bool over_first = sorted[below + 1] - x < x - sorted[below];
    explore(search, over_first ? &over : &under, point);
    explore(search, over_first ? &under : &over, point);
}

// The least score that the whole space could have, steps aside, and a point near it.
static void bound_all(struct pc_want_search *search, struct pc_want_point *point)
{
    struct pc_want_box box;
    pc_want_box_all(search->problem, &box);
    double low = 0, high = fmin(search->score, PC_WANT_MISS_MAX_EV);
    struct pc_want_point at = *point;
    for (int i = 0; i < 40 && high - low > 5e-4; i++) {
        double t = i == 0 ? 0 : (low + high) / 2;
        if (meets(search, &box, t, &at)) {
            high = t;
            *point = at;
        } else {
            low = t;
        }
    }
    search->bound = low;
}

void pc_want_search_run(struct pc_want_search *search)
{
    search->nodes = 0;
    search->score = pc_want_search_score(search, &search->best);
    struct pc_want_point point = search->best, rounded = point;
    struct pc_want_box box;
    pc_want_box_all(search->problem, &box);
    if (search->enough > 0 && !meets(search, &box, search->enough, &rounded))
        return;
    bound_all(search, &point);
    rounded = point;
    pc_want_round(search->problem, &rounded);
    if (search->only < 0)
        descend(search, rounded);
    else
        offer(search, &rounded);
    if (search->score - search->bound <= search->least_gain)
        return;
    if (search->only < 0) {
        rounded = search->best;
        pc_want_least_squares(search->problem, &rounded);
        pc_want_round(search->problem, &rounded);
        descend(search, rounded);
    }
    explore(search, &box, point);
}
