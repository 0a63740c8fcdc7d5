/*
 * From the outline to the page map.
 *
 * The search fits a flat page, a flat page through a lens, and a bent sheet, each from several
 * starts. The simplest that explains the outline to within its noise is taken, and the others
 * that explain it nearly as well say how far the inside of the page can be told.
 */
#include "base/error.h"
#include "rectify/bound.h"
#include "rectify/patch.h"
#include "rectify/search.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

sl_rectify_params sl_rectify_defaults(void)
{
    /* pages are cut to about half a per cent: a 12 in page to 1.5 mm */
    return (sl_rectify_params){ .ratio_sigma = 0.005 };
}

/* ---- the answer ------------------------------------------------------------------------ */

/* Ten significant digits: what the report prints is what is used. */
static double rounded(double x)
{
    char text[32];

    (void)snprintf(text, sizeof text, "%.9e", x);
    return strtod(text, NULL);
}

static void round_map(sl_page_map *map)
{
    for (size_t side = 0; side < 4 && map->model == SL_MODEL_PATCH; side++)
        for (size_t i = 0; i < SL_PATCH_NODES; i++) {
            map->patch[side][i].x = rounded(map->patch[side][i].x);
            map->patch[side][i].y = rounded(map->patch[side][i].y);
        }
    for (size_t i = 0; i < 3; i++) {
        map->rotation[i] = rounded(map->rotation[i]);
        map->translation[i] = rounded(map->translation[i]);
    }
    for (size_t i = 0; i < 2; i++) {
        map->page[i] = rounded(map->page[i]);
        map->centre[i] = rounded(map->centre[i]);
    }
    map->focal_px = rounded(map->focal_px);
    map->k1 = rounded(map->k1);
    map->k2 = rounded(map->k2);
    map->stretch = rounded(map->stretch);
    map->phi = rounded(map->phi);
    for (size_t k = 0; k < SL_PROFILE_MAX; k++)
        map->profile[k] = k < map->profile_count ? rounded(map->profile[k]) : 0.0;
}

/* Without a stated size the measured ratio is the page's, in units of its width. */
static void adopt_ratio(sl_page_map *map)
{
    const double root = sqrt(map->stretch);

    map->page[1] = map->stretch * map->page[1] / map->page[0];
    map->page[0] = 1.0;
    map->stretch = 1.0;
    for (size_t i = 0; i < 3; i++)
        map->translation[i] *= root;
}

/* The map's Jacobian keeps its sign, and the page stays before the camera, over a grid. */
static bool folds(const sl_page_map *map)
{
    enum { N = 17 };

    for (size_t k = 0; k < N * N; k++) {
        double j[4];

        sl_page_map_jacobian(j, map, map->page[0] * (double)(k % N) / (N - 1),
                             map->page[1] * (double)(k / N) / (N - 1));
        if (!(j[0] * j[3] - j[1] * j[2] > 0.0))
            return true;
    }
    return false;
}

sl_status sl_rectify(sl_rectified *out, const sl_outline *outline, const sl_optics *optics,
                     const sl_rectify_params *params, sl_error *err)
{
    sl_search *const s = calloc(1, sizeof *s);
    sl_rectified result = { 0 };
    bool marked[SL_FIT_POINTS];
    sl_status st;

    if (s == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "rectify", "no memory for the search");
    s->optics = optics;
    s->params = params;
    st = sl_fit_work_new(&s->work, err);
    if (st != SL_OK)
        goto done;
    st = sl_seen_from_outline(&s->seen, outline, err);
    if (st != SL_OK)
        goto done;
    st = sl_search_run(s, err);
    if (st != SL_OK)
        goto done;

    const size_t pick = sl_search_choose(s);
    sl_page_map *const map = &result.map;

    *map = s->end[pick].map;
    if (sl_search_unexplained(marked, s->block[pick], s->blocks[pick]) > 0)
        (void)sl_patch_fit(map, s->block[pick], marked, s->blocks[pick]);
    if (!map->has_size)
        adopt_ratio(map);
    round_map(map);
    result.aspect = map->stretch * map->page[1] / map->page[0];
    if (folds(map)) {
        st = sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                     "the page would fold back on itself in this view");
        goto done;
    }
    sl_bound_set(&result, s, pick);
    *out = result;
done:
    sl_fit_work_free(s->work);
    free(s);
    return st;
}
