// SPDX-License-Identifier: Apache-2.0
#include "base/tolerance.h"

#include "base/units.h"

enum { DRAWS = 1000 };
#define HELD_RATIO 0.96
#define DEVIATIONS 1.96 // a tolerance is so many standard deviations
#define DRAWS_SEED 0x5eed0f1e55ed5u

static double uniform(uint64_t *state)
{
    // splitmix64 (Steele, Lea, Flood, OOPSLA 2014)
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(uint64_t *state)
{
    double radius = sqrt(-2.0 * log(uniform(state)));
    return radius * cos(2.0 * PC_PI * uniform(state));
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

bool pc_tolerance_drawn(bool (*answer)(const void *given, const double x[], double y[]), const void *given,
                        int inputs, const double x[], const double x_tolerance[], int outputs, double y[],
                        double y_tolerance[])
{
    double off[PC_TOLERANCE_OUTPUTS_MAX][DRAWS];
    double at[PC_TOLERANCE_INPUTS_MAX], middle[PC_TOLERANCE_OUTPUTS_MAX], drawn[PC_TOLERANCE_OUTPUTS_MAX];
    PC_ASSERT(inputs <= PC_TOLERANCE_INPUTS_MAX && outputs <= PC_TOLERANCE_OUTPUTS_MAX);
    if (!answer(given, x, middle))
        return false;
    bool exact = true;
    for (int i = 0; i < inputs; i++)
        exact = exact && !(x_tolerance[i] > 0);
    for (int o = 0; o < outputs && exact; o++) {
        y[o] = middle[o];
        y_tolerance[o] = isfinite(middle[o]) ? 0.0 : (double)NAN;
    }
    if (exact) // nothing to draw
        return true;
    uint64_t state = DRAWS_SEED;
    for (int n = 0; n < DRAWS; n++) {
        for (int i = 0; i < inputs; i++)
            at[i] = x[i] + (x_tolerance[i] > 0 ? x_tolerance[i] / DEVIATIONS * normal(&state) : 0.0);
        bool answered = answer(given, at, drawn);
        for (int o = 0; o < outputs; o++)
            off[o][n] = answered && isfinite(drawn[o]) ? fabs(drawn[o] - middle[o]) : (double)INFINITY;
    }
    for (int o = 0; o < outputs; o++) {
        qsort(off[o], DRAWS, sizeof off[o][0], ascending);
        y[o] = middle[o];
        y_tolerance[o] = isfinite(middle[o]) ? off[o][(int)(HELD_RATIO * DRAWS)] : (double)NAN;
    }
    return true;
}
