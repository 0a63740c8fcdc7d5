/*
 * Things that lie across the page's edge: a ribbon, a tab, a letter pulled out of its envelope.
 * The crop would cut them off in silence.
 *
 * Along each side the colour just inside is compared with that just outside. Where the page ends
 * there is a step between the two. Where something lies across the edge there is none, and what
 * is outside is not the table. Both are asked, for each alone is common: a dark print glued to
 * the edge has no step to a dark table, and a ruler that touches the page is no table either.
 *
 * What comes from under the page (a ribbon, the next leaf's letter) leaves its edge to be seen. It
 * is told by one colour of its own, far from the table's elsewhere and not the table in a shadow.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "inspect/figures.h"

enum { PLACES = 256, DEPTHS = 4, BESIDE_RUN = 5, FILMS_MOST = 64 };

static const double NEAREST = 1.0;         /* mm from the edge: past its blur and thickness */
static const double DEPTH_STEP = 0.5;      /* mm */
static const double AWAY = 6;              /* mm: where a cloth's other colours are looked for */
static const double FARTHEST = 80;         /* mm */
static const double CORNER = 0.05;         /* of a side, where a weight or a hand may hold it */
static const double NEAR_CORNER = 0.2;     /* ... and hide the side up to there */
static const double LEAST_WIDTH = 2.5;     /* mm along the edge */
static const double PETAL = 4.5;           /* mm: on a patterned table a thing is wider */
static const double PATTERNED = 0.1;       /* of the table has another colour than its usual one */
static const double MOST_WIDTH = 0.5;      /* of the side: a longer thing is another sheet */
static const double LEAST_STEP = 12;       /* codes from paper to table, for anything to be told */
static const double NO_STEP = 0.3;         /* of the side's usual step: none */
static const double LEAST_OTHER = 10;      /* codes by which a thing differs from the table */
static const double PATTERN = 0.02;        /* of the table has the paper's colour: a cloth */
static const double LONG = 40;             /* mm along the edge: longer than most motifs */
static const double LONG_PATTERN = 0.12;   /* ... so that more of the table must look like it */
static const double A_STEP = 0.6;          /* of it: the page ends here, and the table is seen */

/* Of what comes from under the page. */
static const double LEAST_UNDER_WIDTH = 4; /* mm along the edge: wider than a petal */
static const double SOME_UNDER = 0.25;     /* of the side: a ribbon, a tab */
static const double MOST_UNDER = 0.92;     /* a letter; what is longer is another sheet */
static const double LEAST_UNDER = 6;       /* mm that it reaches */
static const double LETTER_UNDER = 10;     /* ... a letter: lower sheets reach less */
static const double OVER = 5;              /* codes */
static const double PARALLEL = 1;         /* mm that a ruler's width may seem to vary */
static const double RULER = 0.85;         /* of the side, at least */
static const double MOSTLY = 0.9;
static const double LETTER_STRANGE = 20;   /* codes from the table, and from the page */
static const double LEAST_STRANGE = 12;    /* codes from any colour of the table */
static const double FILM_ADDS = 0.02;      /* linear light, at least */
static const double FILM_EVEN = 0.18;      /* ... in all channels, but for this share */
static const double FILM_LIGHTER = 3;      /* codes */
static const double RARE = 0.03;           /* of the table has such a colour */
static const double RARE_LETTER = 0.08;    /* ... as a letter, which a mat's lines may have */
static const double ACROSS = 0.6;          /* of what two runs on opposite sides take up together */
static const double ONE_COLOUR = 14;       /* codes */
static const double DEEPEST_SHADE = 0.45;  /* a shadow leaves this share of a colour's codes */

typedef struct colour {
    double c[3];             /* codes 0..255 */
} colour;

static double apart(colour a, colour b)
{
    double sum = 0;

    for (int k = 0; k < 3; k++)
        sum += (a.c[k] - b.c[k]) * (a.c[k] - b.c[k]);
    return sqrt(sum / 3);
}

static bool read_colour(colour *out, const sl_image *shot, sl_point p)
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

/* A place on the edge and, as good as linear over some centimetres, the way out of the page. */
typedef struct place {
    sl_point at;             /* shot px */
    sl_point out;            /* px per mm */
    colour   inside;
    colour   outside;
    colour   away[2];        /* further out */
    double   step;
    bool     seen;           /* both lie in the shot */
} place;

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

static sl_point outward(const place *p, double mm)
{
    return (sl_point){ p->at.x + mm * p->out.x, p->at.y + mm * p->out.y };
}

static bool mean_colour(colour *out, const sl_image *shot, const place *p, double sign)
{
    memset(out, 0, sizeof *out);
    for (int k = 0; k < DEPTHS; k++) {
        colour c;

        if (!read_colour(&c, shot, outward(p, sign * (NEAREST + k * DEPTH_STEP))))
            return false;
        for (int i = 0; i < 3; i++)
            out->c[i] += c.c[i] / DEPTHS;
    }
    return true;
}

static void walk_edge(place edge[PLACES], const sl_image *shot, const sl_page_map *map, int side,
                      double unit)
{
    for (int i = 0; i < PLACES; i++) {
        place *p = &edge[i];
        const double t = (i + 0.5) / PLACES;
        const sl_point beyond = edge_point(map, side, t, 2 * unit); /* 2 mm out */

        p->at = edge_point(map, side, t, 0);
        p->out = (sl_point){ (beyond.x - p->at.x) / 2, (beyond.y - p->at.y) / 2 };
        p->seen = mean_colour(&p->inside, shot, p, -1) && mean_colour(&p->outside, shot, p, 1);
        for (int k = 0; k < 2; k++)
            if (!read_colour(&p->away[k], shot, outward(p, AWAY * (k + 1))))
                p->away[k] = p->outside;
        p->step = p->seen ? apart(p->inside, p->outside) : 0;
    }
}

static double median(double *value, size_t n)
{
    qsort(value, n, sizeof *value, sl_by_double);
    return n > 0 ? value[n / 2] : 0;
}

/* Colour that most of the table has, just outside the page. */
static colour usual_table(place all[4][PLACES])
{
    double value[4 * PLACES];
    colour usual;

    for (int k = 0; k < 3; k++) {
        size_t n = 0;

        for (int i = 0; i < 4 * PLACES; i++)
            if (all[i / PLACES][i % PLACES].seen)
                value[n++] = all[i / PLACES][i % PLACES].outside.c[k];
        usual.c[k] = median(value, n);
    }
    return usual;
}

static bool strange(const place *p, colour usual)
{
    return p->seen && apart(p->outside, usual) > LEAST_STRANGE;
}

/* A cloth with a pattern, a mat with rules. */
static bool is_patterned(place all[4][PLACES], colour usual)
{
    int other = 0;

    for (int i = 0; i < 4 * PLACES; i++)
        other += strange(&all[i / PLACES][i % PLACES], usual);
    return other > PATTERNED * 4 * PLACES;
}

/* Colours of the table, from all round the page. */
typedef struct table {
    colour seen[4 * PLACES];
    size_t count;
} table;

/* Adds what lies outside one side's usual steps; returns the usual step, codes. */
static double learn(table *out, const place edge[PLACES])
{
    double step[PLACES];
    size_t n = 0;
    double usual;

    for (int i = 0; i < PLACES; i++)
        if (edge[i].seen)
            step[n++] = edge[i].step;
    if (n < PLACES / 2)
        return 0;
    usual = median(step, n);
    for (int i = 0; i < PLACES; i++)
        if (edge[i].seen && edge[i].step > A_STEP * usual)
            out->seen[out->count++] = edge[i].outside;
    return usual;
}

/* Codes from the table's nearest colour: a patterned cloth has many. */
static double strangeness(colour c, const table *t)
{
    double least = INFINITY;

    for (size_t i = 0; i < t->count; i++)
        least = fmin(least, apart(c, t->seen[i]));
    return least;
}

static bool crossed(const place *p, double usual, const table *t)
{
    return p->seen && p->step < NO_STEP * usual
           && strangeness(p->outside, t) > fmax(LEAST_OTHER, NO_STEP * usual);
}

/* Is the table back, where something reached out from the page? known: what is known of it */
typedef bool is_table(colour c, const place *p, const void *known);

static bool back_among(colour c, const place *p, const void *known)
{
    return strangeness(c, known) < strangeness(p->outside, known) / 2;
}

static bool back_to_usual(colour c, const place *p, const void *usual)
{
    (void)p;
    return apart(c, *(const colour *)usual) < LETTER_STRANGE / 2;
}

static bool another_colour(colour c, const place *p, const void *unused)
{
    (void)unused;
    return apart(c, p->outside) > 1.5 * ONE_COLOUR;
}

/* How far the thing at `p` reaches, mm: to where the table is back for good. */
static double reach(const sl_image *shot, const place *p, is_table *back, const void *known)
{
    double far = NEAREST;
    int there = 0;

    for (double d = NEAREST; d < FARTHEST && there < 4; d += DEPTH_STEP) {
        colour c;

        if (!read_colour(&c, shot, outward(p, d)))
            break;
        if (back(c, p, known)) {
            there++;
        } else {
            there = 0;
            far = d;
        }
    }
    return far;
}

/* Greatest reach of a run of places that are crossed, at three of them. */
static double run_reach(const sl_image *shot, const place *edge, int first, int last,
                        const table *t)
{
    double most = 0;

    for (int k = 1; k <= 3; k++)
        most = fmax(most, reach(shot, &edge[first + (last - first) * k / 4], back_among, t));
    return most;
}

/*
 * White checks of a cloth that meet a white page look like a letter across its edge; but they are
 * elsewhere on the table too. Things of another colour than the paper are in no such doubt: a
 * cloth does not lie on the page.
 */
static bool is_cloth(place edge[4][PLACES], int side, int first, int last, double spacing)
{
    enum { BESIDE = 12,      /* places about the run that its own colour may reach */
           FEW = 2 };        /* ... elsewhere, at which the page shows it too: a star, a stripe */
    const place *p = &edge[side][(first + last) / 2];
    size_t paper = 0;
    size_t alike = 0;
    size_t seen = 0;

    for (int k = 0; k < 4; k++) {
        for (int i = 0; i < PLACES; i++) {
            const place *q = &edge[k][i];

            if (!q->seen || (k == side && i > first - BESIDE && i < last + BESIDE))
                continue;
            seen += 2;
            paper += apart(q->inside, p->inside) < LEAST_OTHER ? 2 : 0;
            for (int d = 0; d < 2; d++)
                alike += apart(q->away[d], p->outside) < LEAST_OTHER ? 1 : 0;
        }
    }
    return paper > 2 * FEW
           && (double)alike > ((last - first + 1) * spacing > LONG ? LONG_PATTERN : PATTERN)
                                  * (double)seen;
}

/*
 * Does what covers first .. last go on to a corner? A weight or a hand that holds the page there
 * hides its edge up to the corner, in more colours than one.
 */
static bool holds_corner(const place edge[PLACES], int first, int last, double usual)
{
    int hidden[2] = { 0, 0 };

    for (int i = 0; i < first; i++)
        hidden[0] += edge[i].step < A_STEP * usual;
    for (int i = last + 1; i < PLACES; i++)
        hidden[1] += edge[i].step < A_STEP * usual;
    return (first < NEAR_CORNER * PLACES && hidden[0] >= MOSTLY * first)
           || (last >= (1 - NEAR_CORNER) * PLACES && hidden[1] >= MOSTLY * (PLACES - 1 - last));
}

/* The thing across one side that reaches furthest, `narrowest` mm wide at least. `spacing` mm from
   place to place. */
static double side_reach(const sl_image *shot, place all[4][PLACES], int side, double usual,
                         const table *t, double narrowest, double spacing)
{
    const place *edge = all[side];
    enum { GAP = 2 };        /* places without a crossing that a run may hold */
    double most = 0;
    int first = -1;
    int last = -1;

    for (int i = 0; i <= PLACES; i++) {
        if (i < PLACES && crossed(&edge[i], usual, t)) {
            first = first < 0 ? i : first;
            last = i;
        } else if (first >= 0 && (i == PLACES || i - last > GAP)) {
            if ((last - first + 1) * spacing >= narrowest
                && last - first + 1 <= MOST_WIDTH * PLACES && first > CORNER * PLACES
                && last < (1 - CORNER) * PLACES && !is_cloth(all, side, first, last, spacing)
                && !holds_corner(edge, first, last, usual))
                most = fmax(most, run_reach(shot, edge, first, last, t));
            first = -1;
        }
    }
    return most;
}

/* Codes from colour `c` to the table's `t`, in the light or in a shadow. */
static double apart_in_shade(colour c, colour t)
{
    double ct = 0;
    double tt = 1e-9;
    double shade;

    for (int k = 0; k < 3; k++) {
        ct += c.c[k] * t.c[k];
        tt += t.c[k] * t.c[k];
    }
    shade = fmin(fmax(ct / tt, DEEPEST_SHADE), 1);
    return apart(c, (colour){ { shade * t.c[0], shade * t.c[1], shade * t.c[2] } });
}

/* Where one thing may lie along a side: its longest run of about colour c, holes allowed. */
typedef struct run {
    int first;
    int last;                /* before `first`: none */
} run;

static run longest_run(const place edge[PLACES], colour c, colour usual)
{
    enum { HOLES = 4 };
    run best = { 0, -1 };
    int first = -1;
    int last = -HOLES - 1;

    for (int i = 0; i < PLACES; i++) {
        const double in_shade = apart_in_shade(edge[i].outside, c);

        /* there it may lie in the page's shadow; but so may a table like it */
        if (apart(edge[i].outside, c) >= ONE_COLOUR
            && (in_shade >= LEAST_STRANGE || in_shade > apart_in_shade(edge[i].outside, usual)))
            continue;
        if (first < 0 || i - last > HOLES)
            first = i;
        last = i;
        if (last - first > best.last - best.first)
            best = (run){ first, last };
    }
    return best;
}

/* Has the table the colour c at place j of a side: just outside (d < 0) or at an away[d]? */
static bool has_colour(const place edge[PLACES], int j, int d, colour c)
{
    return apart_in_shade(c, d < 0 ? edge[j].outside : edge[j].away[d]) < LEAST_STRANGE;
}

/* Does the run of the opposite side lie just across from first .. last? Sides run round the page. */
static bool is_across(run r, int first, int last)
{
    const run mirrored = { PLACES - 1 - r.last, PLACES - 1 - r.first };
    const int from = mirrored.first > first ? mirrored.first : first;
    const int to = mirrored.last < last ? mirrored.last : last;
    const int whole = (mirrored.last > last ? mirrored.last : last)
                      - (mirrored.first < first ? mirrored.first : first);

    return to - from > ACROSS * whole;
}

/*
 * Has the table the colour of this run nowhere else, or hardly anywhere? A ribbon comes out on both
 * sides of a page, narrow; a letter goes round a corner, or right across: one run of each
 * neighbouring side is not asked, nor the one across. A table's lines, flecks and checks are not
 * like a letter, which is broad.
 */
static bool strange_here(place all[4][PLACES], int side, int first, int last, bool letter,
                         colour usual)
{
    enum { EVERY = 3, BESIDE = 12, SHARE = 8 };
    const double rare = letter ? RARE_LETTER : RARE;
    const int broad = letter ? (last - first + 1) / SHARE : 0;
    const colour c = all[side][(first + last) / 2].outside;
    size_t asked = 0;
    size_t alike = 0;

    for (int k = 0; k < 4; k++) {
        run same = { first, last };

        if (k != side)
            same = longest_run(all[k], c, usual);
        if (k == (side + 2) % 4 && !(letter && is_across(same, first, last)))
            same = (run){ PLACES + BESIDE, PLACES + BESIDE };
        for (int j = 0; j < PLACES - broad; j += EVERY) {
            const place *q = &all[k][j];

            if (!q->seen || (j > same.first - BESIDE && j < same.last + BESIDE))
                continue;
            asked += 3;
            for (int d = -1; d < 2; d++)
                alike += has_colour(all[k], j, d, c) && has_colour(all[k], j + broad, d, c);
        }
    }
    return asked > 0 && (double)alike < rare * (double)asked;
}

/* Does the run first .. last of a side have one colour? */
static bool plain(const place *edge, int first, int last)
{
    const colour middle = edge[(first + last) / 2].outside;

    for (int i = first + (last - first) / 5; i <= last - (last - first) / 5; i++)
        if (apart(edge[i].outside, middle) > ONE_COLOUR)
            return false;
    return true;
}

/* Has what lies beside the run a rare colour too? A flower of the cloth has several. */
static bool is_motif(place all[4][PLACES], int side, int first, int last, colour usual)
{
    for (int k = 0; k < 2; k++) {
        const int beside = k == 0 ? first - 2 : last + 2;

        if (beside >= 0 && beside < PLACES && strange(&all[side][beside], usual)
            && apart(all[side][beside].outside, all[side][(first + last) / 2].outside) > ONE_COLOUR
            && strange_here(all, side, beside, beside, false, usual))
            return true;
    }
    return false;
}

/* Short, and clear of the corners, where a weight or a hand may hold the page, in several colours. */
static bool is_tab(const place edge[PLACES], int first, int last, colour usual)
{
    int covered[2] = { 0, 0 };

    for (int i = 0; i < first; i++)
        covered[0] += strange(&edge[i], usual);
    for (int i = last + 1; i < PLACES; i++)
        covered[1] += strange(&edge[i], usual);
    return last - first + 1 <= SOME_UNDER * PLACES && first > CORNER * PLACES
           && last < (1 - CORNER) * PLACES && covered[0] < MOSTLY * first
           && covered[1] < MOSTLY * (PLACES - 1 - last);
}

/* Does the page have this colour inside its edge elsewhere than at first .. last of a side? */
static bool is_papers(colour c, place all[4][PLACES], int side, int first, int last)
{
    for (int k = 0; k < 4; k++)
        for (int i = 0; i < PLACES; i++)
            if (all[k][i].seen && (k != side || i < first || i > last)
                && apart(all[k][i].inside, c) < OVER)
                return true;
    return false;
}

/*
 * Is the page another colour along the run than on either side of it, and nowhere else? A strip
 * that holds it is; a stripe of its paper is elsewhere too.
 */
static bool lies_over(place all[4][PLACES], int side, int first, int last)
{
    const place *edge = all[side];
    const colour here = edge[(first + last) / 2].inside;

    return first >= BESIDE_RUN && last < PLACES - BESIDE_RUN
           && apart(here, edge[first - BESIDE_RUN].inside) > OVER
           && apart(here, edge[last + BESIDE_RUN].inside) > OVER
           && apart(edge[first - BESIDE_RUN].inside, edge[last + BESIDE_RUN].inside) < OVER
           && !is_papers(here, all, side, first - BESIDE_RUN, last + BESIDE_RUN);
}

/* Linear light of a code, 0..1 (IEC 61966-2-1). */
static double light_of(double code)
{
    const double v = code / 255;

    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

/* The place `BESIDE_RUN` away from a run, on the side that looks more like the usual table. */
static const place *beside_run(const place *edge, int first, int last, colour usual)
{
    const place *before = &edge[first > BESIDE_RUN ? first - BESIDE_RUN : 0];
    const place *after = &edge[last + BESIDE_RUN < PLACES ? last + BESIDE_RUN : PLACES - 1];

    return apart(before->outside, usual) < apart(after->outside, usual) ? before : after;
}

/* Has the colour the same light more in all channels than the one without? On grey, which does not
   tell, only when `grey_too`. */
static bool adds_light(colour with, colour without, bool grey_too)
{
    double least = INFINITY;
    double most = 0;
    double darkest = INFINITY;
    double lightest = 0;

    for (int k = 0; k < 3; k++) {
        const double light = light_of(without.c[k]);
        const double added = light_of(with.c[k]) - light;

        least = fmin(least, added);
        most = fmax(most, added);
        darkest = fmin(darkest, light);
        lightest = fmax(lightest, light);
    }
    return least > FILM_ADDS && most - least < FILM_EVEN * most
           && (lightest - darkest > FILM_EVEN * most || grey_too);
}

/*
 * Is the run a clear strip that holds the page? Film mirrors a lamp: it adds the same light to all
 * three channels of whatever lies beneath, as no paper or ribbon does on a coloured table. On a
 * grey one they may, and there the page under the strip must be lighter too.
 */
static bool is_film(const place *edge, int first, int last, colour usual)
{
    const place *here = &edge[(first + last) / 2];
    const place *beside = beside_run(edge, first, last, usual);
    bool lighter = true;

    for (int k = 0; k < 3; k++)
        lighter = lighter && here->inside.c[k] > beside->inside.c[k] + FILM_LIGHTER;
    return adds_light(here->outside, beside->outside, lighter)
           || adds_light(here->outside, usual, lighter);
}

/*
 * Long, and of a bold colour of its own; the page is seen all along it, by its edge or its paper's
 * colours, which neither a weight nor a hand on the page leaves to be seen.
 */
static bool is_letter(place all[4][PLACES], int side, int first, int last, colour usual)
{
    const place *edge = all[side];
    int seen = 0;

    if (last - first + 1 < SOME_UNDER * PLACES || last - first + 1 > MOST_UNDER * PLACES
        || apart(edge[(first + last) / 2].outside, usual) < LETTER_STRANGE)
        return false;
    for (int i = first; i <= last; i++)
        seen += edge[i].step >= LEAST_STEP || is_papers(edge[i].inside, all, side, first, last);
    return seen >= MOSTLY * (last - first + 1);
}

/* Beside the page a letter lies in its shadow, further out in the light. */
static bool another_paper(colour c, const place *p, const void *unused)
{
    return another_colour(c, p, unused) && apart_in_shade(p->outside, c) > LEAST_STRANGE;
}

/*
 * How far a letter reaches, mm; 0 for what is long and as wide all along: a ruler that touches the
 * page lies parallel to its edge.
 */
static double letter_reach(const sl_image *shot, const place *edge, int first, int last,
                           colour usual)
{
    double least = INFINITY;
    double most = 0;

    for (int k = 1; k <= 3; k++) {
        const place *p = &edge[first + (last - first) * k / 4];
        double mm = reach(shot, p, back_to_usual, &usual);

        /* beside the page the table lies in its shadow, and may never be as dark again */
        if (mm >= FARTHEST - 1)
            mm = reach(shot, p, another_paper, NULL);
        least = fmin(least, mm);
        most = fmax(most, mm);
    }
    return most - least > PARALLEL || last - first + 1 < RULER * PLACES ? most : 0;
}

/* The next stretch of one strange colour along a side, from place `from` on; false: there is none. */
static bool next_run(run *out, const place edge[PLACES], int from, colour usual)
{
    while (from < PLACES && !strange(&edge[from], usual))
        from++;
    *out = (run){ from, from };
    while (out->last + 1 < PLACES && strange(&edge[out->last + 1], usual)
           && apart(edge[out->last + 1].outside, edge[from].outside) < ONE_COLOUR)
        out->last++;
    return from < PLACES;
}

/* Clear strips about the page: their colours on the table. They come in pairs, and not every end of
   one shows what it is. */
typedef struct films {
    colour seen[FILMS_MOST];
    int    count;
} films;

static void learn_films(films *out, place all[4][PLACES], colour usual)
{
    run r;

    out->count = 0;
    for (int side = 0; side < 4; side++)
        for (int from = 0; next_run(&r, all[side], from, usual); from = r.last + 1)
            if (r.last - r.first >= BESIDE_RUN / 2 && out->count < FILMS_MOST
                && is_film(all[side], r.first, r.last, usual))
                out->seen[out->count++] = all[side][(r.first + r.last) / 2].outside;
}

static bool is_among(colour c, const films *f)
{
    for (int i = 0; i < f->count; i++)
        if (apart(c, f->seen[i]) < ONE_COLOUR)
            return true;
    return false;
}

/* The thing from under one side that reaches furthest. */
static double reach_from_under(const sl_image *shot, place all[4][PLACES], int side, colour usual,
                               const films *strips, double spacing)
{
    const place *edge = all[side];
    double most = 0;
    run r;

    for (int from = 0; next_run(&r, edge, from, usual); from = r.last + 1) {
        const bool like_letter = is_letter(all, side, r.first, r.last, usual);
        const place *middle = &edge[(r.first + r.last) / 2];
        double tab;
        double letter;

        if ((r.last - r.first + 1) * spacing < LEAST_UNDER_WIDTH || !plain(edge, r.first, r.last)
            || !strange_here(all, side, r.first, r.last, like_letter, usual)
            || is_motif(all, side, r.first, r.last, usual))
            continue;
        tab = reach(shot, middle, another_colour, NULL);
        letter = letter_reach(shot, edge, r.first, r.last, usual);
        if (is_tab(edge, r.first, r.last, usual) && tab >= LEAST_UNDER
            && !lies_over(all, side, r.first, r.last) && !is_among(middle->outside, strips))
            most = fmax(most, tab);
        else if (like_letter && letter >= LETTER_UNDER)
            most = fmax(most, letter);
    }
    return most;
}

sl_status sl_figure_beyond(sl_beyond *out, const sl_image *shot, const sl_outline *outline,
                           const sl_page_map *map, sl_error *err)
{
    const double unit = map->has_size ? 1 : map->page[0] / SL_USUAL_PAGE_MM;
    struct { place edge[4][PLACES]; table table; films strips; } *all = calloc(1, sizeof *all);
    double usual[4] = { 0 };
    colour around;
    double narrowest;

    if (all == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "inspect", "out of memory");
    for (int side = 0; side < 4; side++) {
        if (outline->edge[side].cut)
            continue;
        walk_edge(all->edge[side], shot, map, side, unit);
        usual[side] = learn(&all->table, all->edge[side]);
    }
    around = usual_table(all->edge);
    narrowest = is_patterned(all->edge, around) ? PETAL : LEAST_WIDTH;
    learn_films(&all->strips, all->edge, around);
    *out = (sl_beyond){ 0, SL_TOP };
    for (int side = 0; side < 4; side++) {
        const double length = map->page[side == SL_TOP || side == SL_BOTTOM ? 0 : 1] / unit;

        if (usual[side] > 0) {
            double mm = reach_from_under(shot, all->edge, side, around, &all->strips,
                                         length / PLACES);

            if (usual[side] >= LEAST_STEP)
                mm = fmax(mm, side_reach(shot, all->edge, side, usual[side], &all->table,
                                         narrowest, length / PLACES));

            if (mm > out->mm)
                *out = (sl_beyond){ mm, (sl_side)side };
        }
    }
    free(all);
    return SL_OK;
}
