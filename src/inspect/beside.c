#include "inspect/beside.h"

#include <stdlib.h>
#include <string.h>

enum { DEPTHS = 4 };

static const double FAR = 60;              /* mm: table, whatever lies beside the page */
static const double LIKE_FAR = 25;         /* codes: the same table, */
static const double UNLIKE_FAR = 40;       /* ... another thing, beside most of the page ... */
static const double FAR_SEEN = 0.2;        /* ... when so much of its sides shows the table */
static const double AWAY = 6;              /* mm: where a cloth's other colours are looked for */

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
        p->far = p->outside;
        for (double mm = FAR; mm > 2 * AWAY; mm -= AWAY)
            if (sl_tint_read(&p->far, shot, sl_place_outward(p, mm)))
                break;
        p->step = p->seen ? sl_tints_apart(p->inside, p->outside) : 0;
    }
}

double sl_median_of(double *value, size_t n)
{
    qsort(value, n, sizeof *value, sl_by_double);
    return n > 0 ? value[n / 2] : 0;
}

/* Median of a colour of the places seen that are like another one; returns how many they are. */
static size_t median_tint(sl_tint *out, sl_place all[4][SL_PLACES], bool far, const sl_tint *like)
{
    double value[4 * SL_PLACES];
    size_t n = 0;

    for (int k = 0; k < 3; k++) {
        n = 0;
        for (int i = 0; i < 4 * SL_PLACES; i++) {
            const sl_place *p = &all[i / SL_PLACES][i % SL_PLACES];

            if (p->seen && (like == NULL || sl_tints_apart(p->outside, *like) < LIKE_FAR))
                value[n++] = far ? p->far.c[k] : p->outside.c[k];
        }
        out->c[k] = sl_median_of(value, n);
    }
    return n;
}

sl_tint sl_usual_table(sl_place all[4][SL_PLACES])
{
    sl_tint usual;
    sl_tint far;
    sl_tint table;
    const size_t seen = median_tint(&usual, all, false, NULL);

    (void)median_tint(&far, all, true, NULL);
    return sl_tints_apart(usual, far) > UNLIKE_FAR
                   && (double)median_tint(&table, all, false, &far) > FAR_SEEN * (double)seen
               ? table
               : usual;
}

bool sl_is_strange(const sl_place *p, sl_tint usual)
{
    return p->seen && sl_tints_apart(p->outside, usual) > SL_LEAST_STRANGE;
}

bool sl_next_run(sl_run *out, const sl_place edge[SL_PLACES], int from, sl_tint usual)
{
    enum { WITHIN = 2 };     /* places; at its end a thing's colour is mixed with the table's */

    while (from < SL_PLACES && !sl_is_strange(&edge[from], usual))
        from++;
    *out = (sl_run){ from, from };
    while (out->last + 1 < SL_PLACES && sl_is_strange(&edge[out->last + 1], usual)) {
        const sl_place *own = &edge[out->last < from + WITHIN ? out->last : from + WITHIN];

        if (!(sl_tints_apart(edge[out->last + 1].outside, own->outside) < SL_ONE_COLOUR))
            break;
        out->last++;
    }
    return from < SL_PLACES;
}
