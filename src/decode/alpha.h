/* Samples that do not say grey or RGB yet: alpha over white, CMYK into RGB. */
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

/* One of R, G, B from its ink and black, 0..max, 0 = no ink: the paper seen through both. */
static inline unsigned sl_from_inks(unsigned ink, unsigned black, unsigned max)
{
    const unsigned long long light = (unsigned long long)(max - ink) * (max - black);

    return (unsigned)((light + max / 2) / max);
}

#endif
