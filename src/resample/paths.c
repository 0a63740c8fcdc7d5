/* The plain twin: what every other path must equal. */
#include "resample/paths.h"

static int32_t place_of(float v)
{
    const float scaled = v * (float)(1 << SL_PLACE_BITS) + 0.5f;
    const int32_t cut = (int32_t)scaled;

    return (float)cut > scaled ? cut - 1 : cut;
}

static int32_t place_at(const sl_way *way, float t)
{
    const float *c = way->c;

    return way->base * (1 << SL_PLACE_BITS)
           + place_of(c[0] + t * (c[1] + t * (c[2] + t * c[3])));
}

static void places_plain(int32_t *x, int32_t *y, size_t first, size_t count, const sl_way *to_x,
                         const sl_way *to_y, float start, float step)
{
    for (size_t i = 0; i < count; i++) {
        const float t = start + (float)(int32_t)(first + i) * step;

        x[i] = place_at(to_x, t);
        y[i] = place_at(to_y, t);
    }
}

static float between(const float *row, size_t next, float along)
{
    return row[0] + (row[next] - row[0]) * along;
}

static void band_plain(float acc[SL_LANES], const sl_tile *tile, int32_t x, int32_t y,
                       size_t first, size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    const float *from = tile->data + sl_tap_first(x, kx->taps) * tile->floats;
    float along_x;
    float along_y;
    const float *wx = kx->x + sl_tap_row(&along_x, x, kx->phase_bits) * kx->x_lanes;
    const float *wy = ky->y + sl_tap_row(&along_y, y, ky->phase_bits) * ky->y_lanes;

    for (size_t j = first; j < first + count; j++) {
        const float w = between(wy + j, ky->y_lanes, along_y);

        for (size_t lane = 0; lane < SL_LANES; lane++) {
            float sum = between(wx + lane, kx->x_lanes, along_x) * from[lane];

            for (size_t k = lane + SL_LANES; k < kx->x_lanes; k += SL_LANES)
                sum += between(wx + k, kx->x_lanes, along_x) * from[k];
            acc[lane] += w * sum;
        }
        from += tile->stride;
    }
}

static void narrow_plain(float out[4], const sl_tile *tile, int32_t x, int32_t y,
                         const sl_kernel *kx, const sl_kernel *ky)
{
    const float *from = tile->data + sl_tap_first(y, ky->taps) * tile->stride
                        + sl_tap_first(x, kx->taps) * tile->floats;
    float along_x;
    float along_y;
    const float *wx = kx->x + sl_tap_row(&along_x, x, kx->phase_bits) * kx->x_lanes;
    const float *wy = ky->y + sl_tap_row(&along_y, y, ky->phase_bits) * ky->y_lanes;
    float acc[SL_LANES];

    for (size_t k = 0; k < kx->x_lanes; k++) {
        float even = between(wy, ky->y_lanes, along_y) * from[k];
        float odd = between(wy + 1, ky->y_lanes, along_y) * from[k + tile->stride];
        float product;

        for (size_t j = 2; j < ky->taps; j += 2) {
            even += between(wy + j, ky->y_lanes, along_y) * from[k + j * tile->stride];
            odd += between(wy + j + 1, ky->y_lanes, along_y) * from[k + (j + 1) * tile->stride];
        }
        product = between(wx + k, kx->x_lanes, along_x) * (even + odd);
        acc[k % SL_LANES] = k < SL_LANES ? product : acc[k % SL_LANES] + product;
    }
    sl_lanes_close(out, acc, tile->floats);
}

static void taps_plain(float *out, const sl_tile *tile, const int32_t *x, const int32_t *y,
                       size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    const bool narrow = kx->taps == 2 * SL_RADIUS && ky->taps == 2 * SL_RADIUS;

    for (size_t i = 0; i < count; i++) {
        float acc[SL_LANES] = { 0.0f };
        sl_tile below = *tile;

        if (narrow) {
            narrow_plain(out + 4 * i, tile, x[i], y[i], kx, ky);
            continue;
        }
        below.data += sl_tap_first(y[i], ky->taps) * tile->stride;
        band_plain(acc, &below, x[i], y[i], 0, ky->taps, kx, ky);
        sl_lanes_close(out + 4 * i, acc, tile->floats);
    }
}

/* Rounded to nearest; sums may be negative, and >> of these goes down, as with every compiler. */
static int32_t scaled_down(int32_t sum)
{
    return (sum + (1 << (SL_WHOLE_BITS - 1))) >> SL_WHOLE_BITS;
}

static void whole_plain(int16_t *held, const sl_fixed_tile *tile, const int32_t *x,
                        const int32_t *y, size_t count, const sl_kernel *kx,
                        const sl_kernel *ky)
{
    for (size_t i = 0; i < count; i++) {
        const int16_t *wx = sl_whole_row(kx, x[i], kx->whole_bits, kx->whole_lanes);
        const int16_t *wy = sl_whole_row(ky, y[i], ky->whole_bits, ky->whole_lanes);
        const int16_t *from = tile->data + sl_tap_first(y[i], ky->taps) * tile->stride
                              + SL_FIXED_PIXEL * sl_tap_first(x[i], kx->taps);
        int32_t total[3] = { 0, 0, 0 };

        for (size_t k = 0; k < kx->taps; k++) {
            for (size_t c = 0; c < 3; c++) {
                const int16_t *pair = from + SL_FIXED_PIXEL * k + 2 * c;
                int32_t sum = 0;

                for (size_t j = 0; j < ky->taps; j += 2, pair += 2 * tile->stride)
                    sum += wy[j] * pair[0] + wy[j + 1] * pair[1];
                total[c] += wx[k] * scaled_down(sum);
            }
        }
        for (size_t c = 0; c < 3; c++) {
            const int32_t v = scaled_down(total[c]);

            held[4 * i + c] = (int16_t)(v < INT16_MIN ? INT16_MIN : v > INT16_MAX ? INT16_MAX : v);
        }
    }
}

const sl_path sl_path_plain = { "plain", places_plain, taps_plain, band_plain, whole_plain };

const sl_path *sl_path_best(void)
{
    for (int kind = SL_PATH_KINDS - 1; kind > SL_PATH_PLAIN; kind--) {
        const sl_path *path = sl_path_get((sl_path_kind)kind);

        if (path != NULL)
            return path;
    }
    return &sl_path_plain;
}
