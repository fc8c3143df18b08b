// SPDX-License-Identifier: Apache-2.0
// What the benches share. Each is a program that prints one line a figure: NAME VALUE LIMIT UNIT.
#ifndef BENCH_H
#define BENCH_H

#include "base/clock.h"
#include "base/err.h"

enum { BENCH_FRAMES_MAX = 16 };

void bench_print(const char *name, double value, double limit, const char *unit);
double bench_median(double *values, int count); // sorts them
// Seconds of processor time that this process and its ended children have had. Where one thread does all the
// work it is the time that the work takes on an idle machine, whatever else runs.
double bench_cpu_s(void);
// Says what went wrong on stderr and ends the program.
_Noreturn void bench_fail(const struct pc_err *err);

#endif
