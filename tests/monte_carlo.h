// SPDX-License-Identifier: Apache-2.0
// Judges a stated tolerance: draws the inputs within theirs, answers again, and looks how often the answer
// stays within what was stated. For cmocka tests.
#ifndef PC_TESTS_MONTE_CARLO_H
#define PC_TESTS_MONTE_CARLO_H

#include "base/tolerance.h"

#include <setjmp.h>
#include <cmocka.h>

// 19 times in 20 of 4000 draws, less three standard errors of that count (0.0034 each).
#define MC_DRAWS         4000
#define MC_LEAST_COVERED 0.94
#define MC_MOST_WIDE     2.0

static inline double mc_uniform(uint64_t *state)
{
    // splitmix64 (Steele, Lea, Flood, OOPSLA 2014)
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double mc_normal(uint64_t *state)
{
    double radius = sqrt(-2.0 * log(mc_uniform(state)));
    return radius * cos(2.0 * 3.14159265358979323846 * mc_uniform(state));
}

static inline int mc_ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

// name: of the answer, for the message. The inputs' errors are normal, 1.96 standard deviations to the
// tolerance. stated: what was printed beside y0[o]; NULL: judge what pc_tolerance gives. Fails the test when
// less than 19 of 20 draws lie within it, or when it is more than twice as wide as would do.
static inline void mc_judge(const char *name, bool (*answer)(const void *given, const double x[], double y[]),
                            const void *given, int inputs, const double x[], const double x_tolerance[],
                            int outputs, const double *stated)
{
    static double off[PC_TOLERANCE_OUTPUTS_MAX][MC_DRAWS];
    double y0[PC_TOLERANCE_OUTPUTS_MAX], own[PC_TOLERANCE_OUTPUTS_MAX];
    assert_true(pc_tolerance(answer, given, inputs, x, x_tolerance, outputs, y0, own));
    uint64_t state = 20270318;
    for (int n = 0; n < MC_DRAWS; n++) {
        double at[PC_TOLERANCE_INPUTS_MAX], y[PC_TOLERANCE_OUTPUTS_MAX];
        for (int i = 0; i < inputs; i++)
            at[i] = x[i] + x_tolerance[i] / 1.96 * mc_normal(&state);
        bool answered = answer(given, at, y);
        for (int o = 0; o < outputs; o++)
            off[o][n] = answered && isfinite(y[o]) ? fabs(y[o] - y0[o]) : (double)INFINITY;
    }
    for (int o = 0; o < outputs; o++) {
        double tolerance = stated != NULL ? stated[o] : own[o];
        int within = 0;
        for (int n = 0; n < MC_DRAWS; n++)
            within += off[o][n] <= tolerance;
        qsort(off[o], MC_DRAWS, sizeof off[o][0], mc_ascending);
        double enough = off[o][MC_DRAWS * 19 / 20];
        if ((double)within < MC_LEAST_COVERED * MC_DRAWS || tolerance > MC_MOST_WIDE * enough)
            fail_msg("%s[%d]: %.4g stated +- %.3g holds in %.1f %% of %d draws; +- %.3g would do", name, o,
                     y0[o], tolerance, 100.0 * within / MC_DRAWS, MC_DRAWS, enough);
    }
}

#endif
