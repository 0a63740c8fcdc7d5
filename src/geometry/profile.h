/*
 * The sheet's profile: a curve of unit speed, because paper bends but does not stretch.
 *
 * theta(q) = sum c[k] P[k+1](q), k = 0 .. n-1, is its slope angle at q = s / half, where s is the
 * arc length from the page's centre and P are Legendre polynomials; P0 is left out: it would
 * be a rotation of the pose. x = integral cos theta, z = integral sin theta, both from q = 0.
 * All lengths here are in units of `half`. Polynomials rather than spline pieces: the shapes
 * that paper takes (bow, S, rise to a spine within 40 mm) are smooth, and ten coefficients hold
 * them; a lifted corner, flat and then bent, takes all.
 */
#ifndef SL_GEOMETRY_PROFILE_H
#define SL_GEOMETRY_PROFILE_H

#include <stddef.h>

enum { SL_PROFILE_TERMS = 16 };    /* coefficients at most */

typedef struct sl_profile_at {
    double x;
    double z;
    double cosine;                /* of theta: dx/dq */
    double sine;                  /* dz/dq */
} sl_profile_at;

/* By Gauss-Legendre quadrature, to about 1e-12 for |theta| up to 1. */
sl_profile_at sl_profile_point(const double *c, size_t n, double q);

/* The same for many points: integrals at nodes, cubic Hermite pieces between (to 1e-8;
 * cosine and sine to 1e-5). */
enum { SL_PROFILE_NODES = 97 };   /* over -SL_PROFILE_REACH .. SL_PROFILE_REACH */
#define SL_PROFILE_REACH 1.2

typedef struct sl_profile_table {
    size_t terms;
    double c[SL_PROFILE_TERMS];
    /* P at the nodes and half way to the next; depends on nothing, made once */
    double basis[SL_PROFILE_NODES][SL_PROFILE_TERMS];
    double between[SL_PROFILE_NODES - 1][SL_PROFILE_TERMS];
    /* x, z and their q-derivatives at the nodes */
    double place[SL_PROFILE_NODES][4];
    double half_way[SL_PROFILE_NODES - 1][2];    /* cosine and sine between nodes */
    /* dx/dc, dz/dc and their q-derivatives; only after sl_profile_table_derivatives() */
    double dc[SL_PROFILE_NODES][SL_PROFILE_TERMS][4];
} sl_profile_table;

void sl_profile_table_init(sl_profile_table *table);
void sl_profile_table_set(sl_profile_table *table, const double *c, size_t n);
void sl_profile_table_derivatives(sl_profile_table *table);
sl_profile_at sl_profile_table_point(const sl_profile_table *table, double q);

/* dx/dc[k], dz/dc[k] at q, for k = 0 .. terms - 1. */
void sl_profile_table_dc(double *dx, double *dz, const sl_profile_table *table, double q);

#endif
