#include "geometry/linear.h"

#include <float.h>
#include <math.h>

static const double LEAST_PIVOT = 1e-9;

void sl_mat3_mul(double out[9], const double a[9], const double b[9])
{
    for (size_t i = 0; i < 3; i++)
        for (size_t j = 0; j < 3; j++)
            out[3 * i + j] = a[3 * i] * b[j] + a[3 * i + 1] * b[3 + j]
                             + a[3 * i + 2] * b[6 + j];
}

double sl_mat3_det(const double a[9])
{
    return a[0] * (a[4] * a[8] - a[5] * a[7]) - a[1] * (a[3] * a[8] - a[5] * a[6])
           + a[2] * (a[3] * a[7] - a[4] * a[6]);
}

void sl_cross3(double out[3], const double a[3], const double b[3])
{
    out[0] = a[1] * b[2] - a[2] * b[1];
    out[1] = a[2] * b[0] - a[0] * b[2];
    out[2] = a[0] * b[1] - a[1] * b[0];
}

/* Turns columns p and q of a and of v so that those of a become orthogonal; true if it had to. */
static bool rotate_columns(double *a, double *v, size_t rows, size_t cols, size_t p, size_t q)
{
    double pp = 0.0;
    double qq = 0.0;
    double pq = 0.0;

    for (size_t r = 0; r < rows; r++) {
        const double x = a[r * cols + p];
        const double y = a[r * cols + q];

        pp += x * x;
        qq += y * y;
        pq += x * y;
    }
    if (fabs(pq) <= 4.0 * DBL_EPSILON * sqrt(pp * qq))
        return false;

    const double zeta = (qq - pp) / (2.0 * pq);
    const double t = copysign(1.0, zeta) / (fabs(zeta) + hypot(1.0, zeta));
    const double c = 1.0 / hypot(1.0, t);
    const double s = c * t;

    for (size_t r = 0; r < rows + cols; r++) {
        double *const row = r < rows ? a + r * cols : v + (r - rows) * cols;
        const double x = row[p];
        const double y = row[q];

        row[p] = c * x - s * y;
        row[q] = s * x + c * y;
    }
    return true;
}

void sl_null_vector(double *null, double *second, double *a, size_t rows, size_t cols)
{
    enum { SWEEPS = 60 };    /* convergence is quadratic; 6 to 10 are usual */
    double v[SL_NULL_COLS * SL_NULL_COLS] = { 0 };
    double norm[SL_NULL_COLS];
    bool turned = true;
    size_t least = 0;

    for (size_t i = 0; i < cols; i++)
        v[i * cols + i] = 1.0;
    for (int sweep = 0; sweep < SWEEPS && turned; sweep++) {
        turned = false;
        for (size_t p = 0; p + 1 < cols; p++)
            for (size_t q = p + 1; q < cols; q++)
                turned = rotate_columns(a, v, rows, cols, p, q) || turned;
    }

    double most = 0.0;

    for (size_t c = 0; c < cols; c++) {
        norm[c] = 0.0;
        for (size_t r = 0; r < rows; r++)
            norm[c] = hypot(norm[c], a[r * cols + c]);
        if (norm[c] < norm[least])
            least = c;
        most = fmax(most, norm[c]);
    }

    double next = most;

    for (size_t c = 0; c < cols; c++)
        if (c != least)
            next = fmin(next, norm[c]);
    *second = most > 0.0 ? next / most : 0.0;
    for (size_t r = 0; r < cols; r++)
        null[r] = v[r * cols + least];
}

bool sl_spd_invert(double *a, size_t n)
{
    double unit[SL_SPD_MAX];
    double column[SL_SPD_MAX];

    for (size_t i = 0; i < n; i++) {
        if (!(a[i * n + i] > 0.0) || !isfinite(a[i * n + i]))
            return false;
        unit[i] = 1.0 / sqrt(a[i * n + i]);
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++)
            a[i * n + j] *= unit[i] * unit[j];

    /* lower half: a = L L' */
    for (size_t j = 0; j < n; j++) {
        for (size_t i = j; i < n; i++) {
            double sum = a[i * n + j];

            for (size_t k = 0; k < j; k++)
                sum -= a[i * n + k] * a[j * n + k];
            if (i == j) {
                if (!(sum > (double)n * DBL_EPSILON))
                    return false;
                a[j * n + j] = sqrt(sum);
            } else {
                a[i * n + j] = sum / a[j * n + j];
            }
        }
    }
    /* lower half: L^-1 */
    for (size_t j = 0; j < n; j++) {
        a[j * n + j] = 1.0 / a[j * n + j];
        for (size_t i = j + 1; i < n; i++) {
            double sum = 0.0;

            for (size_t k = j; k < i; k++)
                sum -= a[i * n + k] * a[k * n + j];
            a[i * n + j] = sum / a[i * n + i];
        }
    }
    /* a^-1 = L^-T L^-1, its columns taken from the left: rows below are still L^-1 */
    for (size_t j = 0; j < n; j++) {
        for (size_t i = j; i < n; i++) {
            column[i] = 0.0;
            for (size_t k = i; k < n; k++)
                column[i] += a[k * n + i] * a[k * n + j];
        }
        for (size_t i = j; i < n; i++)
            a[i * n + j] = column[i];
    }
    for (size_t j = 0; j < n; j++)
        for (size_t i = j; i < n; i++) {
            a[i * n + j] *= unit[i] * unit[j];
            a[j * n + i] = a[i * n + j];
        }
    return true;
}

bool sl_solve_normal(double *x, double *m, size_t n, size_t width)
{
    const size_t right = width - 1;

    for (size_t a = 0; a < n; a++) {
        const double *pivot = m + a * width;

        if (!(pivot[a] > LEAST_PIVOT))
            return false;
        for (size_t b = a + 1; b < n; b++) {
            double *row = m + b * width;
            const double f = row[a] / pivot[a];

            for (size_t c = a; c < n; c++)
                row[c] -= f * pivot[c];
            row[right] -= f * pivot[right];
        }
    }
    for (size_t a = n; a-- > 0;) {
        const double *row = m + a * width;

        x[a] = row[right];
        for (size_t b = a + 1; b < n; b++)
            x[a] -= row[b] * x[b];
        x[a] /= row[a];
    }
    return true;
}
