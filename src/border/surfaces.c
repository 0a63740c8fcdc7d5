/*
 * What is page and what is not, told by colour: samples of both sides of each of the page's sides,
 * and how densely they lie about a colour (Parzen's window: Parzen, "On estimation of a probability
 * density function and mode", 1962). Stripes, checks and prints on the page are all among its
 * samples, and so are a cloth's threads and a mat's lines among the table's: no one of them has to
 * be bold or plain.
 */
#include "border/surfaces.h"

#include <math.h>
#include <stdint.h>
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
static const double SHADED[2] = { 0.1, 0.5 };  /* weight: one, and one times it */
static const double LIT = 0.95;

static const double KERNEL = 6;               /* sigma of the window, codes */
static const double OTHER_SIDES = 0.25;       /* weight of what the other sides show */
static const double UNKNOWN = 0.02;           /* density of a colour that was not seen */

/* A few hundred cells of the colour space are ever asked for. */
enum { KNOWN_BITS = 11, KNOWN = 1 << KNOWN_BITS, TRIES = 8 };

typedef struct samples {
    float  c[3][SAMPLES];
    size_t count;
} samples;

/* Log odds of a cell's colour by each side. */
typedef struct cell_odds {
    uint32_t cell;           /* its number and 1; 0: none */
    float    odds[4];
} cell_odds;

struct sl_surfaces {
    samples   in[4];
    samples   out[4];
    cell_odds known[KNOWN];  /* those that were asked for, by a hash of their number */
};

static bool inside(const sl_image *shot, sl_point p)
{
    return p.x >= 0 && p.y >= 0 && p.x <= (double)shot->width - 1
           && p.y <= (double)shot->height - 1;
}

static void add_sample(samples *s, const sl_image *shot, const float *linear, sl_point p)
{
    const sl_colour mean = sl_linear_near(shot, linear, p.x, p.y);

    for (int c = 0; c < 3; c++)
        s->c[c][s->count] = CODE * sqrtf(mean.c[c]);
    s->count++;
}

static void learn_side(samples *in_side, samples *out_side, const sl_image *shot,
                       const float *linear, const sl_course *course, double size)
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
            add_sample(in_side, shot, linear, p);
            add_sample(out_side, shot, linear, q);
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
    for (int i = 0; i < 4; i++)
        if (!cut[i])
            learn_side(&s->in[i], &s->out[i], shot, linear, &course[i], size);
    return s;
}

/* Shares that a shadow would leave of the samples to make them most like a colour; see
   sl_colour_shade(). A plain loop, that compilers turn into vector code. */
static void shades_of(double shade[SAMPLES], const samples *s, const float c[3])
{
    for (size_t i = 0; i < SAMPLES; i++) {
        const float *const lit[3] = { &s->c[0][i], &s->c[1][i], &s->c[2][i] };
        double both = 0;
        double square = 1e-9;

        for (int b = 0; b < 3; b++) {
            both += (double)(c[b] * *lit[b]);
            square += (double)(*lit[b] * *lit[b]);
        }
        shade[i] = both / square;
        shade[i] = shade[i] > DEEPEST ? shade[i] : DEEPEST;
        shade[i] = shade[i] < 1 ? shade[i] : 1;
    }
}

/* Density of samples about a colour, 0 to 1; shaded: in shadows of them, too. */
static double density(const samples *s, bool shaded, const float c[3])
{
    double shade[SAMPLES];
    double square[SAMPLES];
    double sum = 0;

    for (size_t i = 0; i < SAMPLES; i++)
        shade[i] = 1;
    if (shaded)
        shades_of(shade, s, c);
    for (size_t i = 0; i < SAMPLES; i++) {
        square[i] = 0;
        for (int b = 0; b < 3; b++) {
            const double d = shade[i] * (double)s->c[b][i] - (double)c[b];

            square[i] += d * d;
        }
    }
    for (size_t i = 0; i < s->count; i++)
        if (square[i] < 16 * KERNEL * KERNEL)
            sum += (shade[i] < LIT ? SHADED[0] + SHADED[1] * shade[i] : 1)
                   * exp(-square[i] / (2 * KERNEL * KERNEL));
    return s->count > 0 ? sum / (double)s->count : 0;
}

static void find_odds(float odds[4], const sl_surfaces *s, const float c[3])
{
    double in[4];
    double out[4];

    for (int i = 0; i < 4; i++) {
        in[i] = density(&s->in[i], false, c);
        out[i] = density(&s->out[i], true, c);
    }
    for (int side = 0; side < 4; side++) {
        double paper = 0;
        double table = 0;

        for (int i = 0; i < 4; i++) {
            const double weight = i == side ? 1 : OTHER_SIDES;

            paper += weight * in[i];
            table += weight * out[i];
        }
        odds[side] = (float)log((paper + UNKNOWN) / (table + UNKNOWN));
    }
}

/* The odds of a cell as they are known, or the place for them. Where all places that are tried hold
   other cells, the last of those makes room. */
static cell_odds *place_of(sl_surfaces *s, uint32_t cell)
{
    const uint32_t first = (cell * UINT32_C(2654435769)) >> (32 - KNOWN_BITS);
    cell_odds *at = NULL;

    for (uint32_t k = 0; k < TRIES; k++) {
        at = &s->known[(first + k) % KNOWN];
        if (at->cell == cell || at->cell == 0)
            break;
    }
    return at;
}

double sl_surfaces_odds(sl_surfaces *s, int side, const double rgb[3])
{
    float c[3];
    uint32_t cell = 0;
    cell_odds *known;

    for (int k = 0; k < 3; k++) {
        /* fmin(), fmax() and floor() are calls */
        const double light = rgb[k] > 0 ? rgb[k] < 1 ? rgb[k] : 1 : 0;
        const uint32_t slice = (uint32_t)(CODE * sqrt(light) / CELL);

        cell = cell * CELLS + slice;
        c[k] = (float)((slice + 0.5) * CELL);
    }
    known = place_of(s, cell + 1);
    if (known->cell != cell + 1) {
        find_odds(known->odds, s, c);
        known->cell = cell + 1;
    }
    return (double)known->odds[side];
}
