// SPDX-License-Identifier: Apache-2.0
// Feasibility of linear inequalities over a box by pivoting on bounds that are broken: B. Dutertre, L. de
// Moura, "A fast linear-arithmetic solver for DPLL(T)", CAV 2006, section 3.
#include "light/parts/want_priv.h"

enum { PIVOTS_BEFORE_BLAND = 40, PIVOTS_MAX = 600 };
static const double tolerance = 1e-9;

// Variables are numbered columns first, then one slack a row: slack = a.x, at most b.
struct tableau {
    int m, n;
    double t[PC_LP_ROWS_MAX][PC_LP_COLS_MAX]; // basic = t . nonbasic
    int basic[PC_LP_ROWS_MAX], nonbasic[PC_LP_COLS_MAX];
    double low[PC_LP_ROWS_MAX + PC_LP_COLS_MAX], high[PC_LP_ROWS_MAX + PC_LP_COLS_MAX];
    double value[PC_LP_ROWS_MAX + PC_LP_COLS_MAX];
};

static void start(const struct pc_lp *lp, const double *x, struct tableau *s)
{
    s->m = lp->rows;
    s->n = lp->cols;
    for (int j = 0; j < s->n; j++) {
        s->nonbasic[j] = j;
        s->low[j] = lp->low[j];
        s->high[j] = lp->high[j];
        s->value[j] = fmin(fmax(x[j], lp->low[j]), lp->high[j]);
    }
    for (int i = 0; i < s->m; i++) {
        double scale = fabs(lp->b[i]);
        for (int j = 0; j < s->n; j++)
            scale = fmax(scale, fabs(lp->a[i][j]) * fmax(fabs(lp->low[j]), fabs(lp->high[j])));
        scale = scale > 0 ? 1 / scale : 1;
        int v = s->n + i;
        s->basic[i] = v;
        s->low[v] = -INFINITY;
        s->high[v] = lp->b[i] * scale;
        s->value[v] = 0;
        for (int j = 0; j < s->n; j++) {
            s->t[i][j] = lp->a[i][j] * scale;
            s->value[v] += s->t[i][j] * s->value[j];
        }
    }
}

// The row most out of bounds, or the first variable out of bounds under Bland's rule; -1 when none is.
static int leaving(const struct tableau *s, bool bland)
{
    int row = -1;
    double most = tolerance;
    for (int i = 0; i < s->m; i++) {
        int v = s->basic[i];
        double out = fmax(s->low[v] - s->value[v], s->value[v] - s->high[v]);
        if (out <= tolerance || (bland && row >= 0 && v > s->basic[row]))
            continue;
        if (bland || out > most) {
            row = i;
            most = out;
        }
    }
    return row;
}

static int entering(const struct tableau *s, int row, bool up, bool bland)
{
    int col = -1;
    double most = tolerance;
    for (int j = 0; j < s->n; j++) {
        int v = s->nonbasic[j];
        double a = up ? s->t[row][j] : -s->t[row][j];
        bool can = a > 0 ? s->value[v] < s->high[v] : s->value[v] > s->low[v];
        if (fabs(a) <= tolerance || !can || (bland && col >= 0 && v > s->nonbasic[col]))
            continue;
        double worth = fabs(a) * (a > 0 ? s->high[v] - s->value[v] : s->value[v] - s->low[v]);
        if (bland || worth > most || col < 0) {
            col = j;
            most = worth;
        }
    }
    return col;
}

static void pivot(struct tableau *s, int row, int col, double to)
{
    int out = s->basic[row], in = s->nonbasic[col];
    double by = (to - s->value[out]) / s->t[row][col];
    s->value[out] = to;
    s->value[in] += by;
    for (int i = 0; i < s->m; i++) {
        if (i != row)
            s->value[s->basic[i]] += s->t[i][col] * by;
    }
    double p = 1 / s->t[row][col];
    for (int j = 0; j < s->n; j++)
        s->t[row][j] *= j == col ? 0 : -p;
    s->t[row][col] = p;
    for (int i = 0; i < s->m; i++) {
        double f = s->t[i][col];
        if (i == row || f == 0)
            continue;
        s->t[i][col] = 0;
        for (int j = 0; j < s->n; j++)
            s->t[i][j] += f * s->t[row][j];
    }
    s->basic[row] = in;
    s->nonbasic[col] = out;
}

bool pc_lp_feasible(struct pc_lp *lp, double x[PC_LP_COLS_MAX])
{
    struct tableau s;
    start(lp, x, &s);
    // Rounding could keep the pivots going in circles past any proof of termination; then the answer is
    // "perhaps", so that nothing reachable is ever ruled out.
    for (int k = 0; k < PIVOTS_MAX; k++) {
        bool bland = k >= PIVOTS_BEFORE_BLAND;
        int row = leaving(&s, bland);
        if (row < 0)
            break;
        int v = s.basic[row];
        bool up = s.value[v] < s.low[v];
        int col = entering(&s, row, up, bland);
        if (col < 0)
            return false;
        pivot(&s, row, col, up ? s.low[v] : s.high[v]);
    }
    for (int j = 0; j < s.n; j++)
        x[j] = fmin(fmax(s.value[j], lp->low[j]), lp->high[j]);
    return true;
}
