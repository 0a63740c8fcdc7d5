/*
 * Only the beginning is looked at. How a shadow falls off further out depends on the lamp's size
 * and on the table's pattern; but a dark page is even, and its light known to a fraction of a
 * code, so that the first of the table's light shows against it, whatever follows.
 */
#include "border/onset.h"

#include <math.h>

#include "geometry/linear.h"

enum { LEAST_BINS = 8 };                     /* of the page, and of the first light */
enum { PAGE, STEP, RAMP, BEND, TERMS };   /* columns of a linear model */

static const double COARSE = 0.25;           /* px between places that are tried */
static const double PAGE_SHARE = 0.4;        /* of the profile's inner part: surely page */
static const double FIRST_LIGHT = 0.5;       /* of the height: what is looked at */
static const double LEAST_NOISE = 1e-4;      /* of a profile, linear */
static const double HEIGHT_WITHIN = 1.5;     /* a bare step is as high, times or through this */
static const double SURELY = 0.5;            /* the cost with a dip over that without one */
static const double SOFTEST = 1.8;           /* camera's blurs of a bare step */
static const double SOFTER = 1.08;           /* ... from one that is tried to the next */
static const double CAMERAS[] = { 0.87, 1 };
static const double SQRT_HALF = 0.70710678118654752;
static const double ROOT_TWO_PI = 2.5066282746310002;

/* The beginning of a profile, weighed by what each bin can tell. */
typedef struct beginning {
    const sl_light_profile *p;
    double weight[SL_PROFILE_BINS];
    int    inside;           /* bins that are surely page */
    int    count;            /* bins that are looked at */
    int    terms;
    bool   dip;              /* may the darkest shadow be darker than the page? */
} beginning;

/* Columns of a linear model. */
typedef double columns[SL_PROFILE_BINS][TERMS];

static double bell_integral(double x)
{
    return 0.5 * erfc(-x * SQRT_HALF);
}

static bool begin(beginning *out, const sl_light_profile *p, double height, double pattern)
{
    double page = 0;
    double noise = 0;

    out->p = p;
    out->inside = 0;
    out->count = 0;
    out->terms = 3;
    out->dip = false;
    while (out->inside < p->count && p->t[out->inside] < (1 - PAGE_SHARE) * p->t[0])
        page += p->value[out->inside++];
    if (out->inside < LEAST_BINS)
        return false;
    page /= out->inside;
    for (int i = 0; i < out->inside; i++)
        noise += (p->value[i] - page) * (p->value[i] - page);
    noise = fmax(sqrt(noise / out->inside), LEAST_NOISE);
    while (out->count + 2 < p->count
           && (p->value[out->count] + p->value[out->count + 1] + p->value[out->count + 2]) / 3
                  < page + FIRST_LIGHT * height)
        out->count++;
    for (int i = 0; i < out->count; i++) {
        const double more = pattern * (p->value[i] - page) / noise;

        out->weight[i] = p->weight[i] / (1 + more * more);
    }
    return out->count + 2 < p->count && out->count >= out->inside + LEAST_BINS;
}

/* Least squares; returns the weighted mean squared residual, infinite without a solution. */
static double cost_of(double level[TERMS], const beginning *b, columns basis, int terms)
{
    double m[TERMS][TERMS + 1] = { { 0 } };
    double cost = 0;
    double weights = 0;

    for (int i = 0; i < b->count; i++)
        for (int r = 0; r < terms; r++) {
            for (int c = r; c < terms; c++)
                m[r][c] += b->weight[i] * basis[i][r] * basis[i][c];
            m[r][TERMS] += b->weight[i] * basis[i][r] * b->p->value[i];
        }
    for (int r = 1; r < terms; r++)
        for (int c = 0; c < r; c++)
            m[r][c] = m[c][r];
    if (!sl_solve_normal(level, m[0], (size_t)terms, TERMS + 1))
        return INFINITY;
    for (int i = 0; i < b->count; i++) {
        double off = b->p->value[i];

        for (int r = 0; r < terms; r++)
            off -= level[r] * basis[i][r];
        cost += b->weight[i] * off * off;
        weights += b->weight[i];
    }
    return cost / weights;
}

/* The page, and a ramp and a step that begin at `place`, blurred. */
static void onset_columns(columns basis, const beginning *b, double place, double camera)
{
    for (int i = 0; i < b->count; i++) {
        const double x = (b->p->t[i] - place) / camera;

        const double bell = exp(-0.5 * x * x) / ROOT_TWO_PI;
        const double step = bell_integral(x);

        basis[i][PAGE] = 1;
        basis[i][STEP] = step;
        basis[i][RAMP] = camera * (x * step + bell);
        basis[i][BEND] = camera * camera * ((x * x + 1) * step + x * bell);
    }
}

/* Fits out's step, ramp and bend at its place, for its camera. No shadow is below black. */
static void fit_shape(sl_onset *out, const beginning *b)
{
    columns basis;
    double level[TERMS] = { 0 };

    onset_columns(basis, b, out->place, out->camera);
    for (int terms = b->terms; terms >= 2; terms--) {
        out->cost = cost_of(level, b, basis, terms);
        out->step = level[STEP];
        out->ramp = terms > RAMP ? level[RAMP] : 0;
        out->bend = terms > BEND ? level[BEND] : 0;
        if (isfinite(out->cost) && out->ramp >= 0 && level[PAGE] + out->step >= 0
            && (out->step >= 0 || (b->dip && terms > 2)))
            return;
    }
    out->cost = INFINITY;
}

/* Fits how much of like's light there is at out's place. */
static void fit_amount(sl_onset *out, const beginning *b, const sl_onset *like)
{
    columns basis;
    double level[TERMS] = { 0 };

    onset_columns(basis, b, out->place, like->camera);
    for (int i = 0; i < b->count; i++)
        basis[i][1] = like->step * basis[i][STEP] + like->ramp * basis[i][RAMP]
                      + like->bend * basis[i][BEND];
    out->cost = cost_of(level, b, basis, 2);
    if (!(level[1] > 0))
        out->cost = INFINITY;
}

static void fit(sl_onset *out, const beginning *b, const sl_onset *like)
{
    if (like != NULL)
        fit_amount(out, b, like);
    else
        fit_shape(out, b);
}

/* The place of least cost, to a fraction of the spacing by a parabola. */
static bool best_place(sl_onset *out, const beginning *b, double camera, const sl_onset *like)
{
    const double *t = b->p->t;
    sl_onset trial = { .camera = camera };
    double beside[2];
    double bend;

    out->cost = INFINITY;
    for (trial.place = t[b->inside - 1]; trial.place < t[b->count - 1] + camera;
         trial.place += COARSE) {
        fit(&trial, b, like);
        if (trial.cost < out->cost)
            *out = trial;
    }
    if (!isfinite(out->cost))
        return false;
    for (int k = 0; k < 2; k++) {
        trial.place = out->place + (k == 0 ? -COARSE : COARSE);
        fit(&trial, b, like);
        beside[k] = trial.cost;
    }
    bend = beside[0] - 2 * out->cost + beside[1];
    if (bend > 0 && beside[0] >= out->cost && beside[1] >= out->cost)
        out->place += 0.5 * COARSE * (beside[0] - beside[1]) / bend;
    return true;
}

/* Cost of a bare step of supple that height at the place and with the softness that suit it. */
static double bare_cost(const beginning *b, double camera, double height)
{
    const double *t = b->p->t;
    double best = INFINITY;
    columns basis;
    double level[TERMS] = { 0 };

    for (double blur = camera; blur < SOFTEST * camera; blur *= SOFTER) {
        for (double place = t[0]; place < t[b->count - 1] + 2 * blur; place += COARSE) {
            double cost;

            for (int i = 0; i < b->count; i++) {
                basis[i][0] = 1;
                basis[i][1] = bell_integral((t[i] - place) / blur);
            }
            cost = cost_of(level, b, basis, 2);
            if (level[1] > height / HEIGHT_WITHIN && level[1] < height * HEIGHT_WITHIN)
                best = fmin(best, cost);
        }
    }
    return best;
}

bool sl_onset_find(sl_onset *out, const sl_light_profile *p, double camera, bool supple,
                   double height, double pattern)
{
    beginning b;

    out->cost = INFINITY;
    if (!begin(&b, p, height, pattern))
        return false;
    b.terms = supple ? TERMS : 3;
    for (int dip = 0; dip < 2; dip++)
        for (size_t i = 0; i < sizeof CAMERAS / sizeof *CAMERAS; i++) {
            sl_onset trial;

            b.dip = dip == 1;
            if ((supple || CAMERAS[i] == 1) && best_place(&trial, &b, CAMERAS[i] * camera, NULL)
                && trial.cost < (trial.step < 0 ? SURELY : 1) * out->cost)
                *out = trial;
        }
    if (!isfinite(out->cost))
        return false;
    out->bare = supple ? bare_cost(&b, camera, height) : INFINITY;
    return true;
}

bool sl_onset_place(double *place, const sl_light_profile *p, const sl_onset *like, double height,
                    double pattern)
{
    beginning b;
    sl_onset o = { 0 };

    if (!begin(&b, p, height, pattern) || !best_place(&o, &b, like->camera, like))
        return false;
    *place = o.place;
    return true;
}
