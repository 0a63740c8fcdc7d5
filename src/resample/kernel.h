/* The interpolation kernel as tables of weights. */
#ifndef SL_RESAMPLE_KERNEL_H
#define SL_RESAMPLE_KERNEL_H

#include <stddef.h>

#include "squareleaf.h"

enum {
    SL_RADIUS = 3,           /* zeros of the sinc to each side */
    SL_PLACE_BITS = 14,      /* of a place's fraction: 1/16384 px */
    SL_PHASE_BITS = 8,       /* of them choose a row of the narrow kernel's table */
    SL_LANES = 8             /* floats that are worked on at once */
};

/*
 * The kernel widened by `scale`, at 2^phase_bits + 1 places between two pixels. The taps of a
 * place x are the pixels floor(x) - taps/2 + 1 .. floor(x) + taps/2; their weights are interpolated
 * between two rows of the table. Each row's weights sum to 1.
 */
typedef struct sl_kernel {
    double   scale;          /* >= 1, shot px */
    size_t   taps;           /* even */
    unsigned phase_bits;
    size_t   x_lanes;        /* floats in a row of x: each weight once for each float of a pixel,
                                then zeros up to a multiple of SL_LANES */
    size_t   y_lanes;        /* floats in a row of y: each weight once, then zeros likewise */
    float   *x;
    float   *y;
} sl_kernel;

/* floats  in a pixel of the linear tile: 1 grey, 4 colour */
sl_status sl_kernel_make(sl_kernel *out, double scale, size_t floats, sl_error *err);
void sl_kernel_clear(sl_kernel *kernel);

/* Value at a distance of d >= 0 zeros of the sinc; 0 from SL_RADIUS on. */
double sl_kernel_value(double d);

/* A kernel's widening over the scale: see kernel.c. */
#define SL_WIDENING 0.95

/*
 * Scales are held in steps of 1/16 octave, so that neighbouring parts of a page differ by at most
 * 2 % in the width of their kernels, which nobody sees.
 */
size_t sl_scale_step(double scale);          /* 0 for all scales up to 1 */
double sl_scale_of_step(size_t step);

/* Half of its taps, and a shot, must fit a 32-bit place. */
enum { SL_SCALE_MAX = 1 << 14, SL_SCALE_STEPS = 16 * 14 + 1 };
_Static_assert((long long)SL_RADIUS * SL_SCALE_MAX + 65536 < 1LL << (31 - SL_PLACE_BITS),
               "a place relative to the first tap overflows");

#endif
