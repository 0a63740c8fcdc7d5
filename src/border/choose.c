/*
 * Which of the hypotheses is the page: not a print on it, not the board that it lies on, not a part
 * of it and not it with its shadow.
 */
#include "border/choose.h"

#include <math.h>

#include "border/quad.h"
#include "border/relate.h"
#include "border/sheets.h"
#include "border/sides.h"

/*
 * Below this quality there is no page: nothing with four sides of its own (or two, of a page that
 * the frame cuts). The worst real pages reach 0.6; what lies below is a pattern. A heuristic.
 */
static const double LEAST_QUALITY = 0.56;
static const double LEAST_QUALITY_CUT = 0.40;

/* Another thing on a sheet has sides this good and at least this share of the first one's area. */
static const double ANOTHER_SIDES = 0.85;
static const double ANOTHER_AREA = 0.25;

/* So small on what it lies on that it is no page: of a sheet in the picture, of one cut by it. */
static const double SMALL_ON_WHOLE = 0.2;
static const double SMALL_ON_CUT = 0.1;

/* With proportions stated, an outline has them or is far from them; a sheet that has them is taken
   rather than what it lies on with such sides and such a share of its area. */
static const double FAR_OFF = 0.9;
static const double FITTING_AREA = 0.3;
/* ... of a poorer one that has them too, the table or the paper is seen all along its sides. */
static const double SEEN_SIDE = 0.75;
static const double ALL_SEEN = 0.95;
static const double FRAMED_PAGE = 0.85;
static const double FAIR_QUALITY = 0.7;
static const double ALL_PAPER = 0.9;
static const double POOR_QUALITY = 0.55;
static const double FRAMED_QUALITY = 0.4;     /* ... and with a side that may be the frame's */
/* ... unless the other is as good as this: then it makes one wonder. */
static const double OTHER_QUALITY = 0.6;

/* How much better-scored than the page an outline with its shadow may be. */
static const double NEARLY = 0.93;

/* What a page is at most, of a part of it that was taken for all. */
static const double PART_AREA = 1.8;
static const double REACH_OUT = 0.06;         /* of the page's size, for one side */

/* What is shifted against the page by a stripe of it, with a side more where the table ends. */
static const double SHIFTED = 0.15;           /* of the page's size */
static const double ONE_SIDE = 0.7;
static const double GOES_ON = 0.3;            /* how much off the table what lies beyond a side is */
static const double ABOUT_AS_GOOD = 0.7;      /* of its score */

/* A rectangle is another one when a corner lies further off than this share of its size. */
static const double ANOTHER = 0.012;
static const double ANOTHER_STACK = 0.045;

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
           && !(stated && chosen->misfit < SL_FITS && sl_quad_glued_to_edge(q, chosen, small));
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

/* Sides along which the table ends. */
static double table_ends(const sl_quad *q)
{
    return q->side[0].ends + q->side[1].ends + q->side[2].ends + q->side[3].ends;
}

/* Another sheet-like thing, apart from `inner`, that lies on `outer` too. */
static bool holds_another(const sl_quads *quads, const sl_quad *inner, const sl_quad *outer,
                          const sl_small *small)
{
    for (size_t i = 0; i < quads->count; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q->quality >= ANOTHER_SIDES && q->area >= ANOTHER_AREA * inner->area
            && sl_quads_apart(q, inner) && sl_lies_on(q, outer, SL_PRINT_AREA, small))
            return true;
    }
    return false;
}

/* The sheet of the stated proportions that lies within `outer`, which has others; or `outer`. */
static const sl_quad *fitting_within(const sl_quads *quads, const sl_quad *outer)
{
    for (size_t i = 0; i < quads->count && outer->misfit > FAR_OFF; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q->misfit < SL_FITS && q->quality >= SL_GOOD_SIDES && !sl_quad_is_framed(q)
            && q->area >= FITTING_AREA * outer->area && q->area < outer->area
            && sl_quad_within(q, outer, SL_SLACK))
            return q;
    }
    return outer;
}

/* Is a corner of one the other's? Glued in there a print has the table beside two of its sides. */
static bool shares_corner(const sl_quad *a, const sl_quad *b)
{
    for (int i = 0; i < 4; i++)
        for (int k = 0; k < 4; k++)
            if (hypot(a->corner[i].x - b->corner[k].x, a->corner[i].y - b->corner[k].y) < SL_SLACK)
                return true;
    return false;
}

/*
 * May `outer` be a page with `inner`, which has its proportions, as a print on it, though its paper
 * is not seen all along (glare, a pattern), or the table is not (the frame)?
 * corner  glued into its corner; otherwise with the page's paper all about it
 */
static bool may_be_its_page(const sl_quad *inner, const sl_quad *outer, bool corner,
                            const sl_small *small)
{
    double contrast = 1;
    double paper = 0;

    if (inner->area > SL_LARGE_PRINT * outer->area || !sl_quad_within(inner, outer, SL_SLACK))
        return false;
    for (int k = 0; k < 4; k++) {
        if (outer->side[k].support < SEEN_SIDE)
            return false;
        contrast = fmin(contrast, outer->side[k].contrast);
        paper += outer->side[k].paper / 4;
    }
    return ((contrast > ALL_SEEN && outer->quality > FAIR_QUALITY)
            || (paper > ALL_PAPER && outer->quality > POOR_QUALITY))
           && (corner ? shares_corner(inner, outer)
                      : sl_same_paper(inner->around, outer->colour, small->noise));
}

bool sl_may_fill_frame(const sl_quad *outer, const sl_quad *chosen, const sl_small *small)
{
    if (!sl_quad_is_framed(outer) || outer->misfit > SL_FITS || chosen->misfit > SL_FITS
        || outer->quality < FRAMED_QUALITY || chosen->area > SL_LARGE_PRINT * outer->area
        || !sl_quad_within(chosen, outer, SL_SLACK))
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

static bool has_its_page(const sl_quads *quads, const sl_quad *chosen, bool corner,
                         const sl_small *small)
{
    for (size_t i = 0; i < quads->count; i++)
        if (quads->quad[i].misfit < SL_FITS && !sl_quad_is_framed(&quads->quad[i])
            && may_be_its_page(chosen, &quads->quad[i], corner, small))
            return true;
    return false;
}

/* Is `inner` a frame printed on the page that `outer` outlines: the page's paper inside it? */
static bool is_frame_on(const sl_quad *inner, const sl_quad *outer, const sl_small *small)
{
    if (inner->area > SL_LARGE_PRINT * outer->area || !sl_quad_within(inner, outer, -SL_SLACK))
        return false;
    for (int k = 0; k < 4; k++)
        if (outer->side[k].support < FRAMED_PAGE || outer->side[k].contrast < ALL_SEEN
            || outer->side[k].solid < ALL_SEEN || outer->side[k].paper < ALL_SEEN)
            return false;
    return !sl_has_other_paper(inner, outer, small);
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

    out->inner = NULL;
    out->on_sheet = false;
    out->of_two = false;
    out->doubt = first != &quads->quad[0] && first->area < SL_PRINT_AREA * quads->quad[0].area;
    for (size_t i = 1; i < quads->count; i++) {
        const sl_quad *outer = &quads->quad[i];
        const bool cut = sl_quad_is_framed(outer);

        if (sl_lies_on(chosen, outer, SL_PRINT_AREA, small)
            && (holds_another(quads, chosen, outer, small)
                || (chosen->misfit > FAR_OFF && outer->misfit < 0.5)
                || chosen->area
                       < (cut ? SMALL_ON_CUT : SMALL_ON_WHOLE) * outer->area)) {
            if (stated && chosen->misfit < SL_FITS && (cut || outer->misfit > FAR_OFF))
                out->on_sheet = out->on_sheet || outer->quality > OTHER_QUALITY;
            else
                chosen = outer;
        }
        /* of two that have the stated proportions either may be the page, on a board or with a
           print on it: with the larger one nothing is lost */
        if (stated && chosen->misfit < SL_FITS && outer->misfit < SL_FITS && !cut
            && sl_lies_on(chosen, outer, SL_LARGE_PRINT, small)) {
            if (outer->quality >= SL_GOOD_SIDES) {
                out->inner = out->inner == NULL ? chosen : out->inner;
                chosen = outer;
            }
            out->of_two = out->of_two || chosen == outer;
            out->doubt = out->doubt || chosen != outer;
        }
        if (stated && !cut && outer->misfit < SL_FITS && is_frame_on(chosen, outer, small)) {
            chosen = outer;
            out->of_two = true;
        }
        /* a print may have the page's proportions by chance, and share a corner with it; nothing
           that a page lies on does */
        if (sl_quad_glued_to_edge(chosen, outer, small)) {
            if (stated && outer->misfit < SL_FITS)
                chosen = outer;
            else if (!stated && outer->quality > OTHER_QUALITY)
                out->doubt = true;
        }
    }
    if (stated && chosen->misfit < SL_FITS) {
        out->doubt = out->doubt || has_its_page(quads, chosen, false, small);
        out->of_two = out->of_two || has_its_page(quads, chosen, true, small);
    }
    return chosen;
}

/* Does something that is not the table go on beyond one of the sides? */
static bool goes_on(const sl_quad *q)
{
    bool goes = false;

    for (int k = 0; k < 4; k++)
        goes = goes || q->side[k].beyond > GOES_ON;
    return goes;
}

/*
 * Nearly the same outline, shifted, with one side more where the table ends. Of a striped page
 * beside its fellow there is another outline at every stripe.
 */
static const sl_quad *at_table_end(const sl_quads *quads, const sl_quad *chosen,
                                   const sl_small *small)
{
    const sl_quad *best = chosen;

    if (!goes_on(chosen))
        return chosen;
    for (size_t i = 0; i < quads->count; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q->misfit <= chosen->misfit && !sl_quad_is_framed(q)
            && q->score > ABOUT_AS_GOOD * chosen->score
            && sl_quad_distance(q, chosen, small) < SHIFTED
            && !sl_quad_within(chosen, q, SL_SLACK) && !sl_quad_within(q, chosen, SL_SLACK)
            && table_ends(q) > table_ends(best) + ONE_SIDE)
            best = q;
    }
    return best;
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
    const sl_quad *first;
    sl_quad grown;

    if (quads->count == 0)
        return false;
    first = choose(out, quads, small, params->page_ratio > 0);
    if (params->page_ratio > 0)
        first = at_table_end(quads, first, small);
    grown = outermost(quads, first, lines, small, params);
    out->quad = *without_shadow(quads, &grown, small);
    return good_enough(&out->quad);
}
