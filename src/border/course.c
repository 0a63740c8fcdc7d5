/*
 * Courses of sides: their points, where two of them meet, and the robust curve through points.
 */
#include "border/course.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "border/select.h"
#include "geometry/linear.h"

static const double LEAST_CHORD = 8;          /* px */
static const double END_SHARE = 0.1;          /* of the points: the straight end of a side */

static void legendre(double p[SL_COURSE_TERMS], double s)
{
    p[0] = 1;
    p[1] = s;
    for (int k = 2; k < SL_COURSE_TERMS; k++)
        p[k] = ((2 * k - 1) * s * p[k - 1] - (k - 1) * p[k - 2]) / k;
}

double sl_course_offset(const sl_course *course, double s)
{
    double p[SL_COURSE_TERMS];
    double sum = 0;

    legendre(p, s);
    for (int k = 0; k < SL_COURSE_TERMS; k++)
        sum += course->term[k] * p[k];
    return sum;
}

double sl_course_chord(sl_point *along, sl_point *out, const sl_course *course)
{
    const double dx = course->b.x - course->a.x;
    const double dy = course->b.y - course->a.y;
    const double length = hypot(dx, dy);

    *along = (sl_point){ dx / length, dy / length };
    *out = (sl_point){ along->y, -along->x };
    return length;
}

sl_point sl_course_point(const sl_course *course, double s)
{
    sl_point along;
    sl_point out;
    const double t = (s + 1) / 2 * sl_course_chord(&along, &out, course);
    const double offset = sl_course_offset(course, s);

    return (sl_point){ course->a.x + t * along.x + offset * out.x,
                       course->a.y + t * along.y + offset * out.y };
}

/* A point and the direction of a course's straight end (0: its start, 1: its end). */
static void straight_end(sl_point *at, sl_point *dir, const sl_course *course, int end)
{
    const double s = end == 0 ? -1 : 1;
    const double h = 0.02;
    double offset = sl_course_offset(course, s * (1 - h));
    double slope = (offset - sl_course_offset(course, s * (1 - 2 * h))) / (s * h);
    sl_point along;
    sl_point out;
    const double half = sl_course_chord(&along, &out, course) / 2;

    offset += slope * s * h;
    if (course->has_ends) {
        offset = course->end[end][0] + course->end[end][1] * s;
        slope = course->end[end][1];
    }
    *at = end == 0 ? course->a : course->b;
    *at = (sl_point){ at->x + offset * out.x, at->y + offset * out.y };
    *dir = (sl_point){ half * along.x + slope * out.x, half * along.y + slope * out.y };
}

bool sl_course_meet(sl_point *corner, const sl_course *a, const sl_course *b)
{
    sl_point p;
    sl_point q;
    sl_point d;
    sl_point e;
    double det;
    double t;

    straight_end(&p, &d, a, 1);
    straight_end(&q, &e, b, 0);
    det = d.x * e.y - d.y * e.x;
    if (fabs(det) < 0.2 * hypot(d.x, d.y) * hypot(e.x, e.y))
        return false;
    t = ((q.x - p.x) * e.y - (q.y - p.y) * e.x) / det;
    *corner = (sl_point){ p.x + t * d.x, p.y + t * d.y };
    return true;
}

/* ---- the robust curve ------------------------------------------------------------------------ */

/* 1.4826 x the median absolute residual: the standard deviation of a normal distribution. */
static double scatter(const sl_places *p, const sl_course *course)
{
    double r[SL_EDGE_POINTS];

    for (size_t i = 0; i < p->count; i++)
        r[i] = fabs(p->offset[i] - sl_course_offset(course, p->s[i]));
    return p->count > 0 ? 1.4826 * sl_select_double(r, (ptrdiff_t)p->count,
                                                    (ptrdiff_t)p->count / 2)
                        : 0;
}

static bool solve_terms(double term[SL_COURSE_TERMS], const sl_places *p, size_t terms)
{
    enum { N = SL_COURSE_TERMS };
    double m[N][N + 1] = { { 0 } };

    for (size_t i = 0; i < p->count; i++) {
        double basis[N];

        legendre(basis, p->s[i]);
        for (size_t a = 0; a < terms; a++) {
            for (size_t b = 0; b < terms; b++)
                m[a][b] += p->weight[i] * basis[a] * basis[b];
            m[a][N] += p->weight[i] * basis[a] * p->offset[i];
        }
    }
    memset(term, 0, N * sizeof *term);
    return sl_solve_normal(term, m[0], terms, N + 1);
}

/*
 * Iteratively reweighted least squares with Tukey's biweight (c = 4.685, Beaton & Tukey 1974),
 * first with few terms so that outliers cannot pull the curve onto themselves.
 * Returns the scatter of the points about the curve, px.
 */
static double fit_course(sl_course *course, sl_places *p)
{
    const size_t most = p->count >= 80 ? SL_COURSE_TERMS : 6;
    double spread = 0;

    for (size_t pass = 0; pass < 12; pass++) {
        const size_t terms = pass < 4 || p->count < 24 ? 3 : pass < 8 ? 6 : most;

        for (size_t i = 0; i < p->count; i++) {
            const double r = pass == 0 ? 0 : p->offset[i] - sl_course_offset(course, p->s[i]);
            const double u = r / (4.685 * fmax(spread, 0.08));

            p->weight[i] = fabs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
        }
        if (!solve_terms(course->term, p, terms))
            break;
        spread = scatter(p, course);
    }
    return spread;
}

/* Straight lines through the points of the last tenth of the side at each end. */
static void fit_ends(sl_course *course, const sl_places *p)
{
    for (int end = 0; end < 2; end++) {
        const size_t want = (size_t)fmax(8, END_SHARE * (double)p->count);
        double m[3] = { 0 };
        double v[2] = { 0 };
        double det;
        size_t taken = 0;

        for (size_t i = 0; i < p->count && taken < want; i++) {
            const size_t k = end == 0 ? i : p->count - 1 - i;

            if (p->weight[k] > 0) {
                taken++;
                m[0] += p->weight[k];
                m[1] += p->weight[k] * p->s[k];
                m[2] += p->weight[k] * p->s[k] * p->s[k];
                v[0] += p->weight[k] * p->offset[k];
                v[1] += p->weight[k] * p->offset[k] * p->s[k];
            }
        }
        det = m[0] * m[2] - m[1] * m[1];
        if (taken < 6 || !(det > 1e-9 * m[0] * m[2]))
            return;
        course->end[end][0] = (v[0] * m[2] - v[1] * m[1]) / det;
        course->end[end][1] = (m[0] * v[1] - m[1] * v[0]) / det;
    }
    course->has_ends = true;
}

double sl_course_fit(sl_course *course, sl_places *p)
{
    const double spread = fit_course(course, p);

    course->has_ends = false;
    fit_ends(course, p);
    return spread;
}

/* Terms about the course's chord, of points near it; false without a chord or a solution. */
static bool fit_points(sl_course *course, const sl_point *point, size_t count, size_t terms)
{
    sl_places p = { .count = count };
    sl_point along;
    sl_point out;
    const double length = sl_course_chord(&along, &out, course);

    if (!(length > LEAST_CHORD))
        return false;
    for (size_t i = 0; i < count; i++) {
        const double dx = point[i].x - course->a.x;
        const double dy = point[i].y - course->a.y;

        p.s[i] = 2 * (dx * along.x + dy * along.y) / length - 1;
        p.offset[i] = dx * out.x + dy * out.y;
        p.weight[i] = 1;
    }
    return solve_terms(course->term, &p, terms);
}

bool sl_course_through(sl_course *course, const sl_point *point, size_t count)
{
    if (count < SL_COURSE_TERMS || count > SL_EDGE_POINTS)
        return false;
    *course = (sl_course){ .a = point[0], .b = point[count - 1] };
    return fit_points(course, point, count, SL_COURSE_TERMS);
}

bool sl_course_near(sl_course *course, const sl_course *like, const sl_point *point, size_t count)
{
    enum { TERMS = 6 };

    if (count < 2 * TERMS || count > SL_EDGE_POINTS)
        return false;
    *course = (sl_course){ .a = like->a, .b = like->b };
    return fit_points(course, point, count, TERMS);
}

/* Where an edge's points lie along a course's chord. */
static void find_places(sl_places *p, const sl_course *course, const sl_edge *edge)
{
    sl_point along;
    sl_point out;
    const double length = sl_course_chord(&along, &out, course);

    p->count = edge->count;
    for (size_t i = 0; i < edge->count; i++) {
        const double dx = edge->point[i].at.x - course->a.x;
        const double dy = edge->point[i].at.y - course->a.y;

        p->s[i] = 2 * (dx * along.x + dy * along.y) / length - 1;
        p->offset[i] = dx * out.x + dy * out.y;
    }
}

void sl_course_refit(sl_course *course, const sl_edge *edge)
{
    sl_places p = { .count = 0 };

    find_places(&p, course, edge);
    (void)sl_course_fit(course, &p);
}

double sl_course_usual_off(const sl_course *course, const sl_edge *edge)
{
    sl_places p = { .count = 0 };

    find_places(&p, course, edge);
    for (size_t i = 0; i < p.count; i++)
        p.offset[i] = fabs(p.offset[i] - sl_course_offset(course, p.s[i]));
    return sl_median(p.offset, p.count);
}

sl_point sl_course_outward(const sl_course *course, double s)
{
    const double h = 0.01;
    sl_point along;
    sl_point out;
    const double length = sl_course_chord(&along, &out, course);
    const double slope = (sl_course_offset(course, s + h) - sl_course_offset(course, s - h))
                         / (h * length);
    const double norm = sqrt(1 + slope * slope);

    return (sl_point){ (out.x - slope * along.x) / norm, (out.y - slope * along.y) / norm };
}

sl_point sl_course_inward(const sl_course *course, double s)
{
    const sl_point out = sl_course_outward(course, s);

    return (sl_point){ -out.x, -out.y };
}

void sl_course_corners(sl_point corner[4], const sl_course course[4])
{
    for (int i = 0; i < 4; i++) {
        sl_point p;

        if (sl_course_meet(&p, &course[(i + 3) % 4], &course[i]))
            corner[i] = p;
    }
}
