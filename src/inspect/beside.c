#include "inspect/beside.h"

#include <stdlib.h>
#include <string.h>

enum { DEPTHS = 4 };

static const double AWAY = 6;              /* mm: where a cloth's other colours are looked for */
static const double FILM_ADDS = 0.02;      /* linear light, at least */
static const double FILM_EVEN = 0.18;      /* ... in all channels, but for this share */
static const double FILM_PASSES = 0.85;    /* of the light beneath: the least, two faces' mirroring */
static const double VEIL_SEEN = 4;         /* codes */
static const double VEIL_ADDS = 0.006;     /* linear light: what film mirrors without a lamp */
static const double VEIL_EVEN = 0.012;
static const double FILM_STEP = 0.03;      /* ... and a haze taken off; tried at such steps */

bool sl_tint_read(sl_tint *out, const sl_image *shot, sl_point p)
{
    const double x = floor(p.x + 0.5);
    const double y = floor(p.y + 0.5);

    if (!(x >= 0 && y >= 0 && x < (double)shot->width && y < (double)shot->height))
        return false;
    for (unsigned k = 0; k < 3; k++) {
        const size_t i = (size_t)x * shot->channels + (shot->channels == 3 ? k : 0);
        const unsigned char *row = shot->data + (size_t)y * shot->stride;

        out->c[k] = shot->bits == 8 ? row[i]
                                    : ((const uint16_t *)(const void *)row)[i] / 257.0;
    }
    return true;
}

static sl_point edge_point(const sl_page_map *map, int side, double t, double out)
{
    const double w = map->page[0];
    const double h = map->page[1];

    switch (side) {
    case SL_TOP: return sl_page_map_point(map, t * w, -out);
    case SL_RIGHT: return sl_page_map_point(map, w + out, t * h);
    case SL_BOTTOM: return sl_page_map_point(map, (1 - t) * w, h + out);
    default: return sl_page_map_point(map, -out, (1 - t) * h);
    }
}

static bool mean_colour(sl_tint *out, const sl_image *shot, const sl_place *p, double sign)
{
    memset(out, 0, sizeof *out);
    for (int k = 0; k < DEPTHS; k++) {
        sl_tint c;

        if (!sl_tint_read(&c, shot,
                          sl_place_outward(p, sign * (SL_BESIDE_NEAREST + k * SL_BESIDE_STEP))))
            return false;
        for (int i = 0; i < 3; i++)
            out->c[i] += c.c[i] / DEPTHS;
    }
    return true;
}

void sl_walk_edge(sl_place edge[SL_PLACES], const sl_image *shot, const sl_page_map *map, int side,
                      double unit)
{
    for (int i = 0; i < SL_PLACES; i++) {
        sl_place *p = &edge[i];
        const double t = (i + 0.5) / SL_PLACES;
        const sl_point beyond = edge_point(map, side, t, 2 * unit); /* 2 mm out */

        p->at = edge_point(map, side, t, 0);
        p->out = (sl_point){ (beyond.x - p->at.x) / 2, (beyond.y - p->at.y) / 2 };
        p->seen = mean_colour(&p->inside, shot, p, -1) && mean_colour(&p->outside, shot, p, 1);
        for (int k = 0; k < 2; k++)
            if (!sl_tint_read(&p->away[k], shot, sl_place_outward(p, AWAY * (k + 1))))
                p->away[k] = p->outside;
        p->step = p->seen ? sl_tints_apart(p->inside, p->outside) : 0;
    }
}

double sl_median_of(double *value, size_t n)
{
    qsort(value, n, sizeof *value, sl_by_double);
    return n > 0 ? value[n / 2] : 0;
}

sl_tint sl_usual_table(sl_place all[4][SL_PLACES])
{
    double value[4 * SL_PLACES];
    sl_tint usual;

    for (int k = 0; k < 3; k++) {
        size_t n = 0;

        for (int i = 0; i < 4 * SL_PLACES; i++)
            if (all[i / SL_PLACES][i % SL_PLACES].seen)
                value[n++] = all[i / SL_PLACES][i % SL_PLACES].outside.c[k];
        usual.c[k] = sl_median_of(value, n);
    }
    return usual;
}

/* Linear light of a code, 0..1 (IEC 61966-2-1). */
static double light_of(double code)
{
    const double v = code / 255;

    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

bool sl_is_veiled(sl_tint with, sl_tint without)
{
    bool changed = false;

    for (int k = 0; k < 3; k++)
        changed = changed || fabs(with.c[k] - without.c[k]) > VEIL_SEEN;
    for (double passes = 1; passes > FILM_PASSES - FILM_STEP / 2 && changed; passes -= FILM_STEP) {
        double least = INFINITY;
        double most = 0;

        for (int k = 0; k < 3; k++) {
            const double added = light_of(with.c[k]) - passes * light_of(without.c[k]);

            least = fmin(least, added);
            most = fmax(most, added);
        }
        if (least > VEIL_ADDS && most - least < VEIL_EVEN)
            return true;
    }
    return false;
}

bool sl_adds_light(sl_tint with, sl_tint without, bool grey_too)
{
    double light[3];
    double seen[3];

    for (int k = 0; k < 3; k++) {
        light[k] = light_of(without.c[k]);
        seen[k] = light_of(with.c[k]);
        if (!(seen[k] > light[k] + FILM_ADDS))
            return false;
    }
    for (double passes = 1; passes > FILM_PASSES - FILM_STEP / 2; passes -= FILM_STEP) {
        double least = INFINITY;
        double most = 0;
        double darkest = INFINITY;
        double lightest = 0;

        for (int k = 0; k < 3; k++) {
            const double added = seen[k] - passes * light[k];

            least = fmin(least, added);
            most = fmax(most, added);
            darkest = fmin(darkest, light[k]);
            lightest = fmax(lightest, light[k]);
        }
        if (most - least < FILM_EVEN * most && (lightest - darkest > FILM_EVEN * most || grey_too))
            return true;
    }
    return false;
}
