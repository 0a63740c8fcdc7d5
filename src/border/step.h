/* The blurred step: where exactly an edge lies in a short profile across it. */
#ifndef SL_BORDER_STEP_H
#define SL_BORDER_STEP_H

#include <stdbool.h>
#include <stddef.h>

typedef struct sl_step {
    double place;            /* of the step along the profile, px */
    double blur;             /* sigma of the Gaussian that blurs it, px; the px's own box included */
    double before;           /* level at small t */
    double after;            /* level at large t */
    double place_sigma;      /* standard error of `place`, px */
    double noise;            /* rms of the residuals of a sample of weight 1, in levels */
} sl_step;

/*
 * Least-squares fit of before + (after - before) Phi((t - place) / blur) to samples.
 * step   in: first guess of place and blur; out: the fit
 * t      places of the samples, px, any order; value: linear luminance; weight: > 0, one
 *        over the relative variance
 * Gauss-Newton with step halving on all four parameters. False, *step undefined, when there is
 * no step to fit: fewer than 6 or more than 512 samples, a place outside them, or a blur beyond 0.2..12 px.
 */
bool sl_step_fit(sl_step *step, const double *t, const double *value, const double *weight,
                 size_t count);

#endif
