// SPDX-License-Identifier: Apache-2.0
#include "base/linalg.h"

#include <lapacke.h>

static const double LEAST_RCOND = 1e-12; // below it double arithmetic leaves no trustworthy digit

// A few kilobytes that LAPACKE could not have are not a system without a solution.
static bool solved(lapack_int info)
{
    PC_ASSERT(info != LAPACK_WORK_MEMORY_ERROR && info != LAPACK_TRANSPOSE_MEMORY_ERROR);
    return info == 0;
}

bool pc_linalg_least_squares(int m, int n, const double *a, const double *b, double *x)
{
    PC_ASSERT(m >= n && n >= 1);
    double *work = calloc((size_t)m * (size_t)(n + 1) + (size_t)n, sizeof *work);
    lapack_int *pivot = calloc((size_t)n, sizeof *pivot);
    PC_ASSERT(work != NULL && pivot != NULL);
    double *wa = work, *wb = work + (size_t)m * (size_t)n;
    memcpy(wa, a, sizeof *a * (size_t)m * (size_t)n);
    memcpy(wb, b, sizeof *b * (size_t)m);
    lapack_int rank = 0;
    bool good = solved(LAPACKE_dgelsy(LAPACK_ROW_MAJOR, m, n, 1, wa, n, wb, 1, pivot, LEAST_RCOND, &rank)) &&
                rank == n;
    if (good)
        memcpy(x, wb, sizeof *x * (size_t)n);
    free(work);
    free(pivot);
    return good;
}

bool pc_linalg_invert3(const double a[3][3], double inverse[3][3])
{
    double work[9];
    lapack_int pivot[3];
    memcpy(work, a, sizeof work);
    double norm = LAPACKE_dlange(LAPACK_ROW_MAJOR, 'I', 3, 3, work, 3), rcond = 0.0;
    if (!solved(LAPACKE_dgetrf(LAPACK_ROW_MAJOR, 3, 3, work, 3, pivot)) ||
        !solved(LAPACKE_dgecon(LAPACK_ROW_MAJOR, 'I', 3, work, 3, norm, &rcond)) || !(rcond > LEAST_RCOND) ||
        !solved(LAPACKE_dgetri(LAPACK_ROW_MAJOR, 3, work, 3, pivot)))
        return false;
    memcpy(inverse, work, sizeof work);
    return true;
}

void pc_linalg_apply3(const double a[3][3], const double x[3], double y[3])
{
    double in[3] = {x[0], x[1], x[2]};
    for (int i = 0; i < 3; i++)
        y[i] = a[i][0] * in[0] + a[i][1] * in[1] + a[i][2] * in[2];
}

void pc_linalg_multiply3(const double a[3][3], const double b[3][3], double c[3][3])
{
    double out[3][3];
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            out[i][j] = a[i][0] * b[0][j] + a[i][1] * b[1][j] + a[i][2] * b[2][j];
    memcpy(c, out, sizeof out);
}
