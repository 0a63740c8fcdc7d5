/* Doubles compared in double precision (cmocka's own float checks are single). */
#ifndef TESTS_NEAR_H
#define TESTS_NEAR_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "squareleaf.h"

#include <math.h>

/* |got - want| <= tolerance, the tolerance taken as relative where |want| > 1. */
static inline void assert_near(const char *name, double got, double want, double tolerance)
{
    const double scale = fmax(1.0, fabs(want));

    if (!(fabs(got - want) <= tolerance * scale))
        fail_msg("%s: %.12g, expected %.12g within %g", name, got, want, tolerance * scale);
}

static inline void assert_point_near(const char *name, sl_point got, double x, double y,
                                     double tolerance)
{
    if (!(hypot(got.x - x, got.y - y) <= tolerance))
        fail_msg("%s: (%.9g, %.9g), expected (%.9g, %.9g) within %g", name, got.x, got.y, x, y,
                 tolerance);
}

#endif
