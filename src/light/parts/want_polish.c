// SPDX-License-Identifier: Apache-2.0
// Among settings as good as each other in the worst miss: the better in all misses together, then the nearer
// to now.
#include "light/parts/want_priv.h"

#include "base/linalg.h"

enum { UNKNOWNS_MAX = 2 * PC_WANT_DIALS_MAX, POLISH_TRIES_MAX = 6000 };

// Half of full on one dial weighs as much as 0.005 EV of miss on one goal: misses smaller than anyone can see
// are given up for dials that stay where they are.
static const double change_weight = 1e-4;

struct unknowns {
    int count;
    int dial[UNKNOWNS_MAX];
    bool share[UNKNOWNS_MAX];
    double low[UNKNOWNS_MAX], high[UNKNOWNS_MAX];
};

static void list_unknowns(const struct pc_want_problem *problem, struct unknowns *u)
{
    u->count = 0;
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        for (int share = 0; share < 2; share++) {
            double low = share ? d->share_least : d->least, high = share ? d->share_most : d->most;
            if ((share && !d->two) || !(high > low))
                continue;
            u->dial[u->count] = i;
            u->share[u->count] = share;
            u->low[u->count] = low;
            u->high[u->count++] = high;
        }
    }
}

static double *at(struct pc_want_point *point, const struct unknowns *u, int j)
{
    return u->share[j] ? &point->share[u->dial[j]] : &point->amount[u->dial[j]];
}

static double now(const struct pc_want_problem *problem, const struct unknowns *u, int j)
{
    const struct pc_want_dial *d = &problem->dial[u->dial[j]];
    return u->share[j] ? d->now_share : d->now_amount;
}

static double change(const struct pc_want_problem *problem, const struct pc_want_point *point)
{
    double sum = 0;
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        double by = point->amount[i] - d->now_amount, turn = d->two ? point->share[i] - d->now_share : 0;
        sum += by * by + turn * turn;
    }
    return sum;
}

double pc_want_merit(const struct pc_want_problem *problem, const struct pc_want_point *point,
                     double worst_ev)
{
    double miss[PC_WANT_GOALS_MAX], sum = 0;
    double worst = pc_want_misses(problem, point, miss);
    if (worst > worst_ev + 1e-9)
        return PC_WANT_MERIT_OUT + worst;
    for (int g = 0; g < problem->goal_count; g++)
        sum += miss[g] * miss[g];
    return sum + change_weight * change(problem, point);
}

static double cost(const struct pc_want_problem *problem, const struct pc_want_point *point, double pull)
{
    double miss[PC_WANT_GOALS_MAX], sum = 0;
    pc_want_misses(problem, point, miss);
    for (int g = 0; g < problem->goal_count; g++)
        sum += miss[g] * miss[g];
    return sum + pull * change(problem, point);
}

// The step that least squares take from a point, with the unknowns in frozen left alone.
static bool newton_step(const struct pc_want_problem *problem, struct pc_want_point *point,
                        const struct unknowns *u, const bool *frozen, double pull, double step[UNKNOWNS_MAX])
{
    int n = 0, col[UNKNOWNS_MAX];
    for (int j = 0; j < u->count; j++) {
        step[j] = 0;
        if (!frozen[j])
            col[n++] = j;
    }
    if (n == 0)
        return false;
    int m = problem->goal_count + n;
    double a[(PC_WANT_GOALS_MAX + UNKNOWNS_MAX) * UNKNOWNS_MAX] = {0}, b[PC_WANT_GOALS_MAX + UNKNOWNS_MAX];
    double x[UNKNOWNS_MAX];
    for (int g = 0; g < problem->goal_count; g++)
        b[g] = -pc_want_residual(problem, g, pc_want_value(problem, point, g));
    for (int k = 0; k < n; k++) {
        int j = col[k];
        double *v = at(point, u, j), was = *v;
        double h = 1e-5 * (u->high[j] - u->low[j]) * (was > (u->low[j] + u->high[j]) / 2 ? -1 : 1);
        *v = was + h;
        for (int g = 0; g < problem->goal_count; g++)
            a[g * n + k] = (pc_want_residual(problem, g, pc_want_value(problem, point, g)) + b[g]) / h;
        *v = was;
        a[(problem->goal_count + k) * n + k] = sqrt(pull);
        b[problem->goal_count + k] = -sqrt(pull) * (was - now(problem, u, j));
    }
    if (!pc_linalg_least_squares(m, n, a, b, x))
        return false;
    for (int k = 0; k < n; k++)
        step[col[k]] = x[k];
    return true;
}

// One step, halved until it helps. False when nothing does.
static bool improve(const struct pc_want_problem *problem, const struct unknowns *u, double pull,
                    struct pc_want_point *point)
{
    bool frozen[UNKNOWNS_MAX] = {0};
    double step[UNKNOWNS_MAX];
    bool clear = false;
    for (int k = 0; k < 4 && !clear; k++) {
        if (!newton_step(problem, point, u, frozen, pull, step))
            return false;
        clear = true;
        for (int j = 0; j < u->count; j++) {
            double v = *at(point, u, j);
            if (!frozen[j] && ((v <= u->low[j] && step[j] < 0) || (v >= u->high[j] && step[j] > 0))) {
                frozen[j] = true;
                clear = false;
            }
        }
    }
    double before = cost(problem, point, pull);
    for (double by = 1; by > 0.01; by /= 2) {
        struct pc_want_point to = *point;
        for (int j = 0; j < u->count; j++) {
            double *v = at(&to, u, j);
            *v = fmin(fmax(*v + by * step[j], u->low[j]), u->high[j]);
        }
        if (cost(problem, &to, pull) < before * (1 - 1e-6)) {
            *point = to;
            return true;
        }
    }
    return false;
}

void pc_want_least_squares(const struct pc_want_problem *problem, struct pc_want_point *point)
{
    struct unknowns u;
    list_unknowns(problem, &u);
    for (int j = 0; j < u.count; j++) {
        // A dial at nothing has no say in stops; lift it a little so that it can be asked.
        double *v = at(point, &u, j);
        *v = fmin(fmax(*v, u.low[j] + 1e-3 * (u.high[j] - u.low[j])), u.high[j]);
    }
    for (int k = 0; k < 12 && improve(problem, &u, 1e-2, point); k++)
        ;
    for (int k = 0; k < 12 && improve(problem, &u, change_weight, point); k++)
        ;
}

// Moves an unknown to the side: by whole steps where it has them, else by a part of itself. False when it
// cannot.
static bool move(const struct pc_want_problem *problem, const struct unknowns *u, int j, int side,
                 double part, struct pc_want_point *point)
{
    const struct pc_want_dial *d = &problem->dial[u->dial[j]];
    int count = u->share[j] ? d->share_count : d->level_count;
    double *v = at(point, u, j), was = *v;
    if (count) {
        const double *sorted = u->share[j] ? d->share : d->level;
        int to = pc_want_nearest(sorted, count, was) + side;
        if (to < 0 || to >= count)
            return false;
        *v = sorted[to];
    } else {
        double by = part * (u->share[j] ? 1 : fmax(was, 0.02 * u->high[j]));
        *v = fmin(fmax(was + side * by, u->low[j]), u->high[j]);
    }
    return *v != was;
}

static bool all_stepped(const struct pc_want_problem *problem, const struct unknowns *u)
{
    for (int j = 0; j < u->count; j++) {
        const struct pc_want_dial *d = &problem->dial[u->dial[j]];
        if (!(u->share[j] ? d->share_count : d->level_count))
            return false;
    }
    return true;
}

void pc_want_polish(const struct pc_want_problem *problem, double worst_ev, struct pc_want_point *point)
{
    struct unknowns u;
    list_unknowns(problem, &u);
    double merit = pc_want_merit(problem, point, worst_ev);
    double finest = all_stepped(problem, &u) ? 0.2 : 5e-4;
    int tries = 0;
    for (double part = 0.2; part >= finest && tries < POLISH_TRIES_MAX;) {
        struct pc_want_point better = *point;
        double least = merit;
        for (int a = 0; a < 4 * u.count; a++) {
            struct pc_want_point one = *point;
            int side_a = (a & 1 ? 1 : -1) * (a & 2 ? 2 : 1);
            if (!move(problem, &u, a / 4, side_a, part, &one))
                continue;
            // b < 0: alone; else with another, by single or double steps.
            for (int b = -1; b < 4 * (u.count - a / 4 - 1); b++) {
                struct pc_want_point two = one;
                int side_b = (b & 1 ? 1 : -1) * (b & 2 ? 2 : 1);
                if (b >= 0 && !move(problem, &u, a / 4 + 1 + b / 4, side_b, part, &two))
                    continue;
                tries++;
                double m = pc_want_merit(problem, &two, worst_ev);
                if (m < least * (1 - 1e-9)) {
                    least = m;
                    better = two;
                }
            }
        }
        if (least < merit * (1 - 1e-6)) {
            merit = least;
            *point = better;
        } else {
            part /= 3;
        }
    }
}
