/*
 * Pictures that are functions of linear light, so that the true page is known, seen through maps
 * of many kinds; OpenCV's warps of the same; the slanted edge of ISO 12233.
 */
#ifndef TESTS_PATTERNS_H
#define TESTS_PATTERNS_H

#include "support/warps.h"

#include <stdio.h>
#include <unistd.h>

#define PYTHON "/usr/bin/python3"
#define SCRIPT "tests/reference/warp_opencv.py"

static const double PI = 3.14159265358979323846;

enum { SHOT = 360, MARGIN = 12 };

/* ---- scenes: light at a place of the output -------------------------------------------------- */

typedef enum pattern { ZONE, FINE_GRATING, GRATING, PATTERNS } pattern;

static const char *const pattern_names[PATTERNS] = { "zone plate", "fine grating", "grating" };

typedef struct scene {
    pattern kind;
    double  low;             /* light */
    double  high;
    size_t  width;           /* output px */
    size_t  height;
    warp    map;             /* output to shot */
    double  inverse[9];
    double  reach;           /* zone plate: frequency at a corner, cycles per output px: half a
                                cycle per shot px where the shot is coarsest */
} scene;

/* Local frequency (cycles per output px) and phase (cycles) at a place. */
static inline double phase_at(double f[2], const scene *s, double u, double v)
{
    const double x = u - 0.5 * (double)s->width;
    const double y = v - 0.5 * (double)s->height;

    if (s->kind == ZONE) {
        const double k = s->reach / hypot(0.5 * (double)s->width, 0.5 * (double)s->height);

        f[0] = k * x;
        f[1] = k * y;
        return 0.5 * k * (x * x + y * y);
    }
    f[0] = (s->kind == FINE_GRATING ? 0.7 : 0.35) * fmin(s->reach, 0.5) * cos(0.4);
    f[1] = (s->kind == FINE_GRATING ? 0.7 : 0.35) * fmin(s->reach, 0.5) * sin(0.4);
    return f[0] * x + f[1] * y;
}

/*
 * Light at an output place: all of it, as the shot sees it (it holds every frequency that is
 * there), or without what is too fine for the output's pixels.
 */
static inline double light_of(const scene *s, double u, double v, bool for_output)
{
    double f[2];
    const double cycles = phase_at(f, s, u, v);
    const bool passes = !for_output || hypot(f[0], f[1]) < 0.5;

    return 0.5 * (s->low + s->high)
           + (passes ? 0.5 * (s->high - s->low) * cos(2.0 * PI * cycles) : 0.0);
}

static inline sl_image *shoot(const scene *s, const sl_tone *tone)
{
    sl_image *shot = new_image(SHOT, SHOT, 1, 8);

    for (size_t y = 0; y < SHOT; y++) {
        for (size_t x = 0; x < SHOT; x++) {
            const sl_point p = sl_homography_apply(s->inverse, (sl_point){ (double)x, (double)y });
            const double light = light_of(s, p.x, p.y, false);

            set(shot, x, y, 0, (unsigned)lround(255.0 * sl_tone_encode(tone, light)));
        }
    }
    return shot;
}

/* In 8-bit codes, over what is well inside the shot. */
static inline double psnr(const scene *s, const sl_tone *tone, const unsigned char *out)
{
    double sum = 0.0;
    size_t n = 0;

    for (size_t y = 0; y < s->height; y++) {
        for (size_t x = 0; x < s->width; x++) {
            const sl_point p = warp_at(&s->map, (double)x, (double)y);
            double want;

            if (p.x < MARGIN || p.y < MARGIN || p.x > SHOT - 1 - MARGIN
                || p.y > SHOT - 1 - MARGIN)
                continue;
            want = 255.0 * sl_tone_encode(tone, light_of(s, (double)x, (double)y, true));
            sum += ((double)out[y * s->width + x] - want) * ((double)out[y * s->width + x] - want);
            n++;
        }
    }
    return 10.0 * log10(255.0 * 255.0 / (sum / (double)n));
}

/* ---- geometry ------------------------------------------------------------------------------ */

/* scale: shot px per output px */
static const struct { const char *name; double degrees; double scale; bool leaning; } views[] = {
    { "scale 0.4", 0, 0.4, false },       { "scale 0.6", 0, 0.6, false },
    { "scale 0.8, 3 degrees", 3, 0.8, false }, { "scale 0.83, 0.7 deg", 0.7, 0.83, false },
    { "scale 1, 10 degrees", 10, 1.0, false }, { "scale 1.1, 2 degrees", 2, 1.1, false },
    { "scale 1.25", 0, 1.25, false },     { "scale 1.5, 5 degrees", 5, 1.5, false },
    { "45 degrees, 0.9", 45, 0.9, false }, { "leaning, 0.4 to 1.5", 0, 0.9, true },
};

/* Shot px per output px in the direction and at the place where they are fewest. */
static inline double least_scale(const scene *s)
{
    double least = HUGE_VAL;

    for (size_t y = 0; y <= s->height; y += s->height / 8) {
        for (size_t x = 0; x <= s->width; x += s->width / 8) {
            const double u = (double)x;
            const double v = (double)y;
            const sl_point o = warp_at(&s->map, u, v);
            const sl_point a = warp_at(&s->map, u + 0.01, v);
            const sl_point b = warp_at(&s->map, u, v + 0.01);
            const double j[4] = { (a.x - o.x) / 0.01, (b.x - o.x) / 0.01, (a.y - o.y) / 0.01,
                                  (b.y - o.y) / 0.01 };
            /* The smaller singular value of a 2 x 2 matrix. */
            const double sum = j[0] * j[0] + j[1] * j[1] + j[2] * j[2] + j[3] * j[3];
            const double det = fabs(j[0] * j[3] - j[1] * j[2]);

            least = fmin(least, 0.5 * (sqrt(sum + 2 * det) - sqrt(fmax(sum - 2 * det, 0.0))));
        }
    }
    return least;
}

static inline scene scene_of(size_t view, pattern kind, double low, double high)
{
    scene s = { .kind = kind, .low = low, .high = high };
    sl_error err = { 0 };

    s.width = (size_t)(0.9 * SHOT / views[view].scale);
    s.height = s.width;
    if (views[view].leaning) {
        const sl_point quad[4] = { { 110, 40 }, { 250, 30 }, { 345, 330 }, { 20, 345 } };

        s.map = onto(quad, s.width, s.height);
    } else {
        s.map = turned(views[view].degrees, views[view].scale, SHOT, SHOT, s.width, s.height);
    }
    if (sl_homography_invert(s.inverse, s.map.h, &err) != SL_OK)
        fail_msg("%s", err.detail);
    s.reach = 0.5 * least_scale(&s);
    return s;
}

/* ---- OpenCV -------------------------------------------------------------------------------- */

typedef struct folder {
    char path[512];
} folder;

static inline folder new_folder(void)
{
    folder f;
    const char *tmp = getenv("TMPDIR");

    (void)snprintf(f.path, sizeof f.path, "%.480s/warp-XXXXXX", tmp != NULL ? tmp : "/tmp");
    if (mkdtemp(f.path) == NULL)
        fail_msg("%s cannot be made", f.path);
    return f;
}

static inline void file_name(char name[600], const folder *f, size_t number, const char *ending)
{
    (void)snprintf(name, 600, "%s/%zu%s.raw", f->path, number, ending);
}

static inline void write_job(const folder *f, size_t number, const scene *s, const sl_image *shot)
{
    char name[600];
    FILE *file;

    file_name(name, f, number, "");
    file = fopen(name, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(shot->data, 1, SHOT * shot->stride, file), SHOT * shot->stride);
    assert_int_equal(fclose(file), 0);
    (void)snprintf(name, sizeof name, "%s/jobs", f->path);
    file = fopen(name, "a");
    assert_non_null(file);
    fprintf(file, "%zu %d %d %zu %zu", number, SHOT, SHOT, s->width, s->height);
    for (size_t i = 0; i < 9; i++)
        fprintf(file, " %.17g", s->map.h[i]);
    fprintf(file, "\n");
    assert_int_equal(fclose(file), 0);
}

static inline unsigned char *read_output(const folder *f, size_t number, const char *ending, size_t size)
{
    unsigned char *data = malloc(size);
    char name[600];
    FILE *file;

    file_name(name, f, number, ending);
    file = fopen(name, "rb");
    if (data == NULL || file == NULL || fread(data, 1, size, file) != size)
        fail_msg("%s is not there", name);
    fclose(file);
    return data;
}

static inline bool has_opencv(void)
{
    if (access(SCRIPT, R_OK) != 0) {
        print_message("%s (run from the project's folder)\n", SCRIPT);
        return false;
    }
    if (system(PYTHON " -c 'import cv2, numpy' > /dev/null 2>&1") != 0) {
        print_message("OpenCV for " PYTHON " (python3-opencv)\n");
        return false;
    }
    return true;
}

/* One channel of the page: grey goes by floats, colour of 8 bits by whole numbers. */
static inline unsigned char *ours(const scene *s, const sl_tone *tone, const sl_image *shot,
                           unsigned channels)
{
    const sl_resample_params params = { s->width, s->height, 8, 0.5 };
    const size_t stride = s->width * channels;
    unsigned char *out = malloc(s->height * stride);
    sl_image *in = new_image(shot->width, shot->height, channels, 8);
    sl_resampler *r = NULL;
    sl_error err = { 0 };

    assert_non_null(out);
    for (size_t y = 0; y < shot->height; y++) {
        for (size_t i = 0; i < shot->width * channels; i++)
            in->data[y * in->stride + i] = shot->data[y * shot->stride + i / channels];
    }
    if (sl_resampler_new(&r, in, tone, warp_at, &s->map, &params, &err) != SL_OK
        || sl_resampler_rows(r, 0, s->height, out, stride, &err) != SL_OK)
        fail_msg("%s", err.detail);
    sl_resampler_free(r);
    sl_image_free(in);
    for (size_t i = 0; i < s->width * s->height; i++)
        out[i] = out[channels * i + channels / 2];
    return out;
}

/* ---- ISO 12233 ----------------------------------------------------------------------------- */

enum { BINS = 4, REACH_PX = 16, ESF = 2 * REACH_PX * BINS };

/*
 * SFR of a slanted edge by ISO 12233:2014, 6.2: rows projected along the edge (its place is known
 * here) into 4 bins a pixel, differences [-1/2 0 1/2], Hamming window, DFT, and the correction of
 * the difference's own response. In linear light. sfr[k] is at k / (2 REACH_PX) cycles a pixel.
 * Edge: x = at + slope (y - half the height).
 */
static inline void measure_sfr(double sfr[REACH_PX + 1], const sl_image *image, const sl_tone *tone,
                        double at, double slope)
{
    const double across = 1.0 / sqrt(1.0 + slope * slope);
    double sum[ESF] = { 0 };
    double count[ESF] = { 0 };
    double lsf[ESF] = { 0 };

    for (size_t y = 20; y + 20 < image->height; y++) {
        for (size_t x = 0; x < image->width; x++) {
            const double off =
                ((double)x - at - slope * ((double)y - 0.5 * ((double)image->height - 1)))
                * across;
            const double bin = floor((off + REACH_PX) * BINS);

            if (bin < 0 || bin >= ESF)
                continue;
            sum[(size_t)bin] += (double)sl_tone_linear16(tone)[get(image, x, y, 0)];
            count[(size_t)bin] += 1.0;
        }
    }
    for (size_t i = 0; i < ESF; i++) {
        assert_true(count[i] > 0.0);
        sum[i] /= count[i];
    }
    for (size_t i = 1; i + 1 < ESF; i++)
        lsf[i] = 0.5 * (sum[i + 1] - sum[i - 1])
                 * (0.54 + 0.46 * cos(2.0 * PI * ((double)i + 0.5 - ESF / 2) / ESF));
    for (size_t k = 0; k <= REACH_PX; k++) {
        /* k cycles in ESF bins; the difference over two bins has the response sin(2w)/(2w). */
        const double w = 2.0 * PI * (double)k / ESF;
        const double own = k == 0 ? 1.0 : sin(w) / w;
        double re = 0.0;
        double im = 0.0;

        for (size_t i = 0; i < ESF; i++) {
            re += lsf[i] * cos(w * (double)i);
            im -= lsf[i] * sin(w * (double)i);
        }
        sfr[k] = hypot(re, im) / fmax(own, 0.1);
    }
    for (size_t k = REACH_PX + 1; k-- > 0;)
        sfr[k] /= sfr[0];
}

/* A blurred edge of 4:1 at 5 degrees: Gaussian, sigma in shot px. */
static inline sl_image *shoot_edge(size_t size, double at, double slope, double sigma,
                            const sl_tone *tone)
{
    sl_image *shot = new_image(size, size, 1, 16);
    const double across = 1.0 / sqrt(1.0 + slope * slope);

    for (size_t y = 0; y < size; y++) {
        for (size_t x = 0; x < size; x++) {
            const double off =
                ((double)x - at - slope * ((double)y - 0.5 * ((double)size - 1))) * across;
            const double light = 0.15 + 0.45 * 0.5 * (1.0 + erf(off / (sigma * sqrt(2.0))));

            set(shot, x, y, 0, (unsigned)lround(65535.0 * sl_tone_encode(tone, light)));
        }
    }
    return shot;
}

#endif
