/*
 * From a corner along each of its two sides, a little inside: how far is it until the paper
 * begins? Where it is on both, what lies there is compared with the paper, with what lies just
 * outside the corner and with the table along the sides.
 */
#include "border/notch.h"

#include <math.h>
#include <stdlib.h>

#include "border/colour_near.h"
#include "border/select.h"

enum { REACH_MOST = 80, HALF_PX = 2, COURSE_MOST = REACH_MOST * HALF_PX, TABLE_PLACES = 30 };

static const double REACH = 0.06;             /* of the shorter side */
static const double REACH_LEAST = 16;         /* px */
static const double LEAST = 3.5;               /* px; a blurred corner shows less */
static const double WAVES = 4.5;              /* spreads of a side; a smaller notch is its wave */
static const double LEAST_CONTRAST = 10;      /* codes from the paper */
static const double OVER_SPREAD = 2.5;        /* ... and over the paper's own */
static const double ALONG = 1.6;              /* times as long as wide: beside a side, no corner */
static const double IN_CORNER = 0.75;         /* of the notch both ways: still the table, ... */
static const double BEYOND = 4;               /* px beyond it both ways: paper, ... */
static const double STILL_NOTCH = 0.5;        /* by these shares of its contrast */
static const double SURELY_NOTCH = 0.62;      /* ... when only one corner has one */
static const double STILL_PAPER = 0.4;
static const double AS_OUTSIDE = 0.6;         /* off the corner's outside, share of contrast */
static const double JUST_OUTSIDE = 0.4;       /* ... alone enough: the table may be a pattern */
static const double AS_TABLE = 0.35;          /* off the table in some shade, likewise */
static const double TIP = 8;                  /* px of a corner that are looked at for its tip */
static const double TABLE_AWAY = 8;           /* px outside a side */
static const double DEEPEST_SHADE = 0.35;
static const double LIGHTEST = 1.08;

/* A corner with unit vectors along its sides, into the page. */
typedef struct frame {
    sl_point at;
    sl_point u;
    sl_point v;
    double   reach;          /* px along both */
} frame;

static sl_colour colour_in(const sl_image *shot, const frame *f, double along_u, double along_v)
{
    return sl_colour_near(shot, f->at.x + along_u * f->u.x + along_v * f->v.x,
                       f->at.y + along_u * f->u.y + along_v * f->v.y);
}

static sl_colour median_of(const sl_colour *colour, ptrdiff_t count)
{
    float value[2 * COURSE_MOST];
    sl_colour median;

    for (int c = 0; c < 3; c++) {
        for (ptrdiff_t i = 0; i < count; i++)
            value[i] = colour[i].c[c];
        median.c[c] = sl_select(value, count, count / 2);
    }
    return median;
}

/* What begins at a corner, along one of its sides. */
typedef struct beginning {
    double px;               /* until the paper begins; 0: at once, or nowhere */
    double contrast;         /* codes from the paper, at most */
    sl_colour paper;
} beginning;

static beginning read_beginning(const sl_image *shot, const frame *f)
{
    const int count = (int)(f->reach * HALF_PX);
    const int half = count / 2;
    sl_colour course[COURSE_MOST] = { { { 0 } } };
    float off[COURSE_MOST];
    float far_off[COURSE_MOST];
    beginning b = { 0, 0, { { 0 } } };
    int k = 2 * HALF_PX;

    for (int i = 0; i < count; i++) {
        for (int d = 0; d < 3; d++) {
            const sl_colour one = colour_in(shot, f, (double)i / HALF_PX, 2.5 + d);

            for (int c = 0; c < 3; c++)
                course[i].c[c] += one.c[c] / 3;
        }
    }
    b.paper = median_of(course + half, count - half);
    for (int i = 0; i < count; i++) {
        off[i] = (float)sl_colour_differ(course[i], b.paper);
        if (i >= half)
            far_off[i - half] = off[i];
        else if (i >= HALF_PX)
            b.contrast = fmax(b.contrast, (double)off[i]);
    }
    if (b.contrast < fmax(LEAST_CONTRAST,
                          OVER_SPREAD * (double)sl_select(far_off, count - half,
                                                          (count - half) * 4 / 5)))
        return b;
    while (k < half && (double)off[k] > b.contrast / 2)
        k++;
    if (k < half)
        b.px = (double)k / HALF_PX;
    return b;
}

/* Mean colour of places in the notch, away from its rims. */
static sl_colour colour_of_notch(const sl_image *shot, const frame *f, double along_u,
                                 double along_v)
{
    static const double share[3] = { 0.3, 0.45, 0.6 };
    sl_colour mean = { { 0, 0, 0 } };

    for (int i = 0; i < 9; i++) {
        const sl_colour one = colour_in(shot, f, share[i / 3] * along_u, share[i % 3] * along_v);

        for (int c = 0; c < 3; c++)
            mean.c[c] += one.c[c] / 9;
    }
    return mean;
}

/* Mean colour just outside the corner. */
static sl_colour colour_outside(const sl_image *shot, const frame *f, double along_u,
                                double along_v)
{
    const double at[5][2] = {
        { -4, -4 }, { -6, -3 }, { -3, -6 }, { along_u / 2, -4 }, { -4, along_v / 2 }
    };
    sl_colour mean = { { 0, 0, 0 } };

    for (int i = 0; i < 5; i++) {
        const sl_colour one = colour_in(shot, f, at[i][0], at[i][1]);

        for (int c = 0; c < 3; c++)
            mean.c[c] += one.c[c] / 5;
    }
    return mean;
}

/* Median colour outside a corner's two sides. */
static sl_colour colour_of_table(const sl_image *shot, const frame *f, double length_u,
                                 double length_v)
{
    sl_colour place[2 * TABLE_PLACES];

    for (int i = 0; i < TABLE_PLACES; i++) {
        const double t = 0.1 + 0.5 * i / (TABLE_PLACES - 1);

        place[i] = colour_in(shot, f, t * length_u, -TABLE_AWAY);
        place[TABLE_PLACES + i] = colour_in(shot, f, -TABLE_AWAY, t * length_v);
    }
    return median_of(place, (ptrdiff_t)(2 * TABLE_PLACES));
}

/* Codes by which a colour differs from the table's in the shade that fits it best. */
static double off_table(sl_colour colour, sl_colour table)
{
    const double shade = fmin(fmax(sl_colour_shade(colour.c, table.c), DEEPEST_SHADE), LIGHTEST);

    for (int c = 0; c < 3; c++)
        table.c[c] *= (float)shade;
    return sl_colour_differ(colour, table);
}

/* Does the corner's very tip look like what lies outside it, not like the paper? */
static bool tip_is_empty(const sl_image *shot, const frame *f, sl_colour paper)
{
    const sl_colour tip = colour_of_notch(shot, f, TIP, TIP);
    const double contrast = sl_colour_differ(tip, paper);

    return contrast > LEAST_CONTRAST
           && sl_colour_differ(tip, colour_outside(shot, f, TIP, TIP)) < AS_OUTSIDE * contrast;
}

/*
 * How much of a notch corner k is: share of contrast that its inner end still has; 0: none.
 * empty  counted up when no paper lies in the corner, rounded or square
 */
static double notch_at(const sl_image *shot, const sl_point corner[4], const double spread_px[4],
                       int k, int *empty)
{
    const sl_point p = corner[k];
    const sl_point a = corner[(k + 1) % 4];
    const sl_point b = corner[(k + 3) % 4];
    const double u = hypot(a.x - p.x, a.y - p.y);
    const double v = hypot(b.x - p.x, b.y - p.y);
    const frame f = { p,
                      { (a.x - p.x) / u, (a.y - p.y) / u },
                      { (b.x - p.x) / v, (b.y - p.y) / v },
                      fmin(REACH * fmin(u, v), REACH_MOST) };
    const frame turned = { p, f.v, f.u, f.reach };
    beginning along_u;
    beginning along_v;
    sl_colour paper;
    sl_colour notch;
    double least;
    double contrast;
    double outside;
    double still;

    if (!(f.reach >= REACH_LEAST))
        return 0;
    along_u = read_beginning(shot, &f);
    along_v = read_beginning(shot, &turned);
    for (int c = 0; c < 3; c++)
        paper.c[c] = (along_u.paper.c[c] + along_v.paper.c[c]) / 2;
    least = fmax(LEAST, WAVES * fmax(spread_px[k], spread_px[(k + 3) % 4]));
    if (along_u.px < least || along_v.px < least) {
        *empty += tip_is_empty(shot, &f, paper);
        return 0;
    }
    /* not where a side lies out along all its length, on a shadow's end */
    *empty += fmax(along_u.px, along_v.px) < ALONG * fmin(along_u.px, along_v.px);
    contrast = fmin(along_u.contrast, along_v.contrast);
    still = sl_colour_differ(
                colour_in(shot, &f, IN_CORNER * along_u.px, IN_CORNER * along_v.px), paper)
            / contrast;
    if (still < STILL_NOTCH
        || sl_colour_differ(colour_in(shot, &f, along_u.px + BEYOND, along_v.px + BEYOND), paper)
               > STILL_PAPER * contrast)
        return 0;
    notch = colour_of_notch(shot, &f, along_u.px, along_v.px);
    contrast = sl_colour_differ(notch, paper);
    outside = sl_colour_differ(notch, colour_outside(shot, &f, along_u.px, along_v.px));
    if (outside > AS_OUTSIDE * contrast
        || (outside > JUST_OUTSIDE * contrast
            && off_table(notch, colour_of_table(shot, &f, u, v)) > AS_TABLE * contrast))
        return 0;
    return still;
}

bool sl_corner_is_notched(const sl_image *shot, const sl_point corner[4],
                          const double spread_px[4])
{
    double notch[4];
    double surest = 0;
    int empty = 0;

    for (int k = 0; k < 4; k++) {
        notch[k] = notch_at(shot, corner, spread_px, k, &empty);
        surest = fmax(surest, notch[k]);
    }
    /* in a pile two corners are the page's own; in a rounded page none is square */
    if (empty > 2)
        return false;
    return surest > SURELY_NOTCH || (notch[0] > 0 && notch[2] > 0)
           || (notch[1] > 0 && notch[3] > 0);
}

bool sl_outline_is_notched(const sl_outline *out, const sl_image *shot)
{
    double spread[4];

    for (int i = 0; i < 4; i++) {
        if (out->edge[i].cut)
            return false;
        spread[i] = out->edge[i].spread_px;
    }
    return sl_corner_is_notched(shot, out->corner, spread);
}
