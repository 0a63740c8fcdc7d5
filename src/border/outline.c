/*
 * The page's outline: coarse search on the small copy, then the fine step on the shot itself.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/order.h"
#include "border/beneath.h"
#include "border/choose.h"
#include "border/fine.h"
#include "border/goes_on.h"
#include "border/near_frame.h"
#include "border/notch.h"
#include "border/relate.h"
#include "border/rim.h"
#include "border/search.h"
#include "border/shade.h"
#include "border/surfaces.h"

sl_border_params sl_border_defaults(void)
{
    return (sl_border_params){ .page_ratio = 0 };
}

/* How far from a model's outline the edge is sought, px. */
static const double FOLLOW_REACH = 5;

/* Lower sheets peep out this far: px, and at most this share of the page's size (8 mm of 305). */
static const double PEEP_NEAREST = 5;
static const double PEEP_CLOSE = 6;
static const double WAVES = 8;                /* spreads of a frayed side */
static const double BLURS = 3;                /* its edge's sigma */
static const double PEEP_MOST = 0.026;

/* A line inside a side is a sheet's edge when it is seen along this share of it, from corner to
   corner; along this share it makes one wonder. */
static const double LINE_SUPPORT = 0.8;
static const double LINE_DOUBT = 0.65;
static const double FRAME_SUPPORT = 0.45;

/* A sheet's edge is seen in a few pieces, between what covers it; a row of dots in many. What is
   less bold than this is a sheet's edge in one piece or two. */
static const int    PIECES_MOST = 8;
static const int    FAINT_PIECES = 2;
static const double BOLD = 2;
static const double DARK = 60;                /* codes */

/* Less than this share of the sides has one paper inside: a pattern, the page's or the table's. */
static const double MANY_COLOURS = 0.65;

/* A rival no further off than this share of the page's size may be the page once more; one that
   fits the stated proportions no better than this (2 % off) has them not. */
static const double NEAR_RIVAL = 0.05;
static const double NO_SHAPE = 0.2;

/* ... where the page has them to this |ln|, what is further off than a coarse outline may be. */
static const double TO_A_HAIR = 0.0005;
static const double SHAPELESS = 0.03;
static const double HAIRS = 4;                /* ... and on the shot: so many times as far */

/* A page that is further than this from them asks for such a margin over its rivals, and is none
   of a pile whose sheets were told apart. */
static const double ODD_SHAPE = 0.004;
static const double ODD_MARGIN = 0.15;

/* |ln| of the outline's proportions over the stated ones: they are the same, or they differ (size-
   differs would say so); what another outline must score to be tried for them, and how far off. */
static const double IN_SHAPE = 0.0075;
static const double OUT_OF_SHAPE = 0.015;
static const double SHAPE_SCORE = 0.6;
static const double SHAPE_APART = 0.005;
static const double MOST_OF_PICTURE = 0.8;
static const double ALONE = 0.6;              /* margin: nothing like it lies about it; */
static const double ALONE_WITH_PRINT = 0.2;   /* ... one that holds a print is hardly a print */
static const double LARGER = 1.002;           /* area of another outline over the first's */
static const double SMALLER = 0.98;
static const double NEAR_WHOLE = 0.06;        /* of the page's size: more of it */
static const double USUAL_FOCAL = 0.75;       /* of the long side: 27 mm equivalent, a phone's */

/* Px by which a wavy side's points scatter, and a straight side's as a share of it. */
static const double WAVY = 0.8;
static const double STRAIGHT = 0.25;

/* Two sides that moved in as far as each other, alone, may have moved to a printed frame. */
static const double FRAME_MOVED = 4;          /* px, at least */
static const double FRAME_STAYED = 0.2;       /* of that: the other two, at most */
static const double FRAME_EVEN = 0.25;        /* opposite ones differ by less than this share */
static const double CORNER_EVEN = 0.08;       /* ... and two that meet */

/* Depths of a line all round that differ by no more than this factor: a printed frame. */
static const double FRAME_DEPTHS = 1.3;

/* The side whose direction is nearest to +x. */
static int top_side(const sl_point corner[4])
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

static void meet_corners(sl_outline *out, const sl_course course[4])
{
    for (int i = 0; i < 4; i++) {
        sl_point p;

        if (sl_course_meet(&p, &course[(i + 3) % 4], &course[i]))
            out->corner[i] = p;
    }
}

/* Median of the blurs along an edge, px; INFINITY where they were not measured or are too few. */
static double edge_blur(const sl_edge *edge)
{
    double blur[SL_EDGE_POINTS];

    for (size_t i = 0; i < edge->count; i++)
        blur[i] = edge->point[i].blur_px;
    qsort(blur, edge->count, sizeof *blur, sl_by_double);
    return edge->count < 24 || !(blur[edge->count / 2] > 0) ? INFINITY : blur[edge->count / 2];
}

/* Fine step on all sides, three times, each closer about the curves of the one before. */
static void refine(sl_outline *out, sl_course course[4], const sl_image *shot,
                   const sl_tone *tone, double reach)
{
    const bool cut[4] = { out->edge[0].cut, out->edge[1].cut, out->edge[2].cut, out->edge[3].cut };
    sl_surfaces *surfaces = sl_surfaces_learn(shot, tone, course, cut);
    const struct { double reach; size_t points; } pass[] = {
        { reach, SL_EDGE_POINTS / 4 }, { fmax(5, reach / 2), SL_EDGE_POINTS / 2 },
        { 5, SL_EDGE_POINTS },
    };

    for (size_t k = 0; k < sizeof pass / sizeof *pass; k++) {
        for (int i = 0; i < 4; i++)
            if (!out->edge[i].cut)
                sl_edge_fit(&out->edge[i], &course[i], shot, tone, pass[k].reach, pass[k].points,
                            surfaces, i);
        meet_corners(out, course);
    }
    free(surfaces);
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
        meet_corners(out, course);
}

/* Least distance of the outline to the frame, and the sides that run out of the picture. */
static void measure_frame(sl_outline *out, size_t width, size_t height)
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

static bool is_dark(const sl_quad *q)
{
    return (q->colour[0] + q->colour[1] + q->colour[2]) / 3 < (float)DARK;
}

/* How near side i a line can be told from the side's own edge, px. The end of a shadow is blurred
   more than the camera does. */
static double nearest_line(const sl_outline *out, int i)
{
    const double own = edge_blur(&out->edge[i]);
    const double blur = fmin(own, edge_blur(&out->edge[(i + 2) % 4]));

    return fmax(PEEP_NEAREST,
                fmax(WAVES * out->edge[i].spread_px, isfinite(blur) ? BLURS * blur : 0));
}

/* A sheet's edge: seen from corner to corner, in its own shadow. */
static bool is_sheet(const sl_inner *line)
{
    return line->edge.support >= LINE_SUPPORT && line->shaded
           && line->pieces <= (line->evidence < BOLD ? FAINT_PIECES : PIECES_MOST);
}

/* May it be one all the same? */
static bool may_be_sheet(const sl_inner *line)
{
    return line->edge.support >= LINE_DOUBT && line->pieces <= PIECES_MOST
           && line->evidence >= BOLD && !is_sheet(line);
}

/*
 * Sides of a lower sheet that peeps out from under the page: moved in to the page's own edges.
 * A line at one depth all round is a frame printed on the page, and stays.
 * dark    the paper is nearly black
 * moved   out: the sides that moved
 * doubt   out: a line is there, but not from corner to corner, or it goes all round unevenly
 */
static void leave_lower_sheets(sl_outline *out, sl_course course[4], bool moved[4], bool *doubt,
                               const sl_image *shot, bool dark)
{
    sl_inner inner[4];
    int lines = 0;
    int traces = 0;
    double shallowest = INFINITY;
    double deepest = 0;
    double longest = 0;

    *doubt = false;
    memset(moved, 0, 4 * sizeof *moved);
    for (int i = 0; i < 4; i++)
        longest = fmax(longest,
                       hypot(course[i].b.x - course[i].a.x, course[i].b.y - course[i].a.y));
    for (int i = 0; i < 4; i++) {
        memset(&inner[i], 0, sizeof inner[i]);
        if (!out->edge[i].cut && out->edge[i].count > 8)
            sl_inner_find(&inner[i], &course[i], shot, nearest_line(out, i),
                          fmax(PEEP_NEAREST, PEEP_MOST * longest));
        lines += is_sheet(&inner[i]);
        traces += inner[i].edge.support >= FRAME_SUPPORT;
        shallowest = fmin(shallowest, inner[i].depth);
        deepest = fmax(deepest, inner[i].depth);
        *doubt = *doubt || may_be_sheet(&inner[i]);
    }
    if (traces == 4 && deepest < FRAME_DEPTHS * shallowest) {
        *doubt = false;
        return;
    }
    if (lines == 0)
        return;
    for (int i = 0; i < 4; i++) {
        moved[i] = is_sheet(&inner[i]);
        if (moved[i]) {
            course[i] = inner[i].course;
            out->edge[i] = inner[i].edge;
            /* sheets so close together that one of them may not be seen */
            *doubt = *doubt || inner[i].depth < PEEP_CLOSE;
        }
    }
    meet_corners(out, course);
    /* all round it may be a printed line; on black paper the topmost may show no line at all */
    *doubt = *doubt || lines == 4 || dark;
}

/*
 * The camera's blur across sides 0 and 2, and across 1 and 3: that of the sharpest side, more where
 * the prints are blurred that way (the camera moved).
 */
static void camera_blurs(double camera[2], const sl_outline *out, const sl_image *shot)
{
    double prints[2];
    double side[2];

    sl_camera_blur(prints, shot, out->corner);
    for (int k = 0; k < 2; k++)
        side[k] = fmin(edge_blur(&out->edge[k]), edge_blur(&out->edge[k + 2]));
    for (int k = 0; k < 2; k++) {
        const double moved = isfinite(prints[0]) && isfinite(prints[1])
                                 ? fmax(1, prints[k] / prints[1 - k])
                                 : INFINITY;

        camera[k] = fmin(fmin(prints[k], side[k]), side[1 - k] * moved);
    }
}

/* Sides whose edge the page's own shadow hides. */
static void leave_own_shadow(sl_outline *out, sl_course course[4], const sl_image *shot,
                             const sl_tone *tone)
{
    double camera[2];
    bool possible = false;
    bool moved = false;

    /* the camera's blur takes a look at the whole page: not for a light one */
    for (int i = 0; i < 4; i++)
        possible = possible || sl_shade_possible(&out->edge[i]);
    if (!possible)
        return;
    camera_blurs(camera, out, shot);
    for (int i = 0; i < 4; i++) {
        if (isfinite(camera[i % 2]))
            moved = sl_shade_fit(&out->edge[i], &course[i], shot, tone, camera[i % 2]) || moved;
    }
    if (moved)
        meet_corners(out, course);
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

/* Is there a strip of another sheet along a side? */
static bool has_rim(const sl_outline *out, const sl_course course[4], const sl_image *shot)
{
    double blur[4];

    for (int i = 0; i < 4; i++)
        blur[i] = out->edge[i].cut ? INFINITY : edge_blur(&out->edge[i]);
    return sl_has_rim(shot, course, blur);
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

/* How far the outline is from the stated proportions: |ln| of their quotient; INFINITY: unknown. */
static double off_shape(const sl_outline *out, const sl_image *shot,
                        const sl_border_params *params)
{
    const double w = (double)shot->width;
    const double h = (double)shot->height;
    double focal = params->focal_px > 0 ? params->focal_px : USUAL_FOCAL * fmax(w, h);
    double ratio;

    if (!(params->page_ratio > 0)
        || sl_rectangle_from_view(&focal, &ratio, out->corner, (sl_point){ w / 2, h / 2 }, NULL)
               != SL_OK)
        return INFINITY;
    return fabs(log(fmax(ratio, 1 / ratio) / params->page_ratio));
}

/* Does the table show in a corner where the page should be? Not asked of a page that is cut. */
static bool has_notch(const sl_outline *out, const sl_image *shot)
{
    double spread[4];

    for (int i = 0; i < 4; i++) {
        if (out->edge[i].cut)
            return false;
        spread[i] = out->edge[i].spread_px;
    }
    return sl_corner_is_notched(shot, out->corner, spread);
}

/* How far side i of `now` lies within that of `before`, px, at its middle. */
static double moved_in(const sl_outline *now, const sl_outline *before, int i)
{
    const sl_point *a = before->corner;
    const sl_point *b = now->corner;
    const int k = (i + 1) % 4;
    const double dx = a[k].x - a[i].x;
    const double dy = a[k].y - a[i].y;

    return ((b[i].y + b[k].y - a[i].y - a[k].y) / 2 * dx
            - (b[i].x + b[k].x - a[i].x - a[k].x) / 2 * dy)
           / hypot(dx, dy);
}

/*
 * Did just two sides move in, as far as each other? Lower sheets lie so by chance alone; a frame
 * that is printed on the page does, where something else hides its other lines. Of sheets shifted
 * by as much both ways the table shows in two corners of their outline.
 */
static bool moved_like_a_frame(const sl_outline *now, const sl_outline *before,
                               const sl_image *shot)
{
    for (int i = 0; i < 4; i++) {
        for (int k = i + 1; k < 4; k++) {
            const double one = moved_in(now, before, i);
            const double other = moved_in(now, before, k);
            double rest = 0;

            for (int j = 0; j < 4; j++)
                if (j != i && j != k)
                    rest = fmax(rest, fabs(moved_in(now, before, j)));
            if (fmin(one, other) > FRAME_MOVED
                && fabs(one - other) < (k == i + 2 ? FRAME_EVEN : CORNER_EVEN) * fmax(one, other)
                && rest < FRAME_STAYED * fmin(one, other))
                return k == i + 2 || !has_notch(before, shot);
        }
    }
    return false;
}

/*
 * leave_lower_sheets(), but not where the page has the stated proportions and would lose them: then
 * the line within is a stripe of its paper.
 */
static void leave_lower_sheets_in_shape(sl_outline *out, sl_course course[4], bool moved[4],
                                        bool *doubt, const sl_image *shot,
                                        const sl_border_params *params, bool dark)
{
    sl_outline *before = malloc(sizeof *before);
    sl_course unmoved[4];
    bool any;

    if (before != NULL)
        *before = *out;
    memcpy(unmoved, course, sizeof unmoved);
    leave_lower_sheets(out, course, moved, doubt, shot, dark);
    any = moved[0] || moved[1] || moved[2] || moved[3];
    if (any && before != NULL && off_shape(before, shot, params) < IN_SHAPE
        && off_shape(out, shot, params) > OUT_OF_SHAPE) {
        *out = *before;
        memcpy(course, unmoved, sizeof unmoved);
        memset(moved, 0, 4 * sizeof *moved);
        *doubt = false;
    } else if (any && before != NULL && off_shape(before, shot, params) < IN_SHAPE
               && off_shape(out, shot, params) > IN_SHAPE) {
        *doubt = true;       /* between the two */
    }
    if (any && before != NULL && moved_like_a_frame(out, before, shot))
        *doubt = true;
    free(before);
}

/*
 * Fine step about the chosen quadrilateral; returns whether sides moved in from a lower sheet.
 * doubt  out: a lower sheet may be mistaken for the page
 * q      out: its corners are where its own sides lead on the shot
 */
static bool trace_quad(sl_outline *out, bool *doubt, sl_quad *q, const sl_small *small,
                       const sl_image *shot, const sl_tone *tone, const sl_border_params *params)
{
    sl_course course[4];
    bool moved[4];
    const int top = top_side(q->corner);

    memset(out, 0, sizeof *out);
    for (int i = 0; i < 4; i++) {
        course[i] = coarse_course(q, (i + top) % 4, small);
        out->corner[i] = course[i].a;
        out->edge[i].cut = q->side[(i + top) % 4].frame;
        out->edge[i].paper = q->side[(i + top) % 4].paper;
    }
    refine(out, course, shot, tone, 4 * (double)small->factor + 4);
    leave_frame(out, course, shot, tone);
    for (int i = 0; i < 4; i++)
        q->corner[i] = sl_shot_to_small(small, out->corner[(i + 4 - top) % 4]);
    /* the edge that a shadow hides lies within it, as a lower sheet's does: it is no sheet's */
    leave_own_shadow(out, course, shot, tone);
    leave_lower_sheets_in_shape(out, course, moved, doubt, shot, params, is_dark(q));
    *doubt = *doubt || has_notch(out, shot) || has_odd_side(out)
             || sl_paper_goes_on(shot, course, moved) || has_rim(out, course, shot)
             || sl_has_odd_paper(shot, course);
    rate_pattern(out, course, shot);
    for (int i = 0; i < 4; i++)
        if (out->edge[i].cut)
            follow_frame(&out->edge[i], out->corner[i], out->corner[(i + 1) % 4]);
    out->found = true;
    measure_frame(out, shot->width, shot->height);
    return moved[0] || moved[1] || moved[2] || moved[3];
}

/* What is known of an outline: the hypothesis that it was traced from, and what came of it. */
typedef struct attempt {
    const sl_quad *from;
    sl_quad        quad;     /* its corners where its own sides lead on the shot */
    bool           moved;    /* sides moved in from a lower sheet */
    bool           doubt;
} attempt;

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
 * the first leaves a doubt, and the second, which is larger but not much, none.
 */
static bool is_better(const sl_outline *first, const attempt *a, const sl_outline *second,
                      const attempt *b, const sl_small *small, const sl_image *shot,
                      const sl_border_params *params)
{
    const double off[2] = { off_shape(first, shot, params), off_shape(second, shot, params) };

    if (isfinite(off[0]) && off[0] > OUT_OF_SHAPE && off[1] < IN_SHAPE)
        return true;
    return a->doubt && !b->doubt && b->from->area > a->from->area
           && area_of(second) > LARGER * area_of(first)
           && sl_quad_distance(b->from, a->from, small) < NEAR_WHOLE
           && !(off[1] > OUT_OF_SHAPE && isfinite(off[1]));
}

/*
 * Puts another hypothesis in the place of the one that was chosen, where that is rather the page on
 * the shot: of those nearly as good the first. Returns whether it did. The size may be misstated,
 * and a doubt mistaken: what was chosen stays as a rival.
 */
static bool take_better(sl_outline *out, attempt *best, const sl_quads *quads,
                        const sl_small *small, const sl_image *shot, const sl_tone *tone,
                        const sl_border_params *params)
{
    enum { TRIED_MOST = 6 };
    const sl_quad *const chosen = best->from;
    const double off = off_shape(out, shot, params);
    sl_outline *other;
    bool found = false;

    if (!best->doubt && !(isfinite(off) && off > OUT_OF_SHAPE))
        return false;
    other = malloc(sizeof *other);
    if (other == NULL)
        return false;
    for (size_t i = 0, tried = 0; i < quads->count && tried < TRIED_MOST && !found; i++) {
        const sl_quad *q = &quads->quad[i];
        attempt next = { .from = q, .quad = *q };

        if (q->score < SHAPE_SCORE * chosen->score || sl_quad_is_framed(q)
            || sl_quad_distance(q, chosen, small) < SHAPE_APART
            || (q->misfit > chosen->misfit && !(best->doubt && q->area > chosen->area)))
            continue;
        tried++;
        next.moved = trace_quad(other, &next.doubt, &next.quad, small, shot, tone, params);
        if (is_better(out, best, other, &next, small, shot, params)) {
            next.doubt = next.doubt || area_of(other) < SMALLER * area_of(out);
            *out = *other;
            *best = next;
            found = true;
        }
    }
    free(other);
    return found;
}

/* Moves a hypothesis' corners to where its sides lead on the shot; returns how far it then is from
   the stated proportions, as off_shape(). */
static double settle(sl_quad *q, const sl_small *small, const sl_image *shot, const sl_tone *tone,
                     const sl_border_params *params)
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
    refine(traced, course, shot, tone, 4 * (double)small->factor + 4);
    for (int i = 0; i < 4; i++)
        q->corner[i] = sl_shot_to_small(small, traced->corner[i]);
    off = off_shape(traced, shot, params);
    free(traced);
    return off;
}

/*
 * The best-scored outline that is another one than the page's. One near it may be the same page,
 * seen less well: it is another one when it still is where its sides lead on the shot.
 * traced  the chosen one, its corners as traced on the shot
 * stack   as sl_next_rival() has it
 * off     how far the page is from the stated proportions: what has them less is none
 */
static const sl_quad *best_rival(const sl_quads *quads, const sl_quad *chosen,
                                 const sl_quad *traced, const sl_small *small,
                                 const sl_image *shot, const sl_tone *tone,
                                 const sl_border_params *params, bool stack, double off)
{
    enum { SETTLE_MOST = 6 };
    const bool stated = params->page_ratio > 0;
    const bool hair = off < TO_A_HAIR;
    const double shapeless = hair ? SHAPELESS : off < IN_SHAPE ? NO_SHAPE : INFINITY;
    const sl_quad *rival = sl_next_rival(quads, NULL, chosen, small, stack, stated);
    int count = 0;

    for (; rival != NULL; rival = sl_next_rival(quads, rival, chosen, small, stack, stated)) {
        const bool near = !stack && sl_quad_distance(rival, chosen, small) < NEAR_RIVAL;
        sl_quad settled = *rival;
        double its_off;

        if (rival->misfit > shapeless)
            continue;
        if (count == SETTLE_MOST || !(near || (hair && !sl_quad_is_framed(rival))))
            break;
        count++;
        its_off = settle(&settled, small, shot, tone, params);
        if (!(hair && its_off > HAIRS * TO_A_HAIR)
            && !(near && !sl_is_rival(&settled, traced, small, stack, stated)))
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
    top = top_side(corner);
    memset(out, 0, sizeof *out);
    for (int i = 0; i < 4; i++)
        out->corner[i] = corner[(i + top) % 4];
    if (!params->exact) {
        sl_course course[4];

        for (int i = 0; i < 4; i++)
            course[i] = (sl_course){ .a = out->corner[i], .b = out->corner[(i + 1) % 4] };
        refine(out, course, shot, tone, fmax(8, 0.006 * shortest));
    }
    for (int i = 0; i < 4; i++)
        if (out->edge[i].count < 8)
            exact_edge(&out->edge[i], out->corner[i], out->corner[(i + 1) % 4]);
    out->found = true;
    out->by_hand = true;
    out->confidence = 1;
    out->sheets = 1;
    measure_frame(out, shot->width, shot->height);
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
    measure_frame(outline, shot->width, shot->height);
    return SL_OK;
}

/* ---- the stage ------------------------------------------------------------------------------- */

/*
 * May the picture be the page, and the outline a print on it? A camera delivers an even number of
 * px: an odd one was cropped by hand or scanned, and if it has the page's proportions then it may
 * have been cropped to the page.
 */
static bool is_cropped_to_page(const sl_outline *out, const sl_image *shot,
                               const sl_border_params *params)
{
    const double w = (double)shot->width;
    const double h = (double)shot->height;

    return params->page_ratio > 0 && (shot->width % 2 == 1 || shot->height % 2 == 1)
           && fabs(log(fmax(w / h, h / w) / params->page_ratio)) < OUT_OF_SHAPE
           && area_of(out) < MOST_OF_PICTURE * w * h;
}

/* Does nothing like the chosen outline lie about it, as prints do about a print? */
static bool is_alone(const sl_quads *quads, const sl_quad *chosen, const sl_small *small,
                     bool stack)
{
    const sl_quad *next = sl_next_rival(quads, NULL, chosen, small, stack, true);
    const double least = sl_holds_print(quads, chosen) ? ALONE_WITH_PRINT : ALONE;

    return !sl_lies_beside_print(quads, chosen)
           && (next == NULL || next->score < (1 - least) * chosen->score);
}

static sl_status search(sl_outline *out, const sl_image *shot, const sl_tone *tone,
                        const sl_border_params *params, sl_error *err)
{
    sl_small *small = NULL;
    sl_lines lines = { NULL, 0 };
    sl_quads *quads = NULL;
    sl_quad chosen;
    bool unsure;
    sl_status st;

    st = sl_small_new(&small, shot, err);
    if (st == SL_OK)
        st = sl_lines_find(&lines, small, err);
    if (st == SL_OK && (quads = malloc(sizeof *quads)) == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    if (st == SL_OK)
        st = sl_quads_find(quads, small, &lines, params, err);
    if (st == SL_OK && sl_choose(&chosen, &unsure, quads, &lines, small, params)) {
        /* with the proportions stated, those of a print or a board would tell it */
        const bool stated = params->page_ratio > 0;
        const sl_quad *nested = stated ? NULL : sl_lain_on(quads, &chosen, small);
        attempt page = { .from = &chosen, .quad = chosen };
        const sl_quad *rival;
        double off;

        page.moved = trace_quad(out, &page.doubt, &page.quad, small, shot, tone, params);
        if (take_better(out, &page, quads, small, shot, tone, params)) {
            chosen = *page.from;
        }
        off = off_shape(out, shot, params);
        rival = best_rival(quads, &chosen, &page.quad, small, shot, tone, params, page.moved, off);

        st = sl_count_sheets(&out->sheets, quads, &chosen, &lines, small, params, err);
        out->confidence = 1;
        if (nested == NULL)
            nested = sl_large_on(quads, &chosen, small, stated);
        if (nested != NULL)
            rival = nested;
        if (rival != NULL)
            out->confidence = fmax(0, 1 - rival->score / chosen.score);
        if (nested != NULL || page.doubt || unsure
            || (isfinite(off) && off > ODD_SHAPE
                && (out->confidence < ODD_MARGIN || page.moved))
            || (is_cropped_to_page(out, shot, params)
                && !is_alone(quads, &chosen, small, page.moved)))
            out->confidence = 0;
        for (int k = 0; k < 4 && rival != NULL; k++)
            out->rival[k] = sl_small_to_shot(small, rival->corner[k]);
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
