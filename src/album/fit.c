/*
 * A page's map: fitted to its outline, and once more to the outline that the map predicts.
 */
#include "album/fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

/* A second fine step is worth its time when more than this share of the edge points strayed. */
static const double STRAYS = 0.02;

/* One of two fits is clearly nearer to the stated proportions: this share of the other's |ln|. */
static const double CLEARLY = 0.7;
/* ... and has not got them: |ln| of its stretch. */
static const double OUT_OF_SHAPE = 0.0015;

/* From here on a measured ratio is asked for again without the stated one. */
static const double RATIO_DOUBT = 0.01;

/* ... and here a page is no longer bent into the stated shape. */
static const double RATIO_WRONG = 0.05;

/* The map's own outline: SL_PREDICTED points a side, clockwise. */
static void predict(sl_point predicted[4][SL_PREDICTED], const sl_page_map *map)
{
    for (int k = 0; k < SL_PREDICTED; k++) {
        const double u = map->page[0] * k / (SL_PREDICTED - 1);
        const double v = map->page[1] * k / (SL_PREDICTED - 1);

        predicted[SL_TOP][k] = sl_page_map_point(map, u, 0);
        predicted[SL_RIGHT][k] = sl_page_map_point(map, map->page[0], v);
        predicted[SL_BOTTOM][k] = sl_page_map_point(map, map->page[0] - u, map->page[1]);
        predicted[SL_LEFT][k] = sl_page_map_point(map, 0, map->page[1] - v);
    }
}

static bool worth_following(const sl_page *page)
{
    if (page->shot->image->data == NULL || (page->outline->by_hand && page->settings.exact))
        return false;
    if (page->settings.whole_frame || page->rectified.map.model == SL_MODEL_PATCH)
        return false;
    if (page->rectified.outlier_share > STRAYS)
        return true;
    for (int i = 0; i < 4; i++)
        if (!page->outline->edge[i].cut && page->outline->edge[i].support < 0.95)
            return true;
    return false;
}

/*
 * The fit, and where the stated size is doubtful a second one that knows nothing of it: the prior
 * on a wrong size draws the measured ratio towards it, and far enough off nothing fits at all.
 * A map that is the second fit's has no size.
 */
static sl_status fit_page(sl_rectified *out, const sl_outline *outline, const sl_page *page,
                          const sl_rectify_params *params, sl_error *err)
{
    sl_status st = sl_rectify(out, outline, &page->optics, params, err);
    const bool stated = params->page_mm[0] > 0 && params->page_mm[1] > 0;
    sl_rectify_params free_size = *params;
    sl_rectified other;

    if (!stated || (st != SL_OK && st != SL_ERR_DEGENERATE))
        return st;
    if (st == SL_OK && fabs(log(out->aspect * out->map.page[0] / out->map.page[1])) < RATIO_DOUBT)
        return st;
    free_size.page_mm[0] = free_size.page_mm[1] = 0;
    switch (sl_rectify(&other, outline, &page->optics, &free_size, NULL)) {
    case SL_OK:
        break;
    case SL_ERR_NOMEM:       /* want of memory must not choose the page's shape */
        return sl_fail(err, SL_ERR_NOMEM, "rectify", "out of memory");
    default:
        return st;
    }
    if (st != SL_OK) {
        *out = other;
    } else if (other.aspect_sigma < RATIO_DOUBT * other.aspect) {
        if (fabs(log(other.aspect * out->map.page[0] / out->map.page[1])) > RATIO_WRONG)
            *out = other;
        out->aspect = other.aspect;
        out->aspect_sigma = other.aspect_sigma;
    }
    return SL_OK;
}

/* Does the first fit have the stated proportions, rather than the second? Without them it has. */
static bool is_in_shape(const sl_rectified *first, const sl_rectified *second,
                        const sl_rectify_params *params)
{
    return !(params->page_mm[0] > 0 && params->page_mm[1] > 0)
           || fabs(log(first->map.stretch)) < CLEARLY * fabs(log(second->map.stretch));
}

/* Fits the map to the outline that was followed, or to the one whose sides stayed; that one then
   takes its place. */
static sl_status fit_followed(sl_rectified *out, sl_outline *followed, const sl_outline *stayed,
                              const sl_page *page, const sl_rectify_params *params, sl_error *err)
{
    sl_status st = fit_page(out, followed, page, params, err);
    sl_rectified other;

    if (st != SL_OK || !stayed->found)
        return st;
    st = fit_page(&other, stayed, page, params, err);
    if (st == SL_OK && is_in_shape(&other, out, params)) {
        *out = other;
        *followed = *stayed;
    } else if (st == SL_OK && fabs(log(out->map.stretch)) > OUT_OF_SHAPE) {
        /* neither has the proportions: which side strayed is not known */
        out->inside_error_mm = fmax(out->inside_error_mm, other.inside_error_mm);
    }
    return st == SL_ERR_NOMEM ? st : SL_OK;
}

/* Follows the outline that the map predicts, and fits the map to what is found. */
static sl_status follow(sl_page *page, const sl_rectify_params *params, sl_error *err)
{
    sl_outline *const before = malloc(2 * sizeof *before);
    sl_outline *const stayed = before + 1;
    sl_point predicted[4][SL_PREDICTED];
    sl_rectified again;
    sl_status st;

    if (before == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "rectify", "out of memory");
    *before = *page->outline;
    predict(predicted, &page->rectified.map);
    st = sl_outline_follow(page->outline, stayed, page->shot->image, page->tone,
                           (const sl_point(*)[SL_PREDICTED])predicted, err);
    if (st == SL_OK)
        st = fit_followed(&again, page->outline, stayed, page, params, err);
    if (st == SL_OK)
        page->rectified = again;
    else
        *page->outline = *before; /* outline and map tell one story */
    free(before);
    return st;
}

sl_status sl_page_fit(sl_page *page, sl_error *err)
{
    sl_rectify_params params = sl_rectify_defaults();
    sl_status st;

    memcpy(params.page_mm, page->settings.page_mm, sizeof params.page_mm);
    st = fit_page(&page->rectified, page->outline, page, &params, err);
    page->has_map = st == SL_OK;
    if (page->has_map && worth_following(page))
        st = follow(page, &params, err);
    return st == SL_ERR_DEGENERATE ? SL_OK : st;
}
