// SPDX-License-Identifier: Apache-2.0
// Goals within tolerances as linear inequalities over a part of the space of settings.
#include "light/parts/want_priv.h"

#include "base/units.h"

// A linear form: of each dial's amount, and of its warm amount (amount x warm share). Where a light's mixing
// was measured its amount stands here times its drive, so that what it gives is linear in the two all the
// same.
struct form {
    double amount[PC_WANT_DIALS_MAX], warm[PC_WANT_DIALS_MAX];
};

// Where each dial is in the columns, or what it is when nothing about it is open.
struct layout {
    const struct pc_want_problem *problem;
    struct pc_lp *lp;
    int amount_col[PC_WANT_DIALS_MAX], warm_col[PC_WANT_DIALS_MAX]; // -1: not a column
    double amount[PC_WANT_DIALS_MAX], share[PC_WANT_DIALS_MAX];     // where it is not
};

void pc_want_box_all(const struct pc_want_problem *problem, struct pc_want_box *box)
{
    *box = (struct pc_want_box){.shadow_leader = -1, .key_leader = -1};
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        box->high[i] = (short)(d->level_count ? d->level_count - 1 : 0);
        box->share_high[i] = (short)(d->share_count ? d->share_count - 1 : 0);
    }
}

static void add_row(struct layout *at, const struct form *form, double sign, double b)
{
    struct pc_lp *lp = at->lp;
    double *row = lp->a[lp->rows];
    for (int j = 0; j < lp->cols; j++)
        row[j] = 0;
    b *= sign;
    for (int i = 0; i < at->problem->dial_count; i++) {
        double a = sign * form->amount[i], w = sign * form->warm[i];
        if (at->warm_col[i] >= 0)
            row[at->warm_col[i]] += w;
        else
            a += w * at->share[i];
        if (at->amount_col[i] >= 0)
            row[at->amount_col[i]] += a;
        else
            b -= a * at->amount[i];
    }
    lp->b[lp->rows++] = b;
}

static void add_column(struct layout *at, int *col, double low, double high)
{
    *col = at->lp->cols++;
    at->lp->low[*col] = low;
    at->lp->high[*col] = high;
}

// The straight line through amount over drive at the ends of the box's shares.
static void inverse_drive_line(const struct pc_want_dial *d, int share_low, int share_high, double *offset,
                               double *slope)
{
    double low = d->share[share_low], high = d->share[share_high];
    double at_low = 1 / pc_want_drive(d, low), at_high = 1 / pc_want_drive(d, high);
    *slope = share_high > share_low ? (at_high - at_low) / (high - low) : 0;
    *offset = at_low - *slope * low;
}

void pc_want_box_bend(const struct pc_want_dial *d, int share_low, int share_high, double *under,
                      double *over)
{
    double offset, slope;
    *under = *over = 0;
    inverse_drive_line(d, share_low, share_high, &offset, &slope);
    for (int s = share_low + 1; s < share_high; s++) {
        double off = 1 / pc_want_drive(d, d->share[s]) - offset - slope * d->share[s];
        *under = fmin(*under, off);
        *over = fmax(*over, off);
    }
}

// The least and the most drive at the shares of a box.
static void drive_range(const struct pc_want_dial *d, int share_low, int share_high, double *least,
                        double *most)
{
    *least = *most = d->kelvin ? pc_want_drive(d, d->share[share_low]) : 1;
    for (int s = share_low + 1; d->kelvin && s <= share_high; s++) {
        double drive = pc_want_drive(d, d->share[s]);
        *least = fmin(*least, drive);
        *most = fmax(*most, drive);
    }
}

static void level_range(const struct pc_want_dial *d, const struct pc_want_box *box, int dial, double *low,
                        double *high)
{
    *low = d->level_count ? d->level[box->low[dial]] : d->least;
    *high = d->level_count ? d->level[box->high[dial]] : d->most;
}

static void lay_columns(struct layout *at, const struct pc_want_box *box)
{
    for (int i = 0; i < at->problem->dial_count; i++) {
        const struct pc_want_dial *d = &at->problem->dial[i];
        double low, high;
        level_range(d, box, i, &low, &high);
        double least_drive, most_drive;
        drive_range(d, box->share_low[i], box->share_high[i], &least_drive, &most_drive);
        low *= least_drive;
        high *= most_drive;
        double share_low = d->share_count ? d->share[box->share_low[i]] : d->share_least;
        double share_high = d->share_count ? d->share[box->share_high[i]] : d->share_most;
        at->amount_col[i] = at->warm_col[i] = -1;
        at->amount[i] = low;
        at->share[i] = d->two ? share_low : 0;
        if (high > low || (d->two && share_high > share_low))
            add_column(at, &at->amount_col[i], low, high);
        if (d->two && share_high > share_low)
            add_column(at, &at->warm_col[i], fmin(share_low * low, share_low * high),
                       fmax(share_high * low, share_high * high));
    }
}

// The amount over the drive stays on the dial: exact where the inverse drive is straight over the box's
// shares, else as wide as it bends.
static void bind_drive(struct layout *at, const struct pc_want_box *box, int dial)
{
    const struct pc_want_dial *d = &at->problem->dial[dial];
    double offset, slope, under, over, low, high;
    inverse_drive_line(d, box->share_low[dial], box->share_high[dial], &offset, &slope);
    pc_want_box_bend(d, box->share_low[dial], box->share_high[dial], &under, &over);
    level_range(d, box, dial, &low, &high);
    struct form form = {0};
    form.warm[dial] = slope;
    form.amount[dial] = offset + under;
    add_row(at, &form, 1, high);
    form.amount[dial] = offset + over;
    add_row(at, &form, -1, low);
}

static void bind_shares(struct layout *at, const struct pc_want_box *box)
{
    for (int i = 0; i < at->problem->dial_count; i++) {
        const struct pc_want_dial *d = &at->problem->dial[i];
        if (at->warm_col[i] < 0)
            continue;
        struct form form = {0};
        form.warm[i] = 1;
        form.amount[i] = -(d->share_count ? d->share[box->share_high[i]] : d->share_most);
        add_row(at, &form, 1, 0);
        form.amount[i] = -(d->share_count ? d->share[box->share_low[i]] : d->share_least);
        add_row(at, &form, -1, 0);
        if (d->kelvin)
            bind_drive(at, box, i);
    }
}

// form += factor times the form of (coefficients . XYZ) at a place.
static void add_xyz(const struct pc_want_problem *problem, int place, const double coefficient[3],
                    double factor, struct form *form)
{
    for (int i = 0; i < problem->dial_count; i++) {
        const struct pc_want_dial *d = &problem->dial[i];
        for (int k = 0; k < 3; k++) {
            form->amount[i] += factor * coefficient[k] * d->base[place][k];
            if (d->two)
                form->warm[i] += factor * coefficient[k] * d->warm[place][k];
        }
    }
}

static const double only_Y[3] = {0, 1, 0};

static void level_rows(struct layout *at, int place, double least_ev, double most_ev)
{
    struct form form = {0};
    double now = at->problem->now_xyz[place][1];
    add_xyz(at->problem, place, only_Y, 1, &form);
    add_row(at, &form, 1, now * pc_ratio_from_ev(most_ev));
    add_row(at, &form, -1, now * pc_ratio_from_ev(least_ev));
}

static void under_rows(struct layout *at, double least_ev, double most_ev)
{
    const double *r = at->problem->reading->reflect_ev;
    double apart_ev = r[PC_PLACE_HERO] - r[PC_PLACE_SURFACE];
    for (int i = 0; i < 2; i++) {
        struct form form = {0};
        double ratio = pc_ratio_from_ev(apart_ev + (i ? least_ev : most_ev));
        add_xyz(at->problem, PC_PLACE_HERO, only_Y, 1 / ratio, &form);
        add_xyz(at->problem, PC_PLACE_SURFACE, only_Y, -1, &form);
        add_row(at, &form, i ? -1 : 1, 0);
    }
}

static void warmth_rows(struct layout *at, int place, double least_mired, double most_mired)
{
    const double end = PC_WARMTH_LEAST_MIRED + PC_WARMTH_STEP_MIRED * (PC_WARMTH_LINES - 1);
    double plane[3], now = at->problem->now_mired[place];
    if (now + most_mired < end) {
        struct form form = {0};
        pc_warmth_plane_at(at->problem->warmth, now + most_mired, plane);
        add_xyz(at->problem, place, plane, 1, &form);
        add_row(at, &form, 1, 0);
    }
    if (now + least_mired > PC_WARMTH_LEAST_MIRED) {
        struct form form = {0};
        pc_warmth_plane_at(at->problem->warmth, now + least_mired, plane);
        add_xyz(at->problem, place, plane, 1, &form);
        add_row(at, &form, -1, 0);
    }
}

// A light's Y at a place at most (sign 1) or at least (sign -1) this part of all the light there.
static void part_row(struct layout *at, int dial, int place, double part, double sign)
{
    const struct pc_want_dial *d = &at->problem->dial[dial];
    struct form form = {0};
    add_xyz(at->problem, place, only_Y, -part, &form);
    form.amount[dial] += d->base[place][1];
    form.warm[dial] += d->two ? d->warm[place][1] : 0;
    add_row(at, &form, sign, 0);
}

static void shadow_rows(struct layout *at, const struct pc_want_box *box, double most_ev)
{
    if (box->shadow_leader < 0)
        return;
    double part = 1 - pc_ratio_from_ev(-most_ev);
    for (int i = 0; i < at->problem->dial_count; i++) {
        if (i != box->shadow_leader && at->problem->dial[i].light >= 0)
            part_row(at, i, PC_PLACE_SURFACE, part, 1);
    }
}

static void key_rows(struct layout *at, const struct pc_want_box *box, double least_ev, double most_ev)
{
    double least = pc_ratio_from_ev(least_ev), most = pc_ratio_from_ev(most_ev);
    for (int i = 0; i < at->problem->dial_count; i++) {
        if (at->problem->dial[i].light >= 0)
            part_row(at, i, PC_PLACE_HERO, most / (1 + most), 1);
    }
    if (box->key_leader >= 0)
        part_row(at, box->key_leader, PC_PLACE_HERO, least / (1 + least), -1);
}

static void goal_rows(struct layout *at, const struct pc_want_box *box, int goal, double tolerance_ev)
{
    const struct pc_goal *g = &at->problem->goal[goal];
    double t = g->kind == PC_GOAL_PLACE_WARMTH ? tolerance_ev / PC_WANT_EV_PER_MIRED : tolerance_ev;
    double least = g->value - t, most = g->value + t;
    switch (g->kind) {
    case PC_GOAL_HERO_LEVEL:
        level_rows(at, PC_PLACE_HERO, least, most);
        break;
    case PC_GOAL_PLACE_LEVEL:
        level_rows(at, g->place, least, most);
        break;
    case PC_GOAL_SURFACE_UNDER:
        under_rows(at, least, most);
        break;
    case PC_GOAL_PLACE_WARMTH:
        warmth_rows(at, g->place, least, most);
        break;
    case PC_GOAL_SECOND_SHADOW:
        shadow_rows(at, box, most);
        break;
    case PC_GOAL_KEY_OVER:
        key_rows(at, box, least, most);
        break;
    }
}

static void point_from_columns(const struct layout *at, const struct pc_want_box *box, const double *x,
                               struct pc_want_point *point)
{
    for (int i = 0; i < at->problem->dial_count; i++) {
        const struct pc_want_dial *d = &at->problem->dial[i];
        double amount = at->amount_col[i] >= 0 ? x[at->amount_col[i]] : at->amount[i];
        point->amount[i] = amount;
        if (!d->two)
            point->share[i] = 0;
        else if (at->warm_col[i] < 0)
            point->share[i] = at->share[i];
        else if (amount > 1e-12)
            point->share[i] = fmin(fmax(x[at->warm_col[i]] / amount, d->share_least), d->share_most);
        if (d->kelvin) {
            double low, high;
            level_range(d, box, i, &low, &high);
            point->amount[i] = fmin(fmax(amount / pc_want_drive(d, point->share[i]), low), high);
        }
    }
}

bool pc_want_box_meets(const struct pc_want_problem *problem, const struct pc_want_box *box,
                       const double tolerance_ev[PC_WANT_GOALS_MAX], struct pc_lp *lp,
                       struct pc_want_point *point)
{
    struct layout at = {.problem = problem, .lp = lp};
    lp->rows = lp->cols = 0;
    lay_columns(&at, box);
    bind_shares(&at, box);
    for (int g = 0; g < problem->goal_count; g++)
        goal_rows(&at, box, g, tolerance_ev[g]);
    double x[PC_LP_COLS_MAX] = {0};
    for (int i = 0; i < problem->dial_count; i++) {
        double amount = point->amount[i] * pc_want_drive(&problem->dial[i], point->share[i]);
        if (at.amount_col[i] >= 0)
            x[at.amount_col[i]] = amount;
        if (at.warm_col[i] >= 0)
            x[at.warm_col[i]] = amount * point->share[i];
    }
    if (!pc_lp_feasible(lp, x))
        return false;
    point_from_columns(&at, box, x, point);
    return true;
}
