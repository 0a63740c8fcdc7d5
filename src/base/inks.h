/* CMYK into RGB for want of a profile: what decode and tone do alike. */
#ifndef SL_BASE_INKS_H
#define SL_BASE_INKS_H

/* One of R, G, B from its ink and black, 0..max, 0 = no ink: the paper seen through both. */
static inline unsigned sl_from_inks(unsigned ink, unsigned black, unsigned max)
{
    const unsigned long long light = (unsigned long long)(max - ink) * (max - black);

    return (unsigned)((light + max / 2) / max);
}

#endif
