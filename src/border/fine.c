/*
 * The fine step. At up to SL_EDGE_POINTS places along a side, the px of a small rectangle across
 * the edge are sorted by their distance from the course and a blurred step is fitted to them. No
 * interpolation: each px enters at its own centre, so that a slanted edge is sampled at all
 * phases. In linear light: blur happens in light, and a step fitted to coded values lies up to
 * 0.6 px too far out on a bright page.
 */
#include "border/fine.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "border/select.h"
#include "border/step.h"
#include "border/surfaces.h"
#include "geometry/linear.h"

enum {
    BINS_PER_PX = 4,
    REACH_MOST = 40,
    BINS = 2 * REACH_MOST * BINS_PER_PX,
    WEIGHT_PLACES = 64,
    NONE_IN = 3,             /* px from a profile's inner end to its edge: that is none */
    SHIFTS = 4,
    BESIDE = 7               /* px on either side of a step that show how its colours scatter */
};

static const double SPACING = 8;              /* px between points, at least */
static const double HALF_MOST = 6;            /* px along the edge on either side of a point */
static const double CORNER_SHARE = 0.012;     /* of the side left out at each end: rounded corners */
static const double END_SHARE = 0.1;          /* of the points: the straight end of a side */
static const double FIRST_BLUR = 1.0;
static const double STEP_ODDS = 2.5;          /* log odds that the profile's greatest step is worth */
static const double STRAY = 5;                /* px from where the colours meet to a bolder step */
static const double NEAR_RATHER = 0.4;        /* ... less this share of it at the profile's ends */
static const double COLOUR_RATHER = 0.5;      /* how clear luminance must be, of the clearest */
static const double REACH_TO_MOVE = 10;       /* px; nearer than that a course is where it should be */
static const double MOSTLY_NONE = 0.6;        /* of the places */
static const double CLEAR = 5;                /* ... or in scatters */
static const double LEAST_SCATTER = 0.003;    /* linear */
static const double LEAST_COLOUR = 0.015;     /* linear; a fainter step may be noise in any channel */
static const double ROUGH = 0.3;              /* px that points scatter: another look may see more */
static const double VERY_ROUGH = 1.5;
static const double SMOOTHER = 0.6;           /* ... when it scatters less than this share of it */
static const double SHARPEST = 0.35;          /* px; the px's own box blurs by 0.29 */
static const double WORST_SIGMA = 0.6;        /* px; a point known no better is none */
static const double LEAST_OVER_NOISE = 2.5;   /* contrast over the noise of one px */

/* ---- courses --------------------------------------------------------------------------------- */

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

/* Unit vectors along the chord and out of the page. */
static double chord(sl_point *along, sl_point *out, const sl_course *course)
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
    const double t = (s + 1) / 2 * chord(&along, &out, course);
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
    const double half = chord(&along, &out, course) / 2;

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

/* ---- one point ------------------------------------------------------------------------------- */

/* The shot as the fit sees it: one value a px, a weighted sum of its channels in linear light. */
typedef struct view {
    const sl_image *shot;
    const float    *linear;
    double          weight[3];
} view;

/* Luminance: weights of IEC 61966-2-1, rounded as in ITU-R BT.709. */
static const double LUMINANCE[3] = { 0.2126, 0.7152, 0.0722 };

static inline void colour_at(double rgb[3], const view *v, const unsigned char *row, size_t x)
{
    const size_t first = x * v->shot->channels;

    for (size_t c = 0; c < 3; c++) {
        const size_t i = first + (v->shot->channels == 3 ? c : 0);

        rgb[c] = v->shot->bits == 8
                     ? (double)v->linear[row[i]]
                     : (double)v->linear[((const uint16_t *)(const void *)row)[i]];
    }
}

/* A profile across the edge: bins of a quarter px with the px that fall into them. */
typedef struct profile {
    double t[BINS];          /* mean distance outward, px */
    double rgb[BINS][3];     /* mean, linear */
    double value[BINS];      /* its weighted sum */
    double weight[BINS];     /* px */
    size_t count;            /* bins that hold px; they come first, in order */
} profile;

static bool gather(profile *out, const view *seen, sl_point at,
                   sl_point normal, double half, double reach)
{
    const sl_point along = { -normal.y, normal.x };
    const double dx = reach * fabs(normal.x) + half * fabs(along.x);
    const double dy = reach * fabs(normal.y) + half * fabs(along.y);
    const double x0 = fmax(0, ceil(at.x - dx));
    const double y0 = fmax(0, ceil(at.y - dy));
    const double x1 = fmin((double)seen->shot->width - 1, floor(at.x + dx));
    const double y1 = fmin((double)seen->shot->height - 1, floor(at.y + dy));
    const int bins = (int)(2 * reach * BINS_PER_PX);

    for (int k = 0; k < bins; k++)
        out->t[k] = out->rgb[k][0] = out->rgb[k][1] = out->rgb[k][2] = out->weight[k] = 0;
    out->count = 0;
    for (double y = y0; y <= y1; y++) {
        const unsigned char *row = seen->shot->data + (size_t)y * seen->shot->stride;
        const double ty = (y - at.y) * normal.y;
        const double ay = (y - at.y) * along.y;

        for (double x = x0; x <= x1; x++) {
            const double t = (x - at.x) * normal.x + ty;
            const double a = (x - at.x) * along.x + ay;
            const double bin = (t + reach) * BINS_PER_PX;
            const int k = (int)bin;
            double rgb[3];

            if (fabs(a) > half || bin < 0 || k >= bins)
                continue;
            out->t[k] += t;
            colour_at(rgb, seen, row, (size_t)x);
            for (int c = 0; c < 3; c++)
                out->rgb[k][c] += rgb[c];
            out->weight[k] += 1;
        }
    }
    for (int k = 0; k < bins; k++) {
        if (out->weight[k] > 0) {
            const size_t i = out->count++;
            const double w = out->weight[k];

            out->t[i] = out->t[k] / w;
            for (int c = 0; c < 3; c++)
                out->rgb[i][c] = out->rgb[k][c] / w;
            out->weight[i] = w;
        }
    }
    return out->count >= 6;
}

/* The profile's values in one weighting of the channels. */
static void weigh(profile *p, const double weight[3])
{
    for (size_t i = 0; i < p->count; i++)
        p->value[i] = weight[0] * p->rgb[i][0] + weight[1] * p->rgb[i][1]
                      + weight[2] * p->rgb[i][2];
}

/* A profile in whole px: sums of colours, from the innermost px outward. */
typedef struct coarse_profile {
    double rgb[2 * REACH_MOST + 1][3];
    double weight[2 * REACH_MOST + 1];
    int    count;
} coarse_profile;

static void coarsen(coarse_profile *out, const profile *p, double reach)
{
    out->count = (int)floor(2 * reach);
    memset(out->rgb, 0, (size_t)out->count * sizeof out->rgb[0]);
    memset(out->weight, 0, (size_t)out->count * sizeof out->weight[0]);
    for (size_t i = 0; i < p->count; i++) {
        const double px = p->t[i] + reach;
        const int k = (int)px;

        if (px >= 0 && k < out->count) {
            for (int c = 0; c < 3; c++)
                out->rgb[k][c] += p->weight[i] * p->rgb[i][c];
            out->weight[k] += p->weight[i];
        }
    }
}

/* Mean colour of the px first .. end - 1; false when there are none. */
static bool mean_of(double rgb[3], const coarse_profile *p, int first, int end)
{
    double weight = 0;

    rgb[0] = rgb[1] = rgb[2] = 0;
    for (int k = first < 0 ? 0 : first; k < end && k < p->count; k++) {
        for (int c = 0; c < 3; c++)
            rgb[c] += p->rgb[k][c];
        weight += p->weight[k];
    }
    for (int c = 0; c < 3; c++)
        rgb[c] /= weight > 0 ? weight : 1;
    return weight > 0;
}

/*
 * Changes from the 3 px before k to the 3 px from it on, for all 2 <= k <= count - 2, in square
 * roots of linear light: a step in the dark counts as the eye sees it.
 */
static void changes_of(double change[2 * REACH_MOST + 1], const coarse_profile *p)
{
    double root[2 * REACH_MOST + 1][3]; /* of the mean of px k - 1 .. k + 1 */
    bool some[2 * REACH_MOST + 1];

    for (int k = 0; k < p->count; k++) {
        some[k] = mean_of(root[k], p, k - 1, k + 2);
        for (int c = 0; c < 3; c++)
            root[k][c] = root[k][c] > 0 ? sqrt(root[k][c]) : 0;
    }
    for (int k = 2; k <= p->count - 2; k++) {
        double sum = 0;

        for (int c = 0; c < 3; c++) {
            const double d = root[k - 2][c] - root[k + 1][c];

            sum += d * d;
        }
        change[k] = some[k - 2] && some[k + 1] ? sqrt(sum) : 0;
    }
}

/*
 * Where the edge is to be fitted: where what lies inside is most likely the page's and what lies
 * outside the table's, and at a step, the greater and the nearer to the course the rather. Where
 * the colours tell nothing the step alone does.
 * surfaces  NULL: nothing is known of the colours
 */
static double first_place(const coarse_profile *p, double reach, sl_surfaces *surfaces, int side)
{
    double change[2 * REACH_MOST + 1];
    double greatest = 1e-9;
    double odds = 0;
    double best = -INFINITY;
    double place = 0;

    changes_of(change, p);
    for (int k = 2; k <= p->count - 2; k++)
        greatest = change[k] > greatest ? change[k] : greatest;
    for (int k = 0; k <= p->count - 2; k++) {
        double rgb[3];

        if (k >= 2) {
            const double t = k - reach;
            const double near = 1 - NEAR_RATHER * fabs(t) / reach;
            const double good = odds + STEP_ODDS * change[k] / greatest * near;

            if (good > best) {
                best = good;
                place = t;
            }
        }
        if (surfaces != NULL && mean_of(rgb, p, k, k + 1))
            odds += sl_surfaces_odds(surfaces, side, rgb);
    }
    return place;
}

/* The greatest change within STRAY px of a place. */
static double bold_place(const coarse_profile *p, double reach, double near)
{
    double change[2 * REACH_MOST + 1];
    double greatest = 0;
    double place = near;

    changes_of(change, p);
    for (int k = 2; k <= p->count - 2; k++) {
        if (fabs(k - reach - near) <= STRAY && change[k] > greatest) {
            greatest = change[k];
            place = k - reach;
        }
    }
    return place;
}

/* Fit in a window of 2.5 blurs about the step: a table shadow or a print beyond it stays out. */
static bool fit_step(sl_step *step, const profile *p, double from)
{
    *step = (sl_step){ .place = from, .blur = FIRST_BLUR };
    for (int pass = 0; pass < 4; pass++) {
        const double blur = step->blur;
        const double window = fmax(2.5 * step->blur + 0.75, 3);
        size_t first = 0;
        size_t end = p->count;

        while (first < end && p->t[first] < step->place - window)
            first++;
        while (end > first && p->t[end - 1] > step->place + window)
            end--;
        if (!sl_step_fit(step, p->t + first, p->value + first, p->weight + first, end - first))
            return false;
        if (fabs(step->blur - blur) < 0.15 * blur)
            break;
    }
    return true;
}

/* One edge point: where the colours put it, or, when there is no step just there, at the boldest
   step near by. */
static bool fit_point(sl_step *step, const profile *p, const coarse_profile *c, double reach,
                      sl_surfaces *surfaces, int side)
{
    const double from = first_place(c, reach, surfaces, side);

    if (!fit_step(step, p, from) && !fit_step(step, p, bold_place(c, reach, from)))
        return false;
    /* sharper than any camera: its place is known to a bin, whatever the fit's derivatives say */
    if (step->blur < SHARPEST)
        step->place_sigma = fmin(step->place_sigma, 1.0 / BINS_PER_PX);
    return step->place_sigma < WORST_SIGMA && fabs(step->place) < reach - 1
           && fabs(step->after - step->before) > LEAST_OVER_NOISE * step->noise;
}

/* ---- the robust curve ------------------------------------------------------------------------ */

typedef struct places {
    double s[SL_EDGE_POINTS];
    double offset[SL_EDGE_POINTS];
    double weight[SL_EDGE_POINTS];
    size_t count;
} places;

/* 1.4826 x the median absolute residual: the standard deviation of a normal distribution. */
static double scatter(const places *p, const sl_course *course)
{
    double r[SL_EDGE_POINTS];

    for (size_t i = 0; i < p->count; i++)
        r[i] = fabs(p->offset[i] - sl_course_offset(course, p->s[i]));
    return p->count > 0 ? 1.4826 * sl_select_double(r, (ptrdiff_t)p->count,
                                                    (ptrdiff_t)p->count / 2)
                        : 0;
}

static bool solve_terms(double term[SL_COURSE_TERMS], const places *p, size_t terms)
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
    for (size_t a = 0; a < terms; a++) {
        if (!(m[a][a] > 1e-9))
            return false;
        for (size_t b = a + 1; b < terms; b++) {
            const double f = m[b][a] / m[a][a];

            for (size_t c = a; c < terms; c++)
                m[b][c] -= f * m[a][c];
            m[b][N] -= f * m[a][N];
        }
    }
    memset(term, 0, N * sizeof *term);
    for (size_t a = terms; a-- > 0;) {
        term[a] = m[a][N];
        for (size_t b = a + 1; b < terms; b++)
            term[a] -= m[a][b] * term[b];
        term[a] /= m[a][a];
    }
    return true;
}

/*
 * Iteratively reweighted least squares with Tukey's biweight (c = 4.685, Beaton & Tukey 1974),
 * first with few terms so that outliers cannot pull the curve onto themselves.
 * Returns the scatter of the points about the curve, px.
 */
static double fit_course(sl_course *course, places *p)
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
static void fit_ends(sl_course *course, const places *p)
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

bool sl_course_through(sl_course *course, const sl_point *point, size_t count)
{
    places p = { .count = 0 };
    sl_point along;
    sl_point out;
    double length;

    if (count < SL_COURSE_TERMS || count > SL_EDGE_POINTS)
        return false;
    *course = (sl_course){ .a = point[0], .b = point[count - 1] };
    length = chord(&along, &out, course);
    if (!(length > 8))
        return false;
    for (size_t i = 0; i < count; i++) {
        const double dx = point[i].x - course->a.x;
        const double dy = point[i].y - course->a.y;

        p.s[i] = 2 * (dx * along.x + dy * along.y) / length - 1;
        p.offset[i] = dx * out.x + dy * out.y;
        p.weight[i] = 1;
    }
    p.count = count;
    return solve_terms(course->term, &p, SL_COURSE_TERMS);
}

bool sl_course_near(sl_course *course, const sl_course *like, const sl_point *point, size_t count)
{
    enum { TERMS = 6 };
    places p = { .count = count };
    sl_point along;
    sl_point out;
    const double length = chord(&along, &out, like);

    if (count < 2 * TERMS || count > SL_EDGE_POINTS)
        return false;
    *course = (sl_course){ .a = like->a, .b = like->b };
    for (size_t i = 0; i < count; i++) {
        const double dx = point[i].x - like->a.x;
        const double dy = point[i].y - like->a.y;

        p.s[i] = 2 * (dx * along.x + dy * along.y) / length - 1;
        p.offset[i] = dx * out.x + dy * out.y;
        p.weight[i] = 1;
    }
    return solve_terms(course->term, &p, TERMS);
}

void sl_course_refit(sl_course *course, const sl_edge *edge)
{
    places p = { .count = edge->count };
    sl_point along;
    sl_point out;
    const double length = chord(&along, &out, course);

    for (size_t i = 0; i < edge->count; i++) {
        const double dx = edge->point[i].at.x - course->a.x;
        const double dy = edge->point[i].at.y - course->a.y;

        p.s[i] = 2 * (dx * along.x + dy * along.y) / length - 1;
        p.offset[i] = dx * out.x + dy * out.y;
    }
    (void)fit_course(course, &p);
    course->has_ends = false;
    fit_ends(course, &p);
}

/* s of point i of `want`, the corners' surroundings left out. */
static double place_of(size_t i, size_t want)
{
    return (1 - 2 * CORNER_SHARE) * ((2.0 * (double)i + 1) / (double)want - 1);
}

/* Unit vector out of the page, across the course at s. */
static sl_point normal_at(const sl_course *course, double s)
{
    const double h = 0.01;
    sl_point along;
    sl_point out;
    const double length = chord(&along, &out, course);
    const double slope = (sl_course_offset(course, s + h) - sl_course_offset(course, s - h))
                         / (h * length);
    const double norm = sqrt(1 + slope * slope);

    return (sl_point){ (out.x - slope * along.x) / norm, (out.y - slope * along.y) / norm };
}

sl_point sl_course_inward(const sl_course *course, double s)
{
    const sl_point out = normal_at(course, s);

    return (sl_point){ -out.x, -out.y };
}

/* The step that four places in five of a side exceed, in one weighting; of one sign, if asked. */
static double usual_step(const double weight[3], double step[][3], size_t count, bool one_sign)
{
    double value[WEIGHT_PLACES];
    double sign = 0;

    for (size_t i = 0; i < count; i++) {
        value[i] = weight[0] * step[i][0] + weight[1] * step[i][1] + weight[2] * step[i][2];
        sign += value[i] > 0 ? 1 : -1;
    }
    for (size_t i = 0; i < count; i++)
        value[i] = !one_sign ? fabs(value[i]) : fmax(0, sign > 0 ? value[i] : -value[i]);
    return count > 0 ? sl_select_double(value, (ptrdiff_t)count, (ptrdiff_t)count / 5) : 0;
}

/* What the places of a side show: the steps at the edge, and how the colours beside it scatter. */
typedef struct steps {
    double step[WEIGHT_PLACES][3]; /* inside less outside, linear */
    size_t count;
    double mean[3];
    double scatter[9];       /* covariance within the px of either side of a place */
    size_t none_in;          /* places whose profile shows nothing of the page */
} steps;

/* Adds to `sum` the squares of the px first .. end - 1 about their mean. Returns the px. */
static double add_scatter(double sum[9], const coarse_profile *p, int first, int end)
{
    double mean[3];
    double px = 0;

    if (!mean_of(mean, p, first, end))
        return 0;
    for (int k = first < 0 ? 0 : first; k < end && k < p->count; k++) {
        double rgb[3];

        if (!mean_of(rgb, p, k, k + 1))
            continue;
        for (int i = 0; i < 9; i++)
            sum[i] += (rgb[i / 3] - mean[i / 3]) * (rgb[i % 3] - mean[i % 3]);
        px += 1;
    }
    return px;
}

static void see_steps(steps *out, const view *seen, const sl_course *course, double reach,
                      sl_surfaces *surfaces, int side)
{
    double px = 1e-9;

    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < WEIGHT_PLACES; i++) {
        const double s = place_of(i, WEIGHT_PLACES);
        profile prof;
        coarse_profile c;
        double inside[3];
        double outside[3];
        int k;

        if (!gather(&prof, seen, sl_course_point(course, s), normal_at(course, s), 2, reach))
            continue;
        coarsen(&c, &prof, reach);
        k = (int)lround(first_place(&c, reach, surfaces, side) + reach);
        out->none_in += k <= NONE_IN;
        if (!mean_of(inside, &c, k - 4, k - 1) || !mean_of(outside, &c, k + 1, k + 4))
            continue;
        for (int b = 0; b < 3; b++) {
            out->step[out->count][b] = inside[b] - outside[b];
            out->mean[b] += out->step[out->count][b];
        }
        out->count++;
        px += add_scatter(out->scatter, &c, k - BESIDE, k - 1);
        px += add_scatter(out->scatter, &c, k + 1, k + BESIDE);
    }
    for (int b = 0; b < 3; b++)
        out->mean[b] /= out->count > 0 ? (double)out->count : 1;
    for (int i = 0; i < 9; i++)
        out->scatter[i] = out->scatter[i] / px + (i % 4 == 0 ? LEAST_SCATTER * LEAST_SCATTER : 0);
}

/* A weighting's usual step over the scatter of what lies beside it. */
static double clearness(const double weight[3], steps *s, bool one_sign)
{
    double weighed[3];

    sl_mat3_apply(weighed, s->scatter, weight);
    return usual_step(weight, s->step, s->count, one_sign) / sqrt(sl_dot3(weight, weighed));
}

/*
 * How to look at a side: at its luminance, which shows the lens's lateral colour least; but where
 * something else shows the edge much more clearly, that way: the colour that the two sides differ
 * in and that neither a cloth's threads nor the page's shadow changes much (Fisher's linear
 * discriminant: Fisher, Annals of Eugenics 7(2), 1936), or a single channel (a red and white page
 * on green cloth). Returns how many of `weight` to try: the second may show the edge more clearly.
 */
static size_t ways_to_look(double weight[2][3], steps *s)
{
    enum { WEIGHTINGS = 5 };
    double weighting[WEIGHTINGS][3] = {
        { LUMINANCE[0], LUMINANCE[1], LUMINANCE[2] }, { 0 }, { 1, 0, 0 }, { 0, 1, 0 }, { 0, 0, 1 }
    };
    double clear[WEIGHTINGS];
    double steady;
    double inverse[9];
    double norm = 1e-12;
    int best = 0;

    memcpy(inverse, s->scatter, sizeof inverse);
    if (sl_spd_invert(inverse, 3))
        sl_mat3_apply(weighting[1], inverse, s->mean);
    norm += sqrt(sl_dot3(weighting[1], weighting[1]));
    for (int c = 0; c < 3; c++)
        weighting[1][c] /= norm;
    for (int k = 0; k < WEIGHTINGS; k++) {
        clear[k] = clearness(weighting[k], s, true);
        if (clear[k] > clear[best])
            best = k;
    }
    memcpy(weight[0], weighting[0], sizeof weight[0]);
    memcpy(weight[1], weighting[best], sizeof weight[1]);
    if (best == 0 || usual_step(weighting[best], s->step, s->count, true) < LEAST_COLOUR)
        return 1;
    /* luminance may step down here and up there, as beside a chequered cloth */
    steady = clearness(weighting[0], s, false);
    if (steady < CLEAR && steady < COLOUR_RATHER * clear[best]) {
        memcpy(weight[0], weighting[best], sizeof weight[0]);
        return 1;
    }
    return 2;
}

/* A side's points, and the robust curve through them. */
typedef struct trace {
    sl_edge_point found[SL_EDGE_POINTS];
    places        p;
    sl_course     course;
    double        spread;
    size_t        kept;
} trace;

static void trace_side(trace *out, const sl_course *course, const view *seen, double reach,
                       size_t want, sl_surfaces *surfaces, int side)
{
    places *p = &out->p;
    sl_point along;
    sl_point outward;
    const double length = chord(&along, &outward, course);
    const double half = fmin(length * (1 - 2 * CORNER_SHARE) / (double)want / 2, HALF_MOST);

    p->count = 0;
    out->course = *course;
    out->spread = 0;
    out->kept = 0;
    for (size_t i = 0; i < want; i++) {
        const sl_point at = sl_course_point(course, place_of(i, want));
        const sl_point normal = normal_at(course, place_of(i, want));
        profile prof;
        coarse_profile c;
        sl_step step;

        if (!gather(&prof, seen, at, normal, half, reach))
            continue;
        coarsen(&c, &prof, reach);
        weigh(&prof, seen->weight);
        if (fit_point(&step, &prof, &c, reach, surfaces, side)) {
            const sl_point q = { at.x + step.place * normal.x, at.y + step.place * normal.y };
            const double t = (q.x - course->a.x) * along.x + (q.y - course->a.y) * along.y;

            out->found[p->count] = (sl_edge_point){ q, step.place_sigma, step.blur,
                                                    step.before - step.after };
            p->s[p->count] = 2 * t / length - 1;
            p->offset[p->count] = (q.x - course->a.x) * outward.x
                                  + (q.y - course->a.y) * outward.y;
            p->count++;
        }
    }
    if (p->count < 8)
        return;
    out->spread = fit_course(&out->course, p);
    out->course.has_ends = false;
    fit_ends(&out->course, p);
    for (size_t i = 0; i < p->count; i++)
        out->kept += p->weight[i] > 0;
}

/* The side in another weighting, or without what the colours tell, where that is clearly smoother
   and no less is seen. */
static void look_again(trace *best, const sl_course *course, view *seen, const double weight[3],
                       double reach, size_t want, sl_surfaces *surfaces, int side)
{
    trace other;

    memcpy(seen->weight, weight, sizeof seen->weight);
    trace_side(&other, course, seen, reach, want, surfaces, side);
    if (other.spread < SMOOTHER * best->spread && other.kept >= best->kept)
        *best = other;
}

/*
 * Moves a course that runs outside the page, along the end of its shadow, in to where the page
 * begins. False, as it was, when that is nowhere near.
 */
static bool move_in(sl_course *course, steps *s, const view *seen, double reach,
                    sl_surfaces *surfaces, int side)
{
    const sl_course first = *course;

    for (int k = 0; k < SHIFTS; k++) {
        see_steps(s, seen, course, reach, surfaces, side);
        if (reach < REACH_TO_MOVE || (double)s->none_in <= MOSTLY_NONE * (double)s->count)
            return true;
        course->term[0] -= reach;
    }
    *course = first;
    return false;
}

void sl_edge_fit(sl_edge *edge, sl_course *course, const sl_image *shot, const sl_tone *tone,
                 double reach, size_t most, sl_surfaces *surfaces, int side)
{
    view seen = { shot, shot->bits == 8 ? sl_tone_linear8(tone) : sl_tone_linear16(tone), { 0 } };
    double weight[2][3];
    steps s;
    trace traced;
    sl_point along;
    sl_point out;
    const double room = chord(&along, &out, course) * (1 - 2 * CORNER_SHARE);
    const size_t want = (size_t)fmin(fmax(24, room / SPACING), (double)most);
    size_t ways;

    reach = fmin(reach, REACH_MOST - 1);
    if (surfaces == NULL || !move_in(course, &s, &seen, reach, surfaces, side)) {
        surfaces = NULL;
        see_steps(&s, &seen, course, reach, NULL, side);
    }
    ways = ways_to_look(weight, &s);
    memcpy(seen.weight, weight[0], sizeof seen.weight);
    trace_side(&traced, course, &seen, reach, want, surfaces, side);
    if (ways > 1 && traced.spread > ROUGH)
        look_again(&traced, course, &seen, weight[1], reach, want, surfaces, side);
    if (traced.spread > VERY_ROUGH)
        look_again(&traced, course, &seen, weight[0], reach, want, NULL, side);
    edge->count = 0;
    edge->support = 0;
    edge->spread_px = 0;
    edge->camera_px = 0;
    if (traced.p.count < 8)
        return;
    *course = traced.course;
    edge->spread_px = traced.spread;
    for (size_t i = 0; i < traced.p.count; i++)
        if (traced.p.weight[i] > 0)
            edge->point[edge->count++] = traced.found[i];
    edge->support = (double)edge->count / (double)want;
}
