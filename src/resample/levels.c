#include "resample/levels.h"

#include <math.h>
#include <stdlib.h>

#include "base/compiler.h"
#include "base/error.h"

/*
 * Buckets per octave: 2^MIN_MANTISSA and up, while a bucket holds several borders. With 2^10 the
 * curve of a gamma of 2.4 bends by less than a hundredth of a 16-bit code in a bucket; and the way
 * through it, of 13 bits, times the codes in it fits 32 bits.
 */
enum { FLOAT_MANTISSA = 23, MIN_MANTISSA = 6, MAX_MANTISSA = 10 };
_Static_assert(FLOAT_MANTISSA - MAX_MANTISSA + 16 < 32, "see sl_level_of_held()");

/* Codes of 16 bits between two codes of 8, and of 16. */
static double border_above(const float *linear16, size_t code, unsigned bits)
{
    /* (code + 0.5) / 255 is half way between 257 code + 128 and 257 code + 129 of 65535. */
    const size_t below = bits == 8 ? 257 * code + 128 : code;

    return 0.5 * ((double)linear16[below] + (double)linear16[below + 1]);
}

/* The least float that is not below v: so that `float >= border` says the same in floats. */
static float float_from(double v)
{
    const float f = (float)v;

    return (double)f < v ? nextafterf(f, INFINITY) : f;
}

static float float_of_bits(uint32_t bits)
{
    float f;

    memcpy(&f, &bits, sizeof f);
    return f;
}

sl_status sl_levels_make(sl_levels *out, const sl_tone *tone, unsigned bits, sl_error *err)
{
    const size_t codes = (size_t)1 << bits;
    const float *linear16 = sl_tone_linear16(tone);
    sl_levels l = { .bits = bits };
    unsigned mantissa = bits == 8 ? MIN_MANTISSA : MAX_MANTISSA;

    l.until = malloc(codes * sizeof *l.until);
    if (l.until == NULL)
        goto no_memory;
    for (size_t c = 0; c + 1 < codes; c++)
        l.until[c] = float_from(border_above(linear16, c, bits));
    l.until[codes - 1] = INFINITY;
    /* Half of the first border, or of the second if a curve starts with no light at all. */
    l.least = 0.5f * (l.until[0] > 0.0f ? l.until[0] : l.until[1]);
    for (;; mantissa++) {
        size_t code = 0;

        l.shift = FLOAT_MANTISSA - mantissa;
        l.first = sl_float_bits(l.least) >> l.shift;
        l.last = sl_float_bits(1.0f) >> l.shift;
        free(l.guess);
        l.guess = malloc((l.last - l.first + 2) * sizeof *l.guess);
        if (l.guess == NULL)
            goto no_memory;
        l.single = true;
        for (uint32_t b = l.first; b <= l.last; b++) {
            const float start = float_of_bits(b << l.shift);
            const float end = float_of_bits((b + 1) << l.shift);

            while (start >= l.until[code])
                code++;
            l.guess[b - l.first] = (uint16_t)code;
            if (code + 2 < codes && l.until[code + 1] < end)
                l.single = false;
        }
        l.guess[l.last - l.first + 1] = l.guess[l.last - l.first];
        if (l.single || mantissa >= MAX_MANTISSA)
            break;
    }
    *out = l;
    return SL_OK;
no_memory:
    sl_levels_clear(&l);
    return sl_fail(err, SL_ERR_NOMEM, "resample", "no memory for %zu levels", codes);
}

/* Below 0 and NaN become the least, which has code 0; above 1 the last. */
void sl_levels_hold(float *light, size_t n, const sl_levels *levels)
{
#if SL_VECTORS
    const float x = levels->least;
    const sl_f4 least = { x, x, x, x };
    const sl_f4 most = { 1.0f, 1.0f, 1.0f, 1.0f };

    for (size_t i = 0; i < n; i += 4) {
        sl_f4 v = *(sl_f4_near *)(light + i);

        v = SL_MAX4(v, least); /* the second one where v is NaN */
        *(sl_f4_near *)(light + i) = SL_MIN4(v, most);
    }
#else
    for (size_t i = 0; i < n; i++) {
        const float v = light[i] > levels->least ? light[i] : levels->least;

        light[i] = v < 1.0f ? v : 1.0f;
    }
#endif
}

void sl_levels_clear(sl_levels *levels)
{
    free(levels->until);
    free(levels->guess);
    levels->until = NULL;
    levels->guess = NULL;
}
