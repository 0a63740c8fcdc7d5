/*
 * A ribbon of the table's own colour. Where it lies the table's lines are interrupted, and its own
 * colour differs by a few codes, as evenly as nothing else does beside the page: over some mm of
 * depth that is many times the table's noise. Stone, wood and cloth have such places everywhere;
 * there nothing is told.
 */
#include "inspect/films.h"

#include <stdlib.h>
#include <string.h>

enum { ROWS = 70 };          /* of px, a mm apart, from 1 mm on */

/* Rows whose median is a place's colour: past the page's shadow, and rid of a mat's lines. */
enum { FIRST_ROW = 2, END_ROW = 12 };

enum { ABOUT = 40,           /* places to either side whose median is the table's colour there */
       EVERY = 8,            /* ... which is asked for so often */
       FLECK = 4,            /* places that differ: wider than a line, and stone has many */
       FLANK = 3,            /* places off the strip: past its sides' blur ... */
       FLANK_END = 10 };     /* ... and as far as the table is looked at */

static const double EVEN = 2.0;            /* codes by which half of the table differs, at most */
static const double OVER = 4;              /* times that: a strip */
static const double EVEN_STRIP = 14;       /* codes: a weave, no flecks */
static const double LEAST = 6;             /* codes, at least */
static const double NARROWEST = 6;         /* mm along the side */
static const double WIDEST = 45;
static const double CORNER = 0.05;         /* of a side, where a weight or a hand may hold it */
static const double SHARP = 0.5;           /* of OVER: the table is back at its flanks */
static const double GOES_ON = 0.6;         /* of the strip's difference at the page */
static const double LEAST_REACH = 8;       /* mm */

typedef struct side {
    float   code[SL_PLACES][ROWS][3];
    bool    seen[SL_PLACES][ROWS];
    sl_tint tint[SL_PLACES];               /* of the strip of table beside a place */
    bool    known[SL_PLACES];
    double  differs[SL_PLACES];            /* codes from the table about it */
    double  least;                         /* codes that a strip differs */
} side;

/* Median colour of some places' rows; false when too few lie in the picture. */
static bool box_tint(sl_tint *out, const side *s, int first, int last, int row, int end)
{
    double value[(2 * ABOUT + 1) * (END_ROW - FIRST_ROW)];
    size_t n = 0;

    for (int c = 0; c < 3; c++) {
        n = 0;
        for (int i = first; i <= last; i++)
            for (int k = row; k < end; k++)
                if (i >= 0 && i < SL_PLACES && s->seen[i][k] && n < sizeof value / sizeof *value)
                    value[n++] = (double)s->code[i][k][c];
        out->c[c] = sl_median_of(value, n);
    }
    return 2 * n >= (size_t)(last - first + 1) * (size_t)(end - row);
}

static void read_rows(side *s, const sl_image *shot, const sl_place edge[SL_PLACES], int row,
                      int end)
{
    for (int i = 0; i < SL_PLACES; i++) {
        for (int k = row; k < end; k++) {
            sl_tint c;

            s->seen[i][k] = sl_tint_read(&c, shot, sl_place_outward(&edge[i], 1 + k));
            for (int b = 0; b < 3 && s->seen[i][k]; b++)
                s->code[i][k][b] = (float)c.c[b];
        }
    }
}

/* The colour of the table about place i. */
static sl_tint table_about(const side *s, int i)
{
    sl_tint about;

    for (int c = 0; c < 3; c++) {
        double code[2 * ABOUT + 1];
        size_t m = 0;

        for (int j = i - ABOUT; j <= i + ABOUT; j++)
            if (j >= 0 && j < SL_PLACES && s->known[j])
                code[m++] = s->tint[j].c[c];
        about.c[c] = sl_median_of(code, m);
    }
    return about;
}

/* How much each place differs from the table about it; returns by how much half of them do. */
static double compare(side *s)
{
    double value[SL_PLACES];
    sl_tint about = { { 0, 0, 0 } };
    size_t n = 0;

    for (int i = 0; i < SL_PLACES; i++)
        s->known[i] = box_tint(&s->tint[i], s, i, i, FIRST_ROW, END_ROW);
    for (int i = 0; i < SL_PLACES; i++) {
        if (i % EVERY == 0)
            about = table_about(s, i + EVERY / 2);
        s->differs[i] = s->known[i] ? sl_tints_apart(s->tint[i], about) : 0;
        if (s->known[i])
            value[n++] = s->differs[i];
    }
    return n > SL_PLACES / 2 ? sl_median_of(value, n) : INFINITY;
}

/* The next stretch of places that differ, from `from` on; false: there is none. */
static bool next_strip(int *first, int *last, const side *s, int from)
{
    while (from < SL_PLACES && s->differs[from] < s->least)
        from++;
    *first = *last = from;
    while (*last + 1 < SL_PLACES && s->differs[*last + 1] >= s->least)
        ++*last;
    return from < SL_PLACES;
}

/* How far a strip differs from the table on both its flanks, mm. */
static double strip_reach(const side *s, int first, int last)
{
    enum { BAND = 3 };
    double far = 0;
    int back = 0;

    for (int row = 1; row + BAND < ROWS && back < BAND; row++) {
        sl_tint here;
        sl_tint before;
        sl_tint after;
        double step;

        if (!box_tint(&here, s, first + 1, last - 1, row, row + BAND)
            || !box_tint(&before, s, first - FLANK_END, first - FLANK, row, row + BAND)
            || !box_tint(&after, s, last + FLANK, last + FLANK_END, row, row + BAND))
            break;
        step = fmin(sl_tints_apart(here, before), sl_tints_apart(here, after));
        back = step > GOES_ON * s->least && sl_tints_apart(before, after) < GOES_ON * step
                   ? 0
                   : back + 1;
        if (back == 0)
            far = row + BAND;
    }
    return far;
}

/* Is the table back as it was a few places off a strip, but for a line there? */
static bool is_sharp(const side *s, int first, int last)
{
    double least[2] = { INFINITY, INFINITY };

    for (int i = FLANK - 1; i <= FLANK + 1; i++) {
        least[0] = fmin(least[0], s->differs[first - i]);
        least[1] = fmin(least[1], s->differs[last + i]);
    }
    return fmax(least[0], least[1]) < SHARP * s->least;
}

/* Codes of green that the middle half of a strip's px spreads over, beside the page. */
static double spread_of(const side *s, int first, int last)
{
    double value[SL_PLACES * (END_ROW - FIRST_ROW)];
    size_t n = 0;

    for (int i = first; i <= last; i++)
        for (int k = FIRST_ROW; k < END_ROW; k++)
            if (s->seen[i][k])
                value[n++] = (double)s->code[i][k][1];
    (void)sl_median_of(value, n);  /* sorts them */
    return n > 0 ? value[3 * n / 4] - value[n / 4] : 0;
}

/* Does a strip lie clear of the corners, even, sharp at its flanks, and is no clear film? */
static bool is_ribbon(const side *s, int first, int last)
{
    sl_tint flank;

    return first > CORNER * SL_PLACES && last < (1 - CORNER) * SL_PLACES
           && is_sharp(s, first, last) && spread_of(s, first + 1, last - 1) < EVEN_STRIP
           && box_tint(&flank, s, first - FLANK_END, first - FLANK, FIRST_ROW, END_ROW)
           && !sl_adds_light(s->tint[(first + last) / 2], flank, true)
           && !sl_is_veiled(s->tint[(first + last) / 2], flank);
}

double sl_faint_reach(sl_side *where, const sl_image *shot, sl_place all[4][SL_PLACES],
                      const bool look[4], const double spacing[4])
{
    side *s = malloc(sizeof *s);
    double most = 0;
    int strips[4] = { 0, 0, 0, 0 };

    /* without memory nothing is told */
    for (int k = 0; k < 4 && s != NULL; k++) {
        int first;
        int last;
        double noise;

        if (!look[k])
            continue;
        read_rows(s, shot, all[k], 0, END_ROW);
        noise = compare(s);
        s->least = fmax(LEAST, OVER * noise);
        if (noise > EVEN)
            strips[k] = 2;
        for (int from = 0; next_strip(&first, &last, s, from); from = last + 1) {
            const double wide = (last - first + 1) * spacing[k];

            strips[k] += last - first >= FLECK - 1;
            if (wide >= NARROWEST && wide <= WIDEST && last - first > 2
                && is_ribbon(s, first, last)) {
                double mm;

                read_rows(s, shot, all[k], END_ROW, ROWS);
                mm = strip_reach(s, first, last);
                if (mm >= LEAST_REACH && mm > most) {
                    most = mm;
                    *where = (sl_side)k;
                }
            }
        }
    }
    free(s);
    /* a ribbon comes out on one side or on two; what is seen more often is the table's */
    for (int k = 0; k < 4; k++)
        if (strips[k] > 1)
            return 0;
    return strips[0] + strips[1] + strips[2] + strips[3] > 2 ? 0 : most;
}
