/*
 * Film lets most of the light through, and mirrors some of the lamp's: what lies beneath has all
 * three channels a little darker, in proportion, and the same light more. No paper does that to the
 * table and to the page.
 */
#include "inspect/films.h"

enum { BESIDE_RUN = 5,       /* places away from a run: no more of it ... */
       ABOUT_RUN = 30 };     /* ... and about it still */

static const double LIGHTER = 3;           /* codes */
static const double ADDS = 0.02;           /* linear light, at least, of a lamp that is mirrored ... */
static const double EVEN = 0.18;           /* ... in all channels, but for this share */
static const double VEIL_SEEN = 4;         /* codes */
static const double VEIL_ADDS = 0.006;     /* linear light: what film mirrors without a lamp ... */
static const double VEIL_EVEN = 0.012;     /* ... in all channels, but for this */
static const double PASSES = 0.85;         /* of the light beneath, at least; two faces mirror .1 */
static const double STEP = 0.03;           /* ... tried at such steps */

/* Linear light of a code, 0..1 (IEC 61966-2-1). */
static double light_of(double code)
{
    const double v = code / 255;

    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

/* Least and most light that a colour has, of its channels, over a share of another's. */
typedef struct added {
    double least;
    double most;
} added;

static added added_to(sl_tint with, sl_tint without, double passes)
{
    added a = { INFINITY, -INFINITY };

    for (int k = 0; k < 3; k++) {
        const double light = light_of(with.c[k]) - passes * light_of(without.c[k]);

        a.least = fmin(a.least, light);
        a.most = fmax(a.most, light);
    }
    return a;
}

bool sl_is_veiled(sl_tint with, sl_tint without)
{
    bool changed = false;

    for (int k = 0; k < 3; k++)
        changed = changed || fabs(with.c[k] - without.c[k]) > VEIL_SEEN;
    for (double passes = 1; passes > PASSES - STEP / 2 && changed; passes -= STEP) {
        const added a = added_to(with, without, passes);

        if (a.least > VEIL_ADDS && a.most - a.least < VEIL_EVEN)
            return true;
    }
    return false;
}

bool sl_adds_light(sl_tint with, sl_tint without, bool grey_too)
{
    static const sl_tint black = { { 0, 0, 0 } };
    const added light = added_to(without, black, 1);

    if (!(added_to(with, without, 1).least > ADDS))
        return false;
    for (double passes = 1; passes > PASSES - STEP / 2; passes -= STEP) {
        const added a = added_to(with, without, passes);

        if (a.most - a.least < EVEN * a.most
            && (light.most - light.least > EVEN * a.most || grey_too))
            return true;
    }
    return false;
}

/* The place `BESIDE_RUN` away from a run, on the side that looks more like the usual table. */
static const sl_place *beside_run(const sl_place *edge, int first, int last, sl_tint usual)
{
    const sl_place *before = &edge[first > BESIDE_RUN ? first - BESIDE_RUN : 0];
    const sl_place *after =
        &edge[last + BESIDE_RUN < SL_PLACES ? last + BESIDE_RUN : SL_PLACES - 1];

    return sl_tints_apart(before->outside, usual) < sl_tints_apart(after->outside, usual) ? before
                                                                                          : after;
}

/* The lightest paper inside places first .. last, by its darkest channel. */
static sl_tint lightest_paper(const sl_place *edge, int first, int last)
{
    sl_tint best = { { 0, 0, 0 } };

    for (int i = first < 0 ? 0 : first; i <= last && i < SL_PLACES; i++) {
        const double *c = edge[i].inside.c;

        if (edge[i].seen
            && fmin(c[0], fmin(c[1], c[2])) > fmin(best.c[0], fmin(best.c[1], best.c[2])))
            best = edge[i].inside;
    }
    return best;
}

static bool is_lighter(sl_tint c, sl_tint than)
{
    return c.c[0] > than.c[0] + LIGHTER && c.c[1] > than.c[1] + LIGHTER
           && c.c[2] > than.c[2] + LIGHTER;
}

/* Of a patterned page the lightest is compared. */
bool sl_page_is_veiled(const sl_place edge[SL_PLACES], int first, int last, sl_tint usual)
{
    const sl_place *beside = beside_run(edge, first, last, usual);
    const sl_tint here = lightest_paper(edge, first, last);

    return is_lighter(edge[(first + last) / 2].inside, beside->inside)
           || sl_is_veiled(edge[(first + last) / 2].inside, beside->inside)
           || (is_lighter(here, lightest_paper(edge, first - ABOUT_RUN, first - BESIDE_RUN))
               && is_lighter(here, lightest_paper(edge, last + BESIDE_RUN, last + ABOUT_RUN)));
}

/*
 * Is the run a clear strip that holds the page? Film mirrors a lamp: it adds the same light to all
 * three channels of whatever lies beneath, as no paper or ribbon does on a coloured table. On a
 * grey one they may, and there the page under the strip must be lighter too.
 */
static bool is_film(const sl_place *edge, int first, int last, sl_tint usual)
{
    const sl_tint here = edge[(first + last) / 2].outside;
    const sl_place *beside = beside_run(edge, first, last, usual);
    const bool lighter = sl_page_is_veiled(edge, first, last, usual);

    return sl_adds_light(here, beside->outside, lighter) || sl_adds_light(here, usual, lighter);
}

void sl_films_learn(sl_films *out, sl_place all[4][SL_PLACES], sl_tint usual)
{
    sl_run r;

    out->count = 0;
    for (int side = 0; side < 4; side++)
        for (int from = 0; sl_next_run(&r, all[side], from, usual); from = r.last + 1)
            if (r.last - r.first >= BESIDE_RUN / 2 && out->count < SL_FILMS_MOST
                && is_film(all[side], r.first, r.last, usual))
                out->seen[out->count++] = all[side][(r.first + r.last) / 2].outside;
}

bool sl_is_films(sl_tint c, const sl_films *f, sl_tint usual)
{
    for (int i = 0; i < f->count; i++)
        if (sl_tints_apart(c, f->seen[i]) < SL_ONE_COLOUR)
            return true;
    return f->count > 0 && sl_adds_light(c, usual, true);
}
