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

#include "base/error.h"
#include "base/size.h"

/* Long side of the small copy, px: an edge's 1 px there is 4 px of a 12 Mpx shot, within reach of
   the sub-pixel fit. */
enum { SMALL_LONG_SIDE = 1010 };

/* No edge is fainter than this, codes per px; below it JPEG blocks would be edges. */
static const double FAINTEST = 1.2;

void sl_small_free(sl_small *small)
{
    if (small != NULL) {
        free(small->rgb);
        free(small->strength);
        free(small->twice);
        free(small);
    }
}

static void add_row(float *sum, const sl_image *shot, size_t y, size_t columns, size_t factor)
{
    const unsigned ch = shot->channels;
    const unsigned char *row = shot->data + y * shot->stride;

    for (size_t x = 0; x < columns; x++) {
        unsigned long acc[3] = { 0, 0, 0 };

        if (shot->bits == 8) {
            const unsigned char *p = row + x * factor * ch;

            if (ch == 3) {
                unsigned r = 0;
                unsigned g = 0;
                unsigned b = 0;

                for (size_t i = 0; i < factor; i++, p += 3) {
                    r += p[0];
                    g += p[1];
                    b += p[2];
                }
                acc[0] = r;
                acc[1] = g;
                acc[2] = b;
            } else {
                for (size_t i = 0; i < factor; i++)
                    acc[0] += p[i];
                acc[1] = acc[2] = acc[0];
            }
            for (int c = 0; c < 3; c++)
                sum[3 * x + (size_t)c] += (float)acc[c];
        } else {
            const uint16_t *p = (const uint16_t *)(const void *)row + x * factor * ch;

            for (size_t i = 0; i < factor; i++)
                for (unsigned c = 0; c < 3; c++)
                    acc[c] += p[i * ch + (ch == 3 ? c : 0)];
            for (int c = 0; c < 3; c++)
                sum[3 * x + (size_t)c] += (float)acc[c] / 257.0f;
        }
    }
}

static void reduce(sl_small *small, const sl_image *shot)
{
    const size_t n = small->factor;
    const float scale = 1.0f / (float)(n * n);

    for (size_t y = 0; y < small->height; y++) {
        float *out = small->rgb + y * small->width * 3;

        for (size_t i = 0; i < small->width * 3; i++)
            out[i] = 0.0f;
        for (size_t k = 0; k < n; k++)
            add_row(out, shot, y * n + k, small->width, n);
        for (size_t i = 0; i < small->width * 3; i++)
            out[i] *= scale;
    }
}

static void differentiate(sl_small *small)
{
    const size_t w = small->width;
    const size_t step = w * 3;

    for (size_t y = 1; y + 1 < small->height; y++) {
        const float *mid = small->rgb + y * step;

        for (size_t x = 1; x + 1 < w; x++) {
            float xx = 0;
            float yy = 0;
            float xy = 0;

            for (size_t c = 0; c < 3; c++) {
                const float *p = mid + 3 * x + c;
                const float *up = p - step;
                const float *down = p + step;
                const float gx = (up[3] - up[-3] + 2 * (p[3] - p[-3]) + down[3] - down[-3]) / 8;
                const float gy = (down[-3] - up[-3] + 2 * (down[0] - up[0]) + down[3] - up[3]) / 8;

                xx += gx * gx;
                yy += gy * gy;
                xy += gx * gy;
            }
            {
                const float cos2 = xx - yy;
                const float sin2 = 2 * xy;
                const float root = sqrtf(cos2 * cos2 + sin2 * sin2);
                const size_t i = y * w + x;

                /* per channel: the root of a third of the tensor's larger eigenvalue */
                small->strength[i] = sqrtf((xx + yy + root) / 6);
                if (root > 0) {
                    small->twice[2 * i] = cos2 / root;
                    small->twice[2 * i + 1] = sin2 / root;
                }
            }
        }
    }
}

/* The 30th percentile of the strength: more than 70 % edge has no picture. A heuristic. */
static double noise_level(const sl_small *small)
{
    enum { BINS = 256 };
    size_t bin[BINS] = { 0 };
    const size_t n = small->width * small->height;
    size_t sum = 0;

    for (size_t i = 0; i < n; i++) {
        const float q = small->strength[i] * 16;

        bin[q < BINS - 1 ? (size_t)q : BINS - 1]++;
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
    small->rgb = calloc(n * 3, sizeof *small->rgb);
    small->strength = calloc(n, sizeof *small->strength);
    small->twice = calloc(n * 2, sizeof *small->twice);
    if (small->rgb == NULL || small->strength == NULL || small->twice == NULL) {
        sl_small_free(small);
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    }
    reduce(small, shot);
    differentiate(small);
    small->noise = noise_level(small);
    small->threshold = fmin(fmax(FAINTEST, 2.5 * small->noise), 5.0);
    *out = small;
    return SL_OK;
}
