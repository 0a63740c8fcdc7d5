/*
 * The colours a few px inside each side, against those that the page has further in along all
 * sides.
 */
#include "border/rim.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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
static const double PLAIN = 0.95;             /* of the places: a plain strip ... */
static const double PATTERN = 0.6;            /* ... along a pattern, no more of which is plain */
static const double LIKE = 8;                 /* codes: a colour of the page's */
static const double COMMON = 0.02;            /* of what it shows */
static const double STEP = 8;                 /* codes from the strip to what lies inside it */
static const double ALIKE = 8;                /* codes: three sides' paper, each in its light ... */
static const double ODD = 16;                 /* ... and the fourth side's from each of them */
static const double RISE = 4;                 /* codes within 2 px: a strip ends */
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

static void read_depth(sl_colour out[PLACES], const sl_image *shot, const sl_course *course,
                       double depth)
{
    for (int i = 0; i < PLACES; i++)
        out[i] = colour_at(shot, course, i, depth);
}

/* How many of the places have their most usual colour. */
static int of_one_colour(const sl_colour colour[PLACES])
{
    const sl_colour median = median_of(colour);
    int one = 0;

    for (int i = 0; i < PLACES; i++)
        one += sl_colour_differ(colour[i], median) < ONE_COLOUR;
    return one;
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

    read_depth(strip, shot, course, NEAREST + BLURS * blur);
    read_depth(within, shot, course, FIRST + NEXT);
    median = median_of(strip);
    return of_one_colour(strip) >= MOSTLY * PLACES
           && sl_colour_differ(median, median_of(within)) > STEP && !is_shown(median, page);
}

/* Of a patterned paper whose pattern meets two sides and more: has each of the others a plain strip
   along it, with the pattern further in? */
static void plain_sides(bool plain[4], const sl_image *shot, const sl_course course[4],
                        const double blur_px[4])
{
    int patterned = 0;

    for (int side = 0; side < 4; side++) {
        sl_colour strip[PLACES];
        sl_colour within[PLACES];
        int one;

        plain[side] = false;
        if (!(blur_px[side] < BLURRED))
            continue;
        read_depth(strip, shot, &course[side], NEAREST + BLURS * blur_px[side]);
        read_depth(within, shot, &course[side], FIRST + NEXT);
        one = of_one_colour(strip);
        plain[side] = one >= PLAIN * PLACES && of_one_colour(within) < PATTERN * PLACES;
        patterned += one < PATTERN * PLACES;
    }
    for (int side = 0; side < 4; side++)
        plain[side] = plain[side] && patterned >= 2;
}

/* How far the colours at a depth are from the strip's, codes, in the median of the places. */
static double off_strip(const sl_image *shot, const sl_course *course,
                        const sl_colour strip[PLACES], double depth)
{
    double off[PLACES];

    for (int i = 0; i < PLACES; i++)
        off[i] = sl_colour_differ(colour_at(shot, course, i, depth), strip[i]);
    return sl_median(off, PLACES);
}

/* Px from a side to where the strip along it ends: the first steep change of its colour. */
static double end_of_strip(const sl_image *shot, const sl_course *course, double blur, double most)
{
    const double first = NEAREST + BLURS * blur;
    sl_colour strip[PLACES];
    double off[4] = { 0 };   /* at the last four px */

    read_depth(strip, shot, course, first);
    for (double depth = first; depth < most; depth++) {
        memmove(off, off + 1, 3 * sizeof *off);
        off[3] = off_strip(shot, course, strip, depth + 1);
        /* the steepest change lies between the second and the third: about a px before this one */
        if (off[2] - off[0] > RISE && off[2] - off[0] >= off[3] - off[1])
            return depth - 1;
    }
    return most;
}

void sl_rims_find(double depth[4], const sl_image *shot, const sl_course course[4],
                  const double blur_px[4], double most)
{
    sl_colour *page = malloc(PALETTE * sizeof *page);
    bool plain[4];
    size_t count = 0;

    plain_sides(plain, shot, course, blur_px);
    for (int side = 0; page != NULL && side < 4; side++)
        for (int i = 0; i < PLACES; i++)
            for (int d = 0; d < DEPTHS; d++)
                page[count++] = colour_at(shot, &course[side], i, FIRST + d * NEXT);
    for (int side = 0; side < 4; side++) {
        depth[side] = 0;
        /* without memory nothing is told */
        if (plain[side] || (page != NULL && blur_px[side] < BLURRED
                              && side_has_rim(shot, &course[side], blur_px[side], page)))
            depth[side] = end_of_strip(shot, &course[side], blur_px[side], most);
    }
    free(page);
}

/* Is one side's paper unlike the other three, which are alike? */
static bool is_odd_one(const sl_colour paper[4], int odd)
{
    const sl_colour usual = paper[(odd + 2) % 4];

    for (int k = 0; k < 4; k++)
        if (k != odd
            && (differ_lit(paper[k], usual) > ALIKE || differ_lit(paper[k], paper[odd]) < ODD))
            return false;
    return true;
}

/* Have two neighbouring sides one paper, and the other two another? */
static bool are_two_papers(const sl_colour paper[4], int first)
{
    const sl_colour *one[2] = { &paper[first], &paper[(first + 1) % 4] };
    const sl_colour *other[2] = { &paper[(first + 2) % 4], &paper[(first + 3) % 4] };

    for (int i = 0; i < 2; i++)
        for (int k = 0; k < 2; k++)
            if (differ_lit(*one[i], *other[k]) < ODD)
                return false;
    return differ_lit(*one[0], *one[1]) < ALIKE && differ_lit(*other[0], *other[1]) < ALIKE;
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
    for (int odd = 0; odd < 4; odd++)
        if (is_odd_one(paper, odd) || are_two_papers(paper, odd))
            return true;
    return false;
}
