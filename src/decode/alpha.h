/* Alpha over white. */
#ifndef SL_DECODE_ALPHA_H
#define SL_DECODE_ALPHA_H

/*
 * `value` with opacity `alpha` over white, both 0..max, max 255 or 65535, rounded. Coded
 * samples are mixed as they are, as browsers and image viewers do (common practice); the PNG
 * specification would rather mix light, which differs only where a page is half transparent.
 */
static inline unsigned sl_over_white(unsigned value, unsigned alpha, unsigned max)
{
    const unsigned long long sum = (unsigned long long)value * alpha
                                   + (unsigned long long)max * (max - alpha);

    return (unsigned)((sum + max / 2) / max);
}

#endif
