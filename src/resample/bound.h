/* The bound on overshoot beside edges of great contrast. */
#ifndef SL_RESAMPLE_BOUND_H
#define SL_RESAMPLE_BOUND_H

#include "resample/kernel.h"
#include "resample/paths.h"
#include "resample/tile.h"

/*
 * Bounds the weighted sum of the taps at a place, all of which are in the tile.
 * value   4 floats, of which tile->floats count
 * x, y    the place in the tile, 1/2^14 px
 */
void sl_bound(float value[4], const sl_tile *tile, int32_t x, int32_t y, const sl_kernel *kx,
              const sl_kernel *ky);

/* The same of a sum in whole numbers; the few that need it go through floats. */
void sl_bound_whole(int16_t held[3], const sl_fixed_tile *fixed, const sl_tile *tile, int32_t x,
                    int32_t y, const sl_kernel *kx, const sl_kernel *ky);

/* Least and greatest light among some taps, for each float of a pixel. */
typedef struct sl_range {
    float low[4];
    float high[4];
} sl_range;

/* Which taps: all of them; those about the place; those beyond these to each side. */
enum { SL_ALL, SL_NEAR, SL_BEFORE, SL_AFTER, SL_ABOVE, SL_BELOW, SL_RANGES };

/* The same in parts, for kernels too tall for a tile: the ranges, and then the bound. */
void sl_bound_start(sl_range range[SL_RANGES]);
/* The rows first .. first + count - 1 of the taps are the first rows of the tile. */
void sl_bound_add(sl_range range[SL_RANGES], const sl_tile *tile, int32_t x, int32_t y,
                  size_t first, size_t count, const sl_kernel *kx, const sl_kernel *ky);
void sl_bound_end(float value[4], const sl_range range[SL_RANGES], size_t floats);

/*
 * False when the same holds of all places of a run: most have no edge of great contrast about, even
 * in a tile that has some.
 */
bool sl_bound_needed_along(const sl_tile *tile, const int32_t *x, const int32_t *y, size_t count,
                           const sl_kernel *kx, const sl_kernel *ky);

/* False when contrast at a place is surely too low for sl_bound() to change anything. */
static inline bool sl_bound_needed(const sl_tile *tile, int32_t x, int32_t y,
                                   const sl_kernel *kx, const sl_kernel *ky)
{
    const size_t column = sl_tap_first(x, kx->taps) >> SL_TILE_BLOCK_BITS;
    const size_t row = sl_tap_first(y, ky->taps) >> SL_TILE_BLOCK_BITS;

    return tile->flag[row * tile->flag_stride + column] != 0;
}

#endif
