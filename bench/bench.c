// SPDX-License-Identifier: Apache-2.0
#include "bench.h"

#include <sys/resource.h>

void bench_print(const char *name, double value, double limit, const char *unit)
{
    printf("%s %.3g %.3g %s\n", name, value, limit, unit);
    fflush(stdout);
}

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double bench_median(double *values, int count)
{
    qsort(values, (size_t)count, sizeof *values, compare_doubles);
    return 0.5 * (values[(count - 1) / 2] + values[count / 2]);
}

static double seconds(struct timeval t)
{
    return (double)t.tv_sec + 1e-6 * (double)t.tv_usec;
}

double bench_cpu_s(void)
{
    struct rusage own, children;
    getrusage(RUSAGE_SELF, &own);
    getrusage(RUSAGE_CHILDREN, &children);
    return seconds(own.ru_utime) + seconds(own.ru_stime) + seconds(children.ru_utime) +
           seconds(children.ru_stime);
}

_Noreturn void bench_fail(const struct pc_err *err)
{
    fprintf(stderr, "%s: %s\n", err->place, err->text);
    exit(1);
}
