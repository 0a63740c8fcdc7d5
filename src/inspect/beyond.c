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
 * What has the table's colour is left to faint.c.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "inspect/beside.h"
#include "inspect/films.h"

enum { BESIDE_RUN = 5 };     /* places away from a run: no more of it */

static const double FARTHEST = 80;         /* mm */
static const double CORNER = 0.05;         /* of a side, where a weight or a hand may hold it */
static const double NEAR_CORNER = 0.2;     /* ... and hide the side up to there */
static const double LEAST_WIDTH = 2.5;     /* mm along the edge */
static const double PETAL = 4.5;           /* mm: on a patterned table a thing is wider */
static const double PETAL_LONG = 6;        /* mm: ... and reaches further */
static const double MOTIF = 12.5;          /* mm: no petal or check reaches further out, ... */
static const double MOTIF_WIDE = 8;        /* ... is wider ... */
static const double MOTIF_SHARE = 0.005;   /* ... and its colour makes up this much of the table, */
static const double GROUND_SHARE = 0.25;   /* ... or this much, if it is one of the table's two colours */
static const double MOTIF_ROOM = 30;       /* ... so many mm from the thing and on */
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
static const double LEAST_UNDER_WIDTH = 4; /* mm along the edge ... */
static const double UNDER_PETAL = 5.5;     /* ... on a patterned table: wider than a petal */
static const double SOME_UNDER = 0.25;     /* of the side: a ribbon, a tab */
static const double MOST_UNDER = 0.95;     /* a letter; what is longer is another sheet */
static const double MOST_DRIFTING = 0.97;  /* ... where its colour drifts */
static const double LEAST_UNDER = 6;       /* mm that it reaches */
static const double LETTER_UNDER = 10;     /* ... a letter: lower sheets reach less ... */
static const double SHORT_UNDER = 6;       /* ... and go along nearly all of the side */
static const double SHORT = 0.75;
static const double BESIDE_SHADE = 0.85;   /* of the table is left beside the page, in its shadow */
static const double OTHERS_SHADE = 0.7;    /* ... along the other sides, where one of them is lit; */
static const double JUST_LIGHT = 3;        /* then they have its hue, to so many codes */
static const double ENDS_SHARPLY = 40;     /* codes from one side to the other of where light ends not */
static const double OTHER_LIGHT = 0.2;     /* of the table's light, more or less, from side to side */
static const double OVER = 5;              /* codes */
static const double PARALLEL = 1;          /* mm that a ruler's width may seem to vary */
static const double RULER = 0.85;          /* of the side, at least */
static const double MOSTLY = 0.9;
static const double LETTER_STRANGE = 20;   /* codes from the table, and from the page */
static const double RARE = 0.03;           /* of the table has such a colour */
static const double RARE_LETTER = 0.08;    /* ... as a letter, which a mat's lines may have */
static const double ACROSS = 0.6;          /* of what two runs on opposite sides take up together */
static const double DEEPEST_SHADE = 0.45;  /* a shadow leaves this share of a colour's codes */

/* A cloth with a pattern, a mat with rules. */
static bool is_patterned(sl_place all[4][SL_PLACES], sl_tint usual)
{
    int other = 0;

    for (int i = 0; i < 4 * SL_PLACES; i++)
        other += sl_is_strange(&all[i / SL_PLACES][i % SL_PLACES], usual);
    return other > PATTERNED * 4 * SL_PLACES;
}

/* Colours of the table, from all round the page. */
typedef struct table {
    sl_tint seen[4 * SL_PLACES];
    size_t count;
} table;

/* Adds what lies outside one side's usual steps; returns the usual step, codes. */
static double learn(table *out, const sl_place edge[SL_PLACES])
{
    double step[SL_PLACES];
    size_t n = 0;
    double usual;

    for (int i = 0; i < SL_PLACES; i++)
        if (edge[i].seen)
            step[n++] = edge[i].step;
    if (n < SL_PLACES / 2)
        return 0;
    usual = sl_median_of(step, n);
    for (int i = 0; i < SL_PLACES; i++)
        if (edge[i].seen && edge[i].step > A_STEP * usual)
            out->seen[out->count++] = edge[i].outside;
    return usual;
}

/* Codes from the table's nearest colour: a patterned cloth has many. */
static double strangeness(sl_tint c, const table *t)
{
    double least = INFINITY;

    for (size_t i = 0; i < t->count; i++)
        least = fmin(least, sl_tints_apart(c, t->seen[i]));
    return least;
}

static bool crossed(const sl_place *p, double usual, const table *t)
{
    return p->seen && p->step < NO_STEP * usual
           && strangeness(p->outside, t) > fmax(LEAST_OTHER, NO_STEP * usual);
}

/* Codes from colour `c` to the table's `t`, in the light or in a shadow down to `deepest`. */
static double apart_shaded(sl_tint c, sl_tint t, double deepest)
{
    double ct = 0;
    double tt = 1e-9;
    double shade;

    for (int k = 0; k < 3; k++) {
        ct += c.c[k] * t.c[k];
        tt += t.c[k] * t.c[k];
    }
    shade = fmin(fmax(ct / tt, deepest), 1);
    return sl_tints_apart(c, (sl_tint){ { shade * t.c[0], shade * t.c[1], shade * t.c[2] } });
}

static double apart_in_shade(sl_tint c, sl_tint t)
{
    return apart_shaded(c, t, DEEPEST_SHADE);
}

/* Is the table back, where something reached out from the page? known: what is known of it */
typedef bool is_table(sl_tint c, const sl_place *p, const void *known);

static bool back_among(sl_tint c, const sl_place *p, const void *known)
{
    return strangeness(c, known) < strangeness(p->outside, known) / 2;
}

static bool back_to_usual(sl_tint c, const sl_place *p, const void *usual)
{
    (void)p;
    /* beside the page the table lies in its shadow */
    return apart_shaded(*(const sl_tint *)usual, c, BESIDE_SHADE) < LETTER_STRANGE / 2;
}

static bool another_colour(sl_tint c, const sl_place *p, const void *unused)
{
    (void)unused;
    return sl_tints_apart(c, p->outside) > 1.5 * SL_ONE_COLOUR;
}

/* How far the thing at `p` reaches, mm: to where the table is back for good. */
static double reach(const sl_image *shot, const sl_place *p, is_table *back, const void *known)
{
    double far = SL_BESIDE_NEAREST;
    int there = 0;

    for (double d = SL_BESIDE_NEAREST; d < FARTHEST && there < 4; d += SL_BESIDE_STEP) {
        sl_tint c;

        if (!sl_tint_read(&c, shot, sl_place_outward(p, d)))
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
static double run_reach(const sl_image *shot, const sl_place *edge, int first, int last,
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
static bool is_cloth(sl_place edge[4][SL_PLACES], int side, int first, int last, double spacing)
{
    enum { BESIDE = 12,      /* places about the run that its own colour may reach */
           FEW = 2 };        /* ... elsewhere, at which the page shows it too: a star, a stripe */
    const sl_place *p = &edge[side][(first + last) / 2];
    size_t paper = 0;
    size_t alike = 0;
    size_t seen = 0;

    for (int k = 0; k < 4; k++) {
        for (int i = 0; i < SL_PLACES; i++) {
            const sl_place *q = &edge[k][i];

            if (!q->seen || (k == side && i > first - BESIDE && i < last + BESIDE))
                continue;
            seen += 2;
            paper += sl_tints_apart(q->inside, p->inside) < LEAST_OTHER ? 2 : 0;
            for (int d = 0; d < 2; d++)
                alike += sl_tints_apart(q->away[d], p->outside) < LEAST_OTHER ? 1 : 0;
        }
    }
    return paper > 2 * FEW
           && (double)alike > ((last - first + 1) * spacing > LONG ? LONG_PATTERN : PATTERN)
                                  * (double)seen;
}

/*
 * Is what reaches out at this run a petal or a check of a patterned table? Its colour, out of the
 * page's shadow, is seen elsewhere then, further out than the places beside the page show.
 */
static bool is_motif_of_table(const sl_image *shot, sl_place all[4][SL_PLACES], int side, int first,
                              int last, double mm, const double spacing[4])
{
    enum { EVERY = 4, WAYS = 12 };
    const int middle = (first + last) / 2;
    const bool small = mm <= MOTIF && (last - first + 1) * spacing[side] <= MOTIF_WIDE;
    size_t seen = 0;
    size_t alike = 0;
    sl_tint c;

    if (!sl_tint_read(&c, shot, sl_place_outward(&all[side][middle], fmin(mm, MOTIF) / 2)))
        return false;
    for (int k = 0; k < 4; k++) {
        for (int i = 0; i < SL_PLACES; i += EVERY) {
            if (k == side && abs(i - middle) * spacing[k] < MOTIF_ROOM)
                continue;
            for (int w = 1; w <= WAYS; w++) {
                sl_tint there;

                if (!sl_tint_read(&there, shot,
                                  sl_place_outward(&all[k][i], w * FARTHEST / WAYS)))
                    break;
                seen++;
                alike += sl_tints_apart(there, c) < LEAST_OTHER;
            }
        }
    }
    return (double)alike > (small ? MOTIF_SHARE : GROUND_SHARE) * (double)seen;
}

/*
 * Does what covers first .. last go on to a corner? A weight or a hand that holds the page there
 * hides its edge up to the corner, in more colours than one.
 */
static bool holds_corner(const sl_place edge[SL_PLACES], int first, int last, double usual)
{
    int hidden[2] = { 0, 0 };

    for (int i = 0; i < first; i++)
        hidden[0] += edge[i].step < A_STEP * usual;
    for (int i = last + 1; i < SL_PLACES; i++)
        hidden[1] += edge[i].step < A_STEP * usual;
    return (first < NEAR_CORNER * SL_PLACES && hidden[0] >= MOSTLY * first)
           || (last >= (1 - NEAR_CORNER) * SL_PLACES
               && hidden[1] >= MOSTLY * (SL_PLACES - 1 - last));
}

static sl_run longest_run(const sl_place edge[SL_PLACES], sl_tint c, sl_tint usual)
{
    enum { HOLES = 4 };
    sl_run best = { 0, -1 };
    int first = -1;
    int last = -HOLES - 1;

    for (int i = 0; i < SL_PLACES; i++) {
        const double in_shade = apart_in_shade(edge[i].outside, c);

        /* there it may lie in the page's shadow; but so may a table like it */
        if (sl_tints_apart(edge[i].outside, c) >= SL_ONE_COLOUR
            && (in_shade >= SL_LEAST_STRANGE || in_shade > apart_in_shade(edge[i].outside, usual)))
            continue;
        if (first < 0 || i - last > HOLES)
            first = i;
        last = i;
        if (last - first > best.last - best.first)
            best = (sl_run){ first, last };
    }
    return best;
}

/* Has the table the colour c at place j of a side: just outside (d < 0) or at an away[d]? */
static bool has_colour(const sl_place edge[SL_PLACES], int j, int d, sl_tint c)
{
    return apart_in_shade(c, d < 0 ? edge[j].outside : edge[j].away[d]) < SL_LEAST_STRANGE;
}

/* Does the opposite side's run lie just across from first .. last? Sides run round the page. */
static bool is_across(sl_run r, int first, int last)
{
    const sl_run mirrored = { SL_PLACES - 1 - r.last, SL_PLACES - 1 - r.first };
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
static bool strange_here(sl_place all[4][SL_PLACES], int side, int first, int last, bool letter,
                         sl_tint usual)
{
    enum { EVERY = 3, BESIDE = 12, SHARE = 8 };
    const double rare = letter ? RARE_LETTER : RARE;
    const int broad = letter ? (last - first + 1) / SHARE : 0;
    const sl_tint c = all[side][(first + last) / 2].outside;
    size_t asked = 0;
    size_t alike = 0;

    for (int k = 0; k < 4; k++) {
        sl_run same = { first, last };

        if (k != side)
            same = longest_run(all[k], c, usual);
        if (k == (side + 2) % 4 && !(letter && is_across(same, first, last)))
            same = (sl_run){ SL_PLACES + BESIDE, SL_PLACES + BESIDE };
        for (int j = 0; j < SL_PLACES - broad; j += EVERY) {
            const sl_place *q = &all[k][j];

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
static bool plain(const sl_place *edge, int first, int last)
{
    const sl_tint middle = edge[(first + last) / 2].outside;

    for (int i = first + (last - first) / 5; i <= last - (last - first) / 5; i++)
        if (sl_tints_apart(edge[i].outside, middle) > SL_ONE_COLOUR)
            return false;
    return true;
}

/* Has what lies beside the run a rare colour too? A flower of the cloth has several. */
static bool is_motif(sl_place all[4][SL_PLACES], int side, int first, int last, sl_tint usual)
{
    for (int k = 0; k < 2; k++) {
        const int beside = k == 0 ? first - 2 : last + 2;

        if (beside >= 0 && beside < SL_PLACES && sl_is_strange(&all[side][beside], usual)
            && sl_tints_apart(all[side][beside].outside, all[side][(first + last) / 2].outside)
                   > SL_ONE_COLOUR
            && strange_here(all, side, beside, beside, false, usual))
            return true;
    }
    return false;
}

/* Does something lie beside the page here that is not the table, a little more or less lit? */
static bool is_covered(const sl_place *p, sl_tint usual)
{
    const sl_tint c = p->outside;
    const double light = (c.c[0] + c.c[1] + c.c[2] + 1) / (usual.c[0] + usual.c[1] + usual.c[2] + 1);
    sl_tint lit;

    for (int k = 0; k < 3; k++)
        lit.c[k] = light * usual.c[k];
    return sl_is_strange(p, usual)
           && !(fabs(light - 1) < OTHER_LIGHT && sl_tints_apart(c, lit) < JUST_LIGHT);
}

/* Short, and clear of the corners, where a weight or a hand may hold the page, in many colours. */
static bool is_tab(const sl_place edge[SL_PLACES], int first, int last, sl_tint usual)
{
    int covered[2] = { 0, 0 };

    for (int i = 0; i < first; i++)
        covered[0] += is_covered(&edge[i], usual);
    for (int i = last + 1; i < SL_PLACES; i++)
        covered[1] += is_covered(&edge[i], usual);
    return last - first + 1 <= SOME_UNDER * SL_PLACES && first > CORNER * SL_PLACES
           && last < (1 - CORNER) * SL_PLACES && covered[0] < MOSTLY * first
           && covered[1] < MOSTLY * (SL_PLACES - 1 - last);
}

/* Does the page have this colour inside its edge elsewhere than at first .. last of a side? */
static bool is_papers(sl_tint c, sl_place all[4][SL_PLACES], int side, int first, int last)
{
    for (int k = 0; k < 4; k++)
        for (int i = 0; i < SL_PLACES; i++)
            if (all[k][i].seen && (k != side || i < first || i > last)
                && sl_tints_apart(all[k][i].inside, c) < OVER)
                return true;
    return false;
}

/*
 * Is the page another colour along the run than on either side of it, and nowhere else? A strip
 * that holds it is; a stripe of its paper is elsewhere too.
 */
static bool lies_over(sl_place all[4][SL_PLACES], int side, int first, int last)
{
    const sl_place *edge = all[side];
    const sl_tint here = edge[(first + last) / 2].inside;

    return first >= BESIDE_RUN && last < SL_PLACES - BESIDE_RUN
           && sl_tints_apart(here, edge[first - BESIDE_RUN].inside) > OVER
           && sl_tints_apart(here, edge[last + BESIDE_RUN].inside) > OVER
           && sl_tints_apart(edge[first - BESIDE_RUN].inside, edge[last + BESIDE_RUN].inside) < OVER
           && !is_papers(here, all, side, first - BESIDE_RUN, last + BESIDE_RUN);
}

/* Share of a side along which a thing goes on from first .. last while its colour drifts, as a
   facing page's does toward the gutter. */
static double drifts_along(const sl_place edge[SL_PLACES], int first, int last, sl_tint usual)
{
    while (first > 0 && sl_is_strange(&edge[first - 1], usual)
           && sl_tints_apart(edge[first - 1].outside, edge[first].outside) < SL_ONE_COLOUR / 2)
        first--;
    while (last + 1 < SL_PLACES && sl_is_strange(&edge[last + 1], usual)
           && sl_tints_apart(edge[last + 1].outside, edge[last].outside) < SL_ONE_COLOUR / 2)
        last++;
    return (double)(last - first + 1) / SL_PLACES;
}

/*
 * Does what lies beyond a run end in a step, as a sheet does and more light on the table does not?
 * Light fades: so it is told where the means of a few mm on either side differ most.
 */
static bool ends_sharply(const sl_image *shot, const sl_place *edge, int first, int last)
{
    enum { WAYS = 9, HALF = 6, STEPS = 160 };
    int sharp = 0;

    for (int k = 1; k <= WAYS; k++) {
        const sl_place *p = &edge[first + (last - first) * k / (WAYS + 1)];
        double light[STEPS];
        double most = 0;
        int n = 0;
        sl_tint c;

        while (n < STEPS
               && sl_tint_read(&c, shot,
                               sl_place_outward(p, SL_BESIDE_NEAREST + n * SL_BESIDE_STEP)))
            light[n++] = (c.c[0] + c.c[1] + c.c[2]) / 3;
        for (int i = HALF; i + HALF <= n; i++) {
            double step = 0;

            for (int j = 0; j < HALF; j++)
                step += (light[i - 1 - j] - light[i + j]) / HALF;
            most = fmax(most, step);
        }
        sharp += most > ENDS_SHARPLY;
    }
    return 2 * sharp > WAYS;
}

/*
 * Long, and of a bold colour of its own; the page is seen all along it, by its edge or its paper's
 * colours, which neither a weight nor a hand on the page leaves to be seen.
 */
static bool is_letter(const sl_image *shot, sl_place all[4][SL_PLACES], int side, int first,
                      int last, sl_tint usual)
{
    const sl_place *edge = all[side];
    int seen = 0;

    if (last - first + 1 < SOME_UNDER * SL_PLACES
        || last - first + 1 > MOST_UNDER * SL_PLACES
        || drifts_along(edge, first, last, usual) > MOST_DRIFTING
        || sl_tints_apart(edge[(first + last) / 2].outside, usual) < LETTER_STRANGE
        || (apart_shaded(usual, edge[(first + last) / 2].outside, OTHERS_SHADE) < JUST_LIGHT
            && !ends_sharply(shot, edge, first, last)))
        return false;
    for (int i = first; i <= last; i++)
        seen += edge[i].step >= LEAST_STEP || is_papers(edge[i].inside, all, side, first, last);
    return seen >= MOSTLY * (last - first + 1);
}

/* Beside the page a letter lies in its shadow, further out in the light. */
static bool another_paper(sl_tint c, const sl_place *p, const void *unused)
{
    return another_colour(c, p, unused) && apart_in_shade(p->outside, c) > SL_LEAST_STRANGE;
}

/* Has what lies beyond a run its colour, in shadow or light, for most of `mm`? A target's patches
   have other ones than the frame about them. */
static bool is_one_paper(const sl_image *shot, const sl_place *edge, int first, int last,
                         double mm)
{
    enum { WAYS = 10 };
    int alike = 0;
    int all = 0;

    for (int k = 1; k < WAYS; k++) {
        const sl_place *p = &edge[first + (last - first) * k / WAYS];
        sl_tint c;

        for (double d = SL_BESIDE_NEAREST; d < mm; d += SL_BESIDE_STEP) {
            if (!sl_tint_read(&c, shot, sl_place_outward(p, d)))
                break;
            alike += apart_shaded(p->outside, c, OTHERS_SHADE) < SL_LEAST_STRANGE;
            all++;
        }
    }
    return 2 * alike >= all;
}

/*
 * How far a letter reaches, mm; 0 for what is long and as wide all along: a ruler that touches the
 * page lies parallel to its edge; and for what has several colours, as a colour target.
 */
static double letter_reach(const sl_image *shot, const sl_place *edge, int first, int last,
                           sl_tint usual)
{
    double least = INFINITY;
    double most = 0;

    for (int k = 1; k <= 3; k++) {
        const sl_place *p = &edge[first + (last - first) * k / 4];
        double mm = reach(shot, p, back_to_usual, &usual);

        /* beside the page the table lies in its shadow, and may never be as dark again */
        if (mm >= FARTHEST - 1)
            mm = reach(shot, p, another_paper, NULL);
        least = fmin(least, mm);
        most = fmax(most, mm);
    }
    if (!is_one_paper(shot, edge, first, last, least))
        return 0;
    return most - least > PARALLEL || last - first + 1 < RULER * SL_PLACES ? most : 0;
}

/* The thing across one side that reaches furthest, `spacing` mm from place to place of each
   side. */
static double side_reach(const sl_image *shot, sl_place all[4][SL_PLACES], int side, double usual,
                         const table *t, sl_tint around, const sl_films *strips, bool patterned,
                         const double spacing[4])
{
    const sl_place *edge = all[side];
    enum { GAP = 2 };        /* places without a crossing that a run may hold */
    const double narrowest = patterned ? PETAL : LEAST_WIDTH;
    double most = 0;
    int first = -1;
    int last = -1;

    for (int i = 0; i <= SL_PLACES; i++) {
        if (i < SL_PLACES && crossed(&edge[i], usual, t)) {
            first = first < 0 ? i : first;
            last = i;
        } else if (first >= 0 && (i == SL_PLACES || i - last > GAP)) {
            if ((last - first + 1) * spacing[side] >= narrowest
                && last - first + 1 <= MOST_WIDTH * SL_PLACES && first > CORNER * SL_PLACES
                && last < (1 - CORNER) * SL_PLACES && !is_cloth(all, side, first, last, spacing[side])
                && !holds_corner(edge, first, last, usual)
                && !(sl_is_films(edge[(first + last) / 2].outside, strips, around)
                     && sl_page_is_veiled(edge, first, last, around))) {
                const double mm = run_reach(shot, edge, first, last, t);

                if (!(patterned
                      && (mm < PETAL_LONG
                          || is_motif_of_table(shot, all, side, first, last, mm, spacing))))
                    most = fmax(most, mm);
            }
            first = -1;
        }
    }
    return most;
}

/* The thing from under one side that reaches furthest. */
static double reach_from_under(const sl_image *shot, sl_place all[4][SL_PLACES], int side,
                               sl_tint usual, const sl_films *strips, bool patterned,
                               const double spacing[4])
{
    const sl_place *edge = all[side];
    const double narrowest = patterned ? UNDER_PETAL : LEAST_UNDER_WIDTH;
    double most = 0;
    sl_run r;

    for (int from = 0; sl_next_run(&r, edge, from, usual); from = r.last + 1) {
        const bool like_letter = is_letter(shot, all, side, r.first, r.last, usual);
        const sl_place *middle = &edge[(r.first + r.last) / 2];
        double tab;
        double letter;

        if ((r.last - r.first + 1) * spacing[side] < narrowest || !plain(edge, r.first, r.last)
            || !strange_here(all, side, r.first, r.last, like_letter, usual)
            || (!like_letter && is_motif(all, side, r.first, r.last, usual)))
            continue;
        tab = reach(shot, middle, another_colour, NULL);
        letter = letter_reach(shot, edge, r.first, r.last, usual);
        if (is_tab(edge, r.first, r.last, usual) && tab >= LEAST_UNDER
            && !lies_over(all, side, r.first, r.last)
            && !sl_is_films(middle->outside, strips, usual)
            && !(patterned
                 && is_motif_of_table(shot, all, side, r.first, r.last, tab, spacing)))
            most = fmax(most, tab);
        else if (like_letter
                 && letter >= (r.last - r.first < SHORT * SL_PLACES ? SHORT_UNDER : LETTER_UNDER))
            most = fmax(most, letter);
    }
    return most;
}

sl_status sl_figure_beyond(sl_beyond *out, const sl_image *shot, const sl_outline *outline,
                           const sl_page_map *map, sl_error *err)
{
    const double unit = map->has_size ? 1 : map->page[0] / SL_USUAL_PAGE_MM;
    struct {
        sl_place edge[4][SL_PLACES];
        table    table;
        sl_films strips;
    } *all = calloc(1, sizeof *all);
    double usual[4] = { 0 };     /* codes from page to table; 0: nothing of that side is seen */
    double spacing[4];
    bool look[4];
    sl_tint around;
    bool patterned;

    if (all == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "inspect", "out of memory");
    for (int side = 0; side < 4; side++) {
        spacing[side] = map->page[side == SL_TOP || side == SL_BOTTOM ? 0 : 1] / unit / SL_PLACES;
        if (!outline->edge[side].cut) {
            sl_walk_edge(all->edge[side], shot, map, side, unit);
            usual[side] = learn(&all->table, all->edge[side]);
        }
        look[side] = usual[side] > 0;
    }
    around = sl_usual_table(all->edge);
    patterned = is_patterned(all->edge, around);
    sl_films_learn(&all->strips, all->edge, around);
    *out = (sl_beyond){ 0, SL_TOP };
    for (int side = 0; side < 4; side++) {
        double mm = 0;

        if (look[side])
            mm = reach_from_under(shot, all->edge, side, around, &all->strips, patterned, spacing);
        if (usual[side] >= LEAST_STEP)
            mm = fmax(mm, side_reach(shot, all->edge, side, usual[side], &all->table, around,
                                     &all->strips, patterned, spacing));
        if (mm > out->mm)
            *out = (sl_beyond){ mm, (sl_side)side };
    }
    if (out->mm == 0)
        out->mm = sl_faint_reach(&out->side, shot, all->edge, look, spacing);
    free(all);
    return SL_OK;
}
