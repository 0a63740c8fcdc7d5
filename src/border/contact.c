#include "border/contact.h"

#include <math.h>

#include "border/course.h"
#include "geometry/linear.h"

enum { IN, OUT, SLOPE, PLACE, LN_BLUR, PARAMETERS };
enum { ITERATIONS = 20, BINS_LEAST = 16 };

static const double SQRT_HALF = 0.70710678118654752;
static const double BELL_HEIGHT = 0.39894228040143268; /* 1 / sqrt(2 pi) */

/* What is fitted, px: as much as a page and its shadow surely reach, more for a soft edge. */
static const double INWARD = 3.5;
static const double OUTWARD = 5;
static const double BLURS_IN = 3.5;
static const double BLURS_OUT = 5;

/* A side's mean profile: px along it about each place, and the share left out at its ends. */
static const double HALF = 3;
static const double ENDS = 0.012;

static const double SURELY = 0.5;             /* cost over that of a bare step */
static const double DARKEST = 0.02;           /* of the page's light; below it nothing is told */
static const double LEAST = 0.03;             /* px */
static const double MOST = 0.45;              /* blurs of the step */

static double value_at(const double x[PARAMETERS], double t)
{
    const double blur = exp(x[LN_BLUR]);
    const double z = (t - x[PLACE]) / blur;
    const double beyond = 0.5 * erfc(-z * SQRT_HALF);
    const double bell = exp(-0.5 * z * z) * BELL_HEIGHT;

    return x[IN] + (x[OUT] - x[IN]) * beyond + x[SLOPE] * blur * (z * beyond + bell);
}

static void slopes_at(double j[PARAMETERS], const double x[PARAMETERS], double t)
{
    const double blur = exp(x[LN_BLUR]);
    const double z = (t - x[PLACE]) / blur;
    const double beyond = 0.5 * erfc(-z * SQRT_HALF);
    const double bell = exp(-0.5 * z * z) * BELL_HEIGHT;
    const double step = x[OUT] - x[IN];

    j[IN] = 1 - beyond;
    j[OUT] = beyond;
    j[SLOPE] = blur * (z * beyond + bell);
    j[PLACE] = -step * bell / blur - x[SLOPE] * beyond;
    j[LN_BLUR] = -step * z * bell + x[SLOPE] * blur * bell;
}

static double cost_of(const double x[PARAMETERS], const sl_across *p, size_t first, size_t end)
{
    double cost = 0;

    for (size_t i = first; i < end; i++) {
        const double r = p->value[i] - value_at(x, p->t[i]);

        cost += p->weight[i] * r * r;
    }
    return cost;
}

/* Gauss-Newton with step halving, with the ramp or without it. Returns the cost. */
static double fit(double x[PARAMETERS], const sl_across *p, size_t first, size_t end, bool ramp)
{
    double cost = cost_of(x, p, first, end);

    for (int k = 0; k < ITERATIONS; k++) {
        double m[PARAMETERS][PARAMETERS + 1] = { { 0 } };
        double change[PARAMETERS];
        double size = 1;
        bool better = false;

        for (size_t i = first; i < end; i++) {
            double j[PARAMETERS];
            const double r = p->value[i] - value_at(x, p->t[i]);

            slopes_at(j, x, p->t[i]);
            if (!ramp)
                j[SLOPE] = 0;
            for (int a = 0; a < PARAMETERS; a++) {
                for (int b = 0; b < PARAMETERS; b++)
                    m[a][b] += p->weight[i] * j[a] * j[b];
                m[a][PARAMETERS] += p->weight[i] * j[a] * r;
            }
        }
        if (!ramp)
            m[SLOPE][SLOPE] = 1;
        if (!sl_solve_normal(change, m[0], PARAMETERS, PARAMETERS + 1))
            break;
        for (int half = 0; half < 6 && !better; half++, size /= 2) {
            double trial[PARAMETERS];
            double trial_cost;

            for (int a = 0; a < PARAMETERS; a++)
                trial[a] = x[a] + size * change[a];
            trial_cost = cost_of(trial, p, first, end);
            if (trial_cost < cost) {
                better = true;
                for (int a = 0; a < PARAMETERS; a++)
                    x[a] = trial[a];
                if (cost - trial_cost < 1e-4 * cost)
                    k = ITERATIONS;
                cost = trial_cost;
            }
        }
        if (!better)
            break;
    }
    return cost;
}

double sl_contact_shift(const sl_across *mean, double blur)
{
    size_t first = 0;
    size_t end = mean->count;
    double bare[PARAMETERS] = { [LN_BLUR] = log(blur) };
    double x[PARAMETERS];
    double cost;

    while (first < end && mean->t[first] < -fmax(INWARD, BLURS_IN * blur))
        first++;
    while (end > first && mean->t[end - 1] > fmax(OUTWARD, BLURS_OUT * blur))
        end--;
    if (end - first < BINS_LEAST)
        return 0;
    bare[IN] = mean->value[first];
    bare[OUT] = mean->value[end - 1];
    cost = fit(bare, mean, first, end, false);
    for (int a = 0; a < PARAMETERS; a++)
        x[a] = bare[a];
    if (!(fit(x, mean, first, end, true) < SURELY * cost))
        return 0;
    return x[SLOPE] > 0 && x[OUT] > DARKEST * x[IN] && x[IN] > x[OUT] && x[PLACE] > LEAST
                   && x[PLACE] < MOST * blur
               ? x[PLACE]
               : 0;
}

/* The mean profile along a side, in one weighting. */
static void mean_profile(sl_across *out, const sl_course *course, const sl_linear_shot *seen,
                         const double weight[3])
{
    enum { PLACES = 64, BINS = 2 * SL_CONTACT_REACH * SL_BINS_PER_PX };
    double t[BINS] = { 0 };
    double rgb[BINS][3] = { { 0 } };
    double px[BINS] = { 0 };

    for (int i = 0; i < PLACES; i++) {
        const double s = (1 - 2 * ENDS) * ((2.0 * i + 1) / PLACES - 1);
        sl_across one;

        if (!sl_across_gather(&one, seen, sl_course_point(course, s),
                              sl_course_outward(course, s), HALF, SL_CONTACT_REACH))
            continue;
        for (size_t k = 0; k < one.count; k++) {
            const int bin = (int)((one.t[k] + SL_CONTACT_REACH) * SL_BINS_PER_PX);

            t[bin] += one.weight[k] * one.t[k];
            px[bin] += one.weight[k];
            for (int c = 0; c < 3; c++)
                rgb[bin][c] += one.weight[k] * one.rgb[k][c];
        }
    }
    out->count = 0;
    for (int k = 0; k < BINS; k++) {
        if (px[k] > 0) {
            out->t[out->count] = t[k] / px[k];
            out->weight[out->count] = px[k];
            for (int c = 0; c < 3; c++)
                out->rgb[out->count][c] = rgb[k][c] / px[k];
            out->count++;
        }
    }
    sl_across_weigh(out, weight);
}

void sl_contact_leave(sl_edge *edge, sl_course *course, const sl_linear_shot *seen,
                      const double weight[3])
{
    const double blur = sl_edge_blur(edge);
    sl_across mean;
    sl_point along;
    sl_point out;
    double shift;

    if (!isfinite(blur))
        return;
    mean_profile(&mean, course, seen, weight);
    shift = sl_contact_shift(&mean, blur);
    (void)sl_course_chord(&along, &out, course);
    for (size_t i = 0; i < edge->count; i++) {
        edge->point[i].at.x += shift * out.x;
        edge->point[i].at.y += shift * out.y;
    }
    course->term[0] += shift;
    course->end[0][0] += shift;
    course->end[1][0] += shift;
}
