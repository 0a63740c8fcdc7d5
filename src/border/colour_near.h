/* Colours of the shot as the eye sees them: means over a few px. */
#ifndef SL_BORDER_COLOUR_NEAR_H
#define SL_BORDER_COLOUR_NEAR_H

#include <math.h>

#include "squareleaf.h"

typedef struct sl_colour {
    float c[3];
} sl_colour;

/* Mean of the 3 x 3 px about a point: codes 0..255, or what `linear` has for the shot's codes, when
   it is not NULL. Beyond the picture its rim goes on. */
static inline sl_colour sl_mean_near(const sl_image *shot, const float *linear, double x, double y)
{
    const double right = (double)shot->width - 1;
    const double low = (double)shot->height - 1;
    sl_colour mean = { { 0, 0, 0 } };

    for (int dy = -1; dy <= 1; dy++) {
        const size_t row = (size_t)(fmin(fmax(y + dy, 0), low) + 0.5);
        const unsigned char *data = shot->data + row * shot->stride;

        for (int dx = -1; dx <= 1; dx++) {
            const size_t i = (size_t)(fmin(fmax(x + dx, 0), right) + 0.5) * shot->channels;

            for (size_t c = 0; c < 3; c++) {
                const size_t k = i + (shot->channels == 3 ? c : 0);
                const unsigned code = shot->bits == 8 ? data[k]
                                                      : ((const uint16_t *)(const void *)data)[k];

                mean.c[c] += linear != NULL ? linear[code] / 9
                             : shot->bits == 8 ? (float)code / 9
                                               : (float)code / 257 / 9;
            }
        }
    }
    return mean;
}

static inline sl_colour sl_colour_near(const sl_image *shot, double x, double y)
{
    return sl_mean_near(shot, NULL, x, y);
}

/* In linear light, 0..1, by the table of the shot's depth. */
static inline sl_colour sl_linear_near(const sl_image *shot, const float *linear, double x,
                                       double y)
{
    return sl_mean_near(shot, linear, x, y);
}

/* The channel that differs most, codes. */
static inline double sl_colour_differ(sl_colour a, sl_colour b)
{
    double most = 0;

    for (int c = 0; c < 3; c++)
        most = fmax(most, fabs((double)(a.c[c] - b.c[c])));
    return most;
}

/*
 * The share that a shadow would leave of colour `lit` to make it most like `colour` (least squares
 * over the channels): 1 in the same light.
 */
static inline double sl_colour_shade(const float colour[3], const float lit[3])
{
    double both = 0;
    double square = 1e-9;

    for (int c = 0; c < 3; c++) {
        both += (double)(colour[c] * lit[c]);
        square += (double)(lit[c] * lit[c]);
    }
    return both / square;
}

#endif
