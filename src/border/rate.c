#include "border/rate.h"

#include <math.h>
#include <stdlib.h>

#include "border/choose.h"
#include "border/quad.h"
#include "border/shape.h"
#include "border/sheets.h"

/* A rival no further off than this share of the page's size may be the page once more; one that
   fits the stated proportions no better than this (2 % off) has them not. */
static const double NEAR_RIVAL = 0.05;
static const double NO_SHAPE = 0.2;

/* ... where the page has them to a hair, what is further off than a coarse outline may be, or so many
   hairs; where it nearly has, of those near it. */
static const double SHAPELESS = 0.03;
static const double NEAR_HAIRS = 3;

/* A page that is further than SL_ODD_SHAPE from them asks for such a margin over its rivals. */
static const double ODD_MARGIN = 25;          /* times its |ln|: 10 % for 0.4 %, ... */
static const double ODD_MOST = 0.2;           /* ... at most */

/* A side of which no more is seen, where the outline has not the stated proportions, is a shadow's
   end as well as the page's. */
static const double HALF_SEEN = 0.5;
/* Of one with less of one colour along its sides than this share, a line of its pattern is too. */
static const double PATTERNED = 0.75;

/* Sides of a page, longer over shorter, at most: common practice is 1 to 1.5. */
static const double LONG = 2;

/* Sides along which less than this share is a step; without stated proportions an outline of such
   asks for this margin. */
static const double STEPLESS = 0.3;
static const double LINES_MARGIN = 0.3;

/* What another outline with the proportions must score, as a share of the page's. A print may have
   them by chance, and covers no more of its page. */
static const double LEAST_SCORE = 0.6;
static const double PRINTS_SHARE = 0.25;

/* A picture that was cropped to the page, or scanned. */
static const double MOST_OF_PICTURE = 0.9;
static const double ALL_OF_PICTURE = 0.99;    /* ... of one whose pattern goes on to its frame */
static const double SMALL_IN_PICTURE = 0.45;  /* half a bed, as A5 on A4, is still a scan */
static const double CAMERAS_SHAPE = 0.003;
static const double ALONE = 0.6;              /* margin: nothing like it lies about it; */
static const double ALONE_WITH_PRINT = 0.2;   /* ... about one that holds a print */

/*
 * The best-scored outline that is another one than the page's. One near it may be the same page,
 * seen less well: it is another one when it still is where its sides lead on the shot.
 * off      how far the page is from the stated proportions: what has them less is none
 * outside  only such as do not lie on it
 */
static const sl_quad *best_rival(const sl_attempt *page, double off, bool outside,
                                 const sl_evidence *v)
{
    enum { SETTLE_MOST = 6 };
    const bool stated = v->params->page_ratio > 0;
    const bool stack = page->seen.moved;
    const bool hair = off < SL_TO_A_HAIR;
    const double shapeless = hair ? SHAPELESS : off < SL_IN_SHAPE ? NO_SHAPE : INFINITY;
    const sl_quad *rival = sl_next_rival(v->quads, NULL, page->from, v->small, stack, stated);
    int count = 0;

    for (; rival != NULL;
         rival = sl_next_rival(v->quads, rival, page->from, v->small, stack, stated)) {
        const bool near = !stack && sl_quad_distance(rival, page->from, v->small) < NEAR_RIVAL;
        sl_quad settled = *rival;
        double its_off;

        if (rival->misfit > shapeless || (outside && sl_quad_within(rival, page->from, SL_SLACK)))
            continue;
        if (count == SETTLE_MOST || !(near || (hair && !sl_quad_is_framed(rival))))
            break;
        count++;
        its_off = sl_trace_settle(&settled, v->small, v->shot, v->tone, v->params);
        if (!((hair || (near && off < NEAR_HAIRS * SL_TO_A_HAIR))
              && its_off > NEAR_HAIRS * fmax(SL_TO_A_HAIR, off))
            && !(near && !sl_is_rival(&settled, &page->quad, v->small, stack, stated)))
            break;
    }
    return rival;
}

/* Has the picture a camera's shape? 4:3, 3:2 and 16:9 are (common practice), with even sides. */
static bool is_cameras(size_t width, size_t height)
{
    static const double shape[3] = { 4.0 / 3, 3.0 / 2, 16.0 / 9 };
    const double ratio = fmax((double)width / (double)height, (double)height / (double)width);
    bool like = false;

    for (int k = 0; k < 3; k++)
        like = like || fabs(log(ratio / shape[k])) < CAMERAS_SHAPE;
    return like && width % 2 == 0 && height % 2 == 0;
}

/* May the picture have been cropped to the page, by hand or by a scanner? Then it has no camera's
   shape, but the page's. */
static bool is_cropped_to_page(const sl_evidence *v)
{
    const double w = (double)v->shot->width;
    const double h = (double)v->shot->height;

    return v->params->page_ratio > 0 && !is_cameras(v->shot->width, v->shot->height)
           && fabs(log(fmax(w / h, h / w) / v->params->page_ratio)) < SL_OUT_OF_SHAPE;
}

/* May the picture be the page and the outline a print on it, for all that lies about it? */
static bool may_be_print(const sl_outline *out, const sl_attempt *page, double off,
                         const sl_evidence *v)
{
    const double share =
        sl_outline_area(out) / ((double)v->shot->width * (double)v->shot->height);
    const sl_quad *like;
    bool holds;

    if (!is_cropped_to_page(v) || share >= ALL_OF_PICTURE)
        return false;
    if (sl_pattern_reaches_frame(page->from, v->small))
        return true;
    if (share >= MOST_OF_PICTURE)
        return false;
    /* one that holds a print is hardly a print */
    holds = sl_has_print_on(page->from, v->lines, v->small, v->params);
    if (!holds && !sl_has_margins(page->from, v->small))
        return true;
    /* that it has the proportions to a hair says little here: the picture has them too */
    like = best_rival(page, fmax(off, SL_TO_A_HAIR), true, v);
    return page->from->area < SMALL_IN_PICTURE
           || sl_lies_beside_print(v->quads, page->from)
           || (like != NULL
               && like->score > (1 - (holds ? ALONE_WITH_PRINT : ALONE)) * page->from->score);
}

/* Is it as small in a picture of no camera's shape as a print on a scanned or cropped page,
   and like a print itself: without one on it, and without a page's margins? */
static bool is_scanned_print(const sl_attempt *page, const sl_evidence *v)
{
    return !is_cameras(v->shot->width, v->shot->height) && page->from->area < SMALL_IN_PICTURE
           && !sl_has_margins(page->from, v->small)
           && !sl_has_print_on(page->from, v->lines, v->small, v->params);
}

/* May the chosen outline be a print on a page whose sides the fine step finds a few px inside the
   frame, with the stated proportions, or which the frame cuts a little? */
static bool lies_on_full_page(const sl_attempt *page, double off, const sl_evidence *v)
{
    enum { TRIED_MOST = 2 };
    sl_outline *full = v->params->page_ratio > 0 ? malloc(sizeof *full) : NULL;
    bool found = false;
    bool cut;

    for (size_t i = 0, tried = 0;
         full != NULL && i < v->quads->count && tried < TRIED_MOST && !found; i++) {
        sl_attempt next = { .quad = v->quads->quad[i] };

        if (!sl_may_fill_frame(&next.quad, page->from, v->small))
            continue;
        tried++;
        sl_attempt_trace(full, &next, v);
        cut = full->edge[0].cut || full->edge[1].cut || full->edge[2].cut || full->edge[3].cut;
        found = cut ? sl_is_cut_sheet(&next.quad) && !sl_attempt_is_pagelike(page, off, v)
                    : sl_attempt_off(full, v) < SL_IN_SHAPE;
    }
    free(full);
    return found;
}

/* Has another outline the stated proportions to a hair on the shot, where this one has not? */
static bool another_has_shape(const sl_attempt *page, double off, const sl_evidence *v)
{
    enum { SETTLE_MOST = 4 };
    int count = 0;

    if (!isfinite(off) || off < SL_HAIRS * SL_TO_A_HAIR)
        return false;
    for (size_t i = 0; i < v->quads->count && count < SETTLE_MOST; i++) {
        sl_quad q = v->quads->quad[i];

        if (q.score < LEAST_SCORE * page->from->score || q.misfit > SHAPELESS
            || sl_quad_is_framed(&q)
            || (q.area < PRINTS_SHARE * page->from->area
                && sl_quad_within(&q, page->from, SL_SLACK))
            || !sl_is_rival(&q, &page->quad, v->small, page->seen.moved, true))
            continue;
        count++;
        if (sl_trace_settle(&q, v->small, v->shot, v->tone, v->params) < SL_TO_A_HAIR)
            return true;
    }
    return false;
}

/* What may be the page, on the chosen outline: where that has the stated proportions to a hair, a
   thing that has them not on the shot is a print. */
static const sl_quad *page_on(const sl_attempt *page, double off, const sl_evidence *v)
{
    const sl_quad *on = NULL;
    sl_quad settled;

    do {
        on = sl_large_on(v->quads, on, page->from, v->lines, v->small, v->params);
        if (on != NULL)
            settled = *on;
    } while (on != NULL && off < SL_TO_A_HAIR
             && sl_trace_settle(&settled, v->small, v->shot, v->tone, v->params) > SL_IN_SHAPE);
    return on;
}

/* Is a side hardly seen? */
static bool is_half_seen(const sl_outline *out)
{
    bool half = false;

    for (int k = 0; k < 4; k++)
        half = half || (!out->edge[k].cut && out->edge[k].support < HALF_SEEN);
    return half;
}

/* Is it longer than a page is? Two facing pages are, taken for one. */
static bool is_long(const sl_outline *out)
{
    double length[4];

    for (int k = 0; k < 4; k++)
        length[k] = hypot(out->corner[(k + 1) % 4].x - out->corner[k].x,
                          out->corner[(k + 1) % 4].y - out->corner[k].y);
    return fmax(length[0] + length[2], length[1] + length[3])
           > LONG * fmin(length[0] + length[2], length[1] + length[3]);
}

/* Are two sides and more no steps from one paper to another, but lines, or the ends of shadows? */
static bool has_bare_lines(const sl_quad *q)
{
    int lines = 0;

    for (int k = 0; k < 4; k++)
        lines += !q->side[k].frame && q->side[k].solid < STEPLESS;
    return lines >= 2;
}

/* Is it further from the stated proportions than what else is known of it makes up for? What is off
   them by less than a misstated size is, and has a pattern, may end at a line of that. */
static bool is_oddly_shaped(const sl_outline *out, const sl_attempt *page, double off)
{
    return (isfinite(off)
            && ((off > SL_ODD_PILE && page->seen.moved)
                || (off > SL_ODD_SHAPE
                    && out->confidence
                           < fmin(ODD_MARGIN * fmax(0, off - SL_BENT * page->seen.bow), ODD_MOST))))
           || (off > SL_HAIRS * SL_TO_A_HAIR
               && (is_half_seen(out) || (off < SL_ODD_SHAPE && page->from->plain < PATTERNED)));
}

/* Of one that has no proportions to bear it out: does it look like no page? Of a dark pile the page
   on top is hardly seen. */
static bool is_hardly_page(const sl_outline *out, const sl_attempt *page)
{
    return is_long(out)
           || (out->confidence < LINES_MARGIN
               && (has_bare_lines(page->from) || sl_is_dark(page->from)));
}

/* Does something that looks like no page lie on another sheet, as a print on its page? */
static bool lies_bare_on_sheet(const sl_attempt *page, double off, const sl_evidence *v)
{
    return sl_lies_in_ring(page->from, v->small) && !sl_attempt_is_pagelike(page, off, v);
}

/* Does what was seen when it was chosen leave a doubt? */
static bool is_doubtful(const sl_choice *first, const sl_attempt *page, double off,
                        const sl_evidence *v)
{
    const bool hair = off < SL_TO_A_HAIR;

    return first->doubt || (first->of_two && !hair)
           || (first->on_sheet && !(hair && sl_attempt_is_pagelike(page, off, v)));
}

void sl_rate(sl_outline *out, const sl_attempt *page, const sl_choice *first,
             const sl_evidence *v)
{
    const double off = sl_attempt_off(out, v);
    const bool stated = v->params->page_ratio > 0;
    /* with the proportions stated, those of a print or a board would tell it */
    const sl_quad *lain_on = stated ? NULL : sl_lain_on(v->quads, &first->quad, v->small);
    const sl_quad *nested = lain_on != NULL ? lain_on : page_on(page, off, v);
    const sl_quad *rival = nested != NULL ? nested : best_rival(page, off, false, v);

    out->confidence = rival != NULL ? fmax(0, 1 - rival->score / page->from->score) : 1;
    if (nested != NULL || is_doubtful(first, page, off, v) || page->seen.doubt || page->seen.shaded
        || (stated ? is_oddly_shaped(out, page, off) : is_hardly_page(out, page))
        || lies_bare_on_sheet(page, off, v) || is_scanned_print(page, v)
        || another_has_shape(page, off, v) || may_be_print(out, page, off, v)
        || lies_on_full_page(page, off, v))
        out->confidence = 0;
    for (int k = 0; k < 4 && rival != NULL; k++)
        out->rival[k] = sl_small_to_shot(v->small, rival->corner[k]);
}
