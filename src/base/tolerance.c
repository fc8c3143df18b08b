// SPDX-License-Identifier: Apache-2.0
#include "base/tolerance.h"

static void add_change(int outputs, const double y[], const double up[], const double down[],
                       double sum_of_squares[])
{
    for (int o = 0; o < outputs; o++) {
        double change = fmax(fabs(up[o] - y[o]), fabs(down[o] - y[o]));
        bool known = isfinite(up[o]) && isfinite(down[o]);
        sum_of_squares[o] += known ? change * change : (double)INFINITY;
    }
}

bool pc_tolerance(bool (*answer)(const void *given, const double x[], double y[]), const void *given,
                  int inputs, const double x[], const double x_tolerance[], int outputs, double y[],
                  double y_tolerance[])
{
    double at[PC_TOLERANCE_INPUTS_MAX], middle[PC_TOLERANCE_OUTPUTS_MAX], side[2][PC_TOLERANCE_OUTPUTS_MAX],
        sum_of_squares[PC_TOLERANCE_OUTPUTS_MAX] = {0.0};
    PC_ASSERT(inputs <= PC_TOLERANCE_INPUTS_MAX && outputs <= PC_TOLERANCE_OUTPUTS_MAX);
    memcpy(at, x, (size_t)inputs * sizeof *at);
    if (!answer(given, at, middle))
        return false;
    for (int i = 0; i < inputs; i++) {
        if (!(x_tolerance[i] > 0))
            continue;
        for (int s = 0; s < 2; s++) {
            at[i] = x[i] + (s ? -x_tolerance[i] : x_tolerance[i]);
            if (!answer(given, at, side[s]))
                for (int o = 0; o < outputs; o++)
                    side[s][o] = (double)NAN;
        }
        at[i] = x[i];
        add_change(outputs, middle, side[0], side[1], sum_of_squares);
    }
    for (int o = 0; o < outputs; o++) {
        y[o] = middle[o];
        y_tolerance[o] = isfinite(middle[o]) ? sqrt(sum_of_squares[o]) : (double)NAN;
    }
    return true;
}
