/* Whole numbers for light: shots and pages of 8 bits a sample, in colour, go this way. */
#ifndef SL_RESAMPLE_FIXED_H
#define SL_RESAMPLE_FIXED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "resample/kernel.h"
#include "resample/levels.h"
#include "squareleaf.h"

/*
 * Light v in 0 .. 1 is held as the whole number v WHITE - MIDDLE. All of a kernel's weights sum to
 * one, so the middle goes through its sums unchanged, and 16 bits hold more than WHITE: the sums
 * along one axis overshoot by at most SL_FIXED_OVERSHOOT of white to both sides, and still fit.
 * A step of the darkest 8-bit sRGB codes is 1/3295 of white, 13 of these.
 */
enum { SL_FIXED_WHITE = 42740, SL_FIXED_MIDDLE = SL_FIXED_WHITE / 2, SL_FIXED_CODES = 1 << 16 };
_Static_assert(SL_FIXED_OVERSHOOT * SL_FIXED_WHITE / 1000 + SL_FIXED_MIDDLE < 32767,
               "a sum along one axis does not fit 16 bits");

typedef struct sl_fixed {
    uint64_t       light[3][256]; /* [c][code]: a pixel of 4 int16_t, all 0 but number c */
    unsigned char *code;          /* [SL_FIXED_CODES]: the 8-bit code of a held light, as uint16_t */
} sl_fixed;

/*
 * *out is NULL where whole numbers would not tell the curve's codes apart well, as in the darkest
 * ones of a pure power: these shots are worked in floats.
 */
sl_status sl_fixed_new(sl_fixed **out, const sl_tone *tone, const sl_levels *levels,
                       sl_error *err);
void sl_fixed_free(sl_fixed *fixed);

static inline float sl_fixed_to_light(int16_t held)
{
    return (float)(held + SL_FIXED_MIDDLE) * (1.0f / (float)SL_FIXED_WHITE);
}

static inline int16_t sl_fixed_from_light(float light)
{
    /* Rounded: what is cut is positive. */
    const float v = light * (float)SL_FIXED_WHITE + (float)(32768 - SL_FIXED_MIDDLE) + 0.5f;

    return (int16_t)((v < 0.0f ? 0 : v > 65535.0f ? 65535 : (int)v) - 32768);
}

/*
 * A piece of the shot as whole numbers, rows in pairs: numbers 6 x + 2 c and 6 x + 2 c + 1 of row
 * j are channel c of pixel x in the shot's rows y + j and y + j + 1. Behind the last row lie 8
 * more that vectors may read.
 */
enum { SL_FIXED_PIXEL = 6 };

typedef struct sl_fixed_tile {
    long     x;              /* shot px, as in sl_tile */
    long     y;
    size_t   width;
    size_t   height;         /* shot rows; of pairs there is one fewer */
    size_t   stride;         /* numbers from row to row */
    int16_t *data;
} sl_fixed_tile;

/*
 * Numbers that a tile of so many pixels needs: its pairs and, behind them, two rows to pair up,
 * each with one number to spare.
 */
static inline size_t sl_fixed_room(size_t pixels)
{
    return 2 * SL_FIXED_PIXEL * pixels + 8;
}

/* Fills data from the shot; all else but the stride is set by the caller. */
void sl_fixed_load(sl_fixed_tile *tile, const sl_image *shot, const sl_fixed *fixed);

/* Codes of `count` pixels, interleaved, from held lights, 4 a pixel, of which the last is idle. */
void sl_fixed_encode(unsigned char *to, const sl_fixed *fixed, const int16_t *held,
                     size_t count);

#endif
