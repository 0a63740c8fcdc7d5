/*
 * orient: pixels go from their stored place to their upright one while they are decoded, so
 * that no second frame is needed. Orientation is tag 274 of TIFF 6.0 and Exif (CIPA DC-008).
 */
#ifndef SL_DECODE_ORIENT_H
#define SL_DECODE_ORIENT_H

#include "squareleaf.h"

/*
 * Rows that a reader should hand over at once. Where rows become columns, a block this tall
 * writes runs of 128 pixels instead of scattering single ones over as many pages of memory:
 * turning 12 Mpx takes 0.05 s with 128 rows, 0.09 s with 32.
 */
enum { SL_BAND_ROWS = 128 };

/* The affine map from stored (x,y) to a byte of the upright image. */
typedef struct sl_upright {
    unsigned char *origin;   /* of stored (0,0) */
    ptrdiff_t      per_x;    /* bytes from a stored column to the next */
    ptrdiff_t      per_y;
    size_t         pixel;    /* bytes of one pixel */
} sl_upright;

/*
 * A new upright image for a frame stored as width x height, and the way into it.
 * orientation   1..8; its sides are exchanged for 5..8
 */
sl_status sl_upright_new(sl_upright *to, sl_image **image, size_t width, size_t height,
                         unsigned channels, unsigned bits, unsigned orientation,
                         sl_error *err);

/* A block of stored pixels, its top left at stored (x,y); rows `stride` bytes apart. */
void sl_upright_block(const sl_upright *to, size_t x, size_t y, size_t width, size_t height,
                      const void *pixels, size_t stride);

/* `count` pixels of stored row y, at columns x, x + step, ...: a pass of an interlaced file. */
void sl_upright_spread(const sl_upright *to, size_t x, size_t y, size_t step, size_t count,
                       const void *pixels);

#endif
