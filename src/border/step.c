#include "border/step.h"

#include <math.h>
#include <string.h>

enum { ITERATIONS = 12, SAMPLES_MOST = 512 };

static const double SQRT_HALF = 0.70710678118654752;
static const double BELL_HEIGHT = 0.39894228040143268; /* 1 / sqrt(2 pi) */

static const double BLUR_LEAST = 0.2;
static const double BLUR_MOST = 12;

/* Phi at each sample, then the levels by linear least squares; returns the cost. */
static double solve_levels(sl_step *s, double *phi, const double *t, const double *value,
                           const double *weight, size_t count)
{
    double uu = 0;
    double uv = 0;
    double vv = 0;
    double uy = 0;
    double vy = 0;
    double cost = 0;
    double det;

    for (size_t i = 0; i < count; i++) {
        const double v = 0.5 * erfc(-(t[i] - s->place) / s->blur * SQRT_HALF);
        const double u = 1 - v;

        phi[i] = v;
        uu += weight[i] * u * u;
        uv += weight[i] * u * v;
        vv += weight[i] * v * v;
        uy += weight[i] * u * value[i];
        vy += weight[i] * v * value[i];
    }
    det = uu * vv - uv * uv;
    if (!(det > 1e-9 * (uu + vv) * (uu + vv)))
        return INFINITY;
    s->before = (uy * vv - vy * uv) / det;
    s->after = (vy * uu - uy * uv) / det;
    for (size_t i = 0; i < count; i++) {
        const double r = value[i] - s->before - (s->after - s->before) * phi[i];

        cost += weight[i] * r * r;
    }
    return cost;
}

/* Normal equations of place and ln blur with the levels eliminated (variable projection after
   Golub & Pereyra, SIAM J. Numer. Anal. 10, 1973, in Kaufman's approximation). */
static bool gauss_newton(double change[2], double *place_information, const sl_step *s,
                         const double *phi, const double *t, const double *value,
                         const double *weight, size_t count)
{
    double m[4][5] = { { 0 } };

    for (size_t i = 0; i < count; i++) {
        const double z = (t[i] - s->place) / s->blur;
        const double v = phi[i];
        const double height = s->after - s->before;
        const double bell = height * exp(-0.5 * z * z) * BELL_HEIGHT;
        const double j[4] = { 1 - v, v, -bell / s->blur, -bell * z };
        const double r = value[i] - s->before - height * v;

        for (int a = 0; a < 4; a++) {
            for (int b = 0; b < 4; b++)
                m[a][b] += weight[i] * j[a] * j[b];
            m[a][4] += weight[i] * j[a] * r;
        }
    }
    for (int a = 0; a < 3; a++) {
        if (!(m[a][a] > 0))
            return false;
        for (int b = a + 1; b < 4; b++) {
            const double f = m[b][a] / m[a][a];

            for (int c = a; c < 5; c++)
                m[b][c] -= f * m[a][c];
        }
    }
    if (!(m[3][3] > 0))
        return false;
    /* information on `place` with the blur unknown too */
    *place_information = m[2][2] - m[2][3] * m[2][3] / (m[3][3] + m[2][3] * m[2][3] / m[2][2]);
    change[1] = m[3][4] / m[3][3];
    change[0] = (m[2][4] - m[2][3] * change[1]) / m[2][2];
    return true;
}

bool sl_step_fit(sl_step *step, const double *t, const double *value, const double *weight,
                 size_t count)
{
    double low = INFINITY;
    double high = -INFINITY;
    double cost;
    double information = 0;
    double phi[SAMPLES_MOST];

    if (count < 6 || count > SAMPLES_MOST)
        return false;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, t[i]);
        high = fmax(high, t[i]);
    }
    cost = solve_levels(step, phi, t, value, weight, count);
    if (!isfinite(cost))
        return false;
    for (int k = 0; k < ITERATIONS; k++) {
        double change[2];
        double size = 1;
        bool better = false;

        if (!gauss_newton(change, &information, step, phi, t, value, weight, count))
            return false;
        /* no further in one step than a blur's width, and the blur by no more than twice */
        size = fmin(1, fmin(1.5 * step->blur / (fabs(change[0]) + 1e-12),
                            0.7 / (fabs(change[1]) + 1e-12)));
        for (int half = 0; half < 6 && !better; half++, size /= 2) {
            sl_step trial = *step;
            double trial_phi[SAMPLES_MOST];
            double trial_cost;

            trial.place += size * change[0];
            trial.blur *= exp(size * change[1]);
            if (trial.blur < BLUR_LEAST || trial.blur > BLUR_MOST)
                continue;
            trial_cost = solve_levels(&trial, trial_phi, t, value, weight, count);
            if (trial_cost < cost) {
                better = true;
                *step = trial;
                memcpy(phi, trial_phi, count * sizeof *phi);
                if (cost - trial_cost < 1e-5 * cost)
                    k = ITERATIONS;
                cost = trial_cost;
            }
        }
        if (!better)
            break;
    }
    if (!(step->place > low && step->place < high))
        return false;
    step->noise = sqrt(cost / (double)(count - 4));
    step->place_sigma = information > 0 ? step->noise / sqrt(information) : INFINITY;
    return isfinite(step->place_sigma);
}
