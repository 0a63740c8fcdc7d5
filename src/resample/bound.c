/*
 * A heuristic. A windowed sinc rings beside a step by some percent of it, for its whole radius.
 * In linear light that is nothing on the bright side and a bright line on the dark side: 2 % of
 * white is 39 of 255 codes on black. So where the taps differ by more than 8:1, the result is held
 * within the range of the taps that are near the place, widened by a quarter on each side, which
 * leaves room for the peaks of fine detail between samples (a sinusoid of a quarter of the sampling
 * frequency exceeds its samples by 0.2 of their range) and none where the surroundings are even.
 *
 * Near is within 1.5 px of the coarser grid and half a shot pixel. So beyond 1.5 px from an edge no
 * tap of its other side is near, and nothing rings there; and where the grids are equal, the bound
 * begins at a zero of the ringing (the kernel interpolates), so that no new edge arises.
 */
#include "resample/bound.h"

#include <math.h>

#include "base/compiler.h"

static const float SLACK = 0.25f;
static const float NEAR_PX = 1.5f;

/* The taps nearer than the limit, as first .. end. */
static void near_taps(size_t *first, size_t *end, int32_t place, const sl_kernel *kernel)
{
    const float fraction = (float)(place & ((1 << SL_PLACE_BITS) - 1))
                           / (float)(1 << SL_PLACE_BITS);
    /* Tap i lies at i - middle from the place. */
    const float middle = (float)(kernel->taps / 2 - 1) + fraction;
    const float reach = NEAR_PX * (float)kernel->scale + 0.5f;
    const float from = floorf(middle - reach) + 1.0f;
    const float to = ceilf(middle + reach);

    *first = from < 0.0f ? 0 : (size_t)from;
    *end = to > (float)kernel->taps ? kernel->taps : (size_t)to;
}

/* Range of a block of taps, joined to what it was. */
static void widen(sl_range *range, const float *row, size_t stride, size_t floats, size_t columns,
                  size_t rows)
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

void sl_bound_start(sl_range all[2])
{
    for (size_t c = 0; c < 4; c++) {
        all[0].low[c] = all[1].low[c] = INFINITY;
        all[0].high[c] = all[1].high[c] = -INFINITY;
    }
}

static void widen_near(sl_range *near, const sl_tile *tile, const float *row, int32_t x,
                       int32_t y, size_t first, size_t count, const sl_kernel *kx,
                       const sl_kernel *ky)
{
    size_t x_first;
    size_t x_end;
    size_t y_first;
    size_t y_end;

    near_taps(&x_first, &x_end, x, kx);
    near_taps(&y_first, &y_end, y, ky);
    y_first = y_first > first ? y_first : first;
    y_end = y_end < first + count ? y_end : first + count;
    if (y_first < y_end)
        widen(near, row + (y_first - first) * tile->stride + x_first * tile->floats, tile->stride,
              tile->floats, x_end - x_first, y_end - y_first);
}

void sl_bound_add(sl_range all[2], const sl_tile *tile, int32_t x, int32_t y, size_t first,
                  size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    const float *row = tile->data + sl_tap_first(x, kx->taps) * tile->floats;

    widen(&all[0], row, tile->stride, tile->floats, kx->taps, count);
    widen_near(&all[1], tile, row, x, y, first, count, kx, ky);
}

static float contrast(const sl_range *range, size_t c)
{
    return range->high[c] / (range->low[c] > SL_CONTRAST_FLOOR ? range->low[c] : SL_CONTRAST_FLOOR);
}

void sl_bound_end(float value[4], const sl_range all[2], size_t floats)
{
    const sl_range *near = &all[1];

    for (size_t c = 0; c < floats; c++) {
        const float slack = SLACK * (near->high[c] - near->low[c]);
        const float low = near->low[c] - slack;
        const float high = near->high[c] + slack;
        const float held = value[c] < low ? low : value[c] > high ? high : value[c];
        const float part = (contrast(&all[0], c) - SL_CONTRAST_FROM)
                           / (SL_CONTRAST_FULL - SL_CONTRAST_FROM);

        /* From 8:1 to 16:1 more and more of it, so that no contrast is a border. */
        if (part >= 1.0f)
            value[c] = held;
        else if (part > 0.0f)
            value[c] += part * (held - value[c]);
    }
}

void sl_bound(float value[4], const sl_tile *tile, int32_t x, int32_t y, const sl_kernel *kx,
              const sl_kernel *ky)
{
    const float *row = tile->data + sl_tap_first(y, ky->taps) * tile->stride
                       + sl_tap_first(x, kx->taps) * tile->floats;
    bool any = false;
    sl_range all[2];

    sl_bound_start(all);
    widen(&all[0], row, tile->stride, tile->floats, kx->taps, ky->taps);
    for (size_t c = 0; c < tile->floats; c++)
        any = any || contrast(&all[0], c) > SL_CONTRAST_FROM;
    if (!any)
        return;
    widen_near(&all[1], tile, row, x, y, 0, ky->taps, kx, ky);
    sl_bound_end(value, all, tile->floats);
}
