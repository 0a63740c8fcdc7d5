/* ICC profiles of spaces that are known by chromaticities and curve: sRGB, Display P3, nclx. */
#ifndef SL_BASE_ICC_H
#define SL_BASE_ICC_H

#include "base/bytes.h"

typedef struct sl_icc_space {
    const char *name;        /* ASCII */
    double      primary[3][2]; /* x, y of red, green, blue: CIE 1931 */
    double      white[2];    /* x, y */
    double      gamma;       /* coded to light; 0: sRGB's curve */
    bool        grey;        /* one channel: the curve alone, between black and white */
} sl_icc_space;

extern const sl_icc_space sl_icc_srgb;
extern const sl_icc_space sl_icc_grey;
extern const sl_icc_space sl_icc_display_p3;

/*
 * Adds the profile to `out` (empty, or failed, as all bytes). False, and nothing added, when the
 * chromaticities span no space: a primary of no light, three in a line, white outside.
 */
bool sl_icc_build(sl_bytes *out, const sl_icc_space *space);

#endif
