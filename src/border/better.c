#include "border/better.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "border/quad.h"
#include "border/shape.h"

/* What another outline must score to be tried, as a share of the first's, and how far off it is. */
static const double LEAST_SCORE = 0.6;
static const double APART = 0.005;

static const double LARGER = 1.002;           /* area of another outline over the first's */
static const double SMALLER = 0.98;
static const double SHADOWED = 0.93;          /* ... of a page over it with its shadow */
static const double NEAR_WHOLE = 0.06;        /* of the page's size: more of it */

/* A side that is not the page's: how far off it is at most, of the page's size; px about where the
   proportions put it; the share of it that must be seen there. */
static const double SIDE_OFF = 0.03;
static const double SIDE_REACH = 6;
static const double SIDE_SUPPORT = 0.75;
static const double SAME_PX = 2;              /* two outlines are one */
static const double ON_SIDE = 0.5;            /* px of the small copy: no further out */

/*
 * Is the second outline rather the page? It has the stated proportions and the first has not; or
 * it has them to a hair, and of a pile the first is not surely the topmost sheet; or the first
 * leaves a doubt, and the second, which is larger but not much, none.
 */
static bool is_better(const sl_outline *first, const sl_attempt *a, const sl_outline *second,
                      const sl_attempt *b, const sl_view *v)
{
    const double off[2] = { sl_view_off(first, v), sl_view_off(second, v) };

    if (isfinite(off[0]) && off[0] > SL_OUT_OF_SHAPE && off[1] < SL_IN_SHAPE)
        return true;
    if (a->seen.moved && a->seen.doubt && !b->seen.doubt && off[0] > SL_HAIRS * SL_TO_A_HAIR
        && off[1] < SL_TO_A_HAIR && sl_quad_distance(b->from, a->from, v->small) < NEAR_WHOLE)
        return true;
    return a->seen.doubt && !b->seen.doubt && b->from->area > a->from->area
           && sl_outline_area(second) > LARGER * sl_outline_area(first)
           && sl_quad_distance(b->from, a->from, v->small) < NEAR_WHOLE
           && !(off[1] > SL_OUT_OF_SHAPE && isfinite(off[1]));
}

/*
 * Puts another hypothesis in the place of the one that was chosen, where that is rather the page on
 * the shot: of those nearly as good the first. The size may be misstated, and a doubt mistaken:
 * what was chosen stays as a rival.
 */
static void take_another(sl_outline *out, sl_attempt *best, const sl_view *v)
{
    enum { TRIED_MOST = 6 };
    const sl_quad *const chosen = best->from;
    const double off = sl_view_off(out, v);
    sl_outline *other;
    bool found = false;

    if (!best->seen.doubt && !(isfinite(off) && off > SL_OUT_OF_SHAPE))
        return;
    other = malloc(sizeof *other);
    if (other == NULL)
        return;
    for (size_t i = 0, tried = 0; i < v->quads->count && tried < TRIED_MOST && !found; i++) {
        const sl_quad *q = &v->quads->quad[i];
        sl_attempt next = { .from = q, .quad = *q };

        if (q->score < LEAST_SCORE * chosen->score || sl_quad_is_framed(q)
            || sl_quad_distance(q, chosen, v->small) < APART
            || (q->misfit > chosen->misfit && !(best->seen.doubt && q->area > chosen->area)))
            continue;
        tried++;
        sl_attempt_trace(other, &next, v);
        if (is_better(out, best, other, &next, v)) {
            const bool hair = sl_view_off(other, v) < SL_TO_A_HAIR;

            /* exact proportions make up for the shadow that it lies in; a pile remains one */
            next.seen.doubt = next.seen.doubt
                              || sl_outline_area(other)
                                     < (hair ? SHADOWED : SMALLER) * sl_outline_area(out);
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
                               const sl_view *v)
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
 * Where nothing but the proportions speaks against the outline it may grow, not shrink.
 */
static void put_side_right(sl_outline *out, sl_attempt *best, const sl_view *v)
{
    const double off = sl_view_off(out, v);
    const double size = sqrt(sl_outline_area(out));
    sl_outline *other;
    sl_outline *right;
    const bool doubt = best->seen.doubt || (best->seen.moved && off > SL_ODD_PILE);
    sl_attempt page = *best;
    bool found = false;
    bool one = true;

    if (!(off > SL_HAIRS * SL_TO_A_HAIR && off < SIDE_OFF) || !(doubt || off > SL_IN_SHAPE))
        return;
    other = malloc(sizeof *other);
    right = malloc(sizeof *right);
    for (int side = 0; side < 4 && other != NULL && right != NULL; side++) {
        sl_attempt next = *best;
        bool on_sheet[4];

        memcpy(on_sheet, best->seen.on_sheet, sizeof on_sheet);
        if (!with_side_in_shape(&next.quad, out, side, size, v))
            continue;
        on_sheet[side] = on_sheet[side] || sl_quad_within(&next.quad, &best->quad, ON_SIDE);
        next.seen = sl_trace_quad(other, &next.quad, SIDE_REACH, on_sheet, v->small, v->shot,
                                  v->tone, v->params);
        next.seen.moved = next.seen.moved || best->seen.moved;
        if (!next.seen.doubt && sl_view_off(other, v) < SL_TO_A_HAIR
            && other->edge[side].support > SIDE_SUPPORT
            && (doubt || sl_outline_area(other) > sl_outline_area(out))) {
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

void sl_take_better(sl_outline *out, sl_attempt *best, const sl_view *v)
{
    take_another(out, best, v);
    put_side_right(out, best, v);
}
