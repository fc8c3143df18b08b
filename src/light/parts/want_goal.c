// SPDX-License-Identifier: Apache-2.0
// What each goal comes to at a setting.
#include "light/parts/want_priv.h"

#include "base/units.h"

double pc_want_drive(const struct pc_want_dial *dial, double share)
{
    return dial->kelvin ? pc_kelvin_drive(dial->kelvin, share) : 1;
}

void pc_want_xyz(const struct pc_want_problem *problem, const struct pc_want_point *point, int place,
                 double xyz[3])
{
    xyz[0] = xyz[1] = xyz[2] = 0;
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        double share = d->two ? point->share[i] : 0;
        double amount = point->amount[i] * pc_want_drive(d, share);
        for (int k = 0; k < 3; k++)
            xyz[k] += amount * (d->base[place][k] + share * d->warm[place][k]);
    }
}

double pc_want_dial_Y(const struct pc_want_dial *dial, const struct pc_want_point *point, int index,
                      int place)
{
    double share = dial->two ? point->share[index] : 0;
    return point->amount[index] * pc_want_drive(dial, share) *
           (dial->base[place][1] + share * dial->warm[place][1]);
}

static double all_Y(const struct pc_want_problem *problem, const struct pc_want_point *point, int place)
{
    double sum = 0;
    for (int i = 0; i < problem->dial_count; i++)
        sum += pc_want_dial_Y(&problem->dial[i], point, i, place);
    return sum;
}

static double ev(double over, double under)
{
    if (!(over > 0) || !(under > 0))
        return over > 0 ? PC_WANT_MISS_MAX_EV : under > 0 ? -PC_WANT_MISS_MAX_EV : 0;
    return fmin(fmax(pc_ev_from_ratio(over / under), -PC_WANT_MISS_MAX_EV), PC_WANT_MISS_MAX_EV);
}

// Y of the strongest and second-strongest light at a place; the ambient, last of the dials, is no light.
static double two_strongest(const struct pc_want_problem *problem, const struct pc_want_point *point,
                            int place, double strongest[2])
{
    double sum = 0;
    strongest[0] = strongest[1] = 0;
    for (int i = 0; i < problem->dial_count; i++) {
        double Y = pc_want_dial_Y(&problem->dial[i], point, i, place);
        sum += Y;
        if (problem->dial[i].light < 0)
            continue;
        if (Y > strongest[0]) {
            strongest[1] = strongest[0];
            strongest[0] = Y;
        } else if (Y > strongest[1]) {
            strongest[1] = Y;
        }
    }
    return sum;
}

double pc_want_value(const struct pc_want_problem *problem, const struct pc_want_point *point, int goal)
{
    const struct pc_goal *g = &problem->goal[goal];
    const double *reflect_ev = problem->reading->reflect_ev;
    double strongest[2], all;
    switch (g->kind) {
    case PC_GOAL_HERO_LEVEL:
        return ev(all_Y(problem, point, PC_PLACE_HERO), problem->now_xyz[PC_PLACE_HERO][1]);
    case PC_GOAL_PLACE_LEVEL:
        return ev(all_Y(problem, point, g->place), problem->now_xyz[g->place][1]);
    case PC_GOAL_SURFACE_UNDER:
        return ev(all_Y(problem, point, PC_PLACE_HERO), all_Y(problem, point, PC_PLACE_SURFACE)) -
               reflect_ev[PC_PLACE_HERO] + reflect_ev[PC_PLACE_SURFACE];
    case PC_GOAL_PLACE_WARMTH: {
        double xyz[3];
        pc_want_xyz(problem, point, g->place, xyz);
        double mired = pc_warmth_mired(problem->warmth, xyz);
        return isnan(mired) ? 0 : mired - problem->now_mired[g->place];
    }
    case PC_GOAL_SECOND_SHADOW:
        all = two_strongest(problem, point, PC_PLACE_SURFACE, strongest);
        return strongest[1] > 0 ? ev(all, all - strongest[1]) : 0;
    case PC_GOAL_KEY_OVER:
        all = two_strongest(problem, point, PC_PLACE_HERO, strongest);
        return ev(strongest[0], all - strongest[0]);
    }
    return 0;
}

double pc_want_residual(const struct pc_want_problem *problem, int goal, double value)
{
    const struct pc_goal *g = &problem->goal[goal];
    double miss = value - g->value;
    if (g->kind == PC_GOAL_PLACE_WARMTH)
        miss *= PC_WANT_EV_PER_MIRED;
    if (g->kind == PC_GOAL_SECOND_SHADOW)
        miss = fmax(miss, 0);
    return fmin(fmax(miss, -PC_WANT_MISS_MAX_EV), PC_WANT_MISS_MAX_EV);
}

double pc_want_misses(const struct pc_want_problem *problem, const struct pc_want_point *point,
                      double miss[PC_WANT_GOALS_MAX])
{
    double worst = 0;
    for (int g = 0; g < problem->goal_count; g++) {
        miss[g] = fabs(pc_want_residual(problem, g, pc_want_value(problem, point, g)));
        worst = fmax(worst, miss[g]);
    }
    return worst;
}

int pc_want_leader_place(enum pc_goal_kind kind)
{
    if (kind == PC_GOAL_SECOND_SHADOW)
        return PC_PLACE_SURFACE;
    return kind == PC_GOAL_KEY_OVER ? PC_PLACE_HERO : -1;
}
