/* Small dense linear algebra: what the geometry needs of it and no more. */
#ifndef SL_GEOMETRY_LINEAR_H
#define SL_GEOMETRY_LINEAR_H

#include <stdbool.h>
#include <stddef.h>

/* out = a b, 3x3 row-major; out may not be a or b. */
void sl_mat3_mul(double out[9], const double a[9], const double b[9]);

/* out = a v; out may not be v. */
static inline void sl_mat3_apply(double out[3], const double a[9], const double v[3])
{
    for (size_t i = 0; i < 3; i++)
        out[i] = a[3 * i] * v[0] + a[3 * i + 1] * v[1] + a[3 * i + 2] * v[2];
}

double sl_mat3_det(const double a[9]);

void sl_cross3(double out[3], const double a[3], const double b[3]);

static inline double sl_dot3(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/*
 * Unit vector that a (rows x cols, row-major, destroyed) takes nearest to zero: the right
 * singular vector of the smallest singular value, by one-sided Jacobi rotations (Hestenes,
 * J. SIAM 6(1), 1958), which keep small singular values to full relative accuracy.
 * null    out: cols entries; cols <= SL_NULL_COLS
 * second  out: second smallest over largest singular value: near 0, the answer is not unique
 */
enum { SL_NULL_COLS = 9 };
void sl_null_vector(double *null, double *second, double *a, size_t rows, size_t cols);

/*
 * Inverse of a symmetric positive definite n x n matrix by Cholesky, in place (row-major, both
 * halves). The diagonal is first scaled to 1, so that units do not matter.
 * False, with `a` spoilt, when a pivot is not positive. n <= SL_SPD_MAX.
 */
enum { SL_SPD_MAX = 64 };
bool sl_spd_invert(double *a, size_t n);

/*
 * Solves the normal equations of n unknowns, symmetric and positive definite, by elimination in
 * place: rows of m are `width` apart, their right side in the last column of the width.
 * False, with m spoilt, when a pivot is not well above 0.
 */
bool sl_solve_normal(double *x, double *m, size_t n, size_t width);

#endif
