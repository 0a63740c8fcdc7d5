/*
 * The same in vectors of 8: the lanes are pixels for the places, and floats that lie side by
 * side in a row of the tile for the sums. One text is compiled twice: for whatever vectors the
 * target has anyway (pairs of 4 on most), and for AVX2.
 */
#include "resample/paths.h"

#include <string.h>

#include "base/compiler.h"

#if SL_VECTORS

SL_INLINE void places(int32_t *place, size_t first, size_t count, const float c[4], float start,
                      float step, int32_t base)
{
    sl_i8 index = { 0, 1, 2, 3, 4, 5, 6, 7 };

    index += (int)first;
    for (size_t i = 0; i < count; i += SL_LANES) {
        const sl_f8 t = start + SL_TO_FLOAT8(index) * step;
        const sl_f8 v = (c[0] + t * (c[1] + t * (c[2] + t * c[3])))
                            * (float)(1 << SL_PLACE_BITS) + 0.5f;
        const sl_i8 cut = SL_TO_INT8(v);

        /* A comparison gives -1 where it holds: floor() of what was cut towards 0. */
        *(sl_i8_near *)(place + i) =
            base * (1 << SL_PLACE_BITS) + cut + (SL_TO_FLOAT8(cut) > v);
        index += SL_LANES;
    }
}

#define LOAD(at) (*(const sl_f8_near *)(at))

/* A kernel that is not widened: x_vectors * 8 floats by TAPS rows, weights held in registers. */
enum { TAPS = 2 * SL_RADIUS, COLOUR_VECTORS = 4 * TAPS / SL_LANES };

SL_INLINE void narrow(float *out, const sl_tile *tile, const int32_t *x, const int32_t *y,
                      size_t count, const sl_kernel *kx, const sl_kernel *ky, size_t x_vectors)
{
    for (size_t i = 0; i < count; i++) {
        const float *from = tile->data + sl_tap_first(y[i], TAPS) * tile->stride
                            + sl_tap_first(x[i], TAPS) * tile->floats;
        float along_x;
        float along_y;
        const float *wx =
            kx->x + sl_tap_row(&along_x, x[i], SL_PHASE_BITS) * SL_LANES * x_vectors;
        const float *wy = ky->y + sl_tap_row(&along_y, y[i], SL_PHASE_BITS) * SL_LANES;
        sl_f8 w[COLOUR_VECTORS];
        sl_f8 acc = { 0.0f };
        float down[SL_LANES];

        for (size_t k = 0; k < x_vectors; k++) {
            w[k] = LOAD(wx + SL_LANES * k);
            w[k] += (LOAD(wx + SL_LANES * (k + x_vectors)) - w[k]) * along_x;
        }
        *(sl_f8_near *)down = LOAD(wy) + (LOAD(wy + SL_LANES) - LOAD(wy)) * along_y;
        for (size_t j = 0; j < TAPS; j++) {
            sl_f8 sum = w[0] * LOAD(from);

            for (size_t k = 1; k < x_vectors; k++)
                sum += w[k] * LOAD(from + SL_LANES * k);
            acc += down[j] * sum;
            from += tile->stride;
        }
        if (x_vectors == 1) {
            float lane[SL_LANES];

            *(sl_f8_near *)lane = acc;
            sl_lanes_close(out + 4 * i, lane, 1);
        } else {
            *(sl_f4_near *)(out + 4 * i) = SL_LOW_HALF(acc) + SL_HIGH_HALF(acc);
        }
    }
}

/* Weights of this many vectors are made once for a place; of wider kernels for each row again. */
enum { KEPT = 16 };

SL_INLINE void band(float acc[SL_LANES], const sl_tile *tile, int32_t x, int32_t y,
                    size_t first, size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    const float *from = tile->data + sl_tap_first(x, kx->taps) * tile->floats;
    float along_x;
    float along_y;
    const float *wx = kx->x + sl_tap_row(&along_x, x, kx->phase_bits) * kx->x_lanes;
    const float *wy = ky->y + sl_tap_row(&along_y, y, ky->phase_bits) * ky->y_lanes;
    const size_t vectors = kx->x_lanes / SL_LANES;
    sl_f8 total = LOAD(acc);
    sl_f8 w[KEPT];

    for (size_t k = 0; k < vectors && k < KEPT; k++) {
        w[k] = LOAD(wx + SL_LANES * k);
        w[k] += (LOAD(wx + SL_LANES * k + kx->x_lanes) - w[k]) * along_x;
    }
    for (size_t j = first; j < first + count; j++) {
        sl_f8 sum = w[0] * LOAD(from);

        for (size_t k = 1; k < vectors && k < KEPT; k++)
            sum += w[k] * LOAD(from + SL_LANES * k);
        for (size_t k = KEPT; k < vectors; k++) {
            sl_f8 a = LOAD(wx + SL_LANES * k);

            a += (LOAD(wx + SL_LANES * k + kx->x_lanes) - a) * along_x;
            sum += a * LOAD(from + SL_LANES * k);
        }
        total += (wy[j] + (wy[j + ky->y_lanes] - wy[j]) * along_y) * sum;
        from += tile->stride;
    }
    *(sl_f8_near *)acc = total;
}

SL_INLINE void taps(float *out, const sl_tile *tile, const int32_t *x, const int32_t *y,
                    size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    if (kx->taps == TAPS && ky->taps == TAPS && tile->floats == 4) {
        narrow(out, tile, x, y, count, kx, ky, COLOUR_VECTORS);
    } else if (kx->taps == TAPS && ky->taps == TAPS) {
        narrow(out, tile, x, y, count, kx, ky, 1);
    } else {
        for (size_t i = 0; i < count; i++) {
            float acc[SL_LANES] = { 0.0f };
            sl_tile below = *tile;

            below.data += sl_tap_first(y[i], ky->taps) * tile->stride;
            band(acc, &below, x[i], y[i], 0, ky->taps, kx, ky);
            sl_lanes_close(out + 4 * i, acc, tile->floats);
        }
    }
}

static void places_vector(int32_t *place, size_t first, size_t count, const float c[4],
                          float start, float step, int32_t base)
{
    places(place, first, count, c, start, step, base);
}

static void taps_vector(float *out, const sl_tile *tile, const int32_t *x, const int32_t *y,
                        size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    taps(out, tile, x, y, count, kx, ky);
}

static void band_vector(float acc[SL_LANES], const sl_tile *tile, int32_t x, int32_t y,
                        size_t first, size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    band(acc, tile, x, y, first, count, kx, ky);
}

static const sl_path path_vector = { "vector", places_vector, taps_vector, band_vector };

#endif

#if SL_AVX2

SL_TARGET_AVX2 static void places_avx2(int32_t *place, size_t first, size_t count,
                                       const float c[4], float start, float step, int32_t base)
{
    places(place, first, count, c, start, step, base);
}

SL_TARGET_AVX2 static void taps_avx2(float *out, const sl_tile *tile, const int32_t *x,
                                     const int32_t *y, size_t count, const sl_kernel *kx,
                                     const sl_kernel *ky)
{
    taps(out, tile, x, y, count, kx, ky);
}

SL_TARGET_AVX2 static void band_avx2(float acc[SL_LANES], const sl_tile *tile, int32_t x,
                                     int32_t y, size_t first, size_t count, const sl_kernel *kx,
                                     const sl_kernel *ky)
{
    band(acc, tile, x, y, first, count, kx, ky);
}

static const sl_path path_avx2 = { "avx2", places_avx2, taps_avx2, band_avx2 };

#endif

const sl_path *sl_path_get(sl_path_kind kind)
{
    switch (kind) {
    case SL_PATH_PLAIN:
        return &sl_path_plain;
#if SL_VECTORS
    case SL_PATH_VECTOR:
        return &path_vector;
#endif
#if SL_AVX2
    case SL_PATH_AVX2:
        return SL_CPU_HAS_AVX2() ? &path_avx2 : NULL;
#endif
    default:
        return NULL;
    }
}
