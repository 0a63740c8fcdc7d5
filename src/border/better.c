#include "border/better.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "border/notch.h"
#include "border/quad.h"
#include "border/shape.h"
#include "border/sheets.h"

/* What another outline must score to be tried, as a share of the first's, and how far off it is. */
static const double LEAST_SCORE = 0.6;
static const double AS_GOOD = 0.9;
static const double APART = 0.005;

static const double PRINTS_SHARE = 0.2;       /* of the first's area: what lies on it is a print */
static const double LARGER = 1.002;           /* area of another outline over the first's */
static const double SMALLER = 0.98;
static const double SHADOWED = 0.93;          /* ... of a page over it with its shadow */
static const double EXACTLY = 0.2;            /* of the larger one's |ln| the inner of two is off */
static const double NEAR_WHOLE = 0.06;        /* of the page's size: more of it */

/* A side that is not the page's: how far off it is at most, of the page's size; px about where the
   proportions put it; the share of it that must be seen there. */
static const double SIDE_OFF = 0.03;
static const double SIDE_REACH = 6;
static const double OUT_OF_SIGHT = 1;       /* px from where a side was to what is looked at */
static const double LEAST_REACH = 3;
static const double SIDE_SUPPORT = 0.75;
static const double MAYBE_HAIRS = 2;          /* of the proportions */
static const double SIDE_MAYBE = 0.5;         /* ... where it would be the page's as well */
static const double SAME_PX = 2;              /* two outlines are one */

/*
 * Is the second outline rather the page? It has the stated proportions and the first has not; or
 * it has them to a hair, and is as good, or of a pile the first is not surely the topmost sheet; or
 * the first leaves a doubt, and the second, which is larger but not much, none.
 */
static bool is_better(const sl_outline *first, const sl_attempt *a, const sl_outline *second,
                      const sl_attempt *b, const sl_evidence *v)
{
    const double off[2] = { sl_attempt_off(first, v), sl_attempt_off(second, v) };

    if (isfinite(off[0]) && off[0] > SL_OUT_OF_SHAPE && off[1] < SL_IN_SHAPE)
        return true;
    if (((a->seen.moved && a->seen.doubt) || b->from->score > AS_GOOD * a->from->score)
        && !b->seen.doubt && off[0] > SL_HAIRS * SL_TO_A_HAIR && off[1] < SL_TO_A_HAIR
        && sl_quad_distance(b->from, a->from, v->small) < NEAR_WHOLE)
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
static void take_another(sl_outline *out, sl_attempt *best, const sl_evidence *v)
{
    enum { TRIED_MOST = 6 };
    const sl_quad *const chosen = best->from;
    const double off = sl_attempt_off(out, v);
    const double least = best->seen.doubt || off > SL_OUT_OF_SHAPE ? LEAST_SCORE : AS_GOOD;
    sl_outline *other;
    bool found = false;

    if (!best->seen.doubt && !(isfinite(off) && off > SL_HAIRS * SL_TO_A_HAIR))
        return;
    other = malloc(sizeof *other);
    if (other == NULL)
        return;
    for (size_t i = 0, tried = 0; i < v->quads->count && tried < TRIED_MOST && !found; i++) {
        const sl_quad *q = &v->quads->quad[i];
        sl_attempt next = { .from = q, .quad = *q };

        if (q->score < least * chosen->score || sl_quad_is_framed(q)
            || (q->area < PRINTS_SHARE * chosen->area && sl_quad_within(q, chosen, SL_SLACK))
            || sl_quad_distance(q, chosen, v->small) < APART
            || (q->misfit > chosen->misfit && !(best->seen.doubt && q->area > chosen->area)))
            continue;
        tried++;
        sl_attempt_trace(other, &next, v);
        if (is_better(out, best, other, &next, v)) {
            const bool hair = sl_attempt_off(other, v) < SL_TO_A_HAIR;

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

/* Traces sides of an outline anew, about corners that were guessed, each within its reach; 0: it
   stays. */
static void trace_sides(sl_outline *other, sl_attempt *next, const sl_outline *out,
                        const sl_attempt *best, const sl_point corner[4], const double reach[4],
                        const bool on_sheet[4], const sl_evidence *v)
{
    *next = *best;
    *other = *out;
    next->seen = sl_trace_sides(other, &next->quad, corner, reach, on_sheet, v->small, v->shot,
                                v->tone, v->params);
    next->seen.moved = next->seen.moved || best->seen.moved;
}

/* Moves a side in by some px, along the sides that meet it. */
static void move_side(sl_point corner[4], const sl_outline *out, int side, double px)
{
    const int next = (side + 1) % 4;
    const sl_point *c = out->corner;
    const int away[2] = { (side + 3) % 4, (side + 2) % 4 };

    for (int k = 0; k < 2; k++) {
        const int at = k == 0 ? side : next;
        const double dx = c[away[k]].x - c[at].x;
        const double dy = c[away[k]].y - c[at].y;
        const double length = hypot(dx, dy);

        corner[at].x += px * dx / length;
        corner[at].y += px * dy / length;
    }
}

/* How far a side of these corners lies within that of an outline, px, at its middle. */
static double lies_within(const sl_point corner[4], const sl_outline *out, int side)
{
    const int next = (side + 1) % 4;
    const sl_point *c = out->corner;
    const double dx = c[next].x - c[side].x;
    const double dy = c[next].y - c[side].y;

    return ((corner[side].y + corner[next].y - c[side].y - c[next].y) / 2 * dx
            - (corner[side].x + corner[next].x - c[side].x - c[next].x) / 2 * dy)
           / hypot(dx, dy);
}

/* How far off the edge may be where a side is moved, px: the edge that it leaves, often the bolder
   one, must be out of sight. */
static double reach_of(double moved)
{
    return fmin(SIDE_REACH, fmax(fabs(moved) - OUT_OF_SIGHT, LEAST_REACH));
}

/* Is an outline put right the page's? It has the proportions because they were sought: the corners
   must bear it out. */
static bool is_page(const sl_outline *out, const sl_attempt *a, const sl_evidence *v)
{
    return !a->seen.doubt && sl_attempt_off(out, v) < SL_TO_A_HAIR
           && !sl_outline_is_notched(out, v->shot);
}

/* ... or nearly: enough to make one wonder about another outline. */
static bool may_be_page(const sl_outline *out, const sl_attempt *a, const sl_evidence *v)
{
    return !a->seen.doubt && sl_attempt_off(out, v) < MAYBE_HAIRS * SL_TO_A_HAIR;
}

/*
 * Puts right an outline one side of which is not the page's: a lower sheet's, or a stripe on it.
 * The stated proportions say how far off the side would be; it is moved there when an edge is seen
 * there, nothing about the outline then leaves a doubt, and another side leads to no other outline.
 * Where nothing but the proportions speaks against the outline it may grow, not shrink.
 */
static void put_side_right(sl_outline *out, sl_attempt *best, const sl_evidence *v)
{
    const double off = sl_attempt_off(out, v);
    const double size = sqrt(sl_outline_area(out));
    sl_outline *other;
    sl_outline *right;
    const bool doubt = best->seen.doubt || (best->seen.moved && off > SL_ODD_PILE);
    sl_attempt page = *best;
    bool found = false;
    bool sure = false;
    bool one = true;

    if (!(off > SL_HAIRS * SL_TO_A_HAIR && off < SIDE_OFF) || !(doubt || off > SL_IN_SHAPE))
        return;
    other = malloc(sizeof *other);
    right = malloc(sizeof *right);
    for (int side = 0; side < 4 && other != NULL && right != NULL; side++) {
        sl_attempt next;
        sl_point corner[4];
        double reach[4] = { 0 };
        bool on_sheet[4];
        double moved;

        memcpy(corner, out->corner, sizeof corner);
        memcpy(on_sheet, best->seen.on_sheet, sizeof on_sheet);
        if (!sl_shape_side(corner, side, SIDE_OFF * size, v->shot, v->params))
            continue;
        moved = lies_within(corner, out, side);
        /* outward of a dark page its shadow ends too */
        if (moved < 0 && sl_is_dark(best->from))
            continue;
        reach[side] = reach_of(moved);
        on_sheet[side] = on_sheet[side] || moved > 0;
        trace_sides(other, &next, out, best, corner, reach, on_sheet, v);
        if (may_be_page(other, &next, v) && other->edge[side].support > SIDE_MAYBE
            && (doubt || sl_outline_area(other) > sl_outline_area(out))) {
            one = !found || furthest(other, right) < SAME_PX;
            if (!one)
                break;
            if (!found || is_page(other, &next, v)) {
                *right = *other;
                page = next;
            }
            found = true;
            sure = sure || (is_page(other, &next, v) && other->edge[side].support > SIDE_SUPPORT);
        }
    }
    if (sure && one) {
        *out = *right;
        *best = page;
    }
    free(other);
    free(right);
}

/* Leaves the strips of other sheets along an outline's sides. False: it has none. */
static bool leave_rims(sl_outline *out, sl_attempt *at, const sl_evidence *v)
{
    sl_outline *other;
    sl_attempt next;
    sl_point corner[4];
    double reach[4] = { 0 };
    bool on_sheet[4];
    bool any = false;

    memcpy(corner, out->corner, sizeof corner);
    for (int i = 0; i < 4; i++) {
        const double rim = at->seen.rim[i];

        on_sheet[i] = at->seen.on_sheet[i] || rim > 0;
        if (rim > 0) {
            move_side(corner, out, i, rim);
            reach[i] = reach_of(rim);
            any = true;
        }
    }
    if (!any || (other = malloc(sizeof *other)) == NULL)
        return false;
    trace_sides(other, &next, out, at, corner, reach, on_sheet, v);
    next.seen.moved = true;
    *out = *other;
    *at = next;
    free(other);
    return true;
}

/*
 * Of a pile several sheets may show, as strips along several sides: they are left, one after
 * another, until no doubt remains and the outline has the stated proportions to a hair, with one
 * side put right where none shows. Else the outline stays as it was.
 */
static void leave_pile(sl_outline *out, sl_attempt *best, const sl_evidence *v)
{
    enum { SHEETS_MOST = 4 };
    sl_outline *left = malloc(sizeof *left);
    sl_outline *right = malloc(sizeof *right);
    sl_attempt at = *best;
    bool found = false;

    if (left != NULL && right != NULL && v->params->page_ratio > 0) {
        *left = *out;
        for (int k = 0; k < SHEETS_MOST && !found && leave_rims(left, &at, v); k++) {
            sl_attempt page = at;

            *right = *left;
            if (!is_page(right, &page, v))
                put_side_right(right, &page, v);
            found = is_page(right, &page, v);
            if (found) {
                *out = *right;
                *best = page;
            }
        }
    }
    free(left);
    free(right);
}

/*
 * Of two hypotheses that have the stated proportions the larger was chosen: a page, with the other
 * as a print on it. But it may be sides of a board and of the page on that, put together. On the shot
 * the page has them far more exactly.
 */
static void take_inner(sl_outline *out, sl_attempt *best, const sl_quad *inner,
                       const sl_evidence *v)
{
    double off[2] = { sl_attempt_off(out, v), 0 };
    sl_attempt next = { .from = inner, .quad = *inner };
    sl_outline *other = off[0] > SL_HAIRS * SL_TO_A_HAIR ? malloc(sizeof *other) : NULL;

    if (other != NULL) {
        sl_attempt_trace(other, &next, v);
        off[1] = sl_attempt_off(other, v);
        if (!next.seen.doubt && off[1] < fmax(SL_TO_A_HAIR, EXACTLY * off[0])
            && !sl_outline_is_notched(other, v->shot)
            && sl_attempt_is_pagelike(&next, off[1], v)) {
            *out = *other;
            *best = next;
        }
    }
    free(other);
}

void sl_take_better(sl_outline *out, sl_attempt *best, const sl_choice *first,
                    const sl_evidence *v)
{
    if (first->inner != NULL)
        take_inner(out, best, first->inner, v);
    take_another(out, best, v);
    leave_pile(out, best, v);
    put_side_right(out, best, v);
}
