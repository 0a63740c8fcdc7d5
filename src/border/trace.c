#include "border/trace.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "border/goes_on.h"
#include "border/near_frame.h"
#include "border/notch.h"
#include "border/pile.h"
#include "border/rim.h"
#include "border/shade.h"
#include "border/shape.h"
#include "border/surfaces.h"

/* Less than this share of the sides has one paper inside: a pattern, the page's or the table's. */
static const double MANY_COLOURS = 0.65;

/* Of each side of a hypothesis, where exact proportions bear it out, that runs at the table's end. */
static const double AT_TABLE = 0.5;

/* Px by which a wavy side's points scatter, and a straight side's as a share of it. */
static const double WAVY = 0.8;
static const double STRAIGHT = 0.25;

/* Times the camera's blur: a dark page's side is as soft as its shadow's end. Hardly a page that is
   right has one this soft and is off the stated proportions by this |ln|, unless it is bent: then
   the bow of its sides, as a share of their length, says so. */
static const double SOFT = 2;
static const double SHADED_SHAPE = 0.003;
static const double FLAT = 0.0035;

/* ... a side whose edge was not found in the shadow. */
static const double SOFT_LEFT = 3;
static const double LEFT_SHAPE = 0.0015;
static const double SOFT_ALONE = 2.5;         /* ... with no proportions to bear the outline out */

/* A side's blur that is no edge's: shares of the next sharper side's, and of the prints'. */
static const double LINE_OF_SIDES = 0.7;
static const double LINE_OF_PRINTS = 0.55;

/* Px about the line of a sheet's edge, for the fine step; it is taken with this share of the line's
   support, and no further off than this. */
static const double LINE_REACH = 3;
static const double AS_SEEN = 0.8;
static const double ON_LINE = 1;

/* A lower sheet's strip is no wider than this share of the longest side. */
static const double RIM_MOST = 0.04;

/* Mean of the codes: the paper is nearly black. */
static const double DARK = 60;

/* ... beside a table of which it differs by no more than this, linear, nothing but the proportions
   may tell its edge from its shadow's. */
static const double FAINT = 0.03;
static const double DARK_SHAPE = 0.0025;

int sl_top_side(const sl_point corner[4])
{
    int top = 0;
    double best = -2;

    for (int k = 0; k < 4; k++) {
        const double dx = corner[(k + 1) % 4].x - corner[k].x;
        const double dy = corner[(k + 1) % 4].y - corner[k].y;
        const double cosine = dx / hypot(dx, dy);

        if (cosine > best) {
            best = cosine;
            top = k;
        }
    }
    return top;
}

/* Marks as cut the edge that faces the given side of the frame. */
static void mark_cut(sl_outline *out, int side)
{
    static const sl_point outward[4] = { { 0, -1 }, { 1, 0 }, { 0, 1 }, { -1, 0 } };
    int facing = 0;
    double best = -2;

    for (int k = 0; k < 4; k++) {
        const double dx = out->corner[(k + 1) % 4].x - out->corner[k].x;
        const double dy = out->corner[(k + 1) % 4].y - out->corner[k].y;
        const double agree = (dy * outward[side].x - dx * outward[side].y) / hypot(dx, dy);

        if (agree > best) {
            best = agree;
            facing = k;
        }
    }
    out->edge[facing].cut = true;
}

/* The coarse side's curve as a course on the shot: Legendre terms by projection. */
static sl_course coarse_course(const sl_quad *quad, int i, const sl_small *small)
{
    sl_course c = { .a = sl_small_to_shot(small, quad->corner[i]),
                    .b = sl_small_to_shot(small, quad->corner[(i + 1) % 4]) };
    const double *b = quad->side[i].bow;
    const double f = (double)small->factor;

    /* s^2 = (P0 + 2 P2) / 3, s^3 = (3 P1 + 2 P3) / 5, s^4 = (7 P0 + 20 P2 + 8 P4) / 35 */
    c.term[0] = f * (b[0] + b[2] / 3 + b[4] / 5);
    c.term[1] = f * (b[1] + 3 * b[3] / 5);
    c.term[2] = f * (2 * b[2] / 3 + 4 * b[4] / 7);
    c.term[3] = f * (2 * b[3] / 5);
    c.term[4] = f * (8 * b[4] / 35);
    return c;
}

/* Fine step on sides about their courses, each within its reach; 0: the side stays. */
static void refine_sides(sl_outline *out, sl_course course[4], const double reach[4],
                         const sl_image *shot, const sl_tone *tone)
{
    enum { PASSES = 3 };
    static const size_t points[PASSES] = { SL_EDGE_POINTS / 4, SL_EDGE_POINTS / 2,
                                           SL_EDGE_POINTS };
    const bool cut[4] = { out->edge[0].cut, out->edge[1].cut, out->edge[2].cut, out->edge[3].cut };
    sl_surfaces *surfaces = sl_surfaces_learn(shot, tone, course, cut);

    for (int k = 0; k < PASSES; k++) {
        for (int i = 0; i < 4; i++) {
            const double pass[PASSES] = { reach[i], fmax(5, reach[i] / 2), 5 };

            if (reach[i] > 0 && !out->edge[i].cut)
                sl_edge_fit(&out->edge[i], &course[i], shot, tone, fmin(pass[k], reach[i]),
                            points[k], surfaces, i);
        }
        sl_course_corners(out->corner, course);
    }
    free(surfaces);
}

void sl_trace_refine(sl_outline *out, sl_course course[4], const sl_image *shot,
                     const sl_tone *tone, double reach)
{
    const double all[4] = { reach, reach, reach, reach };

    refine_sides(out, course, all, shot, tone);
}

/* Sides that were taken for cut by the frame, and lie a few px inside it. */
static void leave_frame(sl_outline *out, sl_course course[4], const sl_image *shot,
                        const sl_tone *tone)
{
    const bool cut[4] = { out->edge[0].cut, out->edge[1].cut, out->edge[2].cut, out->edge[3].cut };
    bool moved = false;

    for (int i = 0; i < 4; i++)
        if (cut[i])
            moved = sl_edge_near_frame(&out->edge[i], course, i, cut, shot, tone) || moved;
    if (moved)
        sl_course_corners(out->corner, course);
}

void sl_trace_measure_frame(sl_outline *out, size_t width, size_t height)
{
    const double w = (double)width - 1;
    const double h = (double)height - 1;

    out->frame_px = INFINITY;
    for (int i = 0; i < 4; i++) {
        sl_edge *e = &out->edge[i];

        for (size_t k = 0; k < e->count + 1; k++) {
            const sl_point p = k < e->count ? e->point[k].at : out->corner[i];
            const double room = fmin(fmin(p.x, w - p.x), fmin(p.y, h - p.y));

            out->frame_px = fmin(out->frame_px, room);
            /* the picture ends at the outer side of its last px */
            if (k == e->count && room < -0.5) {
                const double past[4] = { -p.y, p.x - w, p.y - h, -p.x };

                for (int side = 0; side < 4; side++)
                    if (past[side] > 0.5)
                        mark_cut(out, side);
            }
        }
    }
}

/* Points along the frame with a wide sigma, for a side that lies outside the picture. */
static void follow_frame(sl_edge *edge, sl_point a, sl_point b)
{
    enum { POINTS = 24 };

    edge->cut = true;
    edge->count = POINTS;
    edge->support = 0;
    edge->spread_px = 0;
    for (int k = 0; k < POINTS; k++) {
        const double t = (k + 0.5) / POINTS;

        edge->point[k] = (sl_edge_point){ { a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) },
                                          2, 1, 0 };
    }
}

bool sl_is_dark(const sl_quad *q)
{
    return (q->colour[0] + q->colour[1] + q->colour[2]) / 3 < (float)DARK;
}

/*
 * The camera's blur across sides 0 and 2, and across 1 and 3: that of the sharpest side, more where
 * the prints are blurred that way (the camera moved). A side much sharper than all others and than
 * the prints is a dark line along the edge.
 */
static void camera_blurs(double camera[2], const sl_outline *out, const sl_image *shot)
{
    double prints[2];
    double side[4];
    double sorted[4];

    sl_camera_blur(prints, shot, out->corner);
    for (int k = 0; k < 4; k++)
        sorted[k] = side[k] = sl_edge_blur(&out->edge[k]);
    qsort(sorted, 4, sizeof *sorted, sl_by_double);
    for (int k = 0; k < 4; k++)
        if (side[k] < LINE_OF_SIDES * sorted[1] && side[k] < LINE_OF_PRINTS * prints[k % 2])
            side[k] = INFINITY;
    for (int k = 0; k < 2; k++) {
        const double moved = isfinite(prints[0]) && isfinite(prints[1])
                                 ? fmax(1, prints[k] / prints[1 - k])
                                 : INFINITY;

        camera[k] = fmin(fmin(prints[k], fmin(side[k], side[k + 2])),
                         fmin(side[1 - k], side[3 - k]) * moved);
    }
}

/* How much softer than the camera's blur sides are that a shadow may hide: of all, and of those
   whose edge was not found in it. */
typedef struct softness {
    double most;
    double left;
} softness;

/* Sides, of those `anew`, whose edge the page's own shadow hides. */
static softness leave_own_shadow(sl_outline *out, sl_course course[4], const bool anew[4],
                                 const sl_image *shot, const sl_tone *tone)
{
    softness soft = { 0, 0 };
    double camera[2];
    bool possible = false;
    bool moved = false;

    /* the camera's blur takes a look at the whole page: not for a light one */
    for (int i = 0; i < 4; i++)
        possible = possible || sl_shade_possible(&out->edge[i]);
    if (!possible)
        return soft;
    camera_blurs(camera, out, shot);
    for (int i = 0; i < 4; i++) {
        const double ratio = sl_edge_blur(&out->edge[i]) / camera[i % 2];
        const bool possible_here = isfinite(camera[i % 2]) && sl_shade_possible(&out->edge[i]);
        const bool before = !anew[i] && out->edge[i].camera_px > 0;
        const bool found = possible_here && anew[i]
                           && sl_shade_fit(&out->edge[i], &course[i], shot, tone, camera[i % 2]);

        moved = moved || found;
        if (possible_here && isfinite(ratio)) {
            soft.most = fmax(soft.most, ratio);
            soft.left = fmax(soft.left, found || before ? 0 : ratio);
        }
    }
    if (moved)
        sl_course_corners(out->corner, course);
    return soft;
}

/* The greatest bow of a side, as a share of its length. */
static double bow_of(const sl_course course[4])
{
    double most = 0;

    for (int i = 0; i < 4; i++) {
        sl_point along;
        sl_point out;

        most = fmax(most, fabs(course[i].term[2]) / sl_course_chord(&along, &out, &course[i]));
    }
    return most;
}

/* May a side still lie in the page's shadow?
   off  as sl_off_shape() */
static bool may_hide(softness soft, double bow, double off)
{
    return (soft.left > (isfinite(off) ? SOFT_LEFT : SOFT_ALONE) && off > LEFT_SHAPE)
           || (soft.most > SOFT && isfinite(off) && off > SHADED_SHAPE
               && (bow < FLAT || off - SL_BENT * bow > SHADED_SHAPE));
}

/* Is the step along every side faint? */
static bool is_faint(const sl_outline *out)
{
    for (int i = 0; i < 4; i++) {
        const sl_edge *e = &out->edge[i];
        double sum = 0;

        for (size_t k = 0; k < e->count; k++)
            sum += fabs(e->point[k].contrast);
        if (sum > FAINT * (double)e->count)
            return false;
    }
    return true;
}

/* A page of many colours ends where the table has others: there the side counts as paper's. */
static void rate_pattern(sl_outline *out, const sl_course course[4], const sl_image *shot)
{
    double paper = 0;
    double ends[4];

    for (int i = 0; i < 4; i++)
        paper += out->edge[i].paper / 4;
    if (paper > MANY_COLOURS)
        return;
    sl_paper_ends(ends, shot, course);
    for (int i = 0; i < 4; i++)
        if (!out->edge[i].cut)
            out->edge[i].paper = fmax(out->edge[i].paper, ends[i]);
}

/* Strips of another sheet along the sides; returns whether there is any. */
static bool find_rims(double rim[4], const sl_outline *out, const sl_course course[4],
                      const sl_image *shot)
{
    double blur[4];
    double longest = 0;

    for (int i = 0; i < 4; i++) {
        blur[i] = out->edge[i].cut ? INFINITY : sl_edge_blur(&out->edge[i]);
        longest = fmax(longest,
                       hypot(course[i].b.x - course[i].a.x, course[i].b.y - course[i].a.y));
    }
    sl_rims_find(rim, shot, course, blur, RIM_MOST * longest);
    return rim[0] > 0 || rim[1] > 0 || rim[2] > 0 || rim[3] > 0;
}

/* A scalloped or frayed page is wavy on all sides, or straight on more than one: a single straight
   side among wavy ones is a line within it. */
static bool has_odd_side(const sl_outline *out)
{
    double spread[4];

    for (int i = 0; i < 4; i++) {
        if (out->edge[i].cut)
            return false;
        spread[i] = out->edge[i].spread_px;
    }
    qsort(spread, 4, sizeof *spread, sl_by_double);
    return spread[1] > WAVY && spread[0] < STRAIGHT * spread[1];
}

double sl_trace_reach(const sl_small *small)
{
    return 4 * (double)small->factor + 4;
}

/* Fine step on sides that moved in to a sheet's edge, where it is seen as well as the line was. */
static void refine_moved(sl_outline *out, sl_course course[4], const bool moved[4],
                         const sl_image *shot, const sl_tone *tone)
{
    const bool cut[4] = { out->edge[0].cut, out->edge[1].cut, out->edge[2].cut, out->edge[3].cut };
    sl_surfaces *surfaces = NULL;

    for (int i = 0; i < 4; i++) {
        const sl_edge line = out->edge[i];
        const sl_course as_line = course[i];

        if (!moved[i])
            continue;
        if (surfaces == NULL)
            surfaces = sl_surfaces_learn(shot, tone, course, cut);
        sl_edge_fit(&out->edge[i], &course[i], shot, tone, LINE_REACH, SL_EDGE_POINTS, surfaces,
                    i);
        if (out->edge[i].support < AS_SEEN * line.support
            || sl_course_usual_off(&as_line, &out->edge[i]) > ON_LINE) {
            out->edge[i] = line;
            course[i] = as_line;
        }
    }
    if (surfaces != NULL)
        sl_course_corners(out->corner, course);
    free(surfaces);
}

/* Do all sides of the hypothesis run where the table ends? Paper that goes on is the table then. */
static bool ends_at_table(const sl_quad *from)
{
    double least = 1;

    for (int i = 0; i < 4; i++)
        least = fmin(least, from->side[i].ends);
    return least > AT_TABLE;
}

/* What the traced sides tell: their own shadow and the sheets beneath are left, and what remains is
   judged. */
static sl_traced judge(sl_outline *out, sl_course course[4], const bool anew[4],
                       const bool on_sheet[4], const sl_quad *from, const sl_image *shot,
                       const sl_tone *tone, const sl_border_params *params)
{
    sl_traced seen = { .moved = false };
    const bool dark = sl_is_dark(from);
    /* the edge that a shadow hides lies within it, as a lower sheet's does: it is no sheet's */
    const softness soft = leave_own_shadow(out, course, anew, shot, tone);
    double off;

    sl_pile_leave(out, course, seen.on_sheet, &seen.doubt, shot, params, dark);
    refine_moved(out, course, seen.on_sheet, shot, tone);
    for (int i = 0; i < 4; i++) {
        seen.moved = seen.moved || seen.on_sheet[i];
        seen.on_sheet[i] = seen.on_sheet[i] || (on_sheet != NULL && on_sheet[i]);
        out->edge[i].on_sheet = seen.on_sheet[i];
    }
    off = sl_off_shape(out, shot, params);
    seen.bow = bow_of(course);
    seen.shaded = may_hide(soft, seen.bow, off)
                  || (dark && isfinite(off) && off > DARK_SHAPE && is_faint(out));
    seen.doubt = seen.doubt || has_odd_side(out)
                 || (!(off < SL_TO_A_HAIR)
                     && (sl_outline_is_notched(out, shot) || sl_has_odd_paper(shot, course)))
                 || (!(off < SL_TO_A_HAIR && ends_at_table(from))
                     && sl_paper_goes_on(shot, course, seen.on_sheet));
    seen.doubt = find_rims(seen.rim, out, course, shot) || seen.doubt;
    rate_pattern(out, course, shot);
    for (int i = 0; i < 4; i++)
        if (out->edge[i].cut)
            follow_frame(&out->edge[i], out->corner[i], out->corner[(i + 1) % 4]);
    out->found = true;
    sl_trace_measure_frame(out, shot->width, shot->height);
    return seen;
}

sl_traced sl_trace_quad(sl_outline *out, sl_quad *q, double reach, const bool on_sheet[4],
                        const sl_small *small, const sl_image *shot, const sl_tone *tone,
                        const sl_border_params *params)
{
    static const bool all[4] = { true, true, true, true };
    sl_course course[4];
    const int top = sl_top_side(q->corner);

    memset(out, 0, sizeof *out);
    for (int i = 0; i < 4; i++) {
        course[i] = coarse_course(q, (i + top) % 4, small);
        out->corner[i] = course[i].a;
        out->edge[i].cut = q->side[(i + top) % 4].frame;
        out->edge[i].paper = q->side[(i + top) % 4].paper;
    }
    sl_trace_refine(out, course, shot, tone, reach);
    leave_frame(out, course, shot, tone);
    for (int i = 0; i < 4; i++)
        q->corner[i] = sl_shot_to_small(small, out->corner[(i + 4 - top) % 4]);
    return judge(out, course, all, on_sheet, q, shot, tone, params);
}

sl_traced sl_trace_sides(sl_outline *out, sl_quad *q, const sl_point corner[4],
                         const double reach[4], const bool on_sheet[4], const sl_small *small,
                         const sl_image *shot, const sl_tone *tone,
                         const sl_border_params *params)
{
    const bool anew[4] = { reach[0] > 0, reach[1] > 0, reach[2] > 0, reach[3] > 0 };
    sl_course course[4];
    const int top = sl_top_side(q->corner);

    for (int i = 0; i < 4; i++) {
        course[i] = (sl_course){ .a = out->corner[i], .b = out->corner[(i + 1) % 4] };
        if (!out->edge[i].cut)
            sl_course_refit(&course[i], &out->edge[i]);
        if (anew[i]) {
            course[i].a = corner[i];
            course[i].b = corner[(i + 1) % 4];
        }
    }
    sl_course_corners(out->corner, course);
    refine_sides(out, course, reach, shot, tone);
    for (int i = 0; i < 4; i++)
        q->corner[i] = sl_shot_to_small(small, out->corner[(i + 4 - top) % 4]);
    return judge(out, course, anew, on_sheet, q, shot, tone, params);
}

double sl_trace_settle(sl_quad *q, const sl_small *small, const sl_image *shot,
                       const sl_tone *tone, const sl_border_params *params)
{
    sl_outline *traced = calloc(1, sizeof *traced);
    sl_course course[4];
    double off;

    if (traced == NULL)
        return 0;            /* as it was */
    for (int i = 0; i < 4; i++) {
        course[i] = coarse_course(q, i, small);
        traced->corner[i] = course[i].a;
        traced->edge[i].cut = q->side[i].frame;
    }
    sl_trace_refine(traced, course, shot, tone, sl_trace_reach(small));
    for (int i = 0; i < 4; i++)
        q->corner[i] = sl_shot_to_small(small, traced->corner[i]);
    off = sl_off_shape(traced, shot, params);
    free(traced);
    return off;
}
