/*
 * A heuristic. A windowed sinc rings beside a step by some percent of it, for its whole radius.
 * In linear light that is little on the bright side and a bright line on the dark side: 2 % of
 * white is 39 of 255 codes on black. So where the taps differ by more than 8:1, the result is held
 * within the range of the taps about the place (less than one pixel of the coarser grid away),
 * give or take
 * - a quarter of that range;
 * - 3 % of their light, as much as the bright side of an edge may ring by;
 * - a quarter of the smaller rise towards two opposite sides (the taps up to two pixels away): a
 *   trough or a peak between samples, such as fine lines and gratings have. Samples half a pixel to
 *   both sides of a sinusoid's trough miss it by 0.13 to 0.21 of their rise to the next ones, for
 *   frequencies up to 1/4. Beside an edge, one of two opposite sides is even: no allowance.
 * So beyond 1.5 px from an edge nothing rings: a sampled edge is up to a pixel wide, hence no tap
 * about the place belongs to it.
 */
#include "resample/bound.h"

#include <math.h>
#include <string.h>

#include "base/compiler.h"

static const float SLACK = 0.25f;
static const float LEVEL = 0.03f;

/* The taps nearer than `reach` px along one axis, as first .. end. */
static void taps_within(size_t *first, size_t *end, float middle, float reach, size_t taps)
{
    /* Cut, which is floor() from 0 on, rather than floorf() and ceilf(), which are calls. */
    const float from = middle - reach;
    const float to = middle + reach;
    const size_t cut = (size_t)to;
    const size_t next = cut + ((float)cut < to);

    *first = from < 0.0f ? 0 : (size_t)from + 1;
    *end = next > taps ? taps : next;
}

/* Tap i lies at i - middle from the place. */
static float middle_of(int32_t place, size_t taps)
{
    return (float)(taps / 2 - 1)
           + (float)(place & ((1 << SL_PLACE_BITS) - 1)) / (float)(1 << SL_PLACE_BITS);
}

/* Range of a block of taps, joined to what it was. */
SL_INLINE void widen(sl_range *range, const float *row, size_t stride, size_t floats,
                     size_t columns, size_t rows)
{
#if SL_VECTORS
    if (floats == 4) {
        sl_f4 low = *(sl_f4_near *)range->low;
        sl_f4 high = *(sl_f4_near *)range->high;

        for (size_t j = 0; j < rows; j++) {
            for (size_t i = 0; i < columns; i++) {
                const sl_f4 v = *(const sl_f4_near *)(row + 4 * i);

                low = SL_MIN4(low, v);
                high = SL_MAX4(high, v);
            }
            row += stride;
        }
        *(sl_f4_near *)range->low = low;
        *(sl_f4_near *)range->high = high;
        return;
    }
#endif
    for (size_t j = 0; j < rows; j++) {
        for (size_t i = 0; i < columns * floats; i++) {
            const size_t c = i % floats;

            range->low[c] = row[i] < range->low[c] ? row[i] : range->low[c];
            range->high[c] = row[i] > range->high[c] ? row[i] : range->high[c];
        }
        row += stride;
    }
}

void sl_bound_start(sl_range range[SL_RANGES])
{
    for (size_t k = 0; k < SL_RANGES; k++) {
        for (size_t c = 0; c < 4; c++) {
            range[k].low[c] = INFINITY;
            range[k].high[c] = -INFINITY;
        }
    }
}

/* What lies about the place, and to its sides; `row` is the first tap of row `first`. */
static void add_surroundings(sl_range range[SL_RANGES], const sl_tile *tile, const float *row,
                             int32_t x, int32_t y, size_t first, size_t count,
                             const sl_kernel *kx, const sl_kernel *ky)
{
    const size_t n = tile->floats;
    const float middle_x = middle_of(x, kx->taps);
    const float middle_y = middle_of(y, ky->taps);
    const float reach_x = (float)kx->scale;
    const float reach_y = (float)ky->scale;
    size_t left;
    size_t right;
    size_t top;
    size_t bottom;
    size_t far_left;
    size_t far_right;
    size_t far_top;
    size_t far_bottom;

    taps_within(&left, &right, middle_x, reach_x, kx->taps);
    taps_within(&top, &bottom, middle_y, reach_y, ky->taps);
    taps_within(&far_left, &far_right, middle_x, 2.0f * reach_x, kx->taps);
    taps_within(&far_top, &far_bottom, middle_y, 2.0f * reach_y, ky->taps);
    for (size_t j = far_top > first ? far_top : first; j < far_bottom && j < first + count; j++) {
        const float *at = row + (j - first) * tile->stride;

        if (j >= top && j < bottom) {
            const float dy = ((float)j - middle_y) / reach_y;
            size_t from;
            size_t to;

            /* An ellipse, not a box: no tap of an edge at any angle. */
            taps_within(&from, &to, middle_x, reach_x * sqrtf(1.0f - dy * dy), kx->taps);
            if (from < to)
                widen(&range[SL_NEAR], at + from * n, 0, n, to - from, 1);
            widen(&range[SL_BEFORE], at + far_left * n, 0, n, left - far_left, 1);
            widen(&range[SL_AFTER], at + right * n, 0, n, far_right - right, 1);
        } else {
            widen(&range[j < top ? SL_ABOVE : SL_BELOW], at + left * n, 0, n, right - left, 1);
        }
    }
}

void sl_bound_add(sl_range range[SL_RANGES], const sl_tile *tile, int32_t x, int32_t y,
                  size_t first, size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    const float *row = tile->data + sl_tap_first(x, kx->taps) * tile->floats;

    widen(&range[SL_ALL], row, tile->stride, tile->floats, kx->taps, count);
    add_surroundings(range, tile, row, x, y, first, count, kx, ky);
}

static float floored_low(const sl_range *range, size_t c)
{
    return range->low[c] > SL_CONTRAST_FLOOR ? range->low[c] : SL_CONTRAST_FLOOR;
}

/* The smaller of two, and no less than 0: also where a side has no taps and is infinite. */
static float common(float a, float b)
{
    const float less = a < b ? a : b;

    return less > 0.0f ? less : 0.0f;
}

void sl_bound_end(float value[4], const sl_range range[SL_RANGES], size_t floats)
{
    for (size_t c = 0; c < floats; c++) {
        const float least = range[SL_NEAR].low[c];
        const float most = range[SL_NEAR].high[c];
        const float trough =
            common(range[SL_BEFORE].high[c] - least, range[SL_AFTER].high[c] - least)
            + common(range[SL_ABOVE].high[c] - least, range[SL_BELOW].high[c] - least);
        const float peak =
            common(most - range[SL_BEFORE].low[c], most - range[SL_AFTER].low[c])
            + common(most - range[SL_ABOVE].low[c], most - range[SL_BELOW].low[c]);
        const float low = least - SLACK * (most - least + trough) - LEVEL * least;
        const float high = most + SLACK * (most - least + peak) + LEVEL * most;
        const float held = value[c] < low ? low : value[c] > high ? high : value[c];
        const float part =
            (range[SL_ALL].high[c] / floored_low(&range[SL_ALL], c) - SL_CONTRAST_FROM)
            / (SL_CONTRAST_FULL - SL_CONTRAST_FROM);

        /* From 8:1 to 16:1 more and more of it, so that no contrast is a border. */
        if (part >= 1.0f)
            value[c] = held;
        else if (part > 0.0f)
            value[c] += part * (held - value[c]);
    }
}

/*
 * Whether a value lies within the range of those of the nearest four taps that are surely near:
 * as most do, and then no bound can change it. For kernels that are not widened.
 */
static bool lies_between(const float value[4], const sl_tile *tile, const float *row, int32_t x,
                         int32_t y)
{
    const size_t n = tile->floats;
    const float *first = row + (SL_RADIUS - 1) * (tile->stride + n);
    const float fx = middle_of(x, 2);
    const float fy = middle_of(y, 2);
    const float across[2] = { fx * fx, (1.0f - fx) * (1.0f - fx) };
    const float down[2] = { fy * fy, (1.0f - fy) * (1.0f - fy) };
    sl_range near = { { INFINITY, INFINITY, INFINITY, INFINITY },
                      { -INFINITY, -INFINITY, -INFINITY, -INFINITY } };
    bool within = true;

    for (size_t k = 0; k < 4; k++) {
        if (across[k % 2] + down[k / 2] < 0.99f)
            widen(&near, first + k / 2 * tile->stride + k % 2 * n, 0, n, 1, 1);
    }
    for (size_t c = 0; c < n; c++)
        within = within && value[c] >= near.low[c] && value[c] <= near.high[c];
    return within;
}

/* The bound, where contrast asks for it. */
static void bound_by_taps(float value[4], const sl_tile *tile, int32_t x, int32_t y,
                          const sl_kernel *kx, const sl_kernel *ky)
{
    const float *row = tile->data + sl_tap_first(y, ky->taps) * tile->stride
                       + sl_tap_first(x, kx->taps) * tile->floats;
    bool any = false;
    sl_range range[SL_RANGES];

    sl_bound_start(range);
    if (kx->taps == 2 * SL_RADIUS && ky->taps == 2 * SL_RADIUS && tile->floats == 4)
        widen(&range[SL_ALL], row, tile->stride, 4, 2 * SL_RADIUS, 2 * SL_RADIUS);
    else
        widen(&range[SL_ALL], row, tile->stride, tile->floats, kx->taps, ky->taps);
    for (size_t c = 0; c < tile->floats; c++)
        any = any
              || range[SL_ALL].high[c] > SL_CONTRAST_FROM * floored_low(&range[SL_ALL], c);
    if (!any)
        return;
    add_surroundings(range, tile, row, x, y, 0, ky->taps, kx, ky);
    sl_bound_end(value, range, tile->floats);
}

void sl_bound(float value[4], const sl_tile *tile, int32_t x, int32_t y, const sl_kernel *kx,
              const sl_kernel *ky)
{
    const float *row = tile->data + sl_tap_first(y, ky->taps) * tile->stride
                       + sl_tap_first(x, kx->taps) * tile->floats;

    if (kx->taps == 2 * SL_RADIUS && ky->taps == 2 * SL_RADIUS
        && lies_between(value, tile, row, x, y))
        return;
    bound_by_taps(value, tile, x, y, kx, ky);
}

/*
 * Whether a sum in whole numbers surely lies in what the bound allows: between the taps about the
 * place, or on the nearest one.
 */
static bool spares(const int16_t held[3], const sl_fixed_tile *tile, int32_t x, int32_t y)
{
    /* Fractions in 1/64 px: rounded so that fewer taps count as near, if anything. */
    enum { BITS = 6, ONE = 1 << BITS, NEAR_ENOUGH = ONE * ONE * 9 / 10 };
    const unsigned mask = (1u << SL_PLACE_BITS) - 1;
    const unsigned fx = ((unsigned)x & mask) >> (SL_PLACE_BITS - BITS);
    const unsigned fy = ((unsigned)y & mask) >> (SL_PLACE_BITS - BITS);
    const unsigned across[2] = { fx * fx, (ONE - fx) * (ONE - fx) };
    const unsigned down[2] = { fy * fy, (ONE - fy) * (ONE - fy) };
    const int16_t *const tap = tile->data + (size_t)(y >> SL_PLACE_BITS) * tile->stride
                               + SL_FIXED_PIXEL * (size_t)(x >> SL_PLACE_BITS);
    const size_t nearest = (fx >= ONE / 2 ? (size_t)SL_FIXED_PIXEL : 0) + (fy >= ONE / 2);
    size_t at[4];
    bool within = true;
    bool equal = true;

    /* A tap that is not near counts as the nearest once more. */
    for (size_t k = 0; k < 4; k++)
        at[k] = across[k / 2] + down[k % 2] < NEAR_ENOUGH ? k / 2 * SL_FIXED_PIXEL + k % 2
                                                          : nearest;
    for (size_t c = 0; c < 3; c++) {
        int low = tap[at[0] + 2 * c];
        int high = low;

        for (size_t k = 1; k < 4; k++) {
            const int v = tap[at[k] + 2 * c];

            low = v < low ? v : low;
            high = v > high ? v : high;
        }
        /* what is held is rounded: no nearer to a tap than a step */
        within = within & (held[c] > low) & (held[c] < high);
        equal = equal & (held[c] == tap[nearest + 2 * c]);
    }
    return within | equal;
}

void sl_bound_whole(int16_t held[3], const sl_fixed_tile *fixed, const sl_tile *tile, int32_t x,
                    int32_t y, const sl_kernel *kx, const sl_kernel *ky)
{
    float value[4] = { 0.0f };

    if (spares(held, fixed, x, y))
        return;
    for (size_t c = 0; c < 3; c++)
        value[c] = sl_fixed_to_light(held[c]);
    bound_by_taps(value, tile, x, y, kx, ky);
    for (size_t c = 0; c < 3; c++)
        held[c] = sl_fixed_from_light(value[c]);
}

bool sl_bound_needed_along(const sl_tile *tile, const int32_t *x, const int32_t *y, size_t count,
                           const sl_kernel *kx, const sl_kernel *ky)
{
    int32_t left = INT32_MAX;
    int32_t right = INT32_MIN;
    int32_t top = INT32_MAX;
    int32_t bottom = INT32_MIN;

    for (size_t i = 0; i < count; i++) {
        left = x[i] < left ? x[i] : left;
        right = x[i] > right ? x[i] : right;
        top = y[i] < top ? y[i] : top;
        bottom = y[i] > bottom ? y[i] : bottom;
    }
    if (count == 0)
        return false;
    for (size_t row = sl_tap_first(top, ky->taps) >> SL_TILE_BLOCK_BITS;
         row <= sl_tap_first(bottom, ky->taps) >> SL_TILE_BLOCK_BITS; row++) {
        const size_t first = sl_tap_first(left, kx->taps) >> SL_TILE_BLOCK_BITS;
        const size_t last = sl_tap_first(right, kx->taps) >> SL_TILE_BLOCK_BITS;

        if (memchr(tile->flag + row * tile->flag_stride + first, 1, last - first + 1) != NULL)
            return true;
    }
    return false;
}
