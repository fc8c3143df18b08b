// SPDX-License-Identifier: Apache-2.0
// What an answer is good to, from what its inputs are good to. Pure; safe from any thread.
//
// A tolerance is a half-width that holds 19 times in 20. Inputs are taken to be independent and their errors
// normal.
#ifndef PC_BASE_TOLERANCE_H
#define PC_BASE_TOLERANCE_H

#include "base/err.h"

enum { PC_TOLERANCE_INPUTS_MAX = 24, PC_TOLERANCE_OUTPUTS_MAX = 32 };

// answer gives y from x, false when there is none at this x. Answers y[outputs] at x and tolerance[outputs]:
// each input is moved by its own tolerance both ways, the larger of the two changes counts, and the changes
// add as squares (JCGM 100:2008, 5.1.2, by finite difference). A tolerance of an input may be 0 (exact). An
// output that is not finite at x gets NAN; one that ceases to be finite when an input moves gets INFINITY, as
// does each when there is no answer there. False, outputs untouched, when there is no answer at x itself.
bool pc_tolerance(bool (*answer)(const void *given, const double x[], double y[]), const void *given,
                  int inputs, const double x[], const double x_tolerance[], int outputs, double y[],
                  double y_tolerance[]);

// The same where an answer has an edge that linearising steps over: a share that is 0 on one side of it, a
// limit that takes over from another. 1000 draws of the inputs (JCGM 101:2008), always the same ones, and
// the half-width that holds 24 times in 25, which leaves the draws their own chance. A draw with no answer
// counts as INFINITY.
bool pc_tolerance_drawn(bool (*answer)(const void *given, const double x[], double y[]), const void *given,
                        int inputs, const double x[], const double x_tolerance[], int outputs, double y[],
                        double y_tolerance[]);

#endif
