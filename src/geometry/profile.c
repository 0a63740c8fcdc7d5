#include "geometry/profile.h"

#include <math.h>

/* P1 .. Pn at q: (k+1) P[k+1] = (2k+1) q P[k] - k P[k-1]. */
static void legendre(double *p, size_t n, double q)
{
    double before = 1.0;
    double now = q;

    for (size_t k = 1; k <= n; k++) {
        const double next =
            ((double)(2 * k + 1) * q * now - (double)k * before) / (double)(k + 1);

        p[k - 1] = now;
        before = now;
        now = next;
    }
}

static double slope_angle(const double *c, size_t n, double q)
{
    double p[SL_PROFILE_TERMS];
    double theta = 0.0;

    legendre(p, n, q);
    for (size_t k = 0; k < n; k++)
        theta += c[k] * p[k];
    return theta;
}

sl_profile_at sl_profile_point(const double *c, size_t n, double q)
{
    /* 16-point Gauss-Legendre abscissae and weights (Abramowitz & Stegun, table 25.4) */
    static const double at[8] = {
        0.095012509837637440185, 0.281603550779258913230, 0.458016777657227386342,
        0.617876244402643748447, 0.755404408355003033895, 0.865631202387831743880,
        0.944575023073232576078, 0.989400934991649932596,
    };
    static const double weight[8] = {
        0.189450610455068496285, 0.182603415044923588867, 0.169156519395002538189,
        0.149595988816576732081, 0.124628971255533872052, 0.095158511682492784810,
        0.062253523938647892863, 0.027152459411754094852,
    };
    sl_profile_at out = { 0 };
    const double theta = slope_angle(c, n, q);

    out.cosine = cos(theta);
    out.sine = sin(theta);
    if (n == 0) {
        out.x = q;
        return out;
    }
    for (size_t i = 0; i < 16; i++) {
        const double t = i < 8 ? -at[7 - i] : at[i - 8];
        const double w = i < 8 ? weight[7 - i] : weight[i - 8];
        const double here = slope_angle(c, n, 0.5 * q * (1.0 + t));

        out.x += 0.5 * q * w * cos(here);
        out.z += 0.5 * q * w * sin(here);
    }
    return out;
}

static const double TABLE_FIRST = -SL_PROFILE_REACH;
static const double TABLE_STEP = 2 * SL_PROFILE_REACH / (SL_PROFILE_NODES - 1);

void sl_profile_table_init(sl_profile_table *table)
{
    table->terms = 0;
    for (size_t j = 0; j < SL_PROFILE_NODES; j++) {
        const double node = TABLE_FIRST + TABLE_STEP * (double)j;

        legendre(table->basis[j], SL_PROFILE_TERMS, node);
        if (j + 1 < SL_PROFILE_NODES)
            legendre(table->between[j], SL_PROFILE_TERMS, node + 0.5 * TABLE_STEP);
    }
}

static double sum_terms(const double *c, const double *p, size_t n)
{
    double sum = 0.0;

    for (size_t k = 0; k < n; k++)
        sum += c[k] * p[k];
    return sum;
}

/* Simpson's rule over a cell: its ends and its middle. */
static const double END = 1.0 / 6.0;
static const double MIDDLE = 4.0 / 6.0;

void sl_profile_table_set(sl_profile_table *table, const double *c, size_t n)
{
    double x = 0.0;
    double z = 0.0;

    table->terms = n;
    for (size_t k = 0; k < n; k++)
        table->c[k] = c[k];
    for (size_t j = 0; j < SL_PROFILE_NODES; j++) {
        const double theta = sum_terms(c, table->basis[j], n);
        double *const here = table->place[j];

        here[2] = cos(theta);
        here[3] = sin(theta);
        if (j > 0) {
            const double *const before = table->place[j - 1];
            const double between = sum_terms(c, table->between[j - 1], n);
            double *const middle = table->half_way[j - 1];

            middle[0] = cos(between);
            middle[1] = sin(between);
            x += TABLE_STEP * (END * (before[2] + here[2]) + MIDDLE * middle[0]);
            z += TABLE_STEP * (END * (before[3] + here[3]) + MIDDLE * middle[1]);
        }
        here[0] = x;
        here[1] = z;
    }
    /* q = 0 is the middle node */
    x = table->place[SL_PROFILE_NODES / 2][0];
    z = table->place[SL_PROFILE_NODES / 2][1];
    for (size_t j = 0; j < SL_PROFILE_NODES; j++) {
        table->place[j][0] -= x;
        table->place[j][1] -= z;
    }
}

void sl_profile_table_derivatives(sl_profile_table *table)
{
    const size_t n = table->terms;
    double dx[SL_PROFILE_TERMS] = { 0 };
    double dz[SL_PROFILE_TERMS] = { 0 };

    for (size_t j = 0; j < SL_PROFILE_NODES; j++)
        for (size_t k = 0; k < n; k++) {
            double *const here = table->dc[j][k];

            here[2] = -table->place[j][3] * table->basis[j][k];
            here[3] = table->place[j][2] * table->basis[j][k];
            if (j > 0) {
                const double *const before = table->dc[j - 1][k];
                const double between = MIDDLE * table->between[j - 1][k];

                dx[k] += TABLE_STEP * (END * (before[2] + here[2])
                                       - between * table->half_way[j - 1][1]);
                dz[k] += TABLE_STEP * (END * (before[3] + here[3])
                                       + between * table->half_way[j - 1][0]);
            }
            here[0] = dx[k];
            here[1] = dz[k];
        }
    for (size_t k = 0; k < n; k++) {
        const double x = table->dc[SL_PROFILE_NODES / 2][k][0];
        const double z = table->dc[SL_PROFILE_NODES / 2][k][1];

        for (size_t j = 0; j < SL_PROFILE_NODES; j++) {
            table->dc[j][k][0] -= x;
            table->dc[j][k][1] -= z;
        }
    }
}

/*
 * Cubic Hermite weights of the cell's values and q-derivatives at both ends; `slope`, which may
 * be NULL, has those of the derivative.
 */
static size_t hermite(double w[4], double slope[4], double q)
{
    const double at = (q - TABLE_FIRST) / TABLE_STEP;
    const double cell = fmin(fmax(floor(at), 0.0), (double)(SL_PROFILE_NODES - 2));
    const double t = at - cell;    /* outside 0..1 beyond the table: the end piece goes on */

    w[0] = (1.0 + 2.0 * t) * (1.0 - t) * (1.0 - t);
    w[1] = t * t * (3.0 - 2.0 * t);
    w[2] = t * (1.0 - t) * (1.0 - t) * TABLE_STEP;
    w[3] = t * t * (t - 1.0) * TABLE_STEP;
    if (slope != NULL) {
        slope[1] = 6.0 * t * (1.0 - t) / TABLE_STEP;
        slope[0] = -slope[1];
        slope[2] = (1.0 - t) * (1.0 - 3.0 * t);
        slope[3] = t * (3.0 * t - 2.0);
    }
    return (size_t)cell;
}

sl_profile_at sl_profile_table_point(const sl_profile_table *table, double q)
{
    sl_profile_at out;
    double w[4];
    double d[4];
    const size_t j = hermite(w, d, q);
    const double *const a = table->place[j];
    const double *const b = table->place[j + 1];

    out.x = w[0] * a[0] + w[1] * b[0] + w[2] * a[2] + w[3] * b[2];
    out.z = w[0] * a[1] + w[1] * b[1] + w[2] * a[3] + w[3] * b[3];
    out.cosine = d[0] * a[0] + d[1] * b[0] + d[2] * a[2] + d[3] * b[2];
    out.sine = d[0] * a[1] + d[1] * b[1] + d[2] * a[3] + d[3] * b[3];
    return out;
}

void sl_profile_table_dc(double *dx, double *dz, const sl_profile_table *table, double q)
{
    double w[4];
    const size_t j = hermite(w, NULL, q);

    for (size_t k = 0; k < table->terms; k++) {
        const double *const a = table->dc[j][k];
        const double *const b = table->dc[j + 1][k];

        dx[k] = w[0] * a[0] + w[1] * b[0] + w[2] * a[2] + w[3] * b[2];
        dz[k] = w[0] * a[1] + w[1] * b[1] + w[2] * a[3] + w[3] * b[3];
    }
}
