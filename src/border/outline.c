/*
 * The page's outline: coarse search on the small copy, then the fine step on the shot itself.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "border/choose.h"
#include "border/fine.h"
#include "border/relate.h"
#include "border/shade.h"
#include "border/shape.h"
#include "border/surfaces.h"
#include "border/trace.h"

sl_border_params sl_border_defaults(void)
{
    return (sl_border_params){ .page_ratio = 0 };
}

/* How far from a model's outline the edge is sought, px. */
static const double FOLLOW_REACH = 5;

/* A rival no further off than this share of the page's size may be the page once more; one that
   fits the stated proportions no better than this (2 % off) has them not. */
static const double NEAR_RIVAL = 0.05;
static const double NO_SHAPE = 0.2;

/* ... where the page has them to a hair, what is further off than a coarse outline may be. */
static const double SHAPELESS = 0.03;
static const double HAIRS = 4;                /* ... and on the shot: so many times as far */
static const double NEAR_HAIRS = 3;           /* so nearly to a hair: of those near it */

/* A page that is further than this from them asks for such a margin over its rivals, and is none
   of a pile whose sheets were told apart. */
static const double ODD_SHAPE = 0.004;
static const double ODD_MARGIN = 25;          /* times its |ln|: 10 % for 0.4 %, ... */
static const double ODD_MOST = 0.2;           /* ... at most: a bent page may be far off */

/* What another outline must score to be tried for the stated proportions, and how far off it is. */
static const double SHAPE_SCORE = 0.6;
static const double SHAPE_APART = 0.005;
static const double MOST_OF_PICTURE = 0.9;
static const double SMALL_IN_PICTURE = 0.45;  /* half a bed, as A5 on A4, is still a scan */
static const double CAMERAS_SHAPE = 0.003;
static const double ALONE = 0.6;              /* margin: nothing like it lies about it; */
static const double ALONE_WITH_PRINT = 0.2;   /* ... one that holds a print is hardly a print */
static const double LARGER = 1.002;           /* area of another outline over the first's */
static const double SMALLER = 0.98;
static const double SHADOWED = 0.93;          /* ... of a page over it with its shadow */
static const double SIDE_OFF = 0.03;          /* of the page's size: a side that is not its own */
static const double SIDE_REACH = 6;           /* px about where the proportions put it */
static const double SIDE_SUPPORT = 0.75;
static const double SAME_PX = 2;
static const double NEAR_WHOLE = 0.06;        /* of the page's size: more of it */

/* A straight edge as a person gave it: points known to a tenth of a px. */
static void exact_edge(sl_edge *edge, sl_point a, sl_point b)
{
    enum { POINTS = 32 };

    edge->count = POINTS;
    edge->support = 1;
    edge->paper = 1;
    edge->spread_px = 0;
    for (int k = 0; k < POINTS; k++) {
        const double t = (k + 0.5) / POINTS;

        edge->point[k] = (sl_edge_point){ { a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) },
                                          0.1, 0, 0 };
    }
}

void sl_outline_frame(sl_outline *out, size_t width, size_t height)
{
    const double w = (double)width - 0.5;
    const double h = (double)height - 0.5;
    const sl_point corner[4] = { { -0.5, -0.5 }, { w, -0.5 }, { w, h }, { -0.5, h } };

    memset(out, 0, sizeof *out);
    memcpy(out->corner, corner, sizeof corner);
    for (int i = 0; i < 4; i++)
        exact_edge(&out->edge[i], corner[i], corner[(i + 1) % 4]);
    out->found = true;
    out->by_hand = true;
    out->confidence = 1;
    out->sheets = 1;
}

/* What the search has before it, all through. */
typedef struct view {
    const sl_quads         *quads;
    const sl_lines         *lines;
    const sl_small         *small;
    const sl_image         *shot;
    const sl_tone          *tone;
    const sl_border_params *params;
} view;

static double off_shape(const sl_outline *out, const view *v)
{
    return sl_off_shape(out, v->shot, v->params);
}

/* What is known of an outline: the hypothesis that it was traced from, and what came of it. */
typedef struct attempt {
    const sl_quad *from;
    sl_quad        quad;     /* its corners where its own sides lead on the shot */
    sl_traced      seen;
} attempt;

/* Traces an attempt's quadrilateral on the shot. */
static void trace(sl_outline *out, attempt *a, const view *v)
{
    a->seen = sl_trace_quad(out, &a->quad, sl_trace_reach(v->small), v->small, v->shot, v->tone,
                            v->params);
}

/* px squared */
static double area_of(const sl_outline *o)
{
    double twice = 0;

    for (int i = 0; i < 4; i++) {
        const sl_point p = o->corner[i];
        const sl_point q = o->corner[(i + 1) % 4];

        twice += p.x * q.y - q.x * p.y;
    }
    return fabs(twice) / 2;
}

/*
 * Is the second outline rather the page? It has the stated proportions and the first has not; or
 * it has them to a hair, and of a pile the first is not surely the topmost sheet; or the first
 * leaves a doubt, and the second, which is larger but not much, none.
 */
static bool is_better(const sl_outline *first, const attempt *a, const sl_outline *second,
                      const attempt *b, const view *v)
{
    const double off[2] = { off_shape(first, v), off_shape(second, v) };

    if (isfinite(off[0]) && off[0] > SL_OUT_OF_SHAPE && off[1] < SL_IN_SHAPE)
        return true;
    if (a->seen.moved && a->seen.doubt && !b->seen.doubt && off[0] > HAIRS * SL_TO_A_HAIR
        && off[1] < SL_TO_A_HAIR && sl_quad_distance(b->from, a->from, v->small) < NEAR_WHOLE)
        return true;
    return a->seen.doubt && !b->seen.doubt && b->from->area > a->from->area
           && area_of(second) > LARGER * area_of(first)
           && sl_quad_distance(b->from, a->from, v->small) < NEAR_WHOLE
           && !(off[1] > SL_OUT_OF_SHAPE && isfinite(off[1]));
}

/*
 * Puts another hypothesis in the place of the one that was chosen, where that is rather the page on
 * the shot: of those nearly as good the first. The size may be misstated, and a doubt mistaken: what
 * was chosen stays as a rival.
 */
static void take_better(sl_outline *out, attempt *best, const view *v)
{
    enum { TRIED_MOST = 6 };
    const sl_quad *const chosen = best->from;
    const double off = off_shape(out, v);
    sl_outline *other;
    bool found = false;

    if (!best->seen.doubt && !(isfinite(off) && off > SL_OUT_OF_SHAPE))
        return;
    other = malloc(sizeof *other);
    if (other == NULL)
        return;
    for (size_t i = 0, tried = 0; i < v->quads->count && tried < TRIED_MOST && !found; i++) {
        const sl_quad *q = &v->quads->quad[i];
        attempt next = { .from = q, .quad = *q };

        if (q->score < SHAPE_SCORE * chosen->score || sl_quad_is_framed(q)
            || sl_quad_distance(q, chosen, v->small) < SHAPE_APART
            || (q->misfit > chosen->misfit && !(best->seen.doubt && q->area > chosen->area)))
            continue;
        tried++;
        trace(other, &next, v);
        if (is_better(out, best, other, &next, v)) {
            const bool hair = off_shape(other, v) < SL_TO_A_HAIR;

            /* exact proportions make up for the shadow that it lies in; a pile remains one */
            next.seen.doubt = next.seen.doubt
                              || area_of(other) < (hair ? SHADOWED : SMALLER) * area_of(out);
            next.seen.shaded = next.seen.shaded || (best->seen.shaded && !hair);
            next.seen.moved = next.seen.moved || (best->seen.moved && hair);
            *out = *other;
            *best = next;
            found = true;
        }
    }
    free(other);
}

/* How far the corners of two outlines are apart at most, px. */
static double furthest(const sl_outline *a, const sl_outline *b)
{
    double most = 0;

    for (int i = 0; i < 4; i++)
        most = fmax(most, hypot(a->corner[i].x - b->corner[i].x, a->corner[i].y - b->corner[i].y));
    return most;
}

/* The quadrilateral of an outline with a side where the stated proportions put it. */
static bool with_side_in_shape(sl_quad *quad, const sl_outline *out, int side, double size,
                               const view *v)
{
    const int top = sl_top_side(quad->corner);
    sl_point corner[4];

    memcpy(corner, out->corner, sizeof corner);
    if (!sl_shape_side(corner, side, SIDE_OFF * size, v->shot, v->params))
        return false;
    for (int i = 0; i < 4; i++)
        quad->corner[(i + top) % 4] = sl_shot_to_small(v->small, corner[i]);
    return true;
}

/*
 * Puts right an outline one side of which is not the page's: a lower sheet's, or a stripe on it.
 * The stated proportions say how far off the side would be; it is moved there when an edge is seen
 * there, nothing about the outline then leaves a doubt, and another side leads to no other outline.
 */
static void put_side_right(sl_outline *out, attempt *best, const view *v)
{
    const double off = off_shape(out, v);
    const double size = sqrt(area_of(out));
    sl_outline *other;
    sl_outline *right;
    attempt page = *best;
    bool found = false;
    bool one = true;

    if (!(off > HAIRS * SL_TO_A_HAIR && off < SIDE_OFF)
        || !(best->seen.doubt || (best->seen.moved && off > ODD_SHAPE)))
        return;
    other = malloc(sizeof *other);
    right = malloc(sizeof *right);
    for (int side = 0; side < 4 && other != NULL && right != NULL; side++) {
        attempt next = *best;

        if (!with_side_in_shape(&next.quad, out, side, size, v))
            continue;
        next.seen = sl_trace_quad(other, &next.quad, SIDE_REACH, v->small, v->shot, v->tone,
                                  v->params);
        next.seen.moved = next.seen.moved || best->seen.moved;
        if (!next.seen.doubt && off_shape(other, v) < SL_TO_A_HAIR
            && other->edge[side].support > SIDE_SUPPORT) {
            one = !found || furthest(other, right) < SAME_PX;
            if (!one)
                break;
            *right = *other;
            page = next;
            found = true;
        }
    }
    if (found && one) {
        *out = *right;
        *best = page;
    }
    free(other);
    free(right);
}

/*
 * The best-scored outline that is another one than the page's. One near it may be the same page,
 * seen less well: it is another one when it still is where its sides lead on the shot.
 * off      how far the page is from the stated proportions: what has them less is none
 * outside  only such as do not lie on it
 */
static const sl_quad *best_rival(const attempt *page, double off, bool outside, const view *v)
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

        if (rival->misfit > shapeless || (outside && sl_lies_within(rival, page->from)))
            continue;
        if (count == SETTLE_MOST || !(near || (hair && !sl_quad_is_framed(rival))))
            break;
        count++;
        its_off = sl_trace_settle(&settled, v->small, v->shot, v->tone, v->params);
        if (!((hair || (near && off < NEAR_HAIRS * SL_TO_A_HAIR))
              && its_off > HAIRS * fmax(SL_TO_A_HAIR, off))
            && !(near && !sl_is_rival(&settled, &page->quad, v->small, stack, stated)))
            break;
    }
    return rival;
}

/* ---- a person's corners ---------------------------------------------------------------------- */

static sl_status trace_by_hand(sl_outline *out, const sl_image *shot, const sl_tone *tone,
                               const sl_border_params *params, sl_error *err)
{
    sl_point corner[4];
    double twice_area = 0;
    double shortest = INFINITY;
    int top;

    for (int k = 0; k < 4; k++) {
        const sl_point a = params->corners[k];
        const sl_point b = params->corners[(k + 1) % 4];

        twice_area += a.x * b.y - b.x * a.y;
        shortest = fmin(shortest, hypot(b.x - a.x, b.y - a.y));
    }
    for (int k = 0; k < 4; k++)
        corner[k] = params->corners[twice_area > 0 ? k : 3 - k];
    for (int k = 0; k < 4; k++) {
        const sl_point a = corner[k];
        const sl_point b = corner[(k + 1) % 4];
        const sl_point c = corner[(k + 2) % 4];

        if (!((b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x) > 0) || shortest < 8)
            return sl_fail(err, SL_ERR_DEGENERATE, "border",
                           "the four corners do not go round a page: give them clockwise, in px "
                           "of the upright picture");
    }
    top = sl_top_side(corner);
    memset(out, 0, sizeof *out);
    for (int i = 0; i < 4; i++)
        out->corner[i] = corner[(i + top) % 4];
    if (!params->exact) {
        sl_course course[4];

        for (int i = 0; i < 4; i++)
            course[i] = (sl_course){ .a = out->corner[i], .b = out->corner[(i + 1) % 4] };
        sl_trace_refine(out, course, shot, tone, fmax(8, 0.006 * shortest));
    }
    for (int i = 0; i < 4; i++)
        if (out->edge[i].count < 8)
            exact_edge(&out->edge[i], out->corner[i], out->corner[(i + 1) % 4]);
    out->found = true;
    out->by_hand = true;
    out->confidence = 1;
    out->sheets = 1;
    sl_trace_measure_frame(out, shot->width, shot->height);
    return SL_OK;
}

/* ---- a model's outline ----------------------------------------------------------------------- */

sl_status sl_outline_follow(sl_outline *outline, const sl_image *shot, const sl_tone *tone,
                            const sl_point predicted[4][SL_PREDICTED], sl_error *err)
{
    sl_edge *before = NULL;
    sl_course course[4] = { 0 };
    bool cut[4];
    sl_surfaces *surfaces;

    if (!outline->found)
        return sl_fail(err, SL_ERR_ARG, "border", "there is no outline to follow");
    before = malloc(sizeof *before);
    if (before == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    for (int i = 0; i < 4; i++)
        cut[i] = outline->edge[i].cut || !sl_course_through(&course[i], predicted[i], SL_PREDICTED);
    surfaces = sl_surfaces_learn(shot, tone, course, cut);
    for (int i = 0; i < 4; i++) {
        sl_edge *edge = &outline->edge[i];

        if (cut[i])
            continue;
        *before = *edge;
        sl_edge_fit(edge, &course[i], shot, tone, FOLLOW_REACH, SL_EDGE_POINTS, surfaces, i);
        if (edge->support < 0.6 * before->support
            || (before->camera_px > 0
                && !sl_shade_fit(edge, &course[i], shot, tone, before->camera_px)))
            *edge = *before; /* the model leads away from the edge that was seen */
    }
    for (int i = 0; i < 4; i++)
        if (!outline->edge[i].cut)
            outline->corner[i] = predicted[i][0];
    free(surfaces);
    free(before);
    sl_trace_measure_frame(outline, shot->width, shot->height);
    return SL_OK;
}

/* ---- the stage ------------------------------------------------------------------------------- */

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

/*
 * May the picture be the page, and the outline a print on it? What has no camera's shape was
 * cropped by hand or scanned, and if it has the page's proportions then it may have been cropped to
 * the page.
 */
static bool is_cropped_to_page(const sl_outline *out, const sl_image *shot,
                               const sl_border_params *params)
{
    const double w = (double)shot->width;
    const double h = (double)shot->height;

    return params->page_ratio > 0 && !is_cameras(shot->width, shot->height)
           && fabs(log(fmax(w / h, h / w) / params->page_ratio)) < SL_OUT_OF_SHAPE
           && area_of(out) < MOST_OF_PICTURE * w * h;
}

/* May the picture be the page and the outline a print on it, for all that lies about it? */
static bool may_be_print(const sl_outline *out, const attempt *page, double off, const view *v)
{
    const sl_quad *like;
    double alone;

    if (!is_cropped_to_page(out, v->shot, v->params))
        return false;
    alone = sl_has_print_on(page->from, v->lines, v->small, v->params) ? ALONE_WITH_PRINT : ALONE;
    /* that it has the proportions to a hair says little here: the picture has them too */
    like = best_rival(page, fmax(off, SL_TO_A_HAIR), true, v);
    return page->from->area < SMALL_IN_PICTURE || sl_lies_beside_print(v->quads, page->from)
           || (like != NULL && like->score > (1 - alone) * page->from->score);
}

/* May the chosen outline be a print on a page whose sides the fine step finds a few px inside the
   frame, with the stated proportions, or which the frame cuts a little? */
static bool lies_on_full_page(const attempt *page, const view *v)
{
    enum { TRIED_MOST = 2 };
    sl_outline *full = v->params->page_ratio > 0 ? malloc(sizeof *full) : NULL;
    bool found = false;
    bool cut;

    for (size_t i = 0, tried = 0;
         full != NULL && i < v->quads->count && tried < TRIED_MOST && !found; i++) {
        attempt next = { .quad = v->quads->quad[i] };

        if (!sl_may_fill_frame(&next.quad, page->from, v->small))
            continue;
        tried++;
        trace(full, &next, v);
        cut = full->edge[0].cut || full->edge[1].cut || full->edge[2].cut || full->edge[3].cut;
        found = cut ? sl_is_cut_sheet(&next.quad)
                          && !sl_has_print_on(page->from, v->lines, v->small, v->params)
                    : off_shape(full, v) < SL_IN_SHAPE;
    }
    free(full);
    return found;
}

/* Has another outline the stated proportions to a hair on the shot, where this one has not? */
static bool another_has_shape(const attempt *page, double off, const view *v)
{
    enum { SETTLE_MOST = 4 };
    int count = 0;

    if (!isfinite(off) || off < HAIRS * SL_TO_A_HAIR)
        return false;
    for (size_t i = 0; i < v->quads->count && count < SETTLE_MOST; i++) {
        sl_quad q = v->quads->quad[i];

        if (q.score < SHAPE_SCORE * page->from->score || q.misfit > SHAPELESS
            || sl_quad_is_framed(&q)
            || !sl_is_rival(&q, &page->quad, v->small, page->seen.moved, true))
            continue;
        count++;
        if (sl_trace_settle(&q, v->small, v->shot, v->tone, v->params) < SL_TO_A_HAIR)
            return true;
    }
    return false;
}

/*
 * How sure it is that the outline is the page: the margin over its best rival, which is kept; 0 when
 * something about it leaves a doubt.
 * nested  what may be the page rather, NULL: nothing
 */
static void rate(sl_outline *out, const attempt *page, const sl_quad *nested, const view *v)
{
    const double off = off_shape(out, v);
    const sl_quad *rival = nested != NULL ? nested : best_rival(page, off, false, v);

    out->confidence = rival != NULL ? fmax(0, 1 - rival->score / page->from->score) : 1;
    if (nested != NULL || page->seen.doubt || page->seen.shaded
        || (isfinite(off) && off > ODD_SHAPE
            && (out->confidence < fmin(ODD_MARGIN * off, ODD_MOST) || page->seen.moved))
        || another_has_shape(page, off, v) || may_be_print(out, page, off, v)
        || lies_on_full_page(page, v))
        out->confidence = 0;
    for (int k = 0; k < 4 && rival != NULL; k++)
        out->rival[k] = sl_small_to_shot(v->small, rival->corner[k]);
}

static sl_status search(sl_outline *out, const sl_image *shot, const sl_tone *tone,
                        const sl_border_params *params, sl_error *err)
{
    sl_small *small = NULL;
    sl_lines lines = { NULL, 0 };
    sl_quads *quads = NULL;
    sl_choice chosen;
    sl_status st;

    st = sl_small_new(&small, shot, err);
    if (st == SL_OK)
        st = sl_lines_find(&lines, small, err);
    if (st == SL_OK && (quads = malloc(sizeof *quads)) == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    if (st == SL_OK)
        st = sl_quads_find(quads, small, &lines, params, err);
    if (st == SL_OK && sl_choose(&chosen, quads, &lines, small, params)) {
        const view v = { quads, &lines, small, shot, tone, params };
        /* with the proportions stated, those of a print or a board would tell it */
        const bool stated = params->page_ratio > 0;
        const sl_quad *nested = stated ? NULL : sl_lain_on(quads, &chosen.quad, small);
        attempt page = { .from = &chosen.quad, .quad = chosen.quad };

        trace(out, &page, &v);
        take_better(out, &page, &v);
        put_side_right(out, &page, &v);
        page.seen.doubt = page.seen.doubt || chosen.doubt
                          || (chosen.of_two && !(off_shape(out, &v) < SL_TO_A_HAIR));
        if (nested == NULL)
            nested = sl_large_on(quads, page.from, &lines, small, params);
        rate(out, &page, nested, &v);
        st = sl_count_sheets(&out->sheets, quads, page.from, &lines, small, params, err);
    }
    free(quads);
    sl_lines_clear(&lines);
    sl_small_free(small);
    return st;
}

sl_status sl_outline_find(sl_outline *out, const sl_image *shot, const sl_tone *tone,
                          const sl_border_params *params, sl_error *err)
{
    sl_outline *found = calloc(1, sizeof *found);
    sl_status st;

    if (found == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    st = params->has_corners ? trace_by_hand(found, shot, tone, params, err)
                             : search(found, shot, tone, params, err);
    if (st == SL_OK)
        *out = *found;
    free(found);
    return st;
}
