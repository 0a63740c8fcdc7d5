/*
 * Small functions that a compiler puts in place. The C library's fmax(), hypot() and floor() mind
 * NaNs, overflow and rounding modes, which none of these pictures has, and cost a call each.
 */
#ifndef SCENES_MATHS_H
#define SCENES_MATHS_H

#include <math.h>

static inline double larger(double a, double b)
{
    return a > b ? a : b;
}

static inline double smaller(double a, double b)
{
    return a < b ? a : b;
}

static inline double length2(double x, double y)
{
    return sqrt(x * x + y * y);
}

static inline float largerf(float a, float b)
{
    return a > b ? a : b;
}

static inline float smallerf(float a, float b)
{
    return a < b ? a : b;
}

static inline float length2f(float x, float y)
{
    return sqrtf(x * x + y * y);
}

/* The largest integer not above x; |x| < 2^31. */
static inline int whole(float x)
{
    const int i = (int)x;

    return i - ((float)i > x);
}

/* x less the largest multiple of period not above it: 0 <= result < period. */
static inline float wrapped(float x, float period)
{
    return x - period * (float)whole(x / period);
}

#endif
