/* A piece of the shot in linear light, and where in it contrast is high. */
#ifndef SL_RESAMPLE_TILE_H
#define SL_RESAMPLE_TILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "squareleaf.h"

/* Contrast (greatest over least light among the taps) from which overshoot is bounded, and from
 * which wholly. Less light than the floor counts as the floor: a thousandth or two of white is
 * what any lens or eye spreads over the dark. */
#define SL_CONTRAST_FROM 8.0f
#define SL_CONTRAST_FULL 16.0f
#define SL_CONTRAST_FLOOR 0.002f

typedef struct sl_tile {
    long     x;              /* shot px of its first column and row; the frame's pixels go on */
    long     y;              /* outside the shot as their nearest ones inside */
    size_t   width;          /* px */
    size_t   height;
    size_t   floats;         /* per pixel: 1 grey, 4 colour (the fourth is 0) */
    size_t   stride;         /* floats from row to row */
    float   *data;
    /*
     * flag[by * flag_stride + bx] tells whether contrast may be high among the taps of a place
     * whose first tap lies in that block; blocks are 2^SL_TILE_BLOCK_BITS px on a side.
     */
    size_t   flag_stride;
    bool     any_flag;
    unsigned char *flag;
} sl_tile;

/* Room that a tile's fields of this size need. */
size_t sl_tile_floats(size_t width, size_t height, size_t floats);

/* Fills data from the shot; x, y, width, height, floats and data are set by the caller. */
void sl_tile_load(sl_tile *tile, const sl_image *shot, const float *linear);

enum { SL_TILE_BLOCK_BITS = 3 };

/*
 * Sets the flags for kernels of up to this many taps, on each axis.
 * scratch  8 floats a block
 */
void sl_tile_flag(sl_tile *tile, size_t x_taps, size_t y_taps, float *scratch);

/*
 * The same from an 8-bit colour shot's codes, of which greater ones have more light.
 * codes  6 bytes for each pixel of a row of the tile, for each row of blocks and once more
 */
void sl_tile_flag8(sl_tile *tile, const sl_image *shot, const float *linear, size_t x_taps,
                   size_t y_taps, unsigned char *codes, float *scratch);

#endif
