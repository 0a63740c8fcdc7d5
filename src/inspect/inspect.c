/*
 * Inspect: what the shot delivered, and the verdict. `pass` only when everything measured says
 * so; each doubt is a reason with its figure, its limit and one sentence to act on.
 */
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "base/compiler.h"
#include "base/error.h"
#include "inspect/figures.h"
#include "inspect/source.h"

static const char *const names[SL_CODE_COUNT] = {
    [SL_CODE_NO_PAGE] = "no-page",
    [SL_CODE_SEVERAL_PAGES] = "several-pages",
    [SL_CODE_CUT] = "cut",
    [SL_CODE_NEAR_FRAME] = "near-frame",
    [SL_CODE_WEAK_OUTLINE] = "weak-outline",
    [SL_CODE_RIVAL] = "rival",
    [SL_CODE_UNSURE_SHAPE] = "unsure-shape",
    [SL_CODE_SIZE_DIFFERS] = "size-differs",
    [SL_CODE_SOFT] = "soft",
    [SL_CODE_GLARE] = "glare",
    [SL_CODE_CLIPPED] = "clipped",
    [SL_CODE_UNEVEN_LIGHT] = "uneven-light",
    [SL_CODE_FEW_PIXELS] = "few-pixels",
    [SL_CODE_PATCH] = "patch",
    [SL_CODE_STICKS_OUT] = "sticks-out",
    [SL_CODE_SAME_PAGE] = "same-page",
    [SL_CODE_WHICH_WAY_UP] = "which-way-up",
    [SL_CODE_MORE_IMAGES] = "more-images",
    [SL_CODE_HAND_CORRECTED] = "hand-corrected",
    [SL_CODE_FROM_PLACE] = "from-place",
    [SL_CODE_ODD_PLACE] = "odd-place",
};

const char *sl_code_name(sl_code code)
{
    return (unsigned)code < SL_CODE_COUNT ? names[code] : "";
}

/* Mean share of the edges with one paper inside; a pattern of two colours reaches a half. */
static const double LEAST_PAPER = 0.6;

/* The stated proportions bear out the place of a single weak side, when the page has them within
   this |ln|: 0.15 mm of 300. So much of the limit must be seen of it. */
static const double TO_A_HAIR = 0.0005;
static const double BORNE_OUT = 0.4;

/* ... and where it has them no better than this, more of each side. */
static const double OFF_SHAPE = 0.002;
static const double UNBORNE = 1.4;

/* Edges this share of the inside limit off every model speak for a shape that none explains. */
static const double RESIDUAL_SHARE = 0.5;

/* Blur sigma of a sharp camera's edge, px: lens, demosaicing and the px's own box. From memory. */
static const double PERFECT_BLUR = 0.7;

static const char *const side_name[4] = { "top", "right", "bottom", "left" };

sl_inspect_params sl_inspect_defaults(void)
{
    sl_inspect_params p = { .wanted_ppi = 300, .min_ppi = 150, .images = 1 };

    p.limit[SL_CODE_SEVERAL_PAGES] = 1;    /* sheets */
    p.limit[SL_CODE_NEAR_FRAME] = 3;       /* px: the fit needs that much table to see the edge */
    p.limit[SL_CODE_WEAK_OUTLINE] = 50;    /* % of an edge with a fitted step on it */
    p.limit[SL_CODE_RIVAL] = 2;            /* % margin of the best hypothesis over the next */
    p.limit[SL_CODE_UNSURE_SHAPE] = 0.3;   /* mm */
    p.limit[SL_CODE_SIZE_DIFFERS] = 1.5;   /* % between measured and stated ratio */
    p.limit[SL_CODE_SOFT] = 2.0;           /* px: blur sigma at the edges */
    p.limit[SL_CODE_GLARE] = 0.2;          /* % of the page in one blown spot */
    p.limit[SL_CODE_CLIPPED] = 2;          /* % of the page at the top code */
    p.limit[SL_CODE_UNEVEN_LIGHT] = 50;    /* % darkest over brightest paper */
    p.limit[SL_CODE_PATCH] = 0.3;          /* mm: what moves an edge less hardly moves the inside */
    p.limit[SL_CODE_SAME_PAGE] = 90;       /* % alike, as correlation */
    p.limit[SL_CODE_STICKS_OUT] = 3;       /* mm */
    p.limit[SL_CODE_MORE_IMAGES] = 1;
    p.limit[SL_CODE_ODD_PLACE] = 4;        /* % larger or smaller than its neighbours */
    return p;
}

static void add(sl_inspection *out, sl_code code, double value, double limit, const char *unit,
                sl_verdict weight, const char *text, ...) SL_PRINTF(7, 8);

static void insert(sl_inspection *out, sl_code code, double value, double limit, const char *unit,
                   sl_verdict weight, const char *text, va_list args)
{
    sl_reason *r;
    size_t at = 0;

    if (out->reason_count == SL_REASONS_MAX)
        return;
    /* gravest first, else in order of arrival */
    while (at < out->reason_count && out->reason[at].weight >= weight)
        at++;
    r = &out->reason[at];
    memmove(r + 1, r, (out->reason_count - at) * sizeof *r);
    out->reason_count++;
    *r = (sl_reason){ .code = code, .value = value, .limit = limit, .unit = unit,
                      .weight = weight };
    (void)vsnprintf(r->text, sizeof r->text, text, args);
    if (weight > out->verdict)
        out->verdict = weight;
}

static void add(sl_inspection *out, sl_code code, double value, double limit, const char *unit,
                sl_verdict weight, const char *text, ...)
{
    va_list args;

    va_start(args, text);
    insert(out, code, value, limit, unit, weight, text, args);
    va_end(args);
}

void sl_inspection_add(sl_inspection *out, sl_code code, double value, double limit,
                       const char *unit, sl_verdict weight, const char *text, ...)
{
    va_list args;

    va_start(args, text);
    insert(out, code, value, limit, unit, weight, text, args);
    va_end(args);
}

static void judge_cut(sl_inspection *out, const sl_outline *outline)
{
    for (int i = 0; i < 4; i++)
        if (outline->edge[i].cut)
            add(out, SL_CODE_CUT, i, 0, "", SL_RESHOOT,
                "The %s edge of the page runs out of the picture. Photograph it again with a "
                "finger's width of table all round.",
                side_name[i]);
}

/* Sides of which less can be seen than the limit says. */
static void judge_seen(sl_inspection *out, const sl_outline *outline, const sl_rectified *r,
                       double limit)
{
    const double off = r->map.has_size ? fabs(log(r->map.stretch)) : 0;
    double support[4];
    double least = limit;
    int weak = 0;

    for (int i = 0; i < 4; i++) {
        support[i] = outline->edge[i].cut ? 100 : 100 * outline->edge[i].support;
        weak += support[i] < limit;
    }
    if (r->map.has_size && off < TO_A_HAIR && weak == 1)
        least *= BORNE_OUT;
    if (off > OFF_SHAPE)
        least = fmin(UNBORNE * least, fmax(100, least));
    for (int i = 0; i < 4; i++)
        if (support[i] < least)
            add(out, SL_CODE_WEAK_OUTLINE, support[i], least, "%", SL_LOOK,
                "Only %.0f %% of the %s edge can be seen. Check the page there; a plain table "
                "of another brightness shows edges better.",
                support[i], side_name[i]);
}

static void judge_outline(sl_inspection *out, const sl_outline *outline, const sl_rectified *r,
                          const sl_inspect_params *p)
{
    const double *limit = p->limit;
    double paper = 0;

    judge_cut(out, outline);
    for (int i = 0; i < 4; i++)
        paper += outline->edge[i].paper / 4;
    if (outline->by_hand) {
        add(out, SL_CODE_HAND_CORRECTED, 1, 0, "", SL_PASS, "The outline was given by a person.");
        return;
    }
    if (outline->sheets > limit[SL_CODE_SEVERAL_PAGES])
        add(out, SL_CODE_SEVERAL_PAGES, outline->sheets, limit[SL_CODE_SEVERAL_PAGES], "sheets",
            SL_LOOK,
            "The picture shows %u sheets. Photograph each page alone, or give this page's "
            "outline with --corners.",
            outline->sheets);
    if (outline->frame_px < limit[SL_CODE_NEAR_FRAME] && out->verdict < SL_RESHOOT)
        add(out, SL_CODE_NEAR_FRAME, outline->frame_px, limit[SL_CODE_NEAR_FRAME], "px", SL_LOOK,
            "The page comes within %.1f px of the picture's frame. Check that nothing is cut "
            "off; leave a finger's width of table next time.",
            fmax(0, outline->frame_px));
    judge_seen(out, outline, r, limit[SL_CODE_WEAK_OUTLINE]);
    if (paper < LEAST_PAPER)
        add(out, SL_CODE_RIVAL, 100 * paper, 100 * LEAST_PAPER, "%", SL_LOOK,
            "There is no one paper inside the outline (%.0f %%): it may follow a pattern of the "
            "table. Check that this is the page.",
            100 * paper);
    else if (100 * outline->confidence < limit[SL_CODE_RIVAL])
        add(out, SL_CODE_RIVAL, 100 * outline->confidence, limit[SL_CODE_RIVAL], "%", SL_LOOK,
            "Another rectangle in the picture could be the page as well (margin %.1f %%). Check "
            "that the whole page is there and nothing else.",
            100 * outline->confidence);
}

/* Of a page without a size: the edges' residual in thousandths of its width. */
static double residual_per_mille(const sl_rectified *r)
{
    double j[4];

    sl_page_map_jacobian(j, &r->map, r->map.page[0] / 2, r->map.page[1] / 2);
    return 1000 * r->residual_px / sqrt(fabs(j[0] * j[3] - j[1] * j[2]));
}

/* Height over width of the stated size, the way about that is nearer to `aspect`. */
static double stated_ratio(const sl_rectified *r, const sl_inspect_params *p)
{
    const double ratio = p->page_mm[1] / p->page_mm[0];

    if (r->map.has_size)
        return r->map.page[1] / r->map.page[0];
    return fabs(log(r->aspect / ratio)) < fabs(log(r->aspect * ratio)) ? ratio : 1 / ratio;
}

/* A map without a size though one was stated: no page of that size explains the outline. */
static void judge_size(sl_inspection *out, const sl_rectified *r, const sl_inspect_params *p)
{
    const double limit = p->limit[SL_CODE_SIZE_DIFFERS];
    double stated;
    double off;

    if (!(p->page_mm[0] > 0 && p->page_mm[1] > 0))
        return;
    stated = stated_ratio(r, p);
    off = 100 * fabs(r->aspect / stated - 1);
    if (!r->map.has_size)
        add(out, SL_CODE_SIZE_DIFFERS, off, limit, "%", SL_LOOK,
            "The page measures %.3f to 1 (height to width) where the stated size gives %.3f to "
            "1. It was written as it measures, without a print size. Measure a leaf with a ruler, "
            "or check that this is the whole page.",
            r->aspect, stated);
    else if (off > limit)
        add(out, SL_CODE_SIZE_DIFFERS, off, limit, "%", SL_LOOK,
            "The page measures %.3f to 1 (height to width) where the stated size gives "
            "%.3f to 1. Measure a leaf with a ruler, or check that this is the whole page.",
            r->aspect, stated);
}

/*
 * The share of the edges' residual that is no mere fraying: their scatter about their own smooth
 * curves says nothing of the page's shape.
 */
static double share_of_shape(const sl_outline *outline, const sl_rectified *r)
{
    double scatter = 0;
    int sides = 0;

    for (int i = 0; i < 4; i++) {
        if (outline->edge[i].cut)
            continue;
        scatter += outline->edge[i].spread_px * outline->edge[i].spread_px;
        sides++;
    }
    if (sides == 0 || !(r->residual_px > 0))
        return 1;
    return sqrt(fmax(0, 1 - scatter / sides / (r->residual_px * r->residual_px)));
}

static void judge_shape(sl_inspection *out, const sl_outline *outline, const sl_rectified *r,
                        const sl_inspect_params *p)
{
    const double *limit = p->limit;
    const bool has_size = r->map.has_size;
    /* without a size, thousandths of the width: as many as the limit's mm are of a usual page */
    const char *unit = has_size ? "mm" : "/1000";
    const char *long_unit = has_size ? "mm" : "thousandths of its width";
    const double units = has_size ? 1 : 1000 / SL_USUAL_PAGE_MM;
    const double most = limit[SL_CODE_UNSURE_SHAPE] * units;
    const double patched = limit[SL_CODE_PATCH] * units;
    const double residual = (has_size ? r->residual_mm : residual_per_mille(r))
                            * share_of_shape(outline, r);

    judge_size(out, r, p);
    if (r->patch_mm > patched)
        add(out, SL_CODE_PATCH, r->patch_mm, patched, unit, SL_LOOK,
            "The page does not lie like a bent sheet (a lifted corner, a torn edge?): an edge is "
            "%.2f %s off one. It was flattened from its edges alone; check the inside, or weigh "
            "the corner down and photograph it again.",
            r->patch_mm, long_unit);
    if (residual > RESIDUAL_SHARE * most)
        add(out, SL_CODE_UNSURE_SHAPE, residual, RESIDUAL_SHARE * most, unit, SL_LOOK,
            "The page's edges lie %.2f %s off those of any flat or bent sheet. Check that this "
            "is the page, and straight lines on it.",
            residual, long_unit);
    else if (r->inside_error_mm > most)
        add(out, SL_CODE_UNSURE_SHAPE, r->inside_error_mm, most, unit, SL_LOOK,
            has_size ? "Inside the page things may be up to %.2f mm from their true place. "
                       "Check straight lines on it, or photograph it flatter and straighter."
                     : "Inside the page things may be up to %.2f thousandths of its width from "
                       "their true place. Say --page-size, or photograph it flatter.",
            r->inside_error_mm);
}

static void judge_beyond(sl_inspection *out, const sl_beyond *beyond, const sl_inspect_params *p)
{
    const double limit = p->limit[SL_CODE_STICKS_OUT];

    if (beyond->mm > limit)
        add(out, SL_CODE_STICKS_OUT, beyond->mm, limit, "mm", SL_LOOK,
            "Something lies across the %s edge and reaches %.0f mm beyond it (a ribbon, a tab, a "
            "letter?): it is cut off. Tuck it in and photograph the page again, or run with "
            "--margin %.0fmm.",
            side_name[beyond->side], beyond->mm, ceil(beyond->mm) + 2);
}

static void judge_light(sl_inspection *out, const sl_light *light, double blur,
                        const sl_inspect_params *p)
{
    const double *limit = p->limit;

    if (blur > limit[SL_CODE_SOFT])
        add(out, SL_CODE_SOFT, blur, limit[SL_CODE_SOFT], "px",
            blur > 2.5 * limit[SL_CODE_SOFT] ? SL_RESHOOT : SL_LOOK,
            "The picture is not sharp (edges are blurred by %.1f px). Focus on the page, use a "
            "tripod and a self-timer, and photograph it again.",
            blur);
    if (100 * light->glare > limit[SL_CODE_GLARE])
        add(out, SL_CODE_GLARE, 100 * light->glare, limit[SL_CODE_GLARE], "%", SL_LOOK,
            "A reflection blots out %.1f %% of the page. Move the lamps further to the sides "
            "and photograph it again.",
            100 * light->glare);
    if (100 * light->clipped > limit[SL_CODE_CLIPPED])
        add(out, SL_CODE_CLIPPED, 100 * light->clipped, limit[SL_CODE_CLIPPED], "%", SL_LOOK,
            "%.1f %% of the page is overexposed to plain white. Expose less and photograph it "
            "again if something is lost there.",
            100 * light->clipped);
    if (100 * light->evenness < limit[SL_CODE_UNEVEN_LIGHT])
        add(out, SL_CODE_UNEVEN_LIGHT, 100 * light->evenness, limit[SL_CODE_UNEVEN_LIGHT], "%",
            SL_LOOK,
            "One side of the page gets only %.0f %% of the light of the other. Put two equal "
            "lamps at 45 degrees, one on each side.",
            100 * light->evenness);
}

sl_status sl_inspect(sl_inspection *out, const sl_image *shot, const sl_tone *tone,
                     const sl_outline *outline, const sl_rectified *rectified,
                     const sl_inspect_params *params, sl_error *err)
{
    sl_inspection result;
    sl_light light = { NAN, NAN, NAN, NAN }; /* which no limit judges */
    sl_beyond beyond = { 0, SL_TOP };
    sl_status st;
    double blur;

    memset(&result, 0, sizeof result);
    if (!outline->found || rectified == NULL) {
        if (outline->found)
            judge_cut(&result, outline);
        add(&result, SL_CODE_NO_PAGE, 0, 0, "", SL_RESHOOT, "%s",
            outline->found ? "The outline found is not that of a flat or bent page. Photograph "
                             "it again from straight above, or give its corners with --corners."
                           : "No page found. Photograph it again on a plain table of another "
                             "brightness, or give its corners with --corners.");
        sl_source_reword(&result, params->source);
        *out = result;
        return SL_OK;
    }
    if (shot->data != NULL) {
        st = sl_figure_light(&light, shot, tone, &rectified->map, err);
        if (st == SL_OK)
            st = sl_figure_beyond(&beyond, shot, outline, &rectified->map, err);
        if (st != SL_OK)
            return st;
    }
    blur = sl_figure_blur(outline);
    /* a thick page's edge is no sharper than its shadow; ink on it is */
    if (shot->data != NULL)
        blur = fmin(blur, sl_figure_print_blur(shot, &rectified->map));
    result.has_ppi = rectified->map.has_size;
    if (result.has_ppi)
        result.native_ppi = sl_figure_ppi(&rectified->map);
    result.tilt_deg = sl_figure_tilt(&rectified->map);
    result.frame_share = sl_figure_frame_share(outline, shot);
    result.sharpness = blur > 0 ? fmin(1, PERFECT_BLUR / blur) : 1;
    result.glare = light.glare;
    result.clipped = light.clipped;
    result.evenness = light.evenness;
    result.brightest = light.brightness;

    judge_outline(&result, outline, rectified, params);
    judge_shape(&result, outline, rectified, params);
    judge_light(&result, &light, blur, params);
    judge_beyond(&result, &beyond, params);
    if (result.has_ppi && result.native_ppi.p5 < params->min_ppi)
        add(&result, SL_CODE_FEW_PIXELS, result.native_ppi.p5, params->min_ppi, "ppi", SL_LOOK,
            "The shot holds only %.0f ppi of the page. Go nearer, or photograph the page in "
            "parts.",
            result.native_ppi.p5);
    if ((double)params->images > params->limit[SL_CODE_MORE_IMAGES])
        add(&result, SL_CODE_MORE_IMAGES, (double)params->images,
            params->limit[SL_CODE_MORE_IMAGES], "images", SL_LOOK,
            "The file holds %zu images; the first one was taken. Save the others as files of "
            "their own if they are pages.",
            params->images);
    sl_source_reword(&result, params->source);
    *out = result;
    return SL_OK;
}
