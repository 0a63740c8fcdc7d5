/*
 * The colours a few px inside each side, against those that the page has further in along all
 * sides.
 */
#include "border/rim.h"

#include <math.h>
#include <stdlib.h>

#include "base/order.h"
#include "border/colour_near.h"

enum { PLACES = 48, DEPTHS = 12, PALETTE = 4 * PLACES * DEPTHS };

static const double END_SHARE = 0.03;         /* of the side left out at each corner */
static const double NEAREST = 2;              /* px inside the edge, and blurs of it more */
static const double BLURS = 1;  
static const double BLURRED = 2;              /* px; then a strip of a few px cannot be seen */
static const double FIRST = 12;               /* px inside: the page itself ... */
static const double NEXT = 6;                 /* ... at depths this far apart */
static const double ONE_COLOUR = 5;           /* codes about the strip's median ... */
static const double MOSTLY = 0.8;             /* ... of its places */
static const double LIKE = 8;                 /* codes: a colour of the page's */
static const double COMMON = 0.02;            /* of what it shows */
static const double STEP = 8;                 /* codes from the strip to what lies inside it */
static const double ALIKE = 8;                /* codes: three sides' paper, each in its light ... */
static const double ODD = 16;                 /* ... and the fourth side's from each of them */
static const double BETWEEN[2] = { 0.6, 1.6 };/* a page is lit no more unevenly */

static double place_of(int i)
{
    return (1 - 2 * END_SHARE) * ((2.0 * i + 1) / PLACES - 1);
}

static sl_colour colour_at(const sl_image *shot, const sl_course *course, int i, double depth)
{
    const sl_point p = sl_course_point(course, place_of(i));
    const sl_point in = sl_course_inward(course, place_of(i));

    return sl_colour_near(shot, p.x + depth * in.x, p.y + depth * in.y);
}

static sl_colour median_of(const sl_colour colour[PLACES])
{
    sl_colour median;

    for (int c = 0; c < 3; c++) {
        double code[PLACES];

        for (int i = 0; i < PLACES; i++)
            code[i] = (double)colour[i].c[c];
        median.c[c] = (float)sl_median(code, PLACES);
    }
    return median;
}

/* Codes between two colours, the one in the other's light. */
static double differ_lit(sl_colour a, sl_colour b)
{
    const double light = fmin(fmax(sl_colour_shade(a.c, b.c), BETWEEN[0]), BETWEEN[1]);

    for (int c = 0; c < 3; c++)
        b.c[c] *= (float)light;
    return sl_colour_differ(a, b);
}

/* Does the page show the colour, in about the same light? */
static bool is_shown(sl_colour colour, const sl_colour page[PALETTE])
{
    size_t like = 0;

    for (size_t i = 0; i < PALETTE; i++)
        like += sl_colour_differ(colour, page[i]) < LIKE;
    return (double)like > COMMON * PALETTE;
}

static bool side_has_rim(const sl_image *shot, const sl_course *course, double blur,
                         const sl_colour page[PALETTE])
{
    sl_colour strip[PLACES];
    sl_colour within[PLACES];
    sl_colour median;
    int one = 0;

    for (int i = 0; i < PLACES; i++) {
        strip[i] = colour_at(shot, course, i, NEAREST + BLURS * blur);
        within[i] = colour_at(shot, course, i, FIRST + NEXT);
    }
    median = median_of(strip);
    for (int i = 0; i < PLACES; i++)
        one += sl_colour_differ(strip[i], median) < ONE_COLOUR;
    return one >= MOSTLY * PLACES && sl_colour_differ(median, median_of(within)) > STEP
           && !is_shown(median, page);
}

bool sl_has_rim(const sl_image *shot, const sl_course course[4], const double blur_px[4])
{
    sl_colour *page = malloc(PALETTE * sizeof *page);
    size_t count = 0;
    bool found = false;

    /* without memory nothing is told */
    if (page == NULL)
        return false;
    for (int side = 0; side < 4; side++)
        for (int i = 0; i < PLACES; i++)
            for (int d = 0; d < DEPTHS; d++)
                page[count++] = colour_at(shot, &course[side], i, FIRST + d * NEXT);
    for (int side = 0; side < 4 && !found; side++)
        found = blur_px[side] < BLURRED
                && side_has_rim(shot, &course[side], blur_px[side], page);
    free(page);
    return found;
}

bool sl_has_odd_paper(const sl_image *shot, const sl_course course[4])
{
    sl_colour paper[4];

    for (int side = 0; side < 4; side++) {
        sl_colour within[PLACES];
        int one = 0;

        for (int i = 0; i < PLACES; i++)
            within[i] = colour_at(shot, &course[side], i, FIRST);
        paper[side] = median_of(within);
        for (int i = 0; i < PLACES; i++)
            one += differ_lit(within[i], paper[side]) < LIKE;
        if (one < MOSTLY * PLACES)
            return false;
    }
    for (int odd = 0; odd < 4; odd++) {
        bool is = true;

        for (int k = 0; k < 4 && is; k++)
            is = k == odd
                 || (differ_lit(paper[k], paper[odd]) > ODD
                     && (differ_lit(paper[k], paper[(odd + 1) % 4]) < ALIKE
                         && differ_lit(paper[k], paper[(odd + 2) % 4 == k ? (odd + 3) % 4 : (odd + 2) % 4]) < ALIKE));
        if (is)
            return true;
    }
    return false;
}
