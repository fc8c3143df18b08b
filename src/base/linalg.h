// SPDX-License-Identifier: Apache-2.0
// Small dense systems, over LAPACK. Matrices are row-major.
#ifndef PC_BASE_LINALG_H
#define PC_BASE_LINALG_H

#include "base/err.h"

// Least squares: x (n) that makes |A x - b| least, A being m x n with m >= n. a and b are copied.
// False when A has not full rank (reciprocal condition below 1e-12).
bool pc_linalg_least_squares(int m, int n, const double *a, const double *b, double *x);

// Inverse of a 3 x 3 matrix; false when it has none.
bool pc_linalg_invert3(const double a[3][3], double inverse[3][3]);

// y = A x and C = A B, 3 x 3.
void pc_linalg_apply3(const double a[3][3], const double x[3], double y[3]);
void pc_linalg_multiply3(const double a[3][3], const double b[3][3], double c[3][3]);

#endif
