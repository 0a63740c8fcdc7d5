/*
 * What is page and what is not, told by colour: samples of both sides of each of the page's sides,
 * and how densely they lie about a colour (Parzen's window: Parzen, "On estimation of a probability
 * density function and mode", 1962). Stripes, checks and prints on the page are all among its
 * samples, and so are a cloth's threads and a mat's lines among the table's: no one of them has to
 * be bold or plain.
 */
#include "border/surfaces.h"

#include <math.h>
#include <stdlib.h>

#include "border/colour_near.h"

/* Colours are compared as square roots of linear light, times 255: near to codes, and a shadow is
   a factor there. */
enum { CODE = 255, CELL = 6, CELLS = CODE / CELL + 1 };

enum { PLACES = 24, DEPTHS = 4, SAMPLES = PLACES * DEPTHS };

/* Depths of the samples, of the page's size. */
static const double DEPTH[DEPTHS] = { 0.008, 0.012, 0.017, 0.024 };
static const double DEPTH_LEAST[DEPTHS] = { 6, 9, 13, 18 }; /* px */
static const double END_LEFT = 0.03;          /* of the side, at each corner */

/* The table lies in the page's shadow beside it: down to such a share of its codes it is the table
   still, and the darker the less likely. */
static const double DEEPEST = 0.25;
static const double SHADED[2] = { 0.1, 0.5 };  /* weight: the first, and the second times the share */
static const double LIT = 0.95;

static const double KERNEL = 6;               /* sigma of the window, codes */
static const double OTHER_SIDES = 0.25;       /* weight of what the other sides show */
static const double UNKNOWN = 0.02;           /* density of a colour that was not seen */

typedef struct sample {
    float c[3];
    float weight;
} sample;

typedef struct side_samples {
    sample in[SAMPLES];
    sample out[SAMPLES];
    size_t count;
} side_samples;

struct sl_surfaces {
    side_samples side[4];
    float        odds[4][CELLS * CELLS * CELLS]; /* as they are asked for; NAN: not yet */
};

static bool inside(const sl_image *shot, sl_point p)
{
    return p.x >= 0 && p.y >= 0 && p.x <= (double)shot->width - 1
           && p.y <= (double)shot->height - 1;
}

static sample sample_at(const sl_image *shot, const float *linear, sl_point p)
{
    const sl_colour mean = sl_linear_near(shot, linear, p.x, p.y);
    sample s = { .weight = 1 };

    for (int c = 0; c < 3; c++)
        s.c[c] = CODE * sqrtf(mean.c[c]);
    return s;
}

static void learn_side(side_samples *out, const sl_image *shot, const float *linear,
                       const sl_course *course, double size)
{
    for (size_t i = 0; i < PLACES; i++) {
        const double s = (1 - 2 * END_LEFT) * ((2.0 * (double)i + 1) / PLACES - 1);
        const sl_point at = sl_course_point(course, s);
        const sl_point in = sl_course_inward(course, s);

        for (size_t d = 0; d < DEPTHS; d++) {
            const double depth = fmax(DEPTH_LEAST[d], DEPTH[d] * size);
            const sl_point p = { at.x + depth * in.x, at.y + depth * in.y };
            const sl_point q = { at.x - depth * in.x, at.y - depth * in.y };

            if (!inside(shot, p) || !inside(shot, q))
                continue;
            out->in[out->count] = sample_at(shot, linear, p);
            out->out[out->count++] = sample_at(shot, linear, q);
        }
    }
}

sl_surfaces *sl_surfaces_learn(const sl_image *shot, const sl_tone *tone, const sl_course course[4],
                               const bool cut[4])
{
    const float *linear = shot->bits == 8 ? sl_tone_linear8(tone) : sl_tone_linear16(tone);
    const double size = sqrt(0.5 * fabs((course[2].a.x - course[0].a.x)
                                            * (course[3].a.y - course[1].a.y)
                                        - (course[2].a.y - course[0].a.y)
                                              * (course[3].a.x - course[1].a.x)));
    sl_surfaces *s = calloc(1, sizeof *s);

    if (s == NULL)
        return NULL;
    for (int i = 0; i < 4; i++) {
        if (!cut[i])
            learn_side(&s->side[i], shot, linear, &course[i], size);
        for (size_t k = 0; k < CELLS * CELLS * CELLS; k++)
            s->odds[i][k] = NAN;
    }
    return s;
}

/* Density of samples about a colour, 0 to 1; shaded: in shadows of them, too. */
static double density(const sample *samples, size_t count, bool shaded, const float c[3])
{
    double sum = 0;

    for (size_t i = 0; i < count; i++) {
        const double shade = shaded ? fmin(fmax(sl_colour_shade(c, samples[i].c), DEEPEST), 1) : 1;
        double square = 0;

        for (int b = 0; b < 3; b++) {
            const double d = shade * (double)samples[i].c[b] - (double)c[b];

            square += d * d;
        }
        if (square < 16 * KERNEL * KERNEL)
            sum += (shade < LIT ? SHADED[0] + SHADED[1] * shade : 1)
                   * exp(-square / (2 * KERNEL * KERNEL));
    }
    return count > 0 ? sum / (double)count : 0;
}

static double odds_of(const sl_surfaces *s, int side, const float c[3])
{
    double in = 0;
    double out = 0;

    for (int i = 0; i < 4; i++) {
        const side_samples *k = &s->side[i];
        const double weight = i == side ? 1 : OTHER_SIDES;

        in += weight * density(k->in, k->count, false, c);
        out += weight * density(k->out, k->count, true, c);
    }
    return log((in + UNKNOWN) / (out + UNKNOWN));
}

double sl_surfaces_odds(sl_surfaces *s, int side, const double rgb[3])
{
    float c[3];
    size_t cell = 0;

    for (int k = 0; k < 3; k++) {
        const double code = CODE * sqrt(fmin(fmax(rgb[k], 0), 1));

        cell = cell * CELLS + (size_t)(code / CELL);
        c[k] = (float)((floor(code / CELL) + 0.5) * CELL);
    }
    if (isnan(s->odds[side][cell]))
        s->odds[side][cell] = (float)odds_of(s, side, c);
    return (double)s->odds[side][cell];
}
