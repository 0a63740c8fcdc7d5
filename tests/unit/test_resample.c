/* Resampling: laws, a slow twin in double precision, and equal bytes on every path. */
#include "support/warps.h"

#include <stdio.h>

#include "base/pool.h"
#include "resample/grid.h"
#include "resample/kernel.h"
#include "resample/levels.h"
#include "resample/resample.h"

static sl_image *resample(const sl_image *shot, const sl_tone *tone, const warp *w, size_t width,
                          size_t height, unsigned bits, const sl_path *path)
{
    const sl_resample_params params = { width, height, bits, 0.25 };
    sl_image *out = new_image(width, height, shot->channels, bits);
    sl_resampler *r = NULL;
    sl_error err = { 0 };

    if (sl_resampler_new(&r, shot, tone, warp_at, w, &params, &err) != SL_OK)
        fail_msg("%s", err.detail);
    if (path != NULL)
        sl_resampler_force_path(r, path);
    if (sl_resampler_rows(r, 0, height, out->data, out->stride, &err) != SL_OK)
        fail_msg("%s", err.detail);
    sl_resampler_free(r);
    return out;
}

static void check_equal(const char *name, const sl_image *a, const sl_image *b)
{
    assert_int_equal(a->width, b->width);
    assert_int_equal(a->height, b->height);
    for (size_t y = 0; y < a->height; y++) {
        for (size_t x = 0; x < a->width; x++) {
            for (unsigned c = 0; c < a->channels; c++) {
                if (get(a, x, y, c) != get(b, x, y, c))
                    fail_msg("%s: at %zu,%zu channel %u: %u and %u", name, x, y, c,
                             get(a, x, y, c), get(b, x, y, c));
            }
        }
    }
}

static const struct { unsigned channels; unsigned bits; } kinds[] = {
    { 3, 8 }, { 1, 8 }, { 3, 16 }, { 1, 16 }
};

/* ---- maps that need no interpolation --------------------------------------------------------- */

static void the_identity_changes_no_byte(void **state)
{
    static const size_t sizes[][2] = { { 1, 1 }, { 2, 1 }, { 1, 3 }, { 5, 7 }, { 131, 67 },
                                       { 333, 201 }, { 700, 3 } };
    const warp same = affine(1, 0, 0, 0, 1, 0);
    sl_tone *tone = srgb();

    (void)state;
    for (size_t k = 0; k < COUNT(kinds); k++) {
        for (size_t s = 0; s < COUNT(sizes); s++) {
            sl_image *shot = noise(sizes[s][0], sizes[s][1], kinds[k].channels, kinds[k].bits, 0,
                                   255, 7u + (uint32_t)s);
            sl_image *out = resample(shot, tone, &same, shot->width, shot->height, shot->bits,
                                     NULL);

            check_equal("identity", shot, out);
            sl_image_free(out);
            sl_image_free(shot);
        }
    }
    sl_tone_free(tone);
}

/* Shifts, mirrors and quarter turns by whole pixels; what comes from outside is the fill. */
static void whole_pixel_maps_are_exact(void **state)
{
    enum { W = 150, H = 90 };
    const struct { const char *name; warp w; size_t width; size_t height; } maps[] = {
        { "shift", affine(1, 0, 13, 0, 1, -4), W, H },
        { "shift back", affine(1, 0, -1, 0, 1, 88), W, H },
        { "mirror", affine(-1, 0, W - 1, 0, 1, 0), W, H },
        { "upside down", affine(1, 0, 0, 0, -1, H - 1), W, H },
        { "quarter turn", affine(0, 1, 0, -1, 0, H - 1), H, W },
        { "transposed", affine(0, 1, 0, 1, 0, 0), H, W },
    };
    sl_tone *tone = srgb();

    (void)state;
    for (size_t k = 0; k < COUNT(kinds); k++) {
        sl_image *shot = noise(W, H, kinds[k].channels, kinds[k].bits, 0, 255, 99);
        const unsigned fill = kinds[k].bits == 8 ? 64 : 16384; /* 0.25 */

        for (size_t m = 0; m < COUNT(maps); m++) {
            sl_image *out = resample(shot, tone, &maps[m].w, maps[m].width, maps[m].height,
                                     shot->bits, NULL);

            for (size_t y = 0; y < out->height; y++) {
                for (size_t x = 0; x < out->width; x++) {
                    const sl_point p = warp_at(&maps[m].w, (double)x, (double)y);
                    const bool in = p.x >= 0 && p.x < W && p.y >= 0 && p.y < H;

                    for (unsigned c = 0; c < out->channels; c++) {
                        const unsigned want =
                            in ? get(shot, (size_t)p.x, (size_t)p.y, c) : fill;

                        if (get(out, x, y, c) != want)
                            fail_msg("%s, %u x %u bits: at %zu,%zu %u instead of %u",
                                     maps[m].name, kinds[k].channels, kinds[k].bits, x, y,
                                     get(out, x, y, c), want);
                    }
                }
            }
            sl_image_free(out);
        }
        sl_image_free(shot);
    }
    sl_tone_free(tone);
}

static void fill_starts_half_a_pixel_beyond_the_frame(void **state)
{
    enum { W = 40, H = 30 };
    sl_image *shot = noise(W, H, 1, 8, 100, 200, 5);
    sl_tone *tone = srgb();
    /* Columns at -0.75, -0.5, -0.25, ... : one of the first two is outside. */
    const warp quarter = affine(0.25, 0, -0.75, 0, 1, 0);
    const sl_resample_params params = { 4 * W + 4, H, 8, 1.0 };
    sl_resampler *r = NULL;
    unsigned char row[4 * W + 4];

    (void)state;
    assert_int_equal(sl_resampler_new(&r, shot, tone, warp_at, &quarter, &params, NULL), SL_OK);
    assert_int_equal(sl_resampler_rows(r, 3, 1, row, sizeof row, NULL), SL_OK);
    assert_int_equal(row[0], 255);
    assert_true(row[1] < 230);
    /* The last at W - 1 + 0.5 is 4 (W + 0.25) from the first. */
    assert_true(row[4 * W + 1] < 230);
    assert_int_equal(row[4 * W + 2], 255);
    assert_int_equal(row[4 * W + 3], 255);
    assert_true(fabs(sl_resampler_outside(r) - 3.0 / (4 * W + 4)) < 1e-12);
    sl_resampler_free(r);
    sl_tone_free(tone);
    sl_image_free(shot);
}

/* ---- light --------------------------------------------------------------------------------- */

static const sl_point steep[4] = {
    { 30.3, 12.2 }, { 171.9, 20.4 }, { 190.2, 140.7 }, { 8.1, 150.3 }
};

static void every_blank_grey_stays_itself(void **state)
{
    enum { W = 200, H = 160 };
    static const size_t sizes[][2] = { { 150, 140 }, { 60, 33 }, { 240, 20 }, { 3, 2 } };
    sl_image *shot = new_image(W, H, 3, 8);
    sl_image *deep = new_image(W, H, 1, 16);
    sl_tone *tone = srgb();

    (void)state;
    for (unsigned code = 0; code < 256; code++) {
        const size_t *size = sizes[code % COUNT(sizes)];
        const warp w = onto(steep, size[0], size[1]);
        const unsigned fine = (code * 257u + code * 31u) & 0xffffu;
        sl_image *out;

        memset(shot->data, (int)code, H * shot->stride);
        for (size_t y = 0; y < H; y++) {
            for (size_t x = 0; x < W; x++)
                set(deep, x, y, 0, fine);
        }
        out = resample(shot, tone, &w, size[0], size[1], 8, NULL);
        for (size_t i = 0; i < size[1] * out->stride; i++) {
            if (out->data[i] != code)
                fail_msg("code %u became %u", code, out->data[i]);
        }
        sl_image_free(out);
        out = resample(deep, tone, &w, size[0], size[1], 16, NULL);
        for (size_t y = 0; y < size[1]; y++) {
            for (size_t x = 0; x < size[0]; x++) {
                if (get(out, x, y, 0) != fine)
                    fail_msg("16-bit code %u became %u", fine, get(out, x, y, 0));
            }
        }
        sl_image_free(out);
    }
    sl_tone_free(tone);
    sl_image_free(deep);
    sl_image_free(shot);
}

static double mean_light(const sl_image *image, const sl_tone *tone)
{
    double sum = 0.0;

    for (size_t y = 0; y < image->height; y++) {
        for (size_t x = 0; x < image->width; x++)
            sum += (double)(image->bits == 8 ? sl_tone_linear8(tone)[get(image, x, y, 0)]
                                             : sl_tone_linear16(tone)[get(image, x, y, 0)]);
    }
    return sum / (double)(image->width * image->height);
}

/* Half the pixels black and half white are 0.5 of the light, code 187.5, not 127.5. */
static void mean_light_is_kept(void **state)
{
    sl_image *shot = new_image(400, 300, 1, 8);
    sl_tone *tone = srgb();
    static const double scales[] = { 0.5, 0.8, 1.7, 2.0, 3.3, 10.0 };

    (void)state;
    for (size_t y = 0; y < 300; y++) {
        for (size_t x = 0; x < 400; x++)
            set(shot, x, y, 0, (x / 10 + y / 10) % 2 != 0 ? 180 : 60);
    }
    for (size_t k = 0; k < COUNT(scales); k++) {
        const size_t width = (size_t)(400 / scales[k]);
        const size_t height = (size_t)(300 / scales[k]);
        const double sx = 400.0 / (double)width;
        const double sy = 300.0 / (double)height;
        const warp w = affine(sx, 0, 0.5 * sx - 0.5, 0, sy, 0.5 * sy - 0.5);
        sl_image *out = resample(shot, tone, &w, width, height, 16, NULL);
        const double change = mean_light(out, tone) / mean_light(shot, tone) - 1.0;

        if (fabs(change) > 0.003)
            fail_msg("scale %g: light changed by %.2f %%", scales[k], 100 * change);
        sl_image_free(out);
    }
    for (size_t y = 0; y < 300; y++) {
        for (size_t x = 0; x < 400; x++)
            set(shot, x, y, 0, (x + y) % 2 != 0 ? 255 : 0);
    }
    {
        const warp w = affine(4, 0, 1.5, 0, 4, 1.5);
        sl_image *out = resample(shot, tone, &w, 100, 75, 8, NULL);

        for (size_t y = 5; y < 70; y++) {
            for (size_t x = 5; x < 95; x++)
                assert_in_range(get(out, x, y, 0), 187, 188);
        }
        sl_image_free(out);
    }
    sl_tone_free(tone);
    sl_image_free(shot);
}

/* ---- a slow twin --------------------------------------------------------------------------- */

static double light_at(const sl_image *shot, const sl_tone *tone, long x, long y, unsigned c)
{
    const size_t cx = x < 0 ? 0 : (size_t)x >= shot->width ? shot->width - 1 : (size_t)x;
    const size_t cy = y < 0 ? 0 : (size_t)y >= shot->height ? shot->height - 1 : (size_t)y;
    const unsigned code = get(shot, cx, cy, c);

    return (double)(shot->bits == 8 ? sl_tone_linear8(tone)[code] : sl_tone_linear16(tone)[code]);
}

/* The sum as it is defined, in double precision: no grid, no tables, no tiles. */
static double twin(const sl_image *shot, const sl_tone *tone, sl_point p, double sx, double sy,
                   unsigned c)
{
    double sum = 0.0;
    double weights = 0.0;

    for (long y = (long)floor(p.y - 3 * sy); y <= (long)ceil(p.y + 3 * sy); y++) {
        for (long x = (long)floor(p.x - 3 * sx); x <= (long)ceil(p.x + 3 * sx); x++) {
            const double w = sl_kernel_value(fabs((double)x - p.x) / sx)
                             * sl_kernel_value(fabs((double)y - p.y) / sy);

            sum += w * light_at(shot, tone, x, y, c);
            weights += w;
        }
    }
    return sum / weights;
}

/*
 * Contrast stays below 8:1, so no bound: all results are the plain sums. The coordinates are
 * rounded to 1/16384 px and kernels differ by 1/2 step of 1/16 octave from the local scale, so the
 * twin takes the scale that the grid chose: on affine maps it is one.
 */
static void a_slow_twin_agrees(void **state)
{
    enum { W = 120, H = 100 };
    const struct { double degrees; double scale; } turns[] = {
        { 0, 0.83 }, { 12, 0.5 }, { 31, 1.0 }, { 3, 1.3 }, { 20, 2.6 },
    };
    sl_tone *tone = srgb();

    (void)state;
    for (size_t k = 0; k < COUNT(kinds); k++) {
        sl_image *shot = noise(W, H, kinds[k].channels, kinds[k].bits, 100, 230, 31);

        for (size_t t = 0; t < COUNT(turns); t++) {
            const size_t width = (size_t)(0.6 * W / turns[t].scale);
            const size_t height = (size_t)(0.6 * H / turns[t].scale);
            const double s = sl_scale_of_step(sl_scale_step(SL_WIDENING * turns[t].scale));
            const warp w = turned(turns[t].degrees, turns[t].scale, W, H, width, height);
            sl_image *out = resample(shot, tone, &w, width, height, 16, NULL);

            for (size_t y = 0; y < height; y++) {
                for (size_t x = 0; x < width; x++) {
                    const sl_point p = warp_at(&w, (double)x, (double)y);

                    for (unsigned c = 0; c < out->channels; c++) {
                        const double want =
                            65535.0 * sl_tone_encode(tone, twin(shot, tone, p, s, s, c));
                        const double off = (double)get(out, x, y, c) - want;

                        /* A light slope of 1 a pixel is 3 codes of 16 bits over 1/32768 px, on
                         * each axis, and as much again by the rows between two phases. */
                        if (fabs(off) > 16.0)
                            fail_msg("%u x %u bits, %g degrees, scale %g: at %zu,%zu off by "
                                     "%.1f codes of 65535", kinds[k].channels, kinds[k].bits,
                                     turns[t].degrees, turns[t].scale, x, y, off);
                    }
                }
            }
            sl_image_free(out);
        }
        sl_image_free(shot);
    }
    sl_tone_free(tone);
}

/* ---- equal bytes --------------------------------------------------------------------------- */

/* A random view of a shot: turned, scaled, leaning, through a lens, bent; may leave the frame. */
static warp random_view(uint32_t *seed, size_t w, size_t h, size_t width, size_t height)
{
    sl_point quad[4];
    const double zoom = random_in(seed, 0.25, 1.2);
    warp v;

    for (size_t i = 0; i < 4; i++) {
        const double sx = i == 1 || i == 2 ? 1.0 : -1.0;
        const double sy = i >= 2 ? 1.0 : -1.0;

        quad[i].x = 0.5 * (double)w * (1.0 + zoom * sx * random_in(seed, 0.6, 1.0));
        quad[i].y = 0.5 * (double)h * (1.0 + zoom * sy * random_in(seed, 0.6, 1.0));
    }
    v = onto(quad, width, height);
    v.k1 = random_in(seed, -0.05, 0.05);
    v.centre[0] = 0.5 * (double)w;
    v.centre[1] = 0.5 * (double)h;
    v.lens_px = (double)w;
    v.bend = random_in(seed, 0.0, 3.0);
    v.period = 2.0 * (double)width;
    return v;
}

static void all_paths_give_the_same_bytes(void **state)
{
    uint32_t seed = 4711;
    sl_tone *tone = srgb();
    size_t compared = 0;

    (void)state;
    for (int trial = 0; trial < 60; trial++) {
        const unsigned channels = kinds[trial % 4].channels;
        const unsigned bits = kinds[trial % 4].bits;
        const size_t w = 20 + random_bits(&seed) % 300;
        const size_t h = 20 + random_bits(&seed) % 200;
        const size_t width = 2 + random_bits(&seed) % 300;
        const size_t height = 2 + random_bits(&seed) % 140;
        sl_image *shot = noise(w, h, channels, bits, 0, trial % 3 == 0 ? 255 : 60, seed);
        const warp v = random_view(&seed, w, h, width, height);
        const unsigned out_bits = trial % 8 < 4 ? 8 : 16;
        sl_image *plain = resample(shot, tone, &v, width, height, out_bits, &sl_path_plain);

        for (int kind = SL_PATH_PLAIN + 1; kind < SL_PATH_KINDS; kind++) {
            const sl_path *path = sl_path_get((sl_path_kind)kind);

            if (path != NULL) {
                sl_image *out = resample(shot, tone, &v, width, height, out_bits, path);

                check_equal(path->name, plain, out);
                sl_image_free(out);
                compared++;
            }
        }
        sl_image_free(plain);
        sl_image_free(shot);
    }
    sl_tone_free(tone);
    if (compared == 0) {
        print_message("no path but the plain one on this machine\n");
        skip();
    }
}

typedef struct bands {
    const sl_resampler *r;
    sl_image           *out;
    size_t              rows;
} bands;

static void run_band(void *ctx, size_t index)
{
    const bands *b = ctx;
    const size_t first = index * b->rows;
    const size_t left = b->out->height - first;

    (void)sl_resampler_rows(b->r, first, left < b->rows ? left : b->rows,
                            b->out->data + first * b->out->stride, b->out->stride, NULL);
}

static void any_bands_on_any_threads_give_the_same_bytes(void **state)
{
    enum { W = 500, H = 400, WIDTH = 430, HEIGHT = 333 };
    static const size_t heights[] = { 1, 2, 7, 64, 65, 333 };
    sl_image *shot = noise(W, H, 3, 8, 0, 255, 12);
    sl_tone *tone = srgb();
    uint32_t seed = 77;
    const warp v = random_view(&seed, W, H, WIDTH, HEIGHT);
    const sl_resample_params params = { WIDTH, HEIGHT, 8, 0.25 };
    sl_image *whole = resample(shot, tone, &v, WIDTH, HEIGHT, 8, NULL);
    sl_resampler *r = NULL;
    sl_pool *pool = NULL;

    (void)state;
    assert_int_equal(sl_resampler_new(&r, shot, tone, warp_at, &v, &params, NULL), SL_OK);
    assert_int_equal(sl_pool_new(&pool, 3, NULL), SL_OK);
    for (size_t k = 0; k < COUNT(heights); k++) {
        bands b = { r, new_image(WIDTH, HEIGHT, 3, 8), heights[k] };

        sl_pool_run(pool, run_band, &b, (HEIGHT + heights[k] - 1) / heights[k]);
        check_equal("bands", whole, b.out);
        sl_image_free(b.out);
    }
    sl_pool_free(pool);
    sl_resampler_free(r);
    sl_image_free(whole);
    sl_tone_free(tone);
    sl_image_free(shot);
}

/*
 * 8 bits out is 16 bits out, rounded; a shot of 8 bits is the same as one of 16, times 257. Colour
 * of 8 bits goes by whole numbers: on noise from black to white, the hardest there is, that is up
 * to half a code away, and hardly more RMS than the 1/sqrt(12) of rounding alone.
 */
static void the_depths_agree(void **state)
{
    enum { W = 200, H = 160 };
    sl_image *shot = noise(W, H, 3, 8, 0, 255, 3);
    sl_image *wide = new_image(W, H, 3, 16);
    sl_tone *tone = srgb();
    const warp w = onto(steep, 170, 150);
    sl_image *out8;
    sl_image *out16;
    sl_image *from16;
    double sum = 0.0;
    double rms;

    (void)state;
    for (size_t y = 0; y < H; y++) {
        for (size_t x = 0; x < W; x++) {
            for (unsigned c = 0; c < 3; c++)
                set(wide, x, y, c, 257 * get(shot, x, y, c));
        }
    }
    out8 = resample(shot, tone, &w, 170, 150, 8, NULL);
    out16 = resample(shot, tone, &w, 170, 150, 16, NULL);
    from16 = resample(wide, tone, &w, 170, 150, 16, NULL);
    check_equal("8 and 16 bits in", out16, from16);
    for (size_t y = 0; y < 150; y++) {
        for (size_t x = 0; x < 170; x++) {
            for (unsigned c = 0; c < 3; c++) {
                const int a = 257 * (int)get(out8, x, y, c);
                const int b = (int)get(out16, x, y, c);

                if (a - b > 256 || b - a > 256)
                    fail_msg("at %zu,%zu: %d of 8 bits, %d of 16", x, y, a / 257, b);
                sum += (double)(a - b) / 257.0 * ((double)(a - b) / 257.0);
            }
        }
    }
    rms = sqrt(sum / (3.0 * 170.0 * 150.0));
    print_message("8 bits less 16 bits: %.4f codes RMS\n", rms);
    assert_true(rms < 0.30);
    sl_image_free(out8);
    sl_image_free(out16);
    sl_image_free(from16);
    sl_tone_free(tone);
    sl_image_free(wide);
    sl_image_free(shot);
}

/* ---- sizes ----------------------------------------------------------------------------------- */

/*
 * A whole shot in a few pixels: its kernels do not fit a tile and go by bands. Each path gives the
 * same, and about the mean, since the frame is even.
 */
static void huge_minification_keeps_the_mean(void **state)
{
    enum { W = 900, H = 700 };
    static const size_t sizes[][2] = { { 1, 1 }, { 3, 2 }, { 9, 7 } };
    sl_image *shot = noise(W, H, 3, 8, 80, 160, 8);
    sl_tone *tone = srgb();
    double light = 0.0;

    (void)state;
    light = mean_light(shot, tone);
    for (size_t k = 0; k < COUNT(sizes); k++) {
        const double sx = (double)W / (double)sizes[k][0];
        const double sy = (double)H / (double)sizes[k][1];
        const warp w = affine(sx, 0, 0.5 * sx - 0.5, 0, sy, 0.5 * sy - 0.5);
        sl_image *out = resample(shot, tone, &w, sizes[k][0], sizes[k][1], 16, NULL);
        sl_image *plain =
            resample(shot, tone, &w, sizes[k][0], sizes[k][1], 16, &sl_path_plain);

        check_equal("bands of one pixel", out, plain);
        if (fabs(mean_light(out, tone) / light - 1.0) > 0.02)
            fail_msg("%zu x %zu: light changed by %.2f %%", sizes[k][0], sizes[k][1],
                     100 * (mean_light(out, tone) / light - 1.0));
        sl_image_free(plain);
        sl_image_free(out);
    }
    sl_tone_free(tone);
    sl_image_free(shot);
}

static void tiny_shots_fill_large_pages(void **state)
{
    static const size_t sizes[][2] = { { 1, 1 }, { 1, 4 }, { 2, 2 }, { 3, 1 } };
    sl_tone *tone = srgb();

    (void)state;
    for (size_t k = 0; k < COUNT(sizes); k++) {
        sl_image *shot = noise(sizes[k][0], sizes[k][1], 3, 8, 100, 140, 21);
        const double sx = (double)sizes[k][0] / 200.0;
        const double sy = (double)sizes[k][1] / 130.0;
        const warp w = affine(sx, 0, 0.5 * sx - 0.5, 0, sy, 0.5 * sy - 0.5);
        sl_image *out = resample(shot, tone, &w, 200, 130, 8, NULL);

        for (size_t i = 0; i < 130 * out->stride; i++)
            assert_in_range(out->data[i], 90, 150);
        if (sizes[k][0] * sizes[k][1] == 1)
            assert_int_equal(get(out, 77, 55, 1), get(shot, 0, 0, 1));
        sl_image_free(out);
        sl_image_free(shot);
    }
    sl_tone_free(tone);
}

static void wrong_arguments_are_refused(void **state)
{
    sl_image *shot = noise(10, 10, 1, 8, 0, 255, 1);
    sl_tone *tone = srgb();
    const warp w = affine(1, 0, 0, 0, 1, 0);
    sl_resample_params params = { 10, 10, 8, 0.5 };
    const sl_resample_params bad[] = {
        { 0, 10, 8, 0 }, { 10, 0, 8, 0 }, { 10, 10, 12, 0 }, { 10, 10, 8, 1.5 },
        { 10, 10, 8, (double)NAN },
    };
    sl_resampler *r = NULL;
    sl_error err = { 0 };
    unsigned char rows[100];

    (void)state;
    for (size_t k = 0; k < COUNT(bad); k++)
        assert_int_equal(sl_resampler_new(&r, shot, tone, warp_at, &w, &bad[k], &err), SL_ERR_ARG);
    assert_null(r);
    assert_int_equal(sl_resampler_new(&r, shot, tone, warp_at, &w, &params, &err), SL_OK);
    assert_int_equal(sl_resampler_rows(r, 8, 3, rows, 10, &err), SL_ERR_ARG);
    assert_int_equal(sl_resampler_rows(r, 11, 0, rows, 10, &err), SL_ERR_ARG);
    assert_int_equal(sl_resampler_rows(r, 10, 0, rows, 10, &err), SL_OK);
    sl_resampler_free(r);
    sl_resampler_free(NULL);
    sl_tone_free(tone);
    sl_image_free(shot);
}

/* ---- the grid -------------------------------------------------------------------------------- */

static void check_grid(const char *name, const warp *w, size_t width, size_t height,
                       size_t shot_width, size_t shot_height, double limit)
{
    sl_grid grid;
    sl_error err = { 0 };
    uint32_t seed = 99;
    double worst = 0.0;

    if (sl_grid_make(&grid, warp_at, w, width, height, shot_width, shot_height, &err) != SL_OK)
        fail_msg("%s", err.detail);
    for (int k = 0; k < 20000; k++) {
        const double column = floor(random_in(&seed, 0, (double)width));
        const double row = floor(random_in(&seed, 0, (double)height));
        const sl_point want = warp_at(w, column, row);
        const sl_point got = sl_grid_point(&grid, column, row);

        if (want.x < 0 || want.y < 0 || want.x > (double)shot_width
            || want.y > (double)shot_height)
            continue;
        worst = fmax(worst, hypot(got.x - want.x, got.y - want.y));
    }
    print_message("%s: %zu x %zu cells%s, map asked %zu times, worst %.5f px\n", name,
                  grid.columns, grid.rows, grid.direct ? ", direct" : "", grid.asked, worst);
    if (!(worst <= limit))
        fail_msg("%s: the grid is off by %.4f px", name, worst);
    sl_grid_clear(&grid);
}

static void the_grid_holds_the_map_within_a_hundredth_of_a_pixel(void **state)
{
    static const sl_point leaning[4] = {
        { 900, 300 }, { 3100, 250 }, { 3900, 2900 }, { 150, 2950 }
    };
    static const sl_point frontal[4] = {
        { 500, 100 }, { 3500, 100 }, { 3500, 2900 }, { 500, 2900 }
    };
    warp w = onto(frontal, 3600, 3360);

    (void)state;
    check_grid("frontal", &w, 3600, 3360, 4000, 3000, 0.01);
    w.k1 = -0.2;
    w.centre[0] = 2010;
    w.centre[1] = 1490;
    w.lens_px = 3000;
    check_grid("strong lens", &w, 3600, 3360, 4000, 3000, 0.01);
    w = onto(leaning, 3600, 3600);
    check_grid("strong perspective", &w, 3600, 3600, 4000, 3000, 0.01);
    w.k1 = 0.1;
    w.centre[0] = 2010;
    w.centre[1] = 1490;
    w.lens_px = 3000;
    w.bend = 40;
    w.period = 5000;
    check_grid("perspective, lens and curl", &w, 3600, 3600, 4000, 3000, 0.01);
    w.bend = 12;
    w.period = 300;
    check_grid("a ripple", &w, 3600, 3600, 4000, 3000, 0.01);
    w.period = 20;           /* too short for any grid: the map itself is asked */
    check_grid("a comb", &w, 400, 300, 4000, 3000, 0.0);
    w = onto(leaning, 7, 2);
    check_grid("a few pixels", &w, 7, 2, 4000, 3000, 0.01);
}

static sl_point torn(const void *ctx, double column, double row)
{
    (void)ctx;
    if (column > 30.0 && row > 20.0)
        return (sl_point){ (double)NAN, (double)INFINITY };
    return (sl_point){ column, row };
}

/* A map without a value somewhere: fill there, and all else as it should be. */
static void a_map_with_holes_is_filled(void **state)
{
    sl_image *shot = noise(60, 50, 3, 8, 0, 255, 4);
    sl_image *out = new_image(60, 50, 3, 8);
    sl_tone *tone = srgb();
    const sl_resample_params params = { 60, 50, 8, 1.0 };
    sl_resampler *r = NULL;

    (void)state;
    assert_int_equal(sl_resampler_new(&r, shot, tone, torn, NULL, &params, NULL), SL_OK);
    assert_int_equal(sl_resampler_rows(r, 0, 50, out->data, out->stride, NULL), SL_OK);
    assert_true(fabs(sl_resampler_outside(r) - 29.0 * 29.0 / 3000.0) < 1e-12);
    for (size_t y = 0; y < 50; y++) {
        for (size_t x = 0; x < 60; x++)
            assert_int_equal(get(out, x, y, 2), x > 30 && y > 20 ? 255 : get(shot, x, y, 2));
    }
    sl_resampler_free(r);
    sl_tone_free(tone);
    sl_image_free(out);
    sl_image_free(shot);
}

/* ---- codes ----------------------------------------------------------------------------------- */

static void light_is_encoded_with_correct_rounding(void **state)
{
    uint32_t seed = 1234;
    sl_tone *tone = srgb();

    (void)state;
    for (unsigned bits = 8; bits <= 16; bits += 8) {
        const double top = bits == 8 ? 255.0 : 65535.0;
        sl_levels levels;

        assert_int_equal(sl_levels_make(&levels, tone, bits, NULL), SL_OK);
        for (int k = 0; k < 400000; k++) {
            const unsigned code = random_bits(&seed) % (bits == 8 ? 255 : 65535);
            float light[4];

            /* Anywhere; close to a border between codes, on either side; out of range. */
            light[0] = (float)random_in(&seed, -0.1, 1.1);
            light[1] = nextafterf(levels.until[code], -1.0f);
            light[2] = levels.until[code];
            light[3] = levels.until[code] * (float)random_in(&seed, 0.9, 1.1);
            for (size_t i = 0; i < 4; i++) {
                float held[4] = { light[i], light[i], light[i], light[i] };
                const double exact = top * sl_tone_encode(tone, (double)light[i]);
                unsigned got;

                sl_levels_hold(held, 4, &levels);
                got = sl_level_of_held(&levels, held[0]);
                if (fabs((double)got - exact) > 0.5 + 1e-9)
                    fail_msg("%u bits: %.9g is code %.9f, got %u", bits, (double)light[i], exact,
                             got);
            }
        }
        {
            float odd[4] = { NAN, INFINITY, -INFINITY, 0.0f };

            sl_levels_hold(odd, 4, &levels);
            assert_int_equal(sl_level_of_held(&levels, odd[0]), 0);
            assert_int_equal(sl_level_of_held(&levels, odd[1]), (unsigned)top);
            assert_int_equal(sl_level_of_held(&levels, odd[2]), 0);
            assert_int_equal(sl_level_of_held(&levels, odd[3]), 0);
        }
        sl_levels_clear(&levels);
    }
    sl_tone_free(tone);
}

/* ---- overshoot ----------------------------------------------------------------------------- */

/*
 * A step from code `dark` to `bright` at an angle, seen at a scale: nothing beyond 1.5 px of the
 * coarser grid moves by more than `most` codes. Returns the greatest move.
 */
static unsigned ringing(unsigned dark, unsigned bright, double degrees, double scale,
                        bool smooth)
{
    enum { W = 160, H = 120 };
    const double EDGE = smooth ? 79.7 : 79.5;
    const double across = cos(degrees * 3.14159265358979323846 / 180.0);
    const double slope = tan(degrees * 3.14159265358979323846 / 180.0);
    const double coarse = fmax(scale, 1.0);
    sl_image *shot = new_image(W, H, 3, 8);
    sl_tone *tone = srgb();
    const size_t width = (size_t)(W / scale);
    const size_t height = (size_t)(H / scale);
    const warp w = turned(0, scale, W, H, width, height);
    unsigned most = 0;
    sl_image *out;

    for (size_t y = 0; y < H; y++) {
        for (size_t x = 0; x < W; x++) {
            /* Across the edge, in px; a pixel is its mean over a square, or all one or other. */
            const double off = ((double)x - EDGE - slope * ((double)y - 59.5)) * across;
            const double share = smooth ? fmin(fmax(off + 0.5, 0.0), 1.0) : off > 0 ? 1.0 : 0.0;
            const double light = (double)sl_tone_linear8(tone)[dark] * (1.0 - share)
                                 + (double)sl_tone_linear8(tone)[bright] * share;

            for (unsigned c = 0; c < 3; c++)
                set(shot, x, y, c, (unsigned)lround(255.0 * sl_tone_encode(tone, light)));
        }
    }
    out = resample(shot, tone, &w, width, height, 8, NULL);
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            const sl_point p = warp_at(&w, (double)x, (double)y);
            const double off = (p.x - EDGE - slope * (p.y - 59.5)) * across;
            const unsigned want = off > 0 ? bright : dark;
            const unsigned got = get(out, x, y, 1);

            /* Stairs lie up to half a pixel off the line. */
            if (fabs(off) <= 1.5 * coarse + (!smooth && degrees != 0.0 ? 0.5 : 0.0) || p.x < 0
                || p.y < 0 || p.x > W - 1 || p.y > H - 1)
                continue;
            if (got > want && got - want > most)
                most = got - want;
            if (want > got && want - got > most)
                most = want - got;
        }
    }
    sl_image_free(out);
    sl_tone_free(tone);
    sl_image_free(shot);
    return most;
}

/* The plain sum, two pixels from such an edge: without a bound the test above would fail. */
static void plain_sums_do_ring(void)
{
    sl_image *shot = new_image(20, 20, 1, 8);
    sl_tone *tone = srgb();

    for (size_t y = 0; y < 20; y++) {
        for (size_t x = 0; x < 20; x++)
            set(shot, x, y, 0, x > 9 ? 237 : 13);
    }
    assert_true(255.0 * sl_tone_encode(tone, twin(shot, tone, (sl_point){ 7.4, 9.0 }, 1, 1, 0))
                > 13.0 + 20.0);
    sl_tone_free(tone);
    sl_image_free(shot);
}

static void a_bright_edge_does_not_ring_on_dark_paper(void **state)
{
    static const double scales[] = { 0.3, 0.5, 0.77, 0.83, 1.0, 1.2, 1.5, 2.0, 3.7 };
    static const double angles[] = { 0.0, 2.0, 5.0, 17.0 };

    (void)state;
    for (size_t k = 0; k < COUNT(scales); k++) {
        for (size_t a = 0; a < COUNT(angles); a++) {
            const unsigned hard = ringing(13, 237, angles[a], scales[k], false);
            const unsigned smooth = ringing(13, 237, angles[a], scales[k], true);

            if (hard > 4 || smooth > 4)
                fail_msg("scale %g, %g degrees: %u and %u codes beyond 1.5 px", scales[k],
                         angles[a], hard, smooth);
        }
    }
    plain_sums_do_ring();
}

/* ---- the kernel -------------------------------------------------------------------------- */

static void kernels_sum_to_one_and_interpolate(void **state)
{
    (void)state;
    assert_true(sl_kernel_value(0.0) == 1.0);
    for (int d = 1; d < 4; d++)
        assert_true(sl_kernel_value(d) == 0.0);
    for (size_t step = 0; step < 80; step += 7) {
        sl_kernel kernel;
        const double scale = sl_scale_of_step(step);

        assert_int_equal(sl_scale_step(scale), step);
        assert_int_equal(sl_kernel_make(&kernel, scale, 1, false, NULL), SL_OK);
        for (size_t r = 0; r <= (size_t)1 << kernel.phase_bits; r++) {
            double sum = 0.0;

            for (size_t i = 0; i < kernel.taps; i++)
                sum += (double)kernel.y[r * kernel.y_lanes + i];
            if (fabs(sum - 1.0) > 1e-6)
                fail_msg("scale %g, row %zu: weights sum to %.9f", scale, r, sum);
        }
        if (step == 0)
            assert_true(kernel.y[2] == 1.0f && kernel.y[1] == 0.0f && kernel.y[3] == 0.0f);
        sl_kernel_clear(&kernel);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kernels_sum_to_one_and_interpolate),
        cmocka_unit_test(light_is_encoded_with_correct_rounding),
        cmocka_unit_test(the_identity_changes_no_byte),
        cmocka_unit_test(whole_pixel_maps_are_exact),
        cmocka_unit_test(fill_starts_half_a_pixel_beyond_the_frame),
        cmocka_unit_test(every_blank_grey_stays_itself),
        cmocka_unit_test(mean_light_is_kept),
        cmocka_unit_test(a_slow_twin_agrees),
        cmocka_unit_test(all_paths_give_the_same_bytes),
        cmocka_unit_test(any_bands_on_any_threads_give_the_same_bytes),
        cmocka_unit_test(the_depths_agree),
        cmocka_unit_test(huge_minification_keeps_the_mean),
        cmocka_unit_test(tiny_shots_fill_large_pages),
        cmocka_unit_test(wrong_arguments_are_refused),
        cmocka_unit_test(the_grid_holds_the_map_within_a_hundredth_of_a_pixel),
        cmocka_unit_test(a_map_with_holes_is_filled),
        cmocka_unit_test(a_bright_edge_does_not_ring_on_dark_paper),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
