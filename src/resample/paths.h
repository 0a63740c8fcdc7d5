/*
 * The work of each pixel, in plain C and for machines with vectors. All paths give the same
 * bytes: they do the same operations on each number in the same order, and differ only in how
 * many numbers they take at once.
 */
#ifndef SL_RESAMPLE_PATHS_H
#define SL_RESAMPLE_PATHS_H

#include <stddef.h>
#include <stdint.h>

#include "resample/fixed.h"
#include "resample/kernel.h"
#include "resample/tile.h"

/* One coordinate along a row: base + c(t), c a cubic. |base| <= 2^16, |c| <= 2^15. */
typedef struct sl_way {
    float   c[4];
    int32_t base;
} sl_way;

/*
 * x[i] = base 2^14 + floor(2^14 c(t) + 1/2) for t = start + (first + i) step, of `to_x`; y likewise.
 * Written up to the next multiple of SL_LANES.
 */
typedef void (*sl_places_fn)(int32_t *x, int32_t *y, size_t first, size_t count,
                             const sl_way *to_x, const sl_way *to_y, float start, float step);

/*
 * Weighted sums of the taps about each of `count` places.
 * out   4 floats a pixel (grey: the first one)
 * x, y  places in the tile, 1/2^14 px from the centre of its first pixel; all taps lie in it
 * Order, l being the lane, 0 .. 7:
 * - a kernel that is not widened: c[i] = (y0 t[0][i] + y2 t[2][i] + y4 t[4][i]) + (the same of the
 *   odd rows), acc[l] = sum of x[8k + l] c[8k + l] for k upward: few sums wait for one another
 * - else acc[l] += y[j] * (sum of x[8k + l] t[j][8k + l] for k upward) for j upward: rows can
 *   come one after the other
 * then sl_lanes_close().
 */
typedef void (*sl_taps_fn)(float *out, const sl_tile *tile, const int32_t *x, const int32_t *y,
                           size_t count, const sl_kernel *kx, const sl_kernel *ky);

/*
 * A part of one such sum, for kernels too tall to have all their rows in a tile: adds the rows
 * first .. first + count - 1 of the taps, which are the first rows of the tile, to acc.
 * sl_lanes_close() ends it.
 */
typedef void (*sl_band_fn)(float acc[SL_LANES], const sl_tile *tile, int32_t x, int32_t y,
                           size_t first, size_t count, const sl_kernel *kx,
                           const sl_kernel *ky);

/*
 * The same sums in whole numbers: along y first, rounded to a held light, then along x.
 * held   4 a pixel, of which the last is idle: the sum, held within -32768 .. 32767
 * x, y   places in the tile; both kernels have whole weights
 */
typedef void (*sl_whole_fn)(int16_t *held, const sl_fixed_tile *tile, const int32_t *x,
                            const int32_t *y, size_t count, const sl_kernel *kx,
                            const sl_kernel *ky);

typedef struct sl_path {
    const char  *name;
    sl_places_fn places;
    sl_taps_fn   taps;
    sl_band_fn   band;
    sl_whole_fn  whole;
} sl_path;

/* NULL where this build or this machine has none of that kind. The first is the plain twin. */
typedef enum sl_path_kind { SL_PATH_PLAIN = 0, SL_PATH_VECTOR, SL_PATH_AVX2, SL_PATH_KINDS }
    sl_path_kind;
const sl_path *sl_path_get(sl_path_kind kind);
const sl_path *sl_path_best(void);

extern const sl_path sl_path_plain;

/* What the taps of one place are and weigh: shared by all paths. */
static inline size_t sl_tap_first(int32_t place, size_t taps)
{
    return (size_t)(place >> SL_PLACE_BITS) + 1 - taps / 2;
}

static inline size_t sl_tap_row(float *along, int32_t place, unsigned phase_bits)
{
    const unsigned drop = SL_PLACE_BITS - phase_bits;
    const unsigned fraction = (unsigned)place & ((1u << SL_PLACE_BITS) - 1);

    *along = (float)(fraction & ((1u << drop) - 1)) / (float)(1u << drop);
    return fraction >> drop;
}

/* The row of whole weights nearest to a place; bits and lanes are the kernel's. */
static inline const int16_t *sl_whole_row(const sl_kernel *kernel, int32_t place, unsigned bits,
                                          size_t lanes)
{
    const unsigned drop = SL_PLACE_BITS - bits;
    const unsigned fraction = (unsigned)place & ((1u << SL_PLACE_BITS) - 1);

    return kernel->whole + ((fraction + (1u << drop >> 1)) >> drop) * lanes;
}

/* From lanes to a pixel: colour adds the lanes c and c + 4, grey all as a tree. */
static inline void sl_lanes_close(float out[4], const float acc[SL_LANES], size_t floats)
{
    for (size_t c = 0; c < 4; c++)
        out[c] = acc[c] + acc[c + 4];
    if (floats == 1)
        out[0] = (out[0] + out[2]) + (out[1] + out[3]);
}

#endif
