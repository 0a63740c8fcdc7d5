/*
 * Lines inside the sides: a sheet's edge is told from a stripe, a row of dots and a printed frame
 * by how it runs, and by what the outline's proportions are without it.
 */
#include "border/pile.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "border/beneath.h"
#include "border/notch.h"
#include "border/shape.h"

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
/* ... with much across it, where the proportions bear it out. */
static const int    COVERED_PIECES = 24;

/* Two sides that moved in as far as each other, alone, may have moved to a printed frame. */
static const double FRAME_MOVED = 4;          /* px, at least */
static const double FRAME_STAYED = 0.2;       /* of that: the other two, at most */
static const double FRAME_EVEN = 0.25;        /* opposite ones differ by less than this share */
static const double CORNER_EVEN = 0.08;       /* ... and two that meet */

/* Depths of a line all round that differ by no more than this factor: a printed frame. */
static const double FRAME_DEPTHS = 1.3;

/* How near side i a line can be told from the side's own edge, px. The end of a shadow is blurred
   more than the camera does. */
static double nearest_line(const sl_outline *out, int i)
{
    const double own = sl_edge_blur(&out->edge[i]);
    const double blur = fmin(own, sl_edge_blur(&out->edge[(i + 2) % 4]));

    return fmax(PEEP_NEAREST,
                fmax(WAVES * out->edge[i].spread_px, isfinite(blur) ? BLURS * blur : 0));
}

/* A sheet's edge: seen from corner to corner, in its own shadow. */
static bool is_sheet(const sl_inner *line)
{
    return line->edge.support >= LINE_SUPPORT && line->shaded
           && line->pieces <= (line->evidence < BOLD ? FAINT_PIECES : PIECES_MOST);
}

/* ... that much lies across, where the proportions bear it out. */
static bool is_covered_sheet(const sl_inner *line)
{
    return is_sheet(line)
           || (line->edge.support >= LINE_DOUBT && line->pieces <= COVERED_PIECES);
}

/* May it be one all the same? On black paper it is faint, and shows no shadow. */
static bool may_be_sheet(const sl_inner *line, bool dark)
{
    return line->edge.support >= LINE_DOUBT && !is_sheet(line)
           && line->pieces <= (line->evidence < BOLD ? (dark ? FAINT_PIECES : 0) : PIECES_MOST);
}

/* The line inside each side; support 0 where there is none. */
static void find_lines(sl_inner inner[4], const sl_outline *out, const sl_course course[4],
                       const sl_image *shot)
{
    double longest = 0;

    for (int i = 0; i < 4; i++)
        longest = fmax(longest,
                       hypot(course[i].b.x - course[i].a.x, course[i].b.y - course[i].a.y));
    for (int i = 0; i < 4; i++) {
        memset(&inner[i], 0, sizeof inner[i]);
        if (!out->edge[i].cut && out->edge[i].count > 8)
            sl_inner_find(&inner[i], &course[i], shot, nearest_line(out, i),
                          fmax(PEEP_NEAREST, PEEP_MOST * longest));
    }
}

/* A line like it all round, as deep on every side: a printed frame. */
static bool is_frame(const sl_inner inner[4])
{
    double shallowest = INFINITY;
    double deepest = 0;

    for (int i = 0; i < 4; i++) {
        if (inner[i].edge.support < FRAME_SUPPORT)
            return false;
        shallowest = fmin(shallowest, inner[i].depth);
        deepest = fmax(deepest, inner[i].depth);
    }
    return deepest < FRAME_DEPTHS * shallowest;
}

/* Sides of a lower sheet: moved in, whatever the proportions are then.
   is  tells a sheet's edge */
static void leave_lower_sheets(sl_outline *out, sl_course course[4], bool moved[4], bool *doubt,
                               const sl_inner inner[4], bool (*is)(const sl_inner *), bool dark)
{
    int lines = 0;

    *doubt = false;
    memset(moved, 0, 4 * sizeof *moved);
    for (int i = 0; i < 4; i++) {
        *doubt = *doubt || may_be_sheet(&inner[i], dark);
        moved[i] = is(&inner[i]);
        if (moved[i]) {
            course[i] = inner[i].course;
            out->edge[i] = inner[i].edge;
            lines++;
            /* sheets so close together that one of them may not be seen */
            *doubt = *doubt || inner[i].depth < PEEP_CLOSE;
        }
    }
    if (lines == 0)
        return;
    sl_course_corners(out->corner, course);
    /* all round it may be a printed line; on black paper the topmost may show no line at all */
    *doubt = *doubt || lines == 4 || dark;
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
                return k == i + 2 || !sl_outline_is_notched(before, shot);
        }
    }
    return false;
}

/* The outline as it was before any side was moved, and the line inside each side. */
typedef struct pile {
    sl_outline out;
    sl_course  course[4];
    sl_inner   inner[4];
    bool       dark;
} pile;

static void put_back(sl_outline *out, sl_course course[4], bool moved[4], bool *doubt,
                     const pile *was)
{
    *out = was->out;
    memcpy(course, was->course, sizeof was->course);
    memset(moved, 0, 4 * sizeof *moved);
    *doubt = false;
}

/* As the proportions are stated: they choose which lines are sheets' edges, if any is. */
static void leave_by_shape(sl_outline *out, sl_course course[4], bool moved[4], bool *doubt,
                           const pile *was, const sl_image *shot, const sl_border_params *params)
{
    const bool framed = is_frame(was->inner);
    const double before = sl_off_shape(out, shot, params);
    double off = before;
    bool none;

    if (!framed) {
        leave_lower_sheets(out, course, moved, doubt, was->inner, is_sheet, was->dark);
        off = sl_off_shape(out, shot, params);
    }
    if (off < SL_HAIRS * SL_TO_A_HAIR)
        return;
    none = framed || (before < SL_IN_SHAPE && off > SL_OUT_OF_SHAPE);
    put_back(out, course, moved, doubt, was);
    leave_lower_sheets(out, course, moved, doubt, was->inner, is_covered_sheet, was->dark);
    if (sl_off_shape(out, shot, params) < (none && !framed ? SL_IN_SHAPE : SL_TO_A_HAIR))
        return;
    put_back(out, course, moved, doubt, was);
    if (!none)
        leave_lower_sheets(out, course, moved, doubt, was->inner, is_sheet, was->dark);
    /* proportions that it nearly has do not say whether one is, nor that the gap between a page and
       the rim of its sleeve is a printed frame */
    if ((before < SL_IN_SHAPE && off > SL_IN_SHAPE && !none)
        || (none && before > SL_HAIRS * SL_TO_A_HAIR))
        *doubt = true;
}

void sl_pile_leave(sl_outline *out, sl_course course[4], bool moved[4], bool *doubt,
                   const sl_image *shot, const sl_border_params *params, bool dark)
{
    pile *was = calloc(1, sizeof *was);

    memset(moved, 0, 4 * sizeof *moved);
    *doubt = false;
    /* without memory no line is found: the outline stays as it is */
    if (was == NULL)
        return;
    was->out = *out;
    memcpy(was->course, course, sizeof was->course);
    was->dark = dark;
    find_lines(was->inner, out, course, shot);
    if (isfinite(sl_off_shape(out, shot, params)))
        leave_by_shape(out, course, moved, doubt, was, shot, params);
    else if (!is_frame(was->inner))
        leave_lower_sheets(out, course, moved, doubt, was->inner, is_sheet, dark);
    *doubt = *doubt && !(sl_off_shape(out, shot, params) < SL_TO_A_HAIR);
    if (moved[0] || moved[1] || moved[2] || moved[3])
        /* without proportions nothing tells a sheet's edge from a stripe */
        *doubt = *doubt || !(params->page_ratio > 0) || moved_like_a_frame(out, &was->out, shot);
    free(was);
}
