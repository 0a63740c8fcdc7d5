/* From linear light back to codes, correctly rounded. */
#ifndef SL_RESAMPLE_LEVELS_H
#define SL_RESAMPLE_LEVELS_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "squareleaf.h"

/*
 * A light v has the code c with  until[c - 1] <= v < until[c], until[c] being the light half way
 * between the codes c and c + 1. The search starts near it: v's bucket, the floats with the same
 * exponent and first bits of mantissa, knows the code of its least light. Where a bucket holds
 * several borders the curve is nearly straight in it, and the way through the bucket tells the code
 * to within about one.
 */
typedef struct sl_levels {
    unsigned  bits;          /* 8 or 16 */
    float    *until;         /* [2^bits]: the least light that is above code c; infinite at last */
    uint16_t *guess;         /* [buckets + 1] */
    uint32_t  first;         /* bucket number of the least light told apart from 0 */
    uint32_t  last;
    float     least;         /* held lights: least .. 1 */
    unsigned  shift;         /* bits of a float dropped to make its bucket number */
    bool      single;        /* no bucket holds more than one border between codes */
} sl_levels;

sl_status sl_levels_make(sl_levels *out, const sl_tone *tone, unsigned bits, sl_error *err);
void sl_levels_clear(sl_levels *levels);

static inline uint32_t sl_float_bits(float v)
{
    uint32_t bits;

    memcpy(&bits, &v, sizeof bits);
    return bits;
}

/* Brings n floats, a multiple of 4, into the range that sl_level_of_held() takes. */
void sl_levels_hold(float *light, size_t n, const sl_levels *levels);

/* Code of a light that is held. */
static inline unsigned sl_level_of_held(const sl_levels *levels, float light)
{
    const uint32_t bits = sl_float_bits(light);
    const uint16_t *guess = levels->guess + ((bits >> levels->shift) - levels->first);
    unsigned code = guess[0];

    if (levels->single) {
        code += light >= levels->until[code];
    } else {
        const uint32_t way = bits & ((1u << levels->shift) - 1);

        code += (guess[1] - code) * way >> levels->shift;
        code += light >= levels->until[code]; /* as a rule the last step: no branch for it */
        while (code > 0 && light < levels->until[code - 1])
            code--;
        while (light >= levels->until[code])
            code++;
    }
    return code;
}

#endif
