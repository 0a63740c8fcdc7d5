/* The interpolation kernel as tables of weights. */
#ifndef SL_RESAMPLE_KERNEL_H
#define SL_RESAMPLE_KERNEL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "squareleaf.h"

enum {
    SL_RADIUS = 3,           /* zeros of the sinc to each side */
    SL_PLACE_BITS = 14,      /* of a place's fraction: 1/16384 px */
    SL_PHASE_BITS = 8,       /* of them choose a row of the narrow kernel's table */
    SL_LANES = 8,            /* floats that are worked on at once */
    SL_WHOLE_BITS = 14,      /* whole weights sum to 2^14 */
    SL_WHOLE_TAPS = 32,      /* most taps of a kernel with whole weights */
    SL_WHOLE_PHASE_BITS = 11 /* rows of the narrow kernel's whole weights, as above */
};

/* Thousandths by which whole weights' sums may overshoot: sums of positive weights - 1. */
#define SL_FIXED_OVERSHOOT 266

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
    /*
     * The same in whole numbers, each row with zeros up to a multiple of 8 behind it; a place takes
     * the row nearest to it. NULL where a row's sums would overshoot too far.
     */
    int16_t *whole;
    unsigned whole_bits;     /* 2^whole_bits + 1 rows */
    size_t   whole_lanes;
} sl_kernel;

/*
 * floats  in a pixel of the linear tile: 1 grey, 4 colour
 * whole   whether whole weights are wanted; kernels of many taps have none
 */
sl_status sl_kernel_make(sl_kernel *out, double scale, size_t floats, bool whole, sl_error *err);
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
