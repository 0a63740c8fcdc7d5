#include "border/contact.h"

#include <math.h>

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
