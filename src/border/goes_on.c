/*
 * Colours a few px outside each side, against those a few px inside it and those that the paper
 * has along all sides.
 */
#include "border/goes_on.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "border/colour_near.h"
#include "border/select.h"

enum { PLACES = 48 };

/* Colours that are found somewhere. */
enum { PALETTE_DEPTHS = 14, PALETTE_MOST = 4 * PLACES * PALETTE_DEPTHS };

typedef struct palette {
    sl_colour colour[PALETTE_MOST];
    size_t    count;
} palette;

/* The page's paper along all sides, and what lies outside each of them. */
typedef struct palettes {
    palette   paper;
    palette   outside[4];
    sl_colour table;         /* median of what lies outside them all */
} palettes;

static const double END_SHARE = 0.03;         /* of the side left out at each corner */
static const double FIRST_DEPTH = 4;          /* px inside a side and from one to the next, or ... */
static const double DEPTH_SHARE = 0.006;      /* ... of the side: a pattern's next row is seen too */
static const double NEAREST = 3.5;            /* px from the side, beyond the camera's blur */
static const double CHANGE = 10;              /* codes; less: the same colour on both sides */
static const double SAME_COLOUR = 7;          /* codes, root mean square over the channels */
static const double COMMON = 0.02;            /* of the palette; what is rarer may be a print's */
static const double ELSEWHERE = 0.1;          /* of what lies outside another side */
static const double DEEPEST_SHADE = 0.5;      /* codes in the page's shadow over those in the light */
static const double CHANGES = 0.25;           /* of the places, at least, or nothing is told */
static const double SURELY = 0.97;            /* of the changes to paper: of one side, ... */
static const double ALONE = 0.5;              /* ... where the others show hardly any */
static const double NOWHERE_ELSE = 0.2;
static const double ALL_ROUND = 0.9;          /* ... of each of the four */

static sl_colour colour_at(const sl_image *shot, const sl_course *course, double s, double depth)
{
    const sl_point p = sl_course_point(course, s);
    const sl_point in = sl_course_inward(course, s);

    return sl_colour_near(shot, p.x + depth * in.x, p.y + depth * in.y);
}

/* Mean of three places in a row across the side, from NEAREST away: way 1 inside, -1 outside. */
static sl_colour colour_beside(const sl_image *shot, const sl_course *course, double s, int way)
{
    sl_colour mean = { { 0, 0, 0 } };

    for (int d = 0; d < 3; d++) {
        const sl_colour one = colour_at(shot, course, s, way * (NEAREST + d));

        for (int c = 0; c < 3; c++)
            mean.c[c] += one.c[c] / 3;
    }
    return mean;
}

static bool in_picture(const sl_image *shot, const sl_course *course, double s)
{
    const sl_point p = sl_course_point(course, s);
    const sl_point in = sl_course_inward(course, s);
    const double x = p.x - (NEAREST + 3) * in.x;
    const double y = p.y - (NEAREST + 3) * in.y;

    return x > 0 && y > 0 && x < (double)shot->width - 1 && y < (double)shot->height - 1;
}

static double place_of(int i)
{
    return (1 - 2 * END_SHARE) * ((2.0 * i + 1) / PLACES - 1);
}

/* Adds the colours along a side: way 1 inside, -1 outside. */
static void add_side(palette *out, const sl_image *shot, const sl_course *course, int way)
{
    const double length = hypot(course->b.x - course->a.x, course->b.y - course->a.y);
    const double depth = fmax(FIRST_DEPTH, DEPTH_SHARE * length);

    for (int i = 0; i < PLACES; i++) {
        if (way < 0 && !in_picture(shot, course, place_of(i)))
            continue;
        for (int d = 1; d <= PALETTE_DEPTHS; d++)
            out->colour[out->count++] = colour_at(shot, course, place_of(i), way * d * depth);
    }
}

static bool is_common(sl_colour colour, const palette *p, double common)
{
    const float most = (float)(3 * SAME_COLOUR * SAME_COLOUR);
    size_t like = 0;

    for (size_t i = 0; i < p->count; i++) {
        const float r = colour.c[0] - p->colour[i].c[0];
        const float g = colour.c[1] - p->colour[i].c[1];
        const float b = colour.c[2] - p->colour[i].c[2];

        like += r * r + g * g + b * b < most;
    }
    return (double)like > common * (double)p->count;
}

/* Median of each channel of four sides' palettes. */
static sl_colour median_of(const palette side[4])
{
    float value[PALETTE_MOST];
    sl_colour median = { { 0, 0, 0 } };

    for (int c = 0; c < 3; c++) {
        ptrdiff_t n = 0;

        for (int k = 0; k < 4; k++)
            for (size_t i = 0; i < side[k].count; i++)
                value[n++] = side[k].colour[i].c[c];
        median.c[c] = n > 0 ? sl_select(value, n, n / 2) : 0;
    }
    return median;
}

/* A table may have a colour of the paper's, by itself or in the page's shadow: then it, or what
   casts less shadow on it, lies outside most other sides too. */
static bool is_table(sl_colour colour, const palettes *p, int side)
{
    const double shade = sl_colour_shade(colour.c, p->table.c);
    sl_colour lit = colour;
    int others = 0;

    for (int c = 0; c < 3; c++)
        lit.c[c] = shade > DEEPEST_SHADE && shade < 1 ? colour.c[c] / (float)shade : colour.c[c];
    for (int i = 0; i < 4; i++)
        others += i != side
                  && (is_common(colour, &p->outside[i], ELSEWHERE)
                      || is_common(lit, &p->outside[i], ELSEWHERE));
    return others >= 2;
}

/*
 * Of the places where the colour changes across a side, the share where it is the paper's still;
 * 0 where it hardly changes anywhere.
 * own  out: the share where it is the paper's, and not the table's
 */
static double share_of_paper(double *own, const sl_image *shot, const sl_course *course, int side,
                             const palettes *p)
{
    int seen = 0;
    int changes = 0;
    int paper = 0;
    int not_table = 0;

    for (int i = 0; i < PLACES; i++) {
        const double s = place_of(i);
        sl_colour outside;

        if (!in_picture(shot, course, s))
            continue;
        seen++;
        outside = colour_beside(shot, course, s, -1);
        if (sl_colour_differ(outside, colour_beside(shot, course, s, 1)) > CHANGE) {
            const bool like_paper = is_common(outside, &p->paper, COMMON);

            changes++;
            paper += like_paper;
            not_table += like_paper && !is_table(outside, p, side);
        }
    }
    *own = 0;
    if (seen <= PLACES / 2 || changes <= CHANGES * seen)
        return 0;
    *own = (double)not_table / changes;
    return (double)paper / changes;
}

void sl_paper_ends(double share[4], const sl_image *shot, const sl_course course[4])
{
    palettes *p = calloc(1, sizeof *p);

    memset(share, 0, 4 * sizeof *share);
    if (p == NULL)
        return;
    for (int side = 0; side < 4; side++)
        add_side(&p->paper, shot, &course[side], 1);
    for (int side = 0; side < 4; side++)
        for (int i = 0; i < PLACES; i++)
            if (in_picture(shot, &course[side], place_of(i))
                && !is_common(colour_beside(shot, &course[side], place_of(i), -1), &p->paper,
                              COMMON))
                share[side] += 1.0 / PLACES;
    free(p);
}

bool sl_paper_goes_on(const sl_image *shot, const sl_course course[4], const bool on_sheet[4])
{
    palettes *p = calloc(1, sizeof *p);
    double least = 1;
    double most = 0;
    double second = 0;       /* share of another side */

    /* without memory nothing is told */
    if (p == NULL)
        return false;
    for (int side = 0; side < 4; side++) {
        add_side(&p->paper, shot, &course[side], 1);
        add_side(&p->outside[side], shot, &course[side], -1);
    }
    p->table = median_of(p->outside);
    for (int side = 0; side < 4; side++) {
        double own;
        const double share = share_of_paper(&own, shot, &course[side], side, p);

        least = fmin(least, share);
        if (!on_sheet[side] && own > most) {
            second = fmax(second, most);
            most = own;
        } else {
            second = fmax(second, share);
        }
    }
    free(p);
    return most > SURELY || (most > ALONE && second < NOWHERE_ELSE) || least > ALL_ROUND;
}
