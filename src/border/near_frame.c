/*
 * The colours along the frame, px by px inward, against those just inside and outside the page's
 * other sides: the table's come first, then the page's.
 */
#include "border/near_frame.h"

#include <math.h>

#include "border/colour_near.h"

enum { PLACES = 48, DEPTHS = 3, SAMPLES_MOST = 3 * DEPTHS * PLACES };

static const double END_SHARE = 0.02;         /* of the side left out at each corner */
static const double FIRST = 3;                /* px off the other sides' edges ... */
static const double NEXT = 3;                 /* ... at depths this far apart */
static const double AT_FRAME = 1;             /* px inside it: past the picture's rim */
static const double FARTHEST = 40;            /* px */
static const double TABLE = 20;               /* codes from the table's colours, at most */
static const double DEEPEST_SHADE = 0.5;      /* the page's shadow leaves this share of them */
static const double MOSTLY = 0.85;            /* of the places show the strip */
static const double REACH = 5;                /* px about them at which the edge is fitted */
static const double LEAST_SUPPORT = 0.75;

typedef struct samples {
    sl_colour colour[SAMPLES_MOST];
    size_t    count;
} samples;

static double place_of(int i)
{
    return (1 - 2 * END_SHARE) * ((2.0 * i + 1) / PLACES - 1);
}

static sl_point inward(const sl_course *course, int i, double depth)
{
    const sl_point p = sl_course_point(course, place_of(i));
    const sl_point in = sl_course_inward(course, place_of(i));

    return (sl_point){ p.x + depth * in.x, p.y + depth * in.y };
}

static bool in_picture(const sl_image *shot, sl_point p)
{
    return p.x >= 1 && p.y >= 1 && p.x <= (double)shot->width - 2
           && p.y <= (double)shot->height - 2;
}

/* Adds what lies along a side, so far in (or out, below 0). */
static void add_samples(samples *s, const sl_image *shot, const sl_course *course, double sign)
{
    for (int i = 0; i < PLACES; i++)
        for (int d = 0; d < DEPTHS; d++) {
            const sl_point p = inward(course, i, sign * (FIRST + d * NEXT));

            if (in_picture(shot, p))
                s->colour[s->count++] = sl_colour_near(shot, p.x, p.y);
        }
}

/* Codes to the nearest of the samples, each in any light from `darkest` of its own on. */
static double nearest(const samples *s, sl_colour c, double darkest)
{
    double least = INFINITY;

    for (size_t k = 0; k < s->count; k++) {
        const double light = fmin(fmax(sl_colour_shade(c.c, s->colour[k].c), darkest), 1);
        sl_colour lit = s->colour[k];

        for (int b = 0; b < 3; b++)
            lit.c[b] *= (float)light;
        least = fmin(least, sl_colour_differ(c, lit));
    }
    return least;
}

/* px from the frame to where the page begins; below 0 when no table comes before it. */
static double width_of_strip(const sl_image *shot, const sl_course *course, int i,
                             const samples *page, const samples *table)
{
    for (double depth = AT_FRAME; depth < FARTHEST; depth++) {
        const sl_point p = inward(course, i, depth);
        const sl_colour c = sl_colour_near(shot, p.x, p.y);
        const double to_table = nearest(table, c, DEEPEST_SHADE);

        if (nearest(page, c, 1) < to_table)
            return depth > AT_FRAME ? depth : -1;
        if (depth <= AT_FRAME && to_table > TABLE)
            return -1;
    }
    return -1;
}

bool sl_edge_near_frame(sl_edge *edge, sl_course course[4], int side, const bool cut[4],
                        const sl_image *shot, const sl_tone *tone)
{
    samples page = { .count = 0 };
    samples table = { .count = 0 };
    sl_point point[PLACES];
    sl_course moved = course[side];
    sl_edge found = *edge;
    size_t count = 0;

    for (int k = 0; k < 4; k++) {
        if (!cut[k]) {
            add_samples(&page, shot, &course[k], 1);
            add_samples(&table, shot, &course[k], -1);
        }
    }
    for (int i = 0; i < PLACES; i++) {
        const double width = width_of_strip(shot, &course[side], i, &page, &table);

        if (width > 0)
            point[count++] = inward(&course[side], i, width);
    }
    if ((double)count < MOSTLY * PLACES || !sl_course_near(&moved, &course[side], point, count))
        return false;
    sl_edge_fit(&found, &moved, shot, tone, REACH, SL_EDGE_POINTS, NULL, side);
    if (found.support < LEAST_SUPPORT)
        return false;
    *edge = found;
    edge->cut = false;
    course[side] = moved;
    return true;
}
