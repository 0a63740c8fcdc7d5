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

/* Adds a row of samples to the sums of its columns: plain loops that compilers turn into vector
   code. Up to 257 rows of 8-bit samples fit 16 bits. */
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

/* Sums n x ch neighbouring column sums into one small px. Inlined with n and ch known, this is a
   handful of additions. */
static inline void add_columns(uint32_t sum[3], const void *column, bool narrow, size_t n,
                               size_t ch)
{
    const uint16_t *const c16 = column;
    const uint32_t *const c32 = column;

    sum[0] = sum[1] = sum[2] = 0;
    for (size_t k = 0; k < n; k++)
        for (size_t c = 0; c < ch; c++)
            sum[c] += narrow ? c16[k * ch + c] : c32[k * ch + c];
}

static void put_row(const sl_small *small, size_t y, const void *column, bool narrow, size_t ch,
                    float scale)
{
    const size_t n = small->factor;
    const size_t step = n * ch * (narrow ? sizeof(uint16_t) : sizeof(uint32_t));
    const unsigned char *at = column;

    for (size_t x = 0; x < small->width; x++, at += step) {
        uint32_t sum[3];

        if (narrow && ch == 3 && n == 4)              /* 12 Mpx and about */
            add_columns(sum, at, true, 4, 3);
        else if (narrow && ch == 3 && n == 3)
            add_columns(sum, at, true, 3, 3);
        else if (narrow && ch == 3 && n == 6)         /* 24 Mpx */
            add_columns(sum, at, true, 6, 3);
        else
            add_columns(sum, at, narrow, n, ch);
        for (size_t c = 0; c < 3; c++)
            small->plane[c][y * small->width + x] = (float)sum[ch == 3 ? c : 0] * scale;
    }
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
        memset(column, 0, samples * (narrow ? sizeof(uint16_t) : sizeof(uint32_t)));
        for (size_t k = 0; k < n; k++) {
            const void *row = shot->data + (y * n + k) * shot->stride;

            if (narrow)
                add_row8(column, row, samples);
            else
                add_row16(column, row, samples);
        }
        put_row(small, y, column, narrow, ch, scale);
    }
    free(column);
    return SL_OK;
}

/* Adds one channel's squares and product of the Sobel derivatives of a row. */
static void add_tensor(float *restrict xx, float *restrict yy, float *restrict xy,
                       const float *restrict up, const float *restrict mid,
                       const float *restrict down, size_t width)
{
    for (size_t x = 1; x + 1 < width; x++) {
        const float gx = (up[x + 1] - up[x - 1] + 2 * (mid[x + 1] - mid[x - 1]) + down[x + 1]
                          - down[x - 1])
                         / 8;
        const float gy = (down[x - 1] - up[x - 1] + 2 * (down[x] - up[x]) + down[x + 1]
                          - up[x + 1])
                         / 8;

        xx[x] += gx * gx;
        yy[x] += gy * gy;
        xy[x] += gx * gy;
    }
}

static sl_status differentiate(sl_small *small, sl_error *err)
{
    const size_t w = small->width;
    float *xx = malloc(3 * w * sizeof *xx);
    float *yy = xx + w;
    float *xy = yy + w;

    if (xx == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    for (size_t y = 1; y + 1 < small->height; y++) {
        float *strength = small->strength + y * w;
        float *twice = small->twice + 2 * y * w;

        memset(xx, 0, 3 * w * sizeof *xx);
        for (size_t c = 0; c < 3; c++) {
            const float *mid = small->plane[c] + y * w;

            add_tensor(xx, yy, xy, mid - w, mid, mid + w, w);
        }
        for (size_t x = 1; x + 1 < w; x++) {
            const float cos2 = xx[x] - yy[x];
            const float sin2 = 2 * xy[x];
            const float root = sqrtf(cos2 * cos2 + sin2 * sin2);
            const float scale = 1 / (root + 1e-20f);

            /* per channel: the root of a third of the tensor's larger eigenvalue */
            strength[x] = sqrtf((xx[x] + yy[x] + root) / 6);
            twice[2 * x] = cos2 * scale;
            twice[2 * x + 1] = sin2 * scale;
        }
    }
    free(xx);
    return SL_OK;
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
    small->plane[0] = sl_large_new(6 * n, sizeof *small->plane[0]);
    if (small->plane[0] == NULL) {
        sl_small_free(small);
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    }
    small->plane[1] = small->plane[0] + n;
    small->plane[2] = small->plane[1] + n;
    small->strength = small->plane[2] + n;
    small->twice = small->strength + n;
    st = reduce(small, shot, err);
    if (st == SL_OK)
        st = differentiate(small, err);
    if (st != SL_OK) {
        sl_small_free(small);
        return st;
    }
    small->noise = noise_level(small);
    small->threshold = fmin(fmax(FAINTEST, 2.5 * small->noise), 10.0);
    *out = small;
    return SL_OK;
}
