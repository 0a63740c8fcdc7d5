/*
 * The small copy: block averages of the shot in coded values. Coded values, because an edge that
 * a person sees on black paper is a step of a few thousandths in linear light; the sub-pixel fit
 * goes back to linear light, the search only needs to see.
 *
 * Gradient: Sobel on each channel; direction and strength from the colour structure tensor
 * (Di Zenzo, CVGIP 33, 1986), so that red cloth beside grey paper of equal lightness is an edge.
 */
#include "border/search.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/large.h"
#include "border/region.h"

/* Long side of the small copy, px: an edge's 1 px there is 4 px of a 12 Mpx shot, within reach of
   the sub-pixel fit. */
enum { SMALL_LONG_SIDE = 1010 };

/* No edge is fainter than this, codes per px; below it JPEG blocks would be edges. */
static const double FAINTEST = 1.2;

void sl_small_free(sl_small *small)
{
    if (small != NULL) {
        free(small->plane[0]);
        free(small);
    }
}

/*
 * Sums of n rows of samples, column by column: plain loops that compilers turn into vector code,
 * inlined with n known. Up to 257 rows of 8-bit samples fit 16 bits.
 */
static inline void sum_rows8(uint16_t *restrict sum, const unsigned char *restrict row,
                             size_t stride, size_t samples, size_t n)
{
    for (size_t i = 0; i < samples; i++) {
        uint16_t column = row[i];

        for (size_t k = 1; k < n; k++)
            column = (uint16_t)(column + row[k * stride + i]);
        sum[i] = column;
    }
}

static void add_row8(uint16_t *restrict sum, const unsigned char *restrict row, size_t samples)
{
    for (size_t i = 0; i < samples; i++)
        sum[i] = (uint16_t)(sum[i] + row[i]);
}

static void add_row16(uint32_t *restrict sum, const uint16_t *restrict row, size_t samples)
{
    for (size_t i = 0; i < samples; i++)
        sum[i] += row[i];
}

static void sum_rows(void *column, const sl_image *shot, size_t y, size_t n, size_t samples)
{
    const unsigned char *row = shot->data + y * shot->stride;
    const size_t stride = shot->stride;

    if (shot->bits != 8) {
        memset(column, 0, samples * sizeof(uint32_t));
        for (size_t k = 0; k < n; k++)
            add_row16(column, (const void *)(row + k * stride), samples);
    } else if (n == 4) {                              /* 12 Mpx and about */
        sum_rows8(column, row, stride, samples, 4);
    } else if (n == 6) {                              /* 24 Mpx */
        sum_rows8(column, row, stride, samples, 6);
    } else {
        sum_rows8(column, row, stride, samples, 1);
        for (size_t k = 1; k < n; k++)
            add_row8(column, row + k * stride, samples);
    }
}

/* Sums n neighbouring px of a row of column sums into each small px of row y. Inlined with
   `narrow`, n and ch known, a px is a handful of additions. */
static inline void put_sums(const sl_small *small, size_t y, const void *column, bool narrow,
                            size_t n, size_t ch, float scale)
{
    const uint16_t *c16 = column;
    const uint32_t *c32 = column;
    const size_t first = y * small->width;

    for (size_t x = 0; x < small->width; x++) {
        uint32_t sum[3] = { 0, 0, 0 };

        for (size_t k = 0; k < n; k++)
            for (size_t c = 0; c < ch; c++)
                sum[c] += narrow ? *c16++ : *c32++;
        for (size_t c = 0; c < 3; c++)
            small->plane[c][first + x] = (float)sum[ch == 3 ? c : 0] * scale;
    }
}

static void put_row(const sl_small *small, size_t y, const void *column, bool narrow, size_t ch,
                    float scale)
{
    const size_t n = small->factor;

    if (narrow && ch == 3 && n == 4)
        put_sums(small, y, column, true, 4, 3, scale);
    else if (narrow && ch == 3 && n == 6)
        put_sums(small, y, column, true, 6, 3, scale);
    else if (narrow && ch == 3)
        put_sums(small, y, column, true, n, 3, scale);
    else
        put_sums(small, y, column, narrow, n, ch, scale);
}

/*
 * Block averages: whole rows are summed first, then groups of columns. The sum of a block's
 * 16-bit samples fits 32 bits for any factor up to 256: a shot of 258,000 px.
 */
static sl_status reduce(sl_small *small, const sl_image *shot, sl_error *err)
{
    const size_t n = small->factor;
    const size_t ch = shot->channels;
    const size_t samples = small->width * n * ch;
    const bool narrow = shot->bits == 8;
    const float scale = 1.0f / ((float)(n * n) * (shot->bits == 8 ? 1.0f : 257.0f));
    void *column;

    if (n > 256)
        return sl_fail(err, SL_ERR_LIMIT, "border", "the picture is over 258,000 px long");
    column = malloc(samples * sizeof(uint32_t));
    if (column == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    for (size_t y = 0; y < small->height; y++) {
        sum_rows(column, shot, y * n, n, samples);
        put_row(small, y, column, narrow, ch, scale);
    }
    free(column);
    return SL_OK;
}

/* Strength and doubled direction along a row, from the channels' structure tensor. */
static void differentiate_row(float *restrict strength, float *restrict twice,
                              const float *const row[3], size_t width)
{
    for (size_t x = 1; x + 1 < width; x++) {
        float xx = 0;
        float yy = 0;
        float xy = 0;

        for (size_t c = 0; c < 3; c++) {
            const float *const mid = row[c] + x;
            const float *const up = mid - width;
            const float *const down = mid + width;
            const float gx = (up[1] - up[-1] + 2 * (mid[1] - mid[-1]) + down[1] - down[-1]) / 8;
            const float gy = (down[-1] - up[-1] + 2 * (down[0] - up[0]) + down[1] - up[1]) / 8;

            xx += gx * gx;
            yy += gy * gy;
            xy += gx * gy;
        }
        {
            const float cos2 = xx - yy;
            const float sin2 = 2 * xy;
            const float root = sqrtf(cos2 * cos2 + sin2 * sin2);
            const float scale = 1 / (root + 1e-20f);

            /* per channel: the root of a third of the tensor's larger eigenvalue */
            strength[x] = sqrtf((xx + yy + root) / 6);
            twice[2 * x] = cos2 * scale;
            twice[2 * x + 1] = sin2 * scale;
        }
    }
}

static void differentiate(sl_small *small)
{
    const size_t w = small->width;

    for (size_t y = 1; y + 1 < small->height; y++) {
        const float *const row[3] = { small->plane[0] + y * w, small->plane[1] + y * w,
                                      small->plane[2] + y * w };

        differentiate_row(small->strength + y * w, small->twice + 2 * y * w, row, w);
    }
}

/* The 30th percentile of the strength, by every fifth px: more than 70 % edge has no picture. A
   heuristic. */
static double noise_level(const sl_small *small)
{
    enum { BINS = 256 };
    size_t bin[BINS] = { 0 };
    const size_t all = small->width * small->height;
    size_t n = 0;
    size_t sum = 0;

    for (size_t i = 0; i < all; i += 5) {
        const float q = small->strength[i] * 16;

        bin[q < BINS - 1 ? (size_t)q : BINS - 1]++;
        n++;
    }
    for (size_t k = 0; k < BINS; k++) {
        sum += bin[k];
        if (sum * 10 >= n * 3)
            return ((double)k + 0.5) / 16;
    }
    return BINS / 16.0;
}

sl_status sl_small_new(sl_small **out, const sl_image *shot, sl_error *err)
{
    const size_t longest = shot->width > shot->height ? shot->width : shot->height;
    sl_small *small = calloc(1, sizeof *small);
    sl_status st;
    size_t n;

    if (small == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    small->factor = (longest + SMALL_LONG_SIDE - 1) / SMALL_LONG_SIDE;
    small->width = shot->width / small->factor;
    small->height = shot->height / small->factor;
    if (small->width < 16 || small->height < 16) {
        sl_small_free(small);
        return sl_fail(err, SL_ERR_ARG, "border",
                       "the picture has %zu x %zu px: too small to hold a page", shot->width,
                       shot->height);
    }
    n = small->width * small->height;
    small->plane[0] = sl_large_new(7 * n, sizeof *small->plane[0]);
    if (small->plane[0] == NULL) {
        sl_small_free(small);
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    }
    small->plane[1] = small->plane[0] + n;
    small->plane[2] = small->plane[1] + n;
    small->strength = small->plane[2] + n;
    small->twice = small->strength + n;
    small->off_table = small->twice + 2 * n;
    st = reduce(small, shot, err);
    if (st == SL_OK)
        st = sl_region_map(small, err);
    if (st != SL_OK) {
        sl_small_free(small);
        return st;
    }
    differentiate(small);
    small->noise = noise_level(small);
    small->threshold = fmin(fmax(FAINTEST, 2.5 * small->noise), 10.0);
    *out = small;
    return SL_OK;
}
