/* Maps from output to shot for tests of the resampler, and small helpers around it. */
#ifndef TESTS_WARPS_H
#define TESTS_WARPS_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "squareleaf.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/*
 * A page seen by a camera: a homography, then a lens (k1 about a centre, radius in units of
 * `lens_px`), after a sine bend of the page along its u.
 */
typedef struct warp {
    double h[9];
    double k1;
    double centre[2];
    double lens_px;
    double bend;             /* output px of displacement along v */
    double period;           /* output px */
} warp;

static inline sl_point warp_at(const void *ctx, double column, double row)
{
    const warp *w = ctx;
    const double bent = w->bend != 0.0 ? w->bend * sin(6.283185307179586 * column / w->period)
                                       : 0.0;
    sl_point p = sl_homography_apply(w->h, (sl_point){ column, row + bent });

    if (w->k1 != 0.0) {
        const double x = (p.x - w->centre[0]) / w->lens_px;
        const double y = (p.y - w->centre[1]) / w->lens_px;
        const double s = 1.0 + w->k1 * (x * x + y * y);

        p.x = w->centre[0] + x * s * w->lens_px;
        p.y = w->centre[1] + y * s * w->lens_px;
    }
    return p;
}

/* x = a i + b j + c, y = d i + e j + f */
static inline warp affine(double a, double b, double c, double d, double e, double f)
{
    return (warp){ .h = { a, b, c, d, e, f, 0, 0, 1 } };
}

/* Turned by `degrees` and scaled (shot px per output px) about the two centres. */
static inline warp turned(double degrees, double scale, size_t shot_width, size_t shot_height,
                          size_t width, size_t height)
{
    const double c = scale * cos(degrees * 3.14159265358979323846 / 180.0);
    const double s = scale * sin(degrees * 3.14159265358979323846 / 180.0);
    const double u = 0.5 * ((double)width - 1.0);
    const double v = 0.5 * ((double)height - 1.0);

    return affine(c, -s, 0.5 * ((double)shot_width - 1.0) - c * u + s * v, s, c,
                  0.5 * ((double)shot_height - 1.0) - s * u - c * v);
}

/* The output's corners, clockwise from the top left, onto a quadrilateral in the shot. */
static inline warp onto(const sl_point quad[4], size_t width, size_t height)
{
    const double r = (double)width - 1.0;
    const double b = (double)height - 1.0;
    const sl_point corner[4] = { { 0, 0 }, { r, 0 }, { r, b }, { 0, b } };
    warp w = { .lens_px = 0 };
    sl_error err = { 0 };

    if (sl_homography_fit(w.h, corner, quad, 4, &err) != SL_OK)
        fail_msg("%s", err.detail);
    return w;
}

/* ---- random numbers: xorshift (Marsaglia 2003), the same on every machine -------------------- */

static inline uint32_t random_bits(uint32_t *seed)
{
    *seed ^= *seed << 13;
    *seed ^= *seed >> 17;
    *seed ^= *seed << 5;
    return *seed;
}

static inline double random_in(uint32_t *seed, double low, double high)
{
    return low + (high - low) * (double)random_bits(seed) / 4294967296.0;
}

/* ---- pictures ------------------------------------------------------------------------------ */

static inline sl_image *new_image(size_t width, size_t height, unsigned channels, unsigned bits)
{
    sl_image *image = NULL;
    sl_error err = { 0 };

    if (sl_image_new(&image, width, height, channels, bits, &err) != SL_OK)
        fail_msg("%s", err.detail);
    return image;
}

static inline unsigned get(const sl_image *image, size_t x, size_t y, unsigned c)
{
    const unsigned char *at = image->data + y * image->stride
                              + (x * image->channels + c) * (image->bits / 8);
    uint16_t wide;

    if (image->bits == 8)
        return *at;
    memcpy(&wide, at, sizeof wide);
    return wide;
}

static inline void set(sl_image *image, size_t x, size_t y, unsigned c, unsigned value)
{
    unsigned char *at = image->data + y * image->stride
                        + (x * image->channels + c) * (image->bits / 8);
    const uint16_t wide = (uint16_t)value;

    if (image->bits == 8)
        *at = (unsigned char)value;
    else
        memcpy(at, &wide, sizeof wide);
}

/* Noise between two codes (of 8 bits; more finely with 16). */
static inline sl_image *noise(size_t width, size_t height, unsigned channels, unsigned bits,
                              unsigned low, unsigned high, uint32_t seed)
{
    sl_image *image = new_image(width, height, channels, bits);
    const unsigned step = bits == 8 ? 1 : 257;

    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            for (unsigned c = 0; c < channels; c++)
                set(image, x, y, c,
                    low * step + random_bits(&seed) % ((high - low) * step + 1));
        }
    }
    return image;
}

static inline sl_tone *srgb(void)
{
    sl_tone *tone = NULL;

    assert_int_equal(sl_tone_new(&tone, NULL, 0, NULL), SL_OK);
    return tone;
}

#endif
