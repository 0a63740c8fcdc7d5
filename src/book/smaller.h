/* A page encoded again, with fewer pixels or at a lower quality. */
#ifndef SL_BOOK_SMALLER_H
#define SL_BOOK_SMALLER_H

#include "squareleaf.h"

/*
 * jpeg     out: owned by the caller, free()
 * px       width and height to make, at most those of the image
 * ppi      of the result; 0 unknown
 * quality  1..100
 * Resampled in linear light, as the page was. Errors are those of decoding and encoding.
 */
sl_status sl_smaller(void **jpeg, size_t *size, const void *from, size_t from_size,
                     const size_t px[2], double ppi, int quality, sl_error *err);

#endif
