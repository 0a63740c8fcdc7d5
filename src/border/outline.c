/*
 * The page's outline: coarse search on the small copy, then the fine step on the shot itself.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "border/better.h"
#include "border/choose.h"
#include "border/rate.h"
#include "border/shade.h"
#include "border/shape.h"
#include "border/sheets.h"
#include "border/surfaces.h"

sl_border_params sl_border_defaults(void)
{
    return (sl_border_params){ .page_ratio = 0 };
}

/* How far from a model's outline the edge is sought, px, and a side is not further from it than it
   was. */
static const double FOLLOW_REACH = 5;
static const double STRAYED = 0.5;
static const double TO_SHEET = 1.5;           /* ... for another sheet's edge */

/* Shares of a side's support on one course: with less on another it is not seen there; with more it
   is seen there as well. */
static const double NOT_SEEN = 0.6;
static const double AS_WELL = 0.3;

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

/* Px by which a side is further from the model than it was. */
static double strayed_by(const sl_edge *edge, const sl_edge *before, const sl_course *predicted)
{
    return sl_course_usual_off(predicted, edge) - sl_course_usual_off(predicted, before);
}

/* Has a side left for something beside it the points that bore out the model? */
static bool has_strayed(const sl_edge *edge, const sl_edge *before, const sl_course *predicted)
{
    return before->support > AS_WELL * edge->support
           && strayed_by(edge, before, predicted) > STRAYED;
}

sl_status sl_outline_follow(sl_outline *outline, sl_outline *stayed, const sl_image *shot,
                            const sl_tone *tone, const sl_point predicted[4][SL_PREDICTED],
                            sl_error *err)
{
    sl_course course[4] = { 0 };
    bool cut[4];
    sl_surfaces *surfaces;

    if (!outline->found)
        return sl_fail(err, SL_ERR_ARG, "border", "there is no outline to follow");
    *stayed = *outline;
    stayed->found = false;
    for (int i = 0; i < 4; i++)
        cut[i] = outline->edge[i].cut || !sl_course_through(&course[i], predicted[i], SL_PREDICTED);
    surfaces = sl_surfaces_learn(shot, tone, course, cut);
    for (int i = 0; i < 4; i++) {
        const sl_course model = course[i];
        const sl_edge *before = &stayed->edge[i];
        sl_edge *edge = &outline->edge[i];

        if (cut[i])
            continue;
        sl_edge_fit(edge, &course[i], shot, tone, FOLLOW_REACH, SL_EDGE_POINTS, surfaces, i);
        if (edge->support < NOT_SEEN * before->support
            || (before->camera_px > 0
                && !sl_shade_fit(edge, &course[i], shot, tone, before->camera_px)))
            *edge = *before; /* the model leads away from the edge that was seen */
        if (before->on_sheet && strayed_by(edge, before, &model) > TO_SHEET)
            *edge = *before; /* it left for the bolder edge of the lower sheet */
        if (has_strayed(edge, before, &model))
            stayed->found = true;
        else
            stayed->edge[i] = *edge;
    }
    for (int i = 0; i < 4; i++)
        if (!outline->edge[i].cut)
            outline->corner[i] = stayed->corner[i] = predicted[i][0];
    free(surfaces);
    sl_trace_measure_frame(outline, shot->width, shot->height);
    sl_trace_measure_frame(stayed, shot->width, shot->height);
    return SL_OK;
}

/* ---- the stage ------------------------------------------------------------------------------- */

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
        const sl_evidence v = { quads, &lines, small, shot, tone, params };
        sl_attempt page = { .from = &chosen.quad, .quad = chosen.quad };

        sl_attempt_trace(out, &page, &v);
        sl_take_better(out, &page, &chosen, &v);
        sl_rate(out, &page, &chosen, &v);
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
