#include "scenes/sensor.h"

#include <stdlib.h>
#include <string.h>

#include "scenes/chance.h"
#include "scenes/maths.h"

enum {
    REACH = 48,              /* px, of the widest blur kernel */
    CODES = 4096             /* steps of the encoding table */
};

static sl_status fail(sl_error *err, sl_status status, const char *what)
{
    if (err != NULL) {
        err->status = status;
        err->stage = "scene";
        (void)snprintf(err->detail, sizeof err->detail, "%s", what);
    }
    return status;
}

/* Gaussian kernel cut at 3.5 sigma, of sum 1; returns its reach. */
static int gauss(float kernel[2 * REACH + 1], double sigma)
{
    const int reach = sigma > 0 ? (int)ceil(3.5 * sigma) : 0;
    double sum = 0;

    for (int k = -reach; k <= reach; k++)
        sum += k == 0 ? 1 : exp(-0.5 * k * k / (sigma * sigma));
    for (int k = -reach; k <= reach; k++)
        kernel[k + reach] = (float)((k == 0 ? 1 : exp(-0.5 * k * k / (sigma * sigma))) / sum);
    return reach;
}

static size_t row_near(long y, size_t height)
{
    return y < 0 ? 0 : y >= (long)height ? height - 1 : (size_t)y;
}

static void blur_row(float *row, float *padded, size_t width, const float *kernel, int reach)
{
    const size_t n = 3 * width;
    const size_t pad = 3 * (size_t)reach;

    memcpy(padded + pad, row, n * sizeof *row);
    for (size_t k = 0; k < pad; k++) {
        padded[k] = row[k % 3];
        padded[pad + n + k] = row[n - 3 + k % 3];
    }
    memset(row, 0, n * sizeof *row);
    for (size_t d = 0; d < 2 * (size_t)reach + 1; d++) {
        const float w = kernel[d];
        const float *from = padded + 3 * d;

        for (size_t k = 0; k < n; k++)
            row[k] += w * from[k];
    }
}

/* Light smeared along a straight way: `length` px, centred, so that nothing is displaced. */
static sl_status smear(float *light, const scene *s)
{
    const size_t w = s->width;
    const size_t h = s->height;
    const int steps = (int)ceil(s->motion_px) + 1;
    const float share = 1.0f / (float)(2 * steps + 1);
    float *copy = malloc(w * h * 3 * sizeof *copy);

    if (copy == NULL)
        return SL_ERR_NOMEM;
    memcpy(copy, light, w * h * 3 * sizeof *copy);
    memset(light, 0, w * h * 3 * sizeof *light);
    for (int k = -steps; k <= steps; k++) {
        const double at = 0.5 * s->motion_px * k / (steps + 0.5);
        const double dx = at * cos(s->motion_turn);
        const double dy = at * sin(s->motion_turn);
        const long ix = lround(floor(dx));
        const long iy = lround(floor(dy));
        const float fx = (float)(dx - (double)ix);
        const float fy = (float)(dy - (double)iy);

        for (size_t y = 0; y < h; y++) {
            const float *a = copy + 3 * w * row_near((long)y + iy, h);
            const float *b = copy + 3 * w * row_near((long)y + iy + 1, h);
            float *to = light + 3 * w * y;

            for (size_t x = 0; x < w; x++) {
                const size_t left = 3 * row_near((long)x + ix, w);
                const size_t right = 3 * row_near((long)x + ix + 1, w);

                for (size_t c = 0; c < 3; c++)
                    to[3 * x + c] += share
                                     * ((1 - fy) * ((1 - fx) * a[left + c] + fx * a[right + c])
                                        + fy * ((1 - fx) * b[left + c] + fx * b[right + c]));
            }
        }
    }
    free(copy);
    return SL_OK;
}

/* IEC 61966-2-1, by the root of the light, over which sRGB is nearly straight. */
static void fill_codes(unsigned char codes[CODES + 1])
{
    for (int i = 0; i <= CODES; i++) {
        const double l = (double)i / CODES * i / CODES;
        const double v = l <= 0.0031308 ? 12.92 * l : 1.055 * pow(l, 1 / 2.4) - 0.055;

        codes[i] = (unsigned char)(255 * v + 0.5);
    }
}

/* Nearly normal, sigma 1: the sum of four uniform 16-bit numbers has variance 4 / 12. */
static float normal(scene_chance *chance)
{
    const uint64_t b = scene_bits(chance);
    const int sum = (int)(b & 65535) + (int)(b >> 16 & 65535) + (int)(b >> 32 & 65535)
                    + (int)(b >> 48);

    return (float)(sum - 2 * 65535) * (1.7320508f / 65536.0f);
}

static void expose_row(unsigned char *to, const float *row, const scene *s, size_t y,
                       const unsigned char codes[CODES + 1])
{
    const float shot = (float)(s->shot_noise * s->shot_noise);
    const float read = (float)(s->read_noise * s->read_noise);
    scene_chance chance = { s->seed * 0x9e3779b97f4a7c15u + y };

    chance.state = scene_bits(&chance); /* rows apart */
    for (size_t k = 0; k < 3 * s->width; k++) {
        float v = row[k];

        if (shot + read > 0)
            v += sqrtf(shot * largerf(v, 0) + read) * normal(&chance);
        v = v < 0 ? 0 : v > 1 ? 1 : v;
        to[k] = codes[(size_t)(sqrtf(v) * CODES + 0.5f)];
    }
}

sl_status scene_develop(sl_image **out, float *light, const scene *s, sl_error *err)
{
    const size_t n = 3 * s->width;
    unsigned char codes[CODES + 1];
    float kernel[2 * REACH + 1];
    float *line = NULL;
    sl_image *image = NULL;
    sl_status st;
    int reach;

    if (!(s->blur_px >= 0 && 3.5 * s->blur_px <= REACH && s->motion_px >= 0))
        return fail(err, SL_ERR_ARG, "the blur is beyond 13 px");
    st = sl_image_new(&image, s->width, s->height, 3, 8, err);
    if (st != SL_OK)
        return st;
    reach = gauss(kernel, s->blur_px);
    line = malloc((n + 6 * (size_t)reach) * sizeof *line);
    st = line != NULL ? SL_OK : SL_ERR_NOMEM;
    if (st == SL_OK && s->motion_px > 0)
        st = smear(light, s);
    if (st != SL_OK) {
        st = fail(err, st, "out of memory");
        goto done;
    }
    fill_codes(codes);
    for (size_t y = 0; y < s->height && reach > 0; y++)
        blur_row(light + n * y, line, s->width, kernel, reach);
    for (size_t y = 0; y < s->height; y++) {
        memset(line, 0, n * sizeof *line);
        for (int d = -reach; d <= reach; d++) {
            const float w = kernel[d + reach];
            const float *from = light + n * row_near((long)y + d, s->height);

            for (size_t k = 0; k < n; k++)
                line[k] += w * from[k];
        }
        expose_row(image->data + y * image->stride, line, s, y, codes);
    }
    *out = image;
    image = NULL;
done:
    free(line);
    sl_image_free(image);
    return st;
}
