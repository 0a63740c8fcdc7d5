/*
 * Sums of whole numbers in vectors of 8 of 16 bits, compiled once for each kind of machine by
 * paths_vector.c, which defines NAME and TARGET as for paths_lanes.h, and
 *   MIX(a, b)  the lower 16 bits of each 32 of a, the upper ones of b
 *   NARROW     NAME(whole_narrow), for kernels that are not widened, is there already
 *
 * A vector of a tile's row holds one pixel and the pixel below it (and two numbers of the next one,
 * in the idle lane), so that products with a pair of weights, summed as neighbours, are sums along
 * y. Two such sums, of the pixels 2k and 2k + 1,
 * are brought to 16 bits side by side in the same way, for the sums along x.
 */

/* The k-th pair of 8 weights, four times. */
#define PAIR(weights, k) \
    ((sl_s8)__builtin_shuffle((sl_i4)(weights), (sl_i4){ (k), (k), (k), (k) }))

/* Both sums of a pixel and its right neighbour, side by side; each fits 16 bits: see fixed.h. */
#define SIDE_BY_SIDE(even, odd) \
    ((sl_s8)MIX((even) >> SL_WHOLE_BITS, (odd) << (16 - SL_WHOLE_BITS)))

/* Writes the four numbers of a sum, scaled down. */
#define PUT(held, total) \
    (*(sl_l_near *)(held) = ((sl_l2)SL_HELD16((total) >> SL_WHOLE_BITS))[0])

#ifndef NARROW
TARGET static void NAME(whole_narrow)(int16_t *held, const sl_fixed_tile *tile,
                                      const int32_t *x, const int32_t *y, size_t count,
                                      const sl_kernel *kx, const sl_kernel *ky)
{
    const size_t stride = tile->stride;
    const sl_i4 half = SL_ALL4(1 << (SL_WHOLE_BITS - 1));

    for (size_t i = 0; i < count; i++) {
        const sl_s8 wx =
            *(const sl_s8_near *)sl_whole_row(kx, x[i], SL_WHOLE_PHASE_BITS, WHOLE_LANES);
        const sl_s8 wy =
            *(const sl_s8_near *)sl_whole_row(ky, y[i], SL_WHOLE_PHASE_BITS, WHOLE_LANES);
        const int16_t *const r0 = tile->data + sl_tap_first(y[i], TAPS) * stride
                                  + SL_FIXED_PIXEL * sl_tap_first(x[i], TAPS);
        const int16_t *const r2 = r0 + 2 * stride;
        const int16_t *const r4 = r2 + 2 * stride;
        const sl_s8 down[3] = { PAIR(wy, 0), PAIR(wy, 1), PAIR(wy, 2) };
        const sl_s8 along[3] = { PAIR(wx, 0), PAIR(wx, 1), PAIR(wx, 2) };
        sl_i4 total = half;

        for (size_t k = 0; k < 3; k++) {
            const size_t at = 2 * SL_FIXED_PIXEL * k;
            const size_t by = at + SL_FIXED_PIXEL;
            sl_i4 even = half + SL_PRODUCTS8(*(const sl_s8_near *)(r0 + at), down[0]);
            sl_i4 odd = half + SL_PRODUCTS8(*(const sl_s8_near *)(r0 + by), down[0]);

            even += SL_PRODUCTS8(*(const sl_s8_near *)(r2 + at), down[1]);
            odd += SL_PRODUCTS8(*(const sl_s8_near *)(r2 + by), down[1]);
            even += SL_PRODUCTS8(*(const sl_s8_near *)(r4 + at), down[2]);
            odd += SL_PRODUCTS8(*(const sl_s8_near *)(r4 + by), down[2]);
            total += SL_PRODUCTS8(SIDE_BY_SIDE(even, odd), along[k]);
        }
        PUT(held + 4 * i, total);
    }
}
#endif

TARGET static void NAME(whole)(int16_t *held, const sl_fixed_tile *tile, const int32_t *x,
                               const int32_t *y, size_t count, const sl_kernel *kx,
                               const sl_kernel *ky)
{
    const sl_i4 half = SL_ALL4(1 << (SL_WHOLE_BITS - 1));

    if (kx->taps == TAPS && ky->taps == TAPS) {
        NAME(whole_narrow)(held, tile, x, y, count, kx, ky);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        const int16_t *wx = sl_whole_row(kx, x[i], kx->whole_bits, kx->whole_lanes);
        const int16_t *wy = sl_whole_row(ky, y[i], ky->whole_bits, ky->whole_lanes);
        const int16_t *from = tile->data + sl_tap_first(y[i], ky->taps) * tile->stride
                              + SL_FIXED_PIXEL * sl_tap_first(x[i], kx->taps);
        sl_i4 total = half;
        sl_s8 down[SL_WHOLE_TAPS / 2];

        for (size_t j = 0; j < ky->taps / 2; j++)
            down[j] = (sl_s8)SL_ALL4(*(const sl_i_near *)(wy + 2 * j));
        for (size_t k = 0; k < kx->taps; k += 2, from += 2 * SL_FIXED_PIXEL) {
            const int16_t *at = from;
            sl_i4 even = half;
            sl_i4 odd = half;

            for (size_t j = 0; j < ky->taps / 2; j++, at += 2 * tile->stride) {
                even += SL_PRODUCTS8(*(const sl_s8_near *)at, down[j]);
                odd += SL_PRODUCTS8(*(const sl_s8_near *)(at + SL_FIXED_PIXEL), down[j]);
            }
            total += SL_PRODUCTS8(SIDE_BY_SIDE(even, odd),
                                  (sl_s8)SL_ALL4(*(const sl_i_near *)(wx + k)));
        }
        PUT(held + 4 * i, total);
    }
}

#undef PAIR
#undef SIDE_BY_SIDE
#undef PUT
