/*
 * Sums of whole numbers for kernels that are not widened, in as few multiplications as vectors of
 * 8 of 16 bits allow: the six pixels that the taps of a row touch are 36 numbers, with those of the
 * row below, so that five vectors hold them and no lane is idle. Their sums along y lie side by
 * side, pixel after pixel, and are brought to 16 bits that way; bytes are shuffled into pairs of
 * neighbouring pixels for the sums along x.
 */
#include <immintrin.h>

#define LOAD16(at) _mm_loadu_si128((const __m128i *)(const void *)(at))

/* The k-th pair of weights, four times. */
#define PAIR4(weights, k) \
    _mm_castps_si128(_mm_broadcast_ss((const float *)(const void *)((weights) + 2 * (k))))

/* A pixel's three sums, scaled down, as 4 of 32 bits. */
SL_TARGET_AVX2 SL_INLINE __m128i avx2_sums(const int16_t *from, size_t stride, const int16_t *wx,
                                           const int16_t *wy)
{
    const __m128i half = _mm_set1_epi32(1 << (SL_WHOLE_BITS - 1));
    const __m128i pairs = _mm_setr_epi8(0, 1, 6, 7, 2, 3, 8, 9, 4, 5, 10, 11, -1, -1, -1, -1);
    __m128i sum[5];
    __m128i first;
    __m128i middle;
    __m128i last;
    __m128i total;

    for (size_t k = 0; k < 5; k++) {
        const int16_t *at = from + 8 * k;

        sum[k] = _mm_add_epi32(half, _mm_madd_epi16(PAIR4(wy, 0), LOAD16(at)));
        sum[k] = _mm_add_epi32(sum[k], _mm_madd_epi16(PAIR4(wy, 1), LOAD16(at + 2 * stride)));
        sum[k] = _mm_add_epi32(sum[k], _mm_madd_epi16(PAIR4(wy, 2), LOAD16(at + 4 * stride)));
        sum[k] = _mm_srai_epi32(sum[k], SL_WHOLE_BITS);
    }
    /* pixels 0, 1 and two numbers of 2; the rest of 2, 3, 4 and one number of 5; the rest of 5 */
    first = _mm_packs_epi32(sum[0], sum[1]);
    middle = _mm_packs_epi32(sum[2], sum[3]);
    last = _mm_packs_epi32(sum[4], sum[4]);
    last = _mm_alignr_epi8(last, middle, 8);
    middle = _mm_alignr_epi8(middle, first, 12);
    total = _mm_add_epi32(half, _mm_madd_epi16(_mm_shuffle_epi8(first, pairs), PAIR4(wx, 0)));
    total = _mm_add_epi32(total, _mm_madd_epi16(_mm_shuffle_epi8(middle, pairs), PAIR4(wx, 1)));
    total = _mm_add_epi32(total, _mm_madd_epi16(_mm_shuffle_epi8(last, pairs), PAIR4(wx, 2)));
    return _mm_srai_epi32(total, SL_WHOLE_BITS);
}

/* The number of the first of the weights nearest to a place. */
#define WEIGHTS(place) \
    ((((place) & ((1 << SL_PLACE_BITS) - 1)) + (1 << WHOLE_DROP >> 1)) >> WHOLE_DROP) * WHOLE_LANES
enum { WHOLE_DROP = SL_PLACE_BITS - SL_WHOLE_PHASE_BITS };

SL_TARGET_AVX2 static void avx2_whole_narrow(int16_t *held, const sl_fixed_tile *tile,
                                             const int32_t *x, const int32_t *y, size_t count,
                                             const sl_kernel *kx, const sl_kernel *ky)
{
    const size_t stride = tile->stride;
    const int32_t down = (int32_t)stride;
    const int16_t *const data = tile->data;
    const int16_t *const along_x = kx->whole;
    const int16_t *const along_y = ky->whole;
    int32_t at[RUN];
    int32_t wx[RUN];
    int32_t wy[RUN];

    /* Where all is found first, in vectors of its own: sums would wait for it. */
    for (size_t done = 0; done < count; done += RUN, x += RUN, y += RUN) {
        const size_t part = count - done < RUN ? count - done : RUN;
        size_t i = 0;

        for (size_t k = 0; k < part; k++) {
            at[k] = ((y[k] >> SL_PLACE_BITS) + 1 - TAPS / 2) * down
                    + ((x[k] >> SL_PLACE_BITS) + 1 - TAPS / 2) * SL_FIXED_PIXEL;
            wx[k] = WEIGHTS(x[k]);
            wy[k] = WEIGHTS(y[k]);
        }
        for (; i + 2 <= part; i += 2, held += 8)
            _mm_storeu_si128(
                (__m128i *)(void *)held,
                _mm_packs_epi32(
                    avx2_sums(data + at[i], stride, along_x + wx[i], along_y + wy[i]),
                    avx2_sums(data + at[i + 1], stride, along_x + wx[i + 1],
                              along_y + wy[i + 1])));
        for (; i < part; i++, held += 4) {
            const __m128i sum =
                avx2_sums(data + at[i], stride, along_x + wx[i], along_y + wy[i]);

            _mm_storel_epi64((__m128i *)(void *)held, _mm_packs_epi32(sum, sum));
        }
    }
}

#undef WEIGHTS
#undef LOAD16
#undef PAIR4
