/* exif: the few tags that the later stages use, read with full mistrust. */
#ifndef SL_DECODE_EXIF_H
#define SL_DECODE_EXIF_H

#include "squareleaf.h"

/*
 * From a block as a JPEG's APP1 holds it: "Exif\0\0", then a TIFF structure. A field that is
 * absent, malformed or out of its range keeps what *exif held before.
 */
void sl_exif_read(sl_exif *exif, const void *block, size_t size);

/*
 * Text of a tag: `size` bytes that need not end in a NUL, into to[capacity]; control
 * characters and what follows a NUL are dropped, blanks at both ends too.
 */
void sl_exif_text(char *to, size_t capacity, const void *text, size_t size);

/* "YYYY:MM:DD HH:MM:SS" in digits, else `to` is unchanged (unset clocks leave blanks there). */
void sl_exif_date(char to[20], const void *text, size_t size);

/* A length in mm or a factor, when it is one: finite, above 0, below 100,000. */
void sl_exif_number(double *to, double value);

#endif
