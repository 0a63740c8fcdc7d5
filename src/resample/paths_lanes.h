/*
 * The paths' text for vectors of LANES floats, compiled once for each width by paths_vector.c,
 * which defines
 *   LANES      4 or 8, a divisor of SL_LANES
 *   NAME(x)    the function's name for this path
 *   TARGET     what the functions are compiled for
 *   IOTA       0, 1 .. LANES - 1 as INTS
 *   FLOATS, INTS, TO_INTS, TO_FLOATS    the types, and conversions between them
 * Of the SL_LANES sums that the plain twin keeps, vector g holds those from g * LANES on.
 */

enum { NAME(GROUPS) = SL_LANES / LANES };

#define LOAD(at) (*(const NAME(near) *)(at))
#define STORE(at) (*(NAME(near) *)(at))

/* By value: for the compiler, what is written might lie where a way is. */
TARGET SL_INLINE INTS NAME(place)(sl_way way, FLOATS t)
{
    const FLOATS v = (way.c[0] + t * (way.c[1] + t * (way.c[2] + t * way.c[3])))
                         * (float)(1 << SL_PLACE_BITS) + 0.5f;
    const INTS cut = TO_INTS(v);

    /* A comparison gives -1 where it holds: floor() of what was cut towards 0. */
    return way.base * (1 << SL_PLACE_BITS) + cut + (TO_FLOATS(cut) > v);
}

TARGET static void NAME(places)(int32_t *x, int32_t *y, size_t first, size_t count,
                                const sl_way *to_x, const sl_way *to_y, float start, float step)
{
    const sl_way wx = *to_x;
    const sl_way wy = *to_y;
    INTS index = (int)first + IOTA;

    /* Whole groups of SL_LANES: that much room is there. */
    for (size_t i = 0; i < (count + SL_LANES - 1) / SL_LANES * SL_LANES; i += LANES) {
        const FLOATS t = start + TO_FLOATS(index) * step;

        *(NAME(near_ints) *)(x + i) = NAME(place)(wx, t);
        *(NAME(near_ints) *)(y + i) = NAME(place)(wy, t);
        index += LANES;
    }
}

/* A kernel that is not widened, for up to RUN places: row_floats by TAPS rows. */
TARGET SL_INLINE void NAME(narrow)(float *out, const sl_tile *tile, const int32_t *x,
                                   const int32_t *y, size_t count, const sl_kernel *kx,
                                   const sl_kernel *ky, size_t row_floats, size_t pixel_floats)
{
    const float *const data = tile->data;
    const size_t stride = tile->stride;
    float down[RUN][SL_LANES];

    /*
     * The rows' weights go through memory, whence one of them comes to all lanes in a single
     * step; moving it there between registers costs several on some machines.
     */
    for (size_t i = 0; i < count; i++) {
        float along;
        const float *wy = ky->y + sl_tap_row(&along, y[i], SL_PHASE_BITS) * SL_LANES;

        for (size_t lane = 0; lane < SL_LANES; lane += LANES) {
            const FLOATS a = LOAD(wy + lane);

            STORE(down[i] + lane) = a + (LOAD(wy + SL_LANES + lane) - a) * along;
        }
    }
    for (size_t i = 0; i < count; i++) {
        const float *const r0 = data + sl_tap_first(y[i], TAPS) * stride
                                + sl_tap_first(x[i], TAPS) * pixel_floats;
        const float *const r1 = r0 + stride;
        const float *const r2 = r1 + stride;
        const float *const r3 = r2 + stride;
        const float *const r4 = r3 + stride;
        const float *const r5 = r4 + stride;
        float along;
        const float *wx = kx->x + sl_tap_row(&along, x[i], SL_PHASE_BITS) * row_floats;
        FLOATS acc[NAME(GROUPS)];
        float sum[SL_LANES];

        for (size_t k = 0; k < row_floats; k += LANES) {
            FLOATS w = LOAD(wx + k);
            FLOATS even = down[i][0] * LOAD(r0 + k);
            FLOATS odd = down[i][1] * LOAD(r1 + k);

            even += down[i][2] * LOAD(r2 + k);
            odd += down[i][3] * LOAD(r3 + k);
            even += down[i][4] * LOAD(r4 + k);
            odd += down[i][5] * LOAD(r5 + k);
            w += (LOAD(wx + row_floats + k) - w) * along;
            w *= even + odd;
            if (k < SL_LANES)
                acc[k / LANES % NAME(GROUPS)] = w;
            else
                acc[k / LANES % NAME(GROUPS)] += w;
        }
        for (size_t g = 0; g < NAME(GROUPS); g++)
            STORE(sum + g * LANES) = acc[g];
        if (pixel_floats == 1)
            sl_lanes_close(out + 4 * i, sum, 1);
        else
            *(sl_f4_near *)(out + 4 * i) = *(sl_f4_near *)sum + *(sl_f4_near *)(sum + 4);
    }
}

TARGET static void NAME(band)(float acc[SL_LANES], const sl_tile *tile, int32_t x, int32_t y,
                              size_t first, size_t count, const sl_kernel *kx,
                              const sl_kernel *ky)
{
    const float *from = tile->data + sl_tap_first(x, kx->taps) * tile->floats;
    float along_x;
    float along_y;
    const float *wx = kx->x + sl_tap_row(&along_x, x, kx->phase_bits) * kx->x_lanes;
    const float *wy = ky->y + sl_tap_row(&along_y, y, ky->phase_bits) * ky->y_lanes;
    const size_t lanes = kx->x_lanes;
    const size_t kept = lanes < KEPT ? lanes : KEPT;
    FLOATS total[NAME(GROUPS)];
    float w[KEPT];

    for (size_t g = 0; g < NAME(GROUPS); g++)
        total[g] = LOAD(acc + g * LANES);
    for (size_t k = 0; k < kept; k += LANES) {
        const FLOATS a = LOAD(wx + k);

        STORE(w + k) = a + (LOAD(wx + lanes + k) - a) * along_x;
    }
    for (size_t j = first; j < first + count; j++) {
        const float down = wy[j] + (wy[j + ky->y_lanes] - wy[j]) * along_y;
        FLOATS sum[NAME(GROUPS)];

        for (size_t g = 0; g < NAME(GROUPS); g++)
            sum[g] = LOAD(w + g * LANES) * LOAD(from + g * LANES);
        for (size_t k = SL_LANES; k < kept; k += SL_LANES) {
            for (size_t g = 0; g < NAME(GROUPS); g++)
                sum[g] += LOAD(w + k + g * LANES) * LOAD(from + k + g * LANES);
        }
        for (size_t k = kept; k < lanes; k += SL_LANES) {
            for (size_t g = 0; g < NAME(GROUPS); g++) {
                const float *at = wx + k + g * LANES;
                const FLOATS a = LOAD(at);

                sum[g] += (a + (LOAD(at + lanes) - a) * along_x) * LOAD(from + k + g * LANES);
            }
        }
        for (size_t g = 0; g < NAME(GROUPS); g++)
            total[g] += down * sum[g];
        from += tile->stride;
    }
    for (size_t g = 0; g < NAME(GROUPS); g++)
        STORE(acc + g * LANES) = total[g];
}

TARGET static void NAME(taps)(float *out, const sl_tile *tile, const int32_t *x, const int32_t *y,
                              size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    if (kx->taps == TAPS && ky->taps == TAPS) {
        for (size_t i = 0; i < count; i += RUN) {
            const size_t part = count - i < RUN ? count - i : RUN;

            if (tile->floats == 4)
                NAME(narrow)(out + 4 * i, tile, x + i, y + i, part, kx, ky, 4 * TAPS, 4);
            else
                NAME(narrow)(out + 4 * i, tile, x + i, y + i, part, kx, ky, SL_LANES, 1);
        }
        return;
    }
    for (size_t i = 0; i < count; i++) {
        float acc[SL_LANES] = { 0.0f };
        sl_tile below = *tile;

        below.data += sl_tap_first(y[i], ky->taps) * tile->stride;
        NAME(band)(acc, &below, x[i], y[i], 0, ky->taps, kx, ky);
        sl_lanes_close(out + 4 * i, acc, tile->floats);
    }
}

#undef LOAD
#undef STORE
