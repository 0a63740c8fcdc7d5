/*
 * What lies on an outline, and beside it. A print on a page looks like a page on a board: the paper
 * about it tells that it lies on something, and what lies on the print itself that it is a page.
 */
#include "border/sheets.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "border/quad.h"
#include "border/sides.h"
#include "border/twin.h"

/* The sides of a sheet that something lies on are this good, and it is seen so far along each. */
static const double SHEET_QUALITY = 0.5;
static const double SHEET_QUALITY_CUT = 0.4;  /* prints that the frame cuts too hide its paper */
static const double SHEET_PAPER = 0.7;
static const double SHEET_SEEN = 0.75;
static const double SHEET_BOLD = 3;           /* times the noise */

/* A sheet on the outline, with sides this good and this share of its area, may be the page itself
   on a board. */
static const double LARGE_ON = 0.4;
static const double ON_BOARD_SIDES = 0.9;
static const double FITS_BETTER = 0.05;       /* than the board does: 1 % and more */

/* ... a poorer one when there are prints on it, and its paper is another than the board's. */
static const double PAGE_SIDES = 0.65;
static const double MOSTLY_PAPER = 0.8;       /* ... or nothing at all */
static const double BARE = 10;                /* codes */
static const double OTHER_PAPER = 3;          /* codes */
static const double OTHER_LIGHT = 0.15;       /* |ln| */
static const double WELL_INSIDE = 0.05;       /* of its size from the sides: its paper is read */

/* A print: its sides, its share of what it lies on, and what lies just outside of it. */
static const double PRINT_SIDES = 0.85;
static const double POOR_PRINT_SIDES = 0.7;
static const double PRINT_LEAST = 0.02;
static const double PRINT_BESIDE = 0.2;       /* of another that it lies beside */
static const double BORDER_MOST = 0.045;      /* a print's white border: 3 to 4 % are common */
static const double OUTSIDE = 3;              /* px of the small copy off its sides ... */
static const double IN_PAPER = 0.6;           /* ... this share is paper */

/* Another sheet beside the page has sides this good and at least this share of its area: a smaller
   one is a note or a print. */
static const double BESIDE_SIDES = 0.85;
static const double BESIDE_AS_GOOD = 0.92;    /* as the page's sides */
static const double BESIDE_AREA = 0.4;
static const double AS_LARGE = 0.52;          /* ... of one of the stated size: a note, */
static const double AS_LARGE_OFF = 0.8;       /* ... when it has other proportions */
enum { SHEETS_MOST = 8 };

/* A page that covers no more of the picture may be one of several things on a table or a page: then
   sheets are searched for elsewhere, and have these sides. */
static const double SMALL_IN_FRAME = 0.25;
static const double ELSEWHERE_SIDES = 0.6;
static const double FULL_SIDES = 0.95;

/* A page's margins: of its size from the sides, further in than a print's border; paper there. */
static const double MARGIN = 0.06;
static const double MARGIN_PAPER = 0.7;
static const double AT_FRAME = 0.004;         /* ... and of the picture's: what lies at the frame */
static const double REACHES = 0.9;
static const double CHANGES = 0.04;           /* of a plain table there are none */

/* A ring round a sheet: so far off, of its size; this share of it is one paper. The frame is looked
   at so far in, of the picture's. */
static const double RING_AWAY = 0.04;
static const double RING = 0.95;
static const double FRAME_IN = 0.01;

/* A line of which this share lies on a sheet is its own; of one on it, well inside its sides, all
   but a little. Px of the small copy about the sides. */
static const double LINE_ON_SHEET = 0.3;
static const double LINE_INSIDE = 0.95;
static const double LINE_AT = 6;

bool sl_lies_on(const sl_quad *inner, const sl_quad *outer, double most, const sl_small *small)
{
    if (inner->area > most * outer->area || !sl_quad_within(inner, outer, SL_SLACK)
        || outer->quality < (sl_quad_is_framed(outer) ? SHEET_QUALITY_CUT : SHEET_QUALITY))
        return false;
    for (int k = 0; k < 4; k++) {
        const sl_side_fit *s = &outer->side[k];

        if (s->paper < SHEET_PAPER)
            return false;
        if (!s->frame
            && (s->support < SHEET_SEEN || s->contrast < SHEET_SEEN
                || s->strength < SHEET_BOLD * small->noise))
            return false;
    }
    return sl_same_paper(inner->around, outer->colour, small->noise);
}

bool sl_lies_beside_print(const sl_quads *quads, const sl_quad *sheet)
{
    for (size_t i = 0; i < quads->count; i++)
        if (quads->quad[i].quality >= ON_BOARD_SIDES
            && quads->quad[i].area > PRINT_BESIDE * sheet->area
            && sl_quads_apart(&quads->quad[i], sheet))
            return true;
    return false;
}

const sl_quad *sl_lain_on(const sl_quads *quads, const sl_quad *chosen, const sl_small *small)
{
    for (size_t i = 0; i < quads->count; i++)
        if (sl_lies_on(chosen, &quads->quad[i], SL_PRINT_AREA, small))
            return &quads->quad[i];
    return NULL;
}

/* Share of a line's edge px that lie on a sheet, or less than `slack` px off it. */
static double share_on(const sl_line *line, const sl_quad *sheet, double slack)
{
    enum { PARTS = 32 };
    const double part = (line->end - line->start) / PARTS;
    double on = 0;
    double all = 1e-9;

    for (int i = 0; i < PARTS; i++) {
        const double t = line->start + i * part;
        const double px = sl_line_support(line, t, t + part);

        all += px;
        if (sl_quad_has_point(sheet, sl_line_point(line, t + part / 2), slack))
            on += px;
    }
    return on / all;
}

/*
 * Searches again, with the lines inside a sheet only or with those elsewhere: its own, and those of
 * what lies on it, gave most hypotheses, and crowd the others out.
 * out  to be freed
 */
static sl_status search_again(sl_quads **out, const sl_lines *lines, const sl_quad *sheet,
                              bool inside, const sl_small *small, const sl_border_params *params,
                              sl_error *err)
{
    sl_lines some = { malloc((lines->count + 1) * sizeof *some.line), 0 };
    sl_quads *const more = malloc(sizeof *more);
    sl_status st;

    for (size_t i = 0; i < lines->count && some.line != NULL; i++) {
        const sl_line *line = &lines->line[i];

        if (inside ? !line->frame && share_on(line, sheet, -LINE_AT) > LINE_INSIDE
                   : line->frame || share_on(line, sheet, LINE_AT) < LINE_ON_SHEET)
            some.line[some.count++] = *line;
    }
    st = more != NULL && some.line != NULL
             ? sl_quads_find(more, small, &some, params, err)
             : sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    free(some.line);
    if (st == SL_OK)
        *out = more;
    else
        free(more);
    return st;
}

/* May a sheet on the chosen one be the page, by itself? */
static bool is_large_on(const sl_quad *q, const sl_quad *chosen, const sl_small *small, bool stated)
{
    /* a patterned paper is not one colour inside its sides: the proportions make up for it */
    bool on = q->quality >= (stated ? SL_GOOD_SIDES : ON_BOARD_SIDES)
              && q->area >= LARGE_ON * chosen->area
              && (!stated || q->misfit + FITS_BETTER < chosen->misfit)
              && sl_quad_within(q, chosen, -SL_SLACK)
              && sl_same_paper(q->around, chosen->colour, small->noise);

    /* a frame printed on the page has the same paper on both sides: no step */
    for (int k = 0; k < 4 && on; k++)
        on = q->side[k].solid >= ON_BOARD_SIDES && q->side[k].support >= ON_BOARD_SIDES;
    return on;
}

/* The place on a sheet so far along a side and so far from it, shares of the whole. */
static sl_point place_on(const sl_quad *q, int side, double along, double from)
{
    const sl_point a = q->corner[side];
    const sl_point b = q->corner[(side + 1) % 4];
    const sl_point c = q->corner[(side + 2) % 4];
    const sl_point d = q->corner[(side + 3) % 4];
    const double near[2] = { a.x + along * (b.x - a.x), a.y + along * (b.y - a.y) };
    const double far[2] = { d.x + along * (c.x - d.x), d.y + along * (c.y - d.y) };

    return (sl_point){ near[0] + from * (far[0] - near[0]), near[1] + from * (far[1] - near[1]) };
}

bool sl_has_other_paper(const sl_quad *q, const sl_quad *outer, const sl_small *small)
{
    enum { PLACES = 24 };
    float colour[4 * PLACES][3];
    float channel[4 * PLACES];
    float paper[3];
    float light;

    for (int i = 0; i < 4 * PLACES; i++)
        sl_small_colour(colour[i], small, place_on(q, i % 4, (i / 4 + 0.5) / PLACES, WELL_INSIDE));
    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < 4 * PLACES; i++)
            channel[i] = colour[i][c];
        paper[c] = sl_median_code(channel, 4 * PLACES);
    }
    light = (outer->colour[0] + outer->colour[1] + outer->colour[2] + 1)
            / (paper[0] + paper[1] + paper[2] + 1);
    for (int c = 0; c < 3; c++)
        paper[c] *= light;
    return fabs(log(light)) > OTHER_LIGHT
           || sl_colour_distance(paper, outer->colour) > OTHER_PAPER + small->noise;
}

/* ... or if there are prints on it, as on a page? */
static bool may_hold_prints(const sl_quad *q, const sl_quad *chosen, const sl_small *small,
                            bool stated)
{
    bool on = q->quality >= SL_GOOD_SIDES && q->area >= LARGE_ON * chosen->area
              && q->area <= SL_LARGE_PRINT * chosen->area && (!stated || q->misfit < SL_FITS)
              && sl_quad_within(q, chosen, -1)
              && sl_same_paper(q->around, chosen->colour, small->noise)
              && sl_has_other_paper(q, chosen, small);
    double solid = 0;        /* on the whole: a pattern's parts may look like what lies outside */

    for (int k = 0; k < 4; k++)
        solid += q->side[k].solid / 4;
    for (int k = 0; k < 4 && on; k++)
        on = q->side[k].contrast >= PAGE_SIDES && q->side[k].support >= PAGE_SIDES;
    return on && solid >= PAGE_SIDES;
}

/* Is most of what lies just outside each side the sheet's paper? Not so of a part of a picture. */
static bool lies_in_paper(const sl_quad *q, const sl_quad *sheet, const sl_small *small)
{
    enum { PLACES = 16 };
    const double away = OUTSIDE / sqrt(q->area * (double)(small->width * small->height));

    for (int k = 0; k < 4; k++) {
        int paper = 0;

        for (int i = 0; i < PLACES; i++) {
            float colour[3];

            sl_small_colour(colour, small, place_on(q, k, (i + 0.5) / PLACES, -away));
            paper += sl_same_paper(colour, sheet->colour, small->noise);
        }
        if (paper < IN_PAPER * PLACES)
            return false;
    }
    return true;
}

bool sl_has_margins(const sl_quad *sheet, const sl_small *small)
{
    enum { PLACES = 24 };
    int paper = 0;

    for (int i = 0; i < 4 * PLACES; i++) {
        float colour[3];

        sl_small_colour(colour, small, place_on(sheet, i % 4, (i / 4 + 0.5) / PLACES, MARGIN));
        paper += sl_same_paper(colour, sheet->colour, small->noise);
    }
    return paper > MARGIN_PAPER * 4 * PLACES;
}

bool sl_lies_in_ring(const sl_quad *sheet, const sl_small *small)
{
    enum { PLACES = 24 };
    const double right = (double)small->width - 1;
    const double low = (double)small->height - 1;
    const sl_quad frame = { .corner = { { 0, 0 }, { right, 0 }, { right, low }, { 0, low } } };
    int like = 0;

    for (int i = 0; i < 4 * PLACES; i++) {
        float colour[3];

        sl_small_colour(colour, small, place_on(sheet, i / PLACES, (i % PLACES + 0.5) / PLACES,
                                                -RING_AWAY));
        like += sl_same_paper(colour, sheet->around, small->noise);
    }
    if (like < RING * 4 * PLACES)
        return false;
    for (int i = 0; i < 4 * PLACES; i++) {
        float colour[3];

        sl_small_colour(colour, small, place_on(&frame, i / PLACES, (i % PLACES + 0.5) / PLACES,
                                                FRAME_IN));
        if (sl_same_paper(colour, sheet->around, small->noise))
            return false;
    }
    return true;
}

bool sl_pattern_reaches_frame(const sl_quad *sheet, const sl_small *small)
{
    enum { PLACES = 24, DEPTHS = 3 };
    const double right = (double)small->width - 1;
    const double low = (double)small->height - 1;
    const sl_quad frame = { .corner = { { 0, 0 }, { right, 0 }, { right, low }, { 0, low } } };
    float inside[4 * PLACES * DEPTHS][3];
    float before[3] = { 0 };
    int like = 0;
    int changes = 0;         /* of colour, along the frame */

    for (int i = 0; i < 4 * PLACES * DEPTHS; i++)
        sl_small_colour(inside[i], small,
                        place_on(sheet, i % 4, (i / 4 % PLACES + 0.5) / PLACES,
                                 MARGIN * (i / (4 * PLACES) + 1) / DEPTHS));
    for (int i = 0; i < 4 * PLACES; i++) {
        float colour[3];
        bool known = false;

        sl_small_colour(colour, small, place_on(&frame, i / PLACES, (i % PLACES + 0.5) / PLACES,
                                                AT_FRAME));
        for (int k = 0; k < 4 * PLACES * DEPTHS && !known; k++)
            known = sl_same_paper(colour, inside[k], small->noise);
        like += known;
        changes += i > 0 && !sl_same_paper(colour, before, small->noise);
        memcpy(before, colour, sizeof before);
    }
    return like > REACHES * 4 * PLACES && changes > CHANGES * 4 * PLACES;
}

/* Is there a print among the hypotheses within a sheet, with the sheet's paper all about it? */
static bool is_print_within(const sl_quads *within, const sl_quad *sheet, double sides,
                            const sl_small *small)
{
    const double size = sqrt(sheet->area * (double)(small->width * small->height));

    for (size_t i = 0; i < within->count; i++) {
        const sl_quad *q = &within->quad[i];
        int near = 0;

        /* the picture on a print with a white border, or a half of that, is none */
        for (int k = 0; k < 4; k++)
            near += !sl_quad_has_point(sheet, q->corner[k], -BORDER_MOST * size);
        if (q->quality >= sides && q->area > PRINT_LEAST * sheet->area
            && q->area < SL_PRINT_AREA * sheet->area && near < 2 && lies_in_paper(q, sheet, small))
            return true;
    }
    return false;
}

/* Does a sheet's own paper show on most of it, as on a page that is bare? Not so on a picture. */
static bool is_mostly_paper(const sl_quad *q, const sl_small *small)
{
    enum { PLACES = 12 };
    int paper = 0;

    for (int i = 0; i < PLACES * PLACES; i++) {
        float colour[3];

        sl_small_colour(colour, small,
                        place_on(q, 0, (i % PLACES + 0.5) / PLACES, (i / PLACES + 0.5) / PLACES));
        paper += sl_colour_distance(colour, q->colour) < BARE + small->noise;
    }
    return paper > MOSTLY_PAPER * PLACES * PLACES;
}

bool sl_has_print_on(const sl_quad *sheet, const sl_lines *lines, const sl_small *small,
                     const sl_border_params *params)
{
    /* without proportions that would tell a board, a poorer one has to do */
    const double sides = params->page_ratio > 0 ? PRINT_SIDES : POOR_PRINT_SIDES;
    sl_quads *within = NULL;
    const bool has = search_again(&within, lines, sheet, true, small, params, NULL) == SL_OK
                     && is_print_within(within, sheet, sides, small);

    free(within);
    return has;
}

const sl_quad *sl_large_on(const sl_quads *quads, const sl_quad *after, const sl_quad *chosen,
                           const sl_lines *lines, const sl_small *small,
                           const sl_border_params *params)
{
    enum { TRIED_MOST = 8 };
    const bool stated = params->page_ratio > 0;
    const size_t first = after != NULL ? (size_t)(after - quads->quad) + 1 : 0;

    for (size_t i = first, tried = 0; i < quads->count; i++) {
        const sl_quad *q = &quads->quad[i];

        if (is_large_on(q, chosen, small, stated))
            return q;
        if (tried == TRIED_MOST || !may_hold_prints(q, chosen, small, stated))
            continue;
        tried++;
        if (is_mostly_paper(q, small) || sl_has_print_on(q, lines, small, params))
            return q;
    }
    return NULL;
}

/* An album's pages are as large as each other, and have one shape: is it much smaller than one of
   the stated proportions? Not a little: of another page a part may be found. */
static bool is_note(const sl_quad *q, const sl_quad *page)
{
    return page->misfit < SL_FITS
           && q->area < (q->misfit < SL_FITS ? AS_LARGE : AS_LARGE_OFF) * page->area;
}

/* A picture as large as what was chosen, printed to its rim: it shows no paper, but all its sides are
   steps all along. Beside such a one the chosen may be a print too, and both lie on a page. */
static bool is_full_print(const sl_quad *q, const sl_quad *chosen)
{
    bool is = q->area >= chosen->area;

    for (int k = 0; k < 4; k++)
        is = is && !q->side[k].frame && q->side[k].support >= FULL_SIDES
             && q->side[k].contrast >= FULL_SIDES && q->side[k].solid >= FULL_SIDES;
    return is;
}

/* Adds to `count` sheets those among the hypotheses that lie apart from them. */
static unsigned add_sheets(const sl_quad *sheet[SHEETS_MOST], unsigned count,
                           const sl_quads *quads, double sides, bool stated)
{
    for (size_t i = 0; i < quads->count && count < SHEETS_MOST; i++) {
        const sl_quad *q = &quads->quad[i];
        bool another = (q->quality >= fmin(sides, BESIDE_AS_GOOD * sheet[0]->quality)
                        || (!stated && is_full_print(q, sheet[0])))
                       && q->area >= BESIDE_AREA * sheet[0]->area
                       && !(stated && is_note(q, sheet[0]));

        for (unsigned k = 0; k < count && another; k++)
            another = sl_quads_apart(q, sheet[k]);
        if (another)
            sheet[count++] = q;
    }
    return count;
}

sl_status sl_count_sheets(unsigned *out, const sl_quads *quads, const sl_quad *chosen,
                          const sl_lines *lines, const sl_small *small,
                          const sl_border_params *params, sl_error *err)
{
    const sl_quad *sheet[SHEETS_MOST] = { chosen };
    const bool stated = params->page_ratio > 0;
    sl_quads *more = NULL;
    sl_status st;

    *out = add_sheets(sheet, 1, quads, BESIDE_SIDES, stated);
    if (*out == 1 && sl_has_twin(chosen, small))
        *out = 2;
    if (*out > 1 || chosen->area > SMALL_IN_FRAME)
        return SL_OK;
    st = search_again(&more, lines, chosen, false, small, params, err);
    if (st == SL_OK)
        *out = add_sheets(sheet, 1, more, ELSEWHERE_SIDES, stated);
    free(more);
    return st;
}
