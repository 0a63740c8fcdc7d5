/* What pictures painted by a test are made of. */
#ifndef TESTS_PAINTED_H
#define TESTS_PAINTED_H

#include <math.h>
#include <stdint.h>

/* The code of an amount of light, 0..1. */
static inline unsigned char coded(double linear)
{
    const double l = fmin(fmax(linear, 0), 1);

    /* IEC 61966-2-1 */
    return (unsigned char)lround(
        255 * (l <= 0.0031308 ? 12.92 * l : 1.055 * pow(l, 1 / 2.4) - 0.055));
}

/* A small generator of our own, so that the pictures are the same everywhere. */
static inline double uniform(uint64_t *state)
{
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    return (double)(*state >> 11) / 9007199254740992.0;
}

#endif
