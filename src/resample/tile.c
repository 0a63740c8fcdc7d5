/*
 * Light is looked up once for each pixel of a tile, not once for each tap: neighbouring output
 * pixels share most of their taps.
 */
#include "resample/tile.h"

#include <string.h>

#include "resample/kernel.h"

/* ---- light ----------------------------------------------------------------------------------- */

size_t sl_tile_floats(size_t width, size_t height, size_t floats)
{
    /* A row may be read past its end by less than a vector, with weights of 0. */
    return height * (width * floats + SL_LANES);
}

static void load_colour8(float *to, const unsigned char *from, size_t count, const float *linear)
{
    for (size_t i = 0; i < count; i++) {
        to[4 * i] = linear[from[3 * i]];
        to[4 * i + 1] = linear[from[3 * i + 1]];
        to[4 * i + 2] = linear[from[3 * i + 2]];
        to[4 * i + 3] = 0.0f;
    }
}

static void load_colour16(float *to, const unsigned char *bytes, size_t count,
                          const float *linear)
{
    for (size_t i = 0; i < count; i++) {
        uint16_t from[3];

        memcpy(from, bytes + i * sizeof from, sizeof from);
        to[4 * i] = linear[from[0]];
        to[4 * i + 1] = linear[from[1]];
        to[4 * i + 2] = linear[from[2]];
        to[4 * i + 3] = 0.0f;
    }
}

static void load_grey8(float *to, const unsigned char *from, size_t count, const float *linear)
{
    for (size_t i = 0; i < count; i++)
        to[i] = linear[from[i]];
}

static void load_grey16(float *to, const unsigned char *bytes, size_t count, const float *linear)
{
    for (size_t i = 0; i < count; i++) {
        uint16_t from;

        memcpy(&from, bytes + i * sizeof from, sizeof from);
        to[i] = linear[from];
    }
}

static long clamp(long v, long low, long high)
{
    return v < low ? low : v > high ? high : v;
}

static void load_row(float *row, const sl_tile *tile, const sl_image *shot, long y,
                     const float *linear)
{
    const long end = tile->x + (long)tile->width;
    /* The part inside the frame, at least one pixel of it, and where it goes. */
    const long from = clamp(tile->x, 0, (long)shot->width - 1);
    const long to = clamp(end, from + 1, (long)shot->width);
    const size_t before = from > tile->x ? (size_t)(from - tile->x) : 0;
    const size_t lead = before < tile->width ? before : tile->width - 1;
    const size_t count = (size_t)(to - from);
    const size_t n = tile->floats;
    const size_t size = (size_t)shot->channels * (shot->bits / 8);
    const unsigned char *bytes =
        shot->data + (size_t)y * shot->stride + (size_t)from * size;
    float *inside = row + lead * n;

    if (shot->channels == 3) {
        if (shot->bits == 8)
            load_colour8(inside, bytes, count, linear);
        else
            load_colour16(inside, bytes, count, linear);
    } else {
        if (shot->bits == 8)
            load_grey8(inside, bytes, count, linear);
        else
            load_grey16(inside, bytes, count, linear);
    }
    for (size_t i = 0; i < lead * n; i++)
        row[i] = inside[i % n];
    for (size_t i = (lead + count) * n; i < tile->stride; i++)
        row[i] = row[i - n];
}

void sl_tile_load(sl_tile *tile, const sl_image *shot, const float *linear)
{
    long loaded = -1;

    tile->stride = tile->width * tile->floats + SL_LANES;
    for (size_t j = 0; j < tile->height; j++) {
        const long y = clamp(tile->y + (long)j, 0, (long)shot->height - 1);
        float *row = tile->data + j * tile->stride;

        if (j > 0 && y == loaded)
            memcpy(row, row - tile->stride, tile->stride * sizeof *row);
        else
            load_row(row, tile, shot, y, linear);
        loaded = y;
    }
}

/* ---- contrast -------------------------------------------------------------------------------- */

enum { BLOCK = 1 << SL_TILE_BLOCK_BITS };

static size_t blocks(size_t n)
{
    return (n + BLOCK - 1) / BLOCK;
}

/* Least and greatest light in one block, for each float of a pixel. */
static void block_range(float low[4], float high[4], const sl_tile *tile, size_t x, size_t y)
{
    const size_t n = tile->floats;
    const size_t rows = tile->height - y < BLOCK ? tile->height - y : BLOCK;
    const size_t columns = tile->width - x < BLOCK ? tile->width - x : BLOCK;
    float lo[4 * BLOCK];
    float hi[4 * BLOCK];
    const float *row = tile->data + y * tile->stride + x * n;

    if (n == 4 && columns == BLOCK) {
        /* The common case, in loops of a fixed length that compilers make vectors of. */
        memcpy(lo, row, sizeof lo);
        memcpy(hi, row, sizeof hi);
        for (size_t j = 1; j < rows; j++) {
            row += tile->stride;
            for (size_t i = 0; i < 4 * BLOCK; i++) {
                lo[i] = row[i] < lo[i] ? row[i] : lo[i];
                hi[i] = row[i] > hi[i] ? row[i] : hi[i];
            }
        }
    } else {
        for (size_t i = 0; i < columns * n; i++)
            lo[i] = hi[i] = row[i];
        for (size_t j = 1; j < rows; j++) {
            row += tile->stride;
            for (size_t i = 0; i < columns * n; i++) {
                lo[i] = row[i] < lo[i] ? row[i] : lo[i];
                hi[i] = row[i] > hi[i] ? row[i] : hi[i];
            }
        }
    }
    for (size_t c = 0; c < n; c++) {
        low[c] = lo[c];
        high[c] = hi[c];
        for (size_t i = 1; i < columns; i++) {
            low[c] = lo[i * n + c] < low[c] ? lo[i * n + c] : low[c];
            high[c] = hi[i * n + c] > high[c] ? hi[i * n + c] : high[c];
        }
    }
}

/* Whether contrast is high among the blocks bx .. bx_end - 1 of the rows by .. by_end - 1. */
static bool is_high(const sl_tile *tile, const float *range, size_t bx, size_t bx_end, size_t by,
                    size_t by_end)
{
    for (size_t c = 0; c < tile->floats; c++) {
        float low = 1.0f;
        float high = 0.0f;

        for (size_t j = by; j < by_end; j++) {
            for (size_t i = bx; i < bx_end; i++) {
                const float *of = range + 8 * (j * tile->flag_stride + i) + c;

                low = of[0] < low ? of[0] : low;
                high = of[4] > high ? of[4] : high;
            }
        }
        if (high > SL_CONTRAST_FROM * (low > SL_CONTRAST_FLOOR ? low : SL_CONTRAST_FLOOR))
            return true;
    }
    return false;
}

/* Blocks that the taps may touch whose first lies in a given one; beyond FAR all are taken. */
static size_t blocks_touched(size_t taps)
{
    return (taps + BLOCK - 2) / BLOCK + 1;
}

static void flag_blocks(sl_tile *tile, size_t x_taps, size_t y_taps, const float *range)
{
    enum { FAR = 8 };
    const size_t across = blocks(tile->width);
    const size_t down = blocks(tile->height);
    const size_t x_touched = blocks_touched(x_taps);
    const size_t y_touched = blocks_touched(y_taps);

    tile->any_flag = is_high(tile, range, 0, across, 0, down);
    memset(tile->flag, tile->any_flag, across * down);
    if (!tile->any_flag || x_touched > FAR || y_touched > FAR)
        return;
    for (size_t by = 0; by < down; by++) {
        const size_t by_end = by + y_touched < down ? by + y_touched : down;

        for (size_t bx = 0; bx < across; bx++) {
            const size_t bx_end = bx + x_touched < across ? bx + x_touched : across;

            tile->flag[by * across + bx] = is_high(tile, range, bx, bx_end, by, by_end);
        }
    }
}

void sl_tile_flag(sl_tile *tile, size_t x_taps, size_t y_taps, float *scratch)
{
    const size_t across = blocks(tile->width);
    const size_t down = blocks(tile->height);

    tile->flag_stride = across;
    for (size_t by = 0; by < down; by++) {
        for (size_t bx = 0; bx < across; bx++) {
            float *range = scratch + 8 * (by * across + bx);

            block_range(range, range + 4, tile, bx * BLOCK, by * BLOCK);
        }
    }
    flag_blocks(tile, x_taps, y_taps, scratch);
}

/* Least and greatest codes of each column of samples over some rows of the shot. */
static void code_range(unsigned char *restrict low, unsigned char *restrict high,
                       const unsigned char *restrict row, size_t samples)
{
    for (size_t i = 0; i < samples; i++) {
        low[i] = row[i] < low[i] ? row[i] : low[i];
        high[i] = row[i] > high[i] ? row[i] : high[i];
    }
}

/* Range of some columns of a block row, from those of its columns. */
static void block_range8(float range[8], const unsigned char *low, const unsigned char *high,
                         size_t columns, const float *linear)
{
    for (size_t c = 0; c < 3; c++) {
        unsigned least = 255;
        unsigned most = 0;

        for (size_t i = 0; i < columns; i++) {
            least = low[3 * i + c] < least ? low[3 * i + c] : least;
            most = high[3 * i + c] > most ? high[3 * i + c] : most;
        }
        range[c] = linear[least];
        range[4 + c] = linear[most];
    }
    range[3] = range[7] = 0.0f;
}

void sl_tile_flag8(sl_tile *tile, const sl_image *shot, const float *linear, size_t x_taps,
                   size_t y_taps, unsigned char *codes, float *scratch)
{
    const size_t across = blocks(tile->width);
    const size_t down = blocks(tile->height);
    /* What of the tile lies in the frame, at least one column. */
    const long left = clamp(tile->x, 0, (long)shot->width - 1);
    const long right = clamp(tile->x + (long)tile->width, left + 1, (long)shot->width);
    const size_t samples = 3 * (size_t)(right - left);
    unsigned char *const all_low = codes + 2 * down * samples;
    unsigned char *const all_high = all_low + samples;
    float all[8];

    tile->flag_stride = across;
    memset(codes, 0, (2 * down + 2) * samples);
    memset(all_low, 255, samples);
    for (size_t by = 0; by < down; by++) {
        unsigned char *low = codes + 2 * by * samples;
        unsigned char *high = low + samples;

        memset(low, 255, samples);
        for (size_t j = by * BLOCK; j < (by + 1) * BLOCK && j < tile->height; j++) {
            const long y = clamp(tile->y + (long)j, 0, (long)shot->height - 1);

            code_range(low, high, shot->data + (size_t)y * shot->stride + 3 * (size_t)left,
                       samples);
        }
        code_range(all_low, all_high, low, samples);
        code_range(all_low, all_high, high, samples);
    }
    block_range8(all, all_low, all_high, samples / 3, linear);
    tile->any_flag = is_high(tile, all, 0, 1, 0, 1);
    memset(tile->flag, 0, across * down);
    if (!tile->any_flag)
        return;
    for (size_t by = 0; by < down; by++) {
        const unsigned char *low = codes + 2 * by * samples;

        for (size_t bx = 0; bx < across; bx++) {
            const long from = tile->x + (long)(bx * BLOCK);
            const size_t first = (size_t)(clamp(from, left, right - 1) - left);
            const size_t last = (size_t)(clamp(from + BLOCK - 1, left, right - 1) - left);

            block_range8(scratch + 8 * (by * across + bx), low + 3 * first,
                         low + samples + 3 * first, last - first + 1, linear);
        }
    }
    flag_blocks(tile, x_taps, y_taps, scratch);
}
