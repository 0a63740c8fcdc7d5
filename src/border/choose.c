/*
 * Which of the hypotheses is the page: not a print on it, not the board that it lies on, not a part
 * of it and not it with its shadow.
 */
#include "border/choose.h"

#include <math.h>
#include <stdlib.h>

#include "base/error.h"
#include "border/relate.h"
#include "border/sides.h"

/*
 * Below this quality there is no page: nothing with four sides of its own (or two, of a page that
 * the frame cuts). The worst real pages reach 0.6; what lies below is a pattern. A heuristic.
 */
static const double LEAST_QUALITY = 0.56;
static const double LEAST_QUALITY_CUT = 0.40;

/* Another sheet has sides this good and at least this share of the page's area. */
static const double SHEET_SIDES = 0.85;
static const double SHEET_AREA = 0.25;
static const double SHEET_BESIDE_AREA = 0.4;  /* ... beside it: a smaller one is a note, a print */
static const double AS_LARGE = 0.52;          /* ... of one of the stated size: a note, */
static const double AS_LARGE_OFF = 0.8;       /* ... when it has other proportions */
static const double SHEET_AS_GOOD = 0.92;     /* as the page's sides */

/* A page that covers no more of the picture may be one of several things on a table or a page; a
   line of which this share lies on it is its own, px about it. */
static const double SHEET_SIDES_ELSEWHERE = 0.6;
static const double SMALL_IN_FRAME = 0.25;
static const double LINE_ON_SHEET = 0.3;
static const double LINE_INSIDE = 0.95;
static const double LINE_AT = 6;
enum { SHEETS_MOST = 8 };

/* So small on what it lies on that it is no page: of a sheet in the picture, of one cut by it. */
static const double SMALL_ON_WHOLE = 0.2;
static const double SMALL_ON_CUT = 0.1;

/* A print covers less than this share of its page, and the page's own sides are this good. */
static const double PRINT_AREA = 0.5;
static const double LARGE_PRINT = 0.85;
static const double SHEET_QUALITY = 0.5;
static const double SHEET_QUALITY_CUT = 0.4; /* prints that the frame cuts too hide its paper */

/* With proportions stated, an outline has them or is far from them; a sheet that has them is taken
   rather than what it lies on with such sides and such a share of its area. */
static const double FITS = 0.3;
static const double FAR_OFF = 0.9;
static const double FITS_BETTER = 0.05;       /* than the board that it lies on: 1 % and more */
static const double FITTING_QUALITY = 0.8;
static const double FITTING_AREA = 0.3;
/* ... of a poorer one that has them too, either the table or the paper is seen all along its sides. */
static const double SEEN_SIDE = 0.75;
static const double ALL_CONTRAST = 0.95;
static const double ALL_SEEN = 0.95;
static const double FAIR_QUALITY = 0.7;
static const double ALL_PAPER = 0.9;
static const double POOR_QUALITY = 0.55;
static const double FRAMED_QUALITY = 0.4;     /* ... and with a side that may be the frame's */
/* ... unless the other is as good as this: then it makes one wonder. */
static const double OTHER_QUALITY = 0.6;

/* A sheet on the outline, with sides this good and this share of its area, may be the page itself
   on a board. */
static const double LARGE_ON = 0.4;
static const double ON_BOARD_SIDES = 0.9;
static const double OTHER_PAPER = 3;          /* codes */
static const double OTHER_LIGHT = 0.15;       /* |ln| */
static const double WITHIN = 0.05;            /* of its size from the sides */
static const double OUTSIDE = 3;              /* px off a print's sides, where most is paper */
static const double IN_PAPER = 0.6;
static const double FITTING_SIDES = 0.65;     /* ... with prints of its own */
static const double PRINT_SIDES = 0.85;       /* of a thing on it alone */
static const double BORDER_MOST = 0.045;      /* of a print, of its size: 3 to 4 % are common */
static const double PRINT_LEAST = 0.02;       /* of what it lies on */
static const double PRINT_BESIDE = 0.2;       /* of another */

/* How much better-scored than the page an outline with its shadow may be. */
static const double NEARLY = 0.93;

/* What a page is at most, of a part of it that was taken for all. */
static const double PART_AREA = 1.8;
static const double REACH_OUT = 0.06;         /* of the page's size, for one side */

/* What lies on an outline lies within its sides, but for so many px of the small copy. */
static const double SLACK = 4;

/* A rectangle is another one when a corner lies further off than this share of its size. */
static const double ANOTHER = 0.012;
static const double ANOTHER_STACK = 0.045;

double sl_quad_distance(const sl_quad *a, const sl_quad *b, const sl_small *small)
{
    double best = INFINITY;

    for (int turn = 0; turn < 4; turn++) {
        double worst = 0;

        for (int k = 0; k < 4; k++)
            worst = fmax(worst, hypot(a->corner[k].x - b->corner[(k + turn) % 4].x,
                                      a->corner[k].y - b->corner[(k + turn) % 4].y));
        best = fmin(best, worst);
    }
    return best / sqrt(b->area * (double)(small->width * small->height));
}

static bool inside_quad(sl_point p, const sl_quad *q, double slack)
{
    for (int k = 0; k < 4; k++) {
        const sl_point a = q->corner[k];
        const sl_point b = q->corner[(k + 1) % 4];
        const double length = hypot(b.x - a.x, b.y - a.y);

        if (((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)) / length < -slack)
            return false;
    }
    return true;
}

bool sl_quad_is_framed(const sl_quad *q)
{
    for (int k = 0; k < 4; k++)
        if (q->side[k].frame)
            return true;
    return false;
}

static bool within(const sl_quad *inner, const sl_quad *outer, double slack)
{
    for (int k = 0; k < 4; k++)
        if (!inside_quad(inner->corner[k], outer, slack))
            return false;
    return true;
}

bool sl_lies_within(const sl_quad *inner, const sl_quad *outer)
{
    return within(inner, outer, SLACK);
}

/*
 * Does `inner` lie on the sheet that `outer` outlines? A print on a page is the better rectangle
 * of the two; what gives it away is that the page's paper goes on around it.
 * most  share of the sheet's area that it may cover
 */
static bool lies_on(const sl_quad *inner, const sl_quad *outer, double most,
                    const sl_small *small)
{
    if (inner->area > most * outer->area || !within(inner, outer, SLACK)
        || outer->quality < (sl_quad_is_framed(outer) ? SHEET_QUALITY_CUT : SHEET_QUALITY))
        return false;
    for (int k = 0; k < 4; k++) {
        const sl_side_fit *s = &outer->side[k];

        if (s->paper < 0.7)
            return false;
        if (!s->frame
            && (s->support < 0.75 || s->contrast < 0.75 || s->strength < 3 * small->noise))
            return false;
    }
    return sl_same_paper(inner->around, outer->colour, small->noise);
}

/* Without its shadow, when the outline with it was taken: the innermost of those within. */
static const sl_quad *without_shadow(const sl_quads *quads, const sl_quad *chosen,
                                     const sl_small *small)
{
    const sl_quad *best = chosen;

    for (size_t i = 0; i < quads->count; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q->score > NEARLY * chosen->score && q->area < best->area
            && sl_quad_with_shadow(chosen, q, small))
            best = q;
    }
    return best;
}

bool sl_is_rival(const sl_quad *q, const sl_quad *chosen, const sl_small *small, bool stack,
                 bool stated)
{
    return sl_quad_distance(q, chosen, small) > (stack ? ANOTHER_STACK : ANOTHER)
           && !sl_quad_no_rival(q, chosen, small)
           && !(stated && chosen->misfit < FITS && sl_quad_glued_to_edge(q, chosen, small));
}

const sl_quad *sl_next_rival(const sl_quads *quads, const sl_quad *after, const sl_quad *chosen,
                             const sl_small *small, bool stack, bool stated)
{
    const size_t first = after != NULL ? (size_t)(after - quads->quad) + 1 : 0;

    for (size_t i = first; i < quads->count; i++)
        if (sl_is_rival(&quads->quad[i], chosen, small, stack, stated))
            return &quads->quad[i];
    return NULL;
}

static sl_point centre_of(const sl_quad *q)
{
    sl_point c = { 0, 0 };

    for (int k = 0; k < 4; k++) {
        c.x += q->corner[k].x / 4;
        c.y += q->corner[k].y / 4;
    }
    return c;
}

/* Neither lies on the other. */
static bool apart(const sl_quad *a, const sl_quad *b)
{
    for (int k = 0; k < 4; k++)
        if (inside_quad(a->corner[k], b, -2) || inside_quad(b->corner[k], a, -2))
            return false;
    return !inside_quad(centre_of(a), b, 0) && !inside_quad(centre_of(b), a, 0);
}

/* Another sheet-like thing, apart from `inner`, that lies on `outer` too. */
static bool holds_another(const sl_quads *quads, const sl_quad *inner, const sl_quad *outer,
                          const sl_small *small)
{
    for (size_t i = 0; i < quads->count; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q->quality >= SHEET_SIDES && q->area >= SHEET_AREA * inner->area && apart(q, inner)
            && lies_on(q, outer, PRINT_AREA, small))
            return true;
    }
    return false;
}

/* The sheet of the stated proportions that lies within `outer`, which has others; or `outer`. */
static const sl_quad *fitting_within(const sl_quads *quads, const sl_quad *outer)
{
    for (size_t i = 0; i < quads->count && outer->misfit > FAR_OFF; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q->misfit < FITS && q->quality >= FITTING_QUALITY && !sl_quad_is_framed(q)
            && q->area >= FITTING_AREA * outer->area && q->area < outer->area
            && within(q, outer, SLACK))
            return q;
    }
    return outer;
}

/*
 * May `outer` be a page with `inner`, which has its proportions, as a print on it, though its paper
 * is not seen all along (glare, a pattern), or the table is not (the frame)?
 */
static bool may_be_its_page(const sl_quad *inner, const sl_quad *outer, const sl_small *small)
{
    double contrast = 1;
    double paper = 0;

    if (inner->area > LARGE_PRINT * outer->area || !within(inner, outer, SLACK))
        return false;
    for (int k = 0; k < 4; k++) {
        if (outer->side[k].support < SEEN_SIDE)
            return false;
        contrast = fmin(contrast, outer->side[k].contrast);
        paper += outer->side[k].paper / 4;
    }
    return ((contrast > ALL_CONTRAST && outer->quality > FAIR_QUALITY)
            || (paper > ALL_PAPER && outer->quality > POOR_QUALITY))
           && sl_same_paper(inner->around, outer->colour, small->noise);
}

bool sl_may_fill_frame(const sl_quad *outer, const sl_quad *chosen, const sl_small *small)
{
    if (!sl_quad_is_framed(outer) || outer->misfit > FITS || chosen->misfit > FITS
        || outer->quality < FRAMED_QUALITY || chosen->area > LARGE_PRINT * outer->area
        || !within(chosen, outer, SLACK))
        return false;
    for (int k = 0; k < 4; k++)
        if (!outer->side[k].frame
            && (outer->side[k].support < SEEN_SIDE || outer->side[k].paper < ALL_PAPER))
            return false;
    return sl_same_paper(chosen->around, outer->colour, small->noise);
}

bool sl_is_cut_sheet(const sl_quad *q)
{
    int framed = 0;

    for (int k = 0; k < 4; k++) {
        framed += q->side[k].frame;
        if (!q->side[k].frame && (q->side[k].support < ALL_SEEN || q->side[k].contrast < ALL_SEEN))
            return false;
    }
    return framed == 1;
}

static bool has_its_page(const sl_quads *quads, const sl_quad *chosen, const sl_small *small)
{
    for (size_t i = 0; i < quads->count; i++)
        if (quads->quad[i].misfit < FITS && !sl_quad_is_framed(&quads->quad[i])
            && may_be_its_page(chosen, &quads->quad[i], small))
            return true;
    return false;
}

/*
 * The best-scored one, unless it lies on a larger sheet. A page on a table looks the same as a
 * print on a page: so the larger one is taken only when it holds several such things, as pages
 * do and tables do not, or when the thing is too small on it to be a page, or has not the stated
 * proportions, which the larger one may have. What has them is not left for something that has
 * not, or is cut.
 * out  the doubts only
 */
static const sl_quad *choose(sl_choice *out, const sl_quads *quads, const sl_small *small,
                             bool stated)
{
    const sl_quad *first = fitting_within(quads, &quads->quad[0]);
    const sl_quad *chosen = first;

    out->of_two = false;
    out->doubt = first != &quads->quad[0] && first->area < PRINT_AREA * quads->quad[0].area;
    for (size_t i = 1; i < quads->count; i++) {
        const sl_quad *outer = &quads->quad[i];
        const bool cut = sl_quad_is_framed(outer);

        if (lies_on(chosen, outer, PRINT_AREA, small)
            && (holds_another(quads, chosen, outer, small)
                || (chosen->misfit > FAR_OFF && outer->misfit < 0.5)
                || chosen->area
                       < (cut ? SMALL_ON_CUT : SMALL_ON_WHOLE) * outer->area)) {
            if (stated && chosen->misfit < FITS && (cut || outer->misfit > FAR_OFF))
                out->doubt = out->doubt || outer->quality > OTHER_QUALITY;
            else
                chosen = outer;
        }
        /* of two that have the stated proportions either may be the page, on a board or with a
           print on it: with the larger one nothing is lost */
        if (stated && chosen->misfit < FITS && outer->misfit < FITS && !cut
            && lies_on(chosen, outer, LARGE_PRINT, small)) {
            if (outer->quality >= FITTING_QUALITY)
                chosen = outer;
            out->of_two = out->of_two || chosen == outer;
            out->doubt = out->doubt || chosen != outer;
        }
        /* a print may have the page's proportions by chance, and share a corner with it; nothing
           that a page lies on does */
        if (sl_quad_glued_to_edge(chosen, outer, small)) {
            if (stated && outer->misfit < FITS)
                chosen = outer;
            else if (!stated && outer->quality > OTHER_QUALITY)
                out->doubt = true;
        }
    }
    out->doubt = out->doubt || (stated && chosen->misfit < FITS && has_its_page(quads, chosen, small));
    return chosen;
}

bool sl_lies_beside_print(const sl_quads *quads, const sl_quad *sheet)
{
    for (size_t i = 0; i < quads->count; i++)
        if (quads->quad[i].quality >= ON_BOARD_SIDES
            && quads->quad[i].area > PRINT_BESIDE * sheet->area && apart(&quads->quad[i], sheet))
            return true;
    return false;
}

const sl_quad *sl_lain_on(const sl_quads *quads, const sl_quad *chosen, const sl_small *small)
{
    for (size_t i = 0; i < quads->count; i++)
        if (lies_on(chosen, &quads->quad[i], PRINT_AREA, small))
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
        if (inside_quad(sl_line_point(line, t + part / 2), sheet, slack))
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
    bool on = q->quality >= (stated ? FITTING_QUALITY : ON_BOARD_SIDES)
              && q->area >= LARGE_ON * chosen->area
              && (!stated || q->misfit + FITS_BETTER < chosen->misfit) && within(q, chosen, -SLACK)
              && sl_same_paper(q->around, chosen->colour, small->noise);

    /* a frame printed on the page has the same paper on both sides: no step */
    for (int k = 0; k < 4 && on; k++)
        on = q->side[k].solid >= ON_BOARD_SIDES && q->side[k].support >= ON_BOARD_SIDES;
    return on;
}

/* The place on a sheet so far from a side's start along it and from the side, shares of the whole. */
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

/* Has a sheet another paper than what it lies on, be it lit a little otherwise? A frame printed on a
   page has not. */
static bool has_other_paper(const sl_quad *q, const sl_quad *outer, const sl_small *small)
{
    enum { PLACES = 24 };
    float colour[4 * PLACES][3];
    float channel[4 * PLACES];
    float paper[3];
    float light;

    for (int i = 0; i < 4 * PLACES; i++)
        sl_small_colour(colour[i], small, place_on(q, i % 4, (i / 4 + 0.5) / PLACES, WITHIN));
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
static bool may_hold_prints(const sl_quad *q, const sl_quad *chosen, const sl_small *small, bool stated)
{
    bool on = q->quality >= FITTING_QUALITY && q->area >= LARGE_ON * chosen->area
              && q->area <= LARGE_PRINT * chosen->area && (!stated || q->misfit < FITS)
              && within(q, chosen, -1)
              && sl_same_paper(q->around, chosen->colour, small->noise)
              && has_other_paper(q, chosen, small);

    for (int k = 0; k < 4 && on; k++)
        on = q->side[k].solid >= FITTING_SIDES && q->side[k].contrast >= FITTING_SIDES
             && q->side[k].support >= FITTING_SIDES;
    return on;
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

/* Is there a print among the hypotheses of what lies within a sheet, with its paper all about it? */
static bool is_print_within(const sl_quads *within, const sl_quad *sheet, const sl_small *small)
{
    const double size = sqrt(sheet->area * (double)(small->width * small->height));

    for (size_t i = 0; i < within->count; i++) {
        const sl_quad *q = &within->quad[i];
        int near = 0;

        /* the picture on a print with a white border, or a half of that, is none */
        for (int k = 0; k < 4; k++)
            near += !inside_quad(q->corner[k], sheet, -BORDER_MOST * size);
        if (q->quality >= PRINT_SIDES && q->area > PRINT_LEAST * sheet->area
            && q->area < PRINT_AREA * sheet->area && near < 2 && lies_in_paper(q, sheet, small))
            return true;
    }
    return false;
}

bool sl_has_print_on(const sl_quad *sheet, const sl_lines *lines, const sl_small *small,
                     const sl_border_params *params)
{
    sl_quads *within = NULL;
    const bool has = search_again(&within, lines, sheet, true, small, params, NULL) == SL_OK
                     && is_print_within(within, sheet, small);

    free(within);
    return has;
}

const sl_quad *sl_large_on(const sl_quads *quads, const sl_quad *chosen, const sl_lines *lines,
                           const sl_small *small, const sl_border_params *params)
{
    enum { TRIED_MOST = 8 };
    const bool stated = params->page_ratio > 0;

    for (size_t i = 0; i < quads->count; i++)
        if (is_large_on(&quads->quad[i], chosen, small, stated))
            return &quads->quad[i];
    for (size_t i = 0, tried = 0; i < quads->count && tried < TRIED_MOST; i++) {
        if (!may_hold_prints(&quads->quad[i], chosen, small, stated))
            continue;
        tried++;
        if (sl_has_print_on(&quads->quad[i], lines, small, params))
            return &quads->quad[i];
    }
    return NULL;
}

/* An album's pages are as large as each other, and have one shape: is it much smaller than one of
   the stated proportions? Not a little: of another page a part may be found. */
static bool is_note(const sl_quad *q, const sl_quad *page)
{
    return page->misfit < FITS
           && q->area < (q->misfit < FITS ? AS_LARGE : AS_LARGE_OFF) * page->area;
}

/* Adds to `count` sheets those among the hypotheses that lie apart from them. */
static unsigned add_sheets(const sl_quad *sheet[SHEETS_MOST], unsigned count,
                           const sl_quads *quads, double sides, bool stated)
{
    for (size_t i = 0; i < quads->count && count < SHEETS_MOST; i++) {
        const sl_quad *q = &quads->quad[i];
        bool another = q->quality >= fmin(sides, SHEET_AS_GOOD * sheet[0]->quality)
                       && q->area >= SHEET_BESIDE_AREA * sheet[0]->area
                       && !(stated && is_note(q, sheet[0]));

        for (unsigned k = 0; k < count && another; k++)
            another = apart(q, sheet[k]);
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

    *out = add_sheets(sheet, 1, quads, SHEET_SIDES, stated);
    if (*out > 1 || chosen->area > SMALL_IN_FRAME)
        return SL_OK;
    st = search_again(&more, lines, chosen, false, small, params, err);
    if (st == SL_OK)
        *out = add_sheets(sheet, 1, more, SHEET_SIDES_ELSEWHERE, stated);
    free(more);
    return st;
}

/* Is the chosen outline a part of `q`, and q no worse a page? */
static bool grows_into(const sl_quad *chosen, const sl_quad *q, const sl_small *small)
{
    return q->area > 1.002 * chosen->area && q->area < PART_AREA * chosen->area
           && q->misfit < chosen->misfit + 0.5 && sl_quad_part_of(chosen, q, small);
}

/*
 * The outermost outline that the chosen one is a part of: among the hypotheses, and with one side
 * after the other moved out to the lines there. Not every page is among the hypotheses: of a
 * striped one there are too many.
 */
static sl_quad outermost(const sl_quads *quads, const sl_quad *first, const sl_lines *lines,
                         const sl_small *small, const sl_border_params *params)
{
    const double reach = REACH_OUT * sqrt(first->area * (double)(small->width * small->height));
    sl_quad chosen = *first;
    bool grown = true;

    for (size_t i = 0; i < quads->count; i++)
        if (grows_into(&chosen, &quads->quad[i], small))
            chosen = quads->quad[i];
    for (int round = 0; round < 4 && grown; round++) {
        grown = false;
        for (int side = 0; side < 4; side++) {
            for (size_t i = 0; i < lines->count && !sl_quad_is_framed(&chosen); i++) {
                sl_quad moved;

                if (!lines->line[i].frame
                    && sl_quad_move_out(&moved, &chosen, side, &lines->line[i], reach, small,
                                        params)
                    && grows_into(&chosen, &moved, small)) {
                    chosen = moved;
                    grown = true;
                }
            }
        }
    }
    return chosen;
}

static bool good_enough(const sl_quad *q)
{
    return q->quality >= (sl_quad_is_framed(q) ? LEAST_QUALITY_CUT : LEAST_QUALITY);
}

bool sl_choose(sl_choice *out, const sl_quads *quads, const sl_lines *lines, const sl_small *small,
               const sl_border_params *params)
{
    sl_quad grown;

    if (quads->count == 0)
        return false;
    grown = outermost(quads, choose(out, quads, small, params->page_ratio > 0), lines, small,
                      params);
    out->quad = *without_shadow(quads, &grown, small);
    return good_enough(&out->quad);
}
