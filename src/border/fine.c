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

#include "base/order.h"
#include "border/step.h"

enum {
    BINS_PER_PX = 4,
    REACH_MOST = 40,
    BINS = 2 * REACH_MOST * BINS_PER_PX,
    WEIGHT_PLACES = 64
};

static const double SPACING = 8;              /* px between points, at least */
static const double HALF_MOST = 6;            /* px along the edge on either side of a point */
static const double CORNER_SHARE = 0.012;     /* of the side left out at each end: rounded corners */
static const double END_SHARE = 0.1;          /* of the points: the straight end of a side */
static const double FIRST_BLUR = 1.0;
static const double EDGE_SHARE = 0.2;         /* of the profile's greatest change: an edge too */
static const double RIM = 0.8;                /* of the change outside it; less: the page's rim */
static const double SAME_PAPER = 0.15;        /* of its luminance or of the step: paper still */
static const double LEAST_PAPER_REACH = 8;    /* px inside that show what the paper is */
static const double COLOUR_RATHER = 0.3;      /* luminance's step over the colour's, below which */
static const double STEADY_RATHER = 0.5;      /* a channel that steps one way, over luminance */
static const double LEAST_COLOUR = 0.015;     /* linear; a fainter step may be noise in any channel */
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

static void colour_at(double rgb[3], const view *v, size_t x, size_t y)
{
    const unsigned char *row = v->shot->data + y * v->shot->stride;
    const size_t first = x * v->shot->channels;

    for (size_t c = 0; c < 3; c++) {
        const size_t i = first + (v->shot->channels == 3 ? c : 0);

        rgb[c] = v->shot->bits == 8
                     ? (double)v->linear[row[i]]
                     : (double)v->linear[((const uint16_t *)(const void *)row)[i]];
    }
}

static double value_at(const view *v, size_t x, size_t y)
{
    double rgb[3];

    colour_at(rgb, v, x, y);
    return v->weight[0] * rgb[0] + v->weight[1] * rgb[1] + v->weight[2] * rgb[2];
}

/* A profile across the edge: bins of a quarter px with the px that fall into them. */
typedef struct profile {
    double t[BINS];          /* mean distance outward, px */
    double value[BINS];      /* mean */
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
        out->t[k] = out->value[k] = out->weight[k] = 0;
    out->count = 0;
    for (double y = y0; y <= y1; y++) {
        for (double x = x0; x <= x1; x++) {
            const double t = (x - at.x) * normal.x + (y - at.y) * normal.y;
            const double a = (x - at.x) * along.x + (y - at.y) * along.y;
            const int k = (int)floor((t + reach) * BINS_PER_PX);

            if (fabs(a) > half || k < 0 || k >= bins)
                continue;
            out->t[k] += t;
            out->value[k] += value_at(seen, (size_t)x, (size_t)y);
            out->weight[k] += 1;
        }
    }
    for (int k = 0; k < bins; k++) {
        if (out->weight[k] > 0) {
            const size_t i = out->count++;
            const double w = out->weight[k];

            out->t[i] = out->t[k] / w;
            out->value[i] = out->value[k] / w;
            out->weight[i] = w;
        }
    }
    return out->count >= 6;
}

/* A profile in whole px: sums of values, from the innermost px outward. */
typedef struct coarse_profile {
    double value[2 * REACH_MOST + 1];
    double weight[2 * REACH_MOST + 1];
    int    count;
} coarse_profile;

static void coarsen(coarse_profile *out, const profile *p, double reach)
{
    memset(out, 0, sizeof *out);
    out->count = (int)floor(2 * reach);
    for (size_t i = 0; i < p->count; i++) {
        const int k = (int)floor(p->t[i] + reach);

        if (k >= 0 && k < out->count) {
            out->value[k] += p->weight[i] * p->value[i];
            out->weight[k] += p->weight[i];
        }
    }
}

/* Mean of the px first .. end - 1; NAN when there are none. */
static double mean_of(const coarse_profile *c, int first, int end)
{
    double value = 0;
    double weight = 0;

    for (int k = first < 0 ? 0 : first; k < end && k < c->count; k++) {
        value += c->value[k];
        weight += c->weight[k];
    }
    return weight > 0 ? value / weight : NAN;
}

/* Change from the 3 px before k to the 3 px from it on. */
static double change_at(const coarse_profile *c, int k)
{
    const double change = mean_of(c, k, k + 3) - mean_of(c, k - 3, k);

    return isnan(change) ? 0 : fabs(change);
}

/*
 * Where the edge is to be fitted. Of several edges in the profile the page's is the outermost
 * that still has paper just inside: cloth, shadows and other sheets lie beyond it, prints and
 * drawn lines within. Where nothing has, the greatest change, nearer to the course preferred; and
 * where that steps down to the table, and a fainter edge with paper just inside lies within, the
 * page has a rim or a stripe. What is darker than the table may be a shadow instead.
 * paper  value of the bare paper along this side; NAN: unknown
 */
static double first_place(const profile *p, double reach, double paper)
{
    coarse_profile c;
    double best = 0;
    double place = 0;
    double greatest = 0;
    double rim = 0;

    coarsen(&c, p, reach);
    for (int k = 2; k <= c.count - 2; k++) {
        const double t = k - reach;
        const double change = change_at(&c, k);

        greatest = fmax(greatest, change);
        if (change * (1 - 0.4 * fabs(t) / reach) > best) {
            best = change * (1 - 0.4 * fabs(t) / reach);
            place = t;
            rim = mean_of(&c, k - 3, k) > mean_of(&c, k, k + 3) ? RIM * change : 0;
        }
    }
    for (int k = c.count - 2; k >= 4 && !isnan(paper); k--) {
        const double change = change_at(&c, k);

        if (change < EDGE_SHARE * greatest || change < change_at(&c, k - 1)
            || change < change_at(&c, k + 1) || (k - reach < place && change < rim))
            continue;
        if (fabs(mean_of(&c, k - 5, k - 2) - paper) < SAME_PAPER * fmax(fabs(paper), change))
            return k - reach;
    }
    return place;
}

/* Fit in a window of 2.5 blurs about the step: a table shadow or a print beyond it stays out. */
static bool fit_point(sl_step *step, const profile *p, double reach, double paper)
{
    *step = (sl_step){ .place = first_place(p, reach, paper), .blur = FIRST_BLUR };
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
    qsort(r, p->count, sizeof *r, sl_by_double);
    return p->count > 0 ? 1.4826 * r[p->count / 2] : 0;
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

/* Value of the bare paper along a side: the median of the innermost px of its profiles. */
static double paper_level(const sl_course *course, const view *seen, double reach)
{
    enum { PLACES = 48 };
    double level[PLACES];
    size_t count = 0;

    for (size_t i = 0; i < PLACES; i++) {
        const double s = place_of(i, PLACES);
        profile prof;
        coarse_profile c;

        if (gather(&prof, seen, sl_course_point(course, s), normal_at(course, s), 2, reach)) {
            coarsen(&c, &prof, reach);
            level[count] = mean_of(&c, 0, 4);
            if (!isnan(level[count]))
                count++;
        }
    }
    qsort(level, count, sizeof *level, sl_by_double);
    return count > PLACES / 2 ? level[count / 2] : NAN;
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
    qsort(value, count, sizeof *value, sl_by_double);
    return count > 0 ? value[count / 5] : 0;
}

/*
 * How to look at a side: at its luminance; but where luminance hardly steps and colour does (a
 * blue page on brown wood), along the colour's own step, or in the channel that steps all along (a
 * red and white page on green cloth). Not always so: the channels' edges lie apart by the lens's
 * lateral colour, which luminance, mostly green, shows least.
 */
static void choose_weights(view *seen, const sl_course *course, double reach)
{
    enum { WEIGHTINGS = 5 };
    const double near = fmin(3, reach - 1);
    double weighting[WEIGHTINGS][3] = {
        { LUMINANCE[0], LUMINANCE[1], LUMINANCE[2] }, { 0 }, { 1, 0, 0 }, { 0, 1, 0 }, { 0, 0, 1 }
    };
    double step[WEIGHT_PLACES][3];
    double usual[WEIGHTINGS];
    double colour = 0;
    size_t count = 0;
    int best = 0;

    for (size_t i = 0; i < WEIGHT_PLACES; i++) {
        const double s = place_of(i, WEIGHT_PLACES);
        const sl_point at = sl_course_point(course, s);
        const sl_point normal = normal_at(course, s);
        double side[2][3];
        bool inside = true;

        for (int k = 0; k < 2; k++) {
            const double d = k == 0 ? -near : near;
            const double x = at.x + d * normal.x;
            const double y = at.y + d * normal.y;

            inside = inside && x >= 0 && y >= 0 && x < (double)seen->shot->width - 1
                     && y < (double)seen->shot->height - 1;
            if (inside)
                colour_at(side[k], seen, (size_t)(x + 0.5), (size_t)(y + 0.5));
        }
        for (int c = 0; c < 3 && inside; c++) {
            step[count][c] = side[0][c] - side[1][c];
            weighting[1][c] += step[count][c];
        }
        count += inside;
    }
    for (int c = 0; c < 3; c++)
        colour += weighting[1][c] * weighting[1][c];
    for (int c = 0; c < 3; c++)
        weighting[1][c] /= sqrt(colour) + 1e-12;
    for (int k = 0; k < WEIGHTINGS; k++) {
        usual[k] = usual_step(weighting[k], step, count, true);
        if (usual[k] > usual[best])
            best = k;
    }
    /* luminance may step down here and up there, as beside a chequered cloth */
    if (usual[0] > COLOUR_RATHER * usual[best] || usual[best] < LEAST_COLOUR
        || usual[best] < STEADY_RATHER * usual_step(weighting[0], step, count, false))
        best = 0;
    memcpy(seen->weight, weighting[best], sizeof seen->weight);
}

void sl_edge_fit(sl_edge *edge, sl_course *course, const sl_image *shot, const sl_tone *tone,
                 double reach, size_t most, bool plain)
{
    view seen = { shot, shot->bits == 8 ? sl_tone_linear8(tone) : sl_tone_linear16(tone), { 0 } };
    sl_edge_point found[SL_EDGE_POINTS];
    places p = { .count = 0 };
    sl_point along;
    sl_point out;
    const double length = chord(&along, &out, course);
    const double room = length * (1 - 2 * CORNER_SHARE);
    const size_t want = (size_t)fmin(fmax(24, room / SPACING), (double)most);
    const double half = fmin(room / (double)want / 2, HALF_MOST);
    double paper;

    reach = fmin(reach, REACH_MOST - 1);
    choose_weights(&seen, course, reach);
    paper = plain && reach >= LEAST_PAPER_REACH ? paper_level(course, &seen, reach) : NAN;
    for (size_t i = 0; i < want; i++) {
        const sl_point at = sl_course_point(course, place_of(i, want));
        const sl_point normal = normal_at(course, place_of(i, want));
        profile prof;
        sl_step step;

        if (gather(&prof, &seen, at, normal, half, reach)
            && fit_point(&step, &prof, reach, paper)) {
            const sl_point q = { at.x + step.place * normal.x, at.y + step.place * normal.y };
            const double t = (q.x - course->a.x) * along.x + (q.y - course->a.y) * along.y;

            found[p.count] = (sl_edge_point){ q, step.place_sigma, step.blur,
                                              step.before - step.after };
            p.s[p.count] = 2 * t / length - 1;
            p.offset[p.count] = (q.x - course->a.x) * out.x + (q.y - course->a.y) * out.y;
            p.count++;
        }
    }
    edge->count = 0;
    edge->support = 0;
    edge->spread_px = 0;
    edge->camera_px = 0;
    if (p.count < 8)
        return;
    edge->spread_px = fit_course(course, &p);
    course->has_ends = false;
    fit_ends(course, &p);
    for (size_t i = 0; i < p.count; i++)
        if (p.weight[i] > 0)
            edge->point[edge->count++] = found[i];
    edge->support = (double)edge->count / (double)want;
}
