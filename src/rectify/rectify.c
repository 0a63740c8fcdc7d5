/*
 * From the outline to the page map.
 *
 * 1. Starts on thinned points: a flat page, a flat page through a lens, and a bent sheet with
 *    its rulings along either side and either diagonal; each for every focal length and page
 *    orientation that is open. Robust weights by reweighting outside the fit.
 * 2. The best starts are finished on block means.
 * 3. The simplest model that explains the outline to within its noise is taken, and the others
 *    that explain it nearly as well say how far the inside of the page can be told.
 */
#include "base/error.h"
#include "rectify/inside.h"
#include "rectify/pose.h"
#include "rectify/seen.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const double DEGREE = 0.017453292519943295;

/* Terms of the profile while starts are compared, and at the end. */
enum { TERMS_START = 4, TERMS = 7, START_PER_SIDE = 16 };

/* The candidates: 2 page orientations x 3 focal lengths x (flat, lens, 4 sheets). */
enum { KINDS = 6, STARTS_MAX = 2 * 3 * KINDS, FINISHED_MAX = 6 };

typedef struct candidate {
    sl_page_map map;
    sl_fit_prior prior;
    sl_fit_free freedom;
    double cost;             /* robust, priors included, in units of the noise */
    bool good;
} candidate;

sl_rectify_params sl_rectify_defaults(void)
{
    /* pages are cut to about half a per cent: a 12 in page to 1.5 mm */
    return (sl_rectify_params){ .ratio_sigma = 0.005 };
}

/* ---- priors ---------------------------------------------------------------------------- */

static void set_priors(sl_fit_prior *prior, const sl_optics *optics, double ratio_sigma,
                       double phi)
{
    *prior = (sl_fit_prior){ 0 };
    prior->mean[SL_P_LN_FOCAL] = log(optics->focal_px);
    prior->sigma[SL_P_LN_FOCAL] = optics->ln_focal_sigma;
    prior->mean[SL_P_CENTRE] = optics->centre_x;
    prior->mean[SL_P_CENTRE + 1] = optics->centre_y;
    prior->sigma[SL_P_CENTRE] = optics->centre_sigma;
    prior->sigma[SL_P_CENTRE + 1] = optics->centre_sigma;
    prior->mean[SL_P_K1] = optics->k1;
    prior->mean[SL_P_K2] = optics->k2;
    prior->sigma[SL_P_K1] = optics->k1_sigma;
    prior->sigma[SL_P_K2] = optics->k2_sigma;
    prior->sigma[SL_P_LN_STRETCH] = ratio_sigma;
    prior->mean[SL_P_PHI] = phi;
    prior->sigma[SL_P_PHI] = 30.0 * DEGREE;
    /* a page's slope reaches half a radian in a bow, less in finer waves: paper is stiff */
    for (size_t k = 0; k < SL_PROFILE_MAX; k++)
        prior->sigma[SL_P_PROFILE + k] = 0.4 / pow((double)(k + 1), 1.2);
}

/* ---- robust fitting -------------------------------------------------------------------- */

/* Tukey's biweight, zero beyond 4.685 scales: 95 % efficient for Gaussian noise. */
static const double TUKEY = 4.685;

/* Robust scale of off / sigma, at least 1: claimed noise is not believed to be too large. */
static double robust_scale(const sl_fit_point *point, size_t count)
{
    double size[SL_FIT_POINTS];

    for (size_t i = 0; i < count; i++)
        size[i] = fabs(point[i].off) / point[i].sigma;
    return fmax(1.0, 1.4826 * sl_median(size, count));
}

static void reweigh(sl_fit_point *point, size_t count, double scale)
{
    for (size_t i = 0; i < count; i++) {
        const double r = point[i].off / (TUKEY * scale * point[i].sigma);
        const double w = 1.0 - r * r;

        point[i].weight = w > 0.0 ? w * w : 0.0;
    }
}

/*
 * Cost with a bounded loss (Tukey's, scale 1): what outliers cost does not depend on how far
 * off they are, so that models can be compared.
 */
static double bounded_cost(const candidate *c, const sl_fit_point *point, size_t count,
                           double noise)
{
    double value[SL_P_COUNT];
    double cost = 0.0;

    for (size_t i = 0; i < count; i++) {
        const double r = point[i].off / (TUKEY * noise * point[i].sigma);
        const double w = 1.0 - fmin(r * r, 1.0);

        cost += TUKEY * TUKEY / 3.0 * (1.0 - w * w * w);
    }
    sl_view_pack(value, &c->map);
    for (size_t k = 0; k < SL_P_COUNT; k++) {
        const bool used = c->prior.sigma[k] > 0.0 && (k < SL_P_PHI || c->freedom.sheet);
        const double r = used ? (value[k] - c->prior.mean[k]) / c->prior.sigma[k] : 0.0;

        cost += r * r;
    }
    return cost;
}

/* Solve, reweigh, ... ; false when the fit breaks down. */
static bool robust_fit(candidate *c, sl_fit_point *point, size_t count, int rounds,
                       double tolerance, sl_fit_work *work)
{
    for (int round = 0; round < rounds; round++) {
        double ignored;

        if (!sl_fit_solve(&c->map, &ignored, point, count, &c->prior, c->freedom, tolerance,
                          40, work))
            return false;
        if (round + 1 < rounds)
            reweigh(point, count, robust_scale(point, count));
    }
    return true;
}

/* ---- starts ---------------------------------------------------------------------------- */

typedef struct search {
    sl_seen seen;
    const sl_optics *optics;
    double ratio_sigma;
    sl_fit_work *work;
    candidate start[STARTS_MAX];
    size_t starts;
    candidate end[FINISHED_MAX];
    size_t ends;
    sl_fit_point block[FINISHED_MAX][SL_FIT_POINTS];
    size_t blocks[FINISHED_MAX];
    double noise_px;
} search;

/* Page sizes to try; the one that the view's ratio is nearest to first. */
static size_t page_sizes(double page[2][2], const search *s, const double stated[2])
{
    double focal = s->optics->focal_px;
    double ratio;
    const sl_point centre = { s->optics->centre_x, s->optics->centre_y };

    if (sl_rectangle_from_view(&focal, &ratio, s->seen.corner, centre, NULL) != SL_OK)
        ratio = 1.0;
    if (!(stated[0] > 0.0)) {
        page[0][0] = 1.0;
        page[0][1] = 1.0 / ratio;
        return 1;
    }

    const double tall = fmin(stated[0], stated[1]) / fmax(stated[0], stated[1]);
    const bool wide = ratio > 1.0;

    page[0][0] = wide ? fmax(stated[0], stated[1]) : fmin(stated[0], stated[1]);
    page[0][1] = wide ? fmin(stated[0], stated[1]) : fmax(stated[0], stated[1]);
    page[1][0] = page[0][1];
    page[1][1] = page[0][0];
    /* a view within 20 % of square may be either way about; a square page is its own other */
    return tall < 0.999 && fabs(log(ratio)) < 0.2 ? 2 : 1;
}

static void try_start(search *s, const double page[2], bool has_size, double focal_factor,
                      size_t kind)
{
    static const double phi[KINDS] = { 0.0, 0.0, 0.0, 90.0, 45.0, -45.0 };
    candidate *const c = s->start + s->starts;
    sl_fit_point point[4 * START_PER_SIDE];
    const size_t count = sl_seen_thin(point, &s->seen, START_PER_SIDE);

    *c = (candidate){ .freedom = { .lens = kind > 0, .sheet = kind > 1 } };
    set_priors(&c->prior, s->optics, s->ratio_sigma, phi[kind] * DEGREE);
    c->map = (sl_page_map){
        .model = kind == 0 ? SL_MODEL_FLAT : kind == 1 ? SL_MODEL_LENS : SL_MODEL_SHEET,
        .page = { page[0], page[1] },
        .has_size = has_size,
        .focal_px = s->optics->focal_px * focal_factor,
        .centre = { s->optics->centre_x, s->optics->centre_y },
        .k1 = s->optics->k1,
        .k2 = s->optics->k2,
        .stretch = 1.0,
        .phi = phi[kind] * DEGREE,
        .profile_count = kind > 1 ? TERMS_START : 0,
    };
    if (sl_pose_from_corners(&c->map, s->seen.corner, NULL) != SL_OK
        || !robust_fit(c, point, count, 3, 1e-4, s->work))
        return;
    /* on one scale for all: a scale of its own would make a bad fit look good */
    c->cost = bounded_cost(c, point, count, 1.0);
    s->starts++;
}

/* ---- finish ---------------------------------------------------------------------------- */

static bool finish(search *s, const candidate *start)
{
    candidate *const c = s->end + s->ends;
    sl_fit_point *const block = s->block[s->ends];

    *c = *start;
    if (c->freedom.sheet)
        c->map.profile_count = TERMS;
    s->blocks[s->ends] = sl_seen_blocks(block, &s->noise_px, &s->seen, &c->map, s->work);
    if (!robust_fit(c, block, s->blocks[s->ends], 2, 1e-5, s->work))
        return false;
    /* blocks anew about a model that is nearly right, then to the end */
    s->blocks[s->ends] = sl_seen_blocks(block, &s->noise_px, &s->seen, &c->map, s->work);
    reweigh(block, s->blocks[s->ends], robust_scale(block, s->blocks[s->ends]));
    if (!robust_fit(c, block, s->blocks[s->ends], 3, 1e-8, s->work))
        return false;
    c->cost = bounded_cost(c, block, s->blocks[s->ends], 1.0);
    s->ends++;
    return true;
}

static int by_cost(const void *a, const void *b)
{
    const double x = ((const candidate *)a)->cost;
    const double y = ((const candidate *)b)->cost;

    return (x > y) - (x < y);
}

/* Of one model class, the best starts, finished. */
static void finish_class(search *s, sl_model model, size_t most)
{
    size_t done = 0;

    for (size_t i = 0; i < s->starts && done < most && s->ends < FINISHED_MAX; i++)
        if (s->start[i].map.model == model)
            done += finish(s, s->start + i);
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

static size_t choose(const search *s)
{
    size_t best[3] = { FINISHED_MAX, FINISHED_MAX, FINISHED_MAX };

    for (size_t i = 0; i < s->ends; i++) {
        const sl_model m = s->end[i].map.model;

        if (best[m] == FINISHED_MAX || s->end[i].cost < s->end[best[m]].cost)
            best[m] = i;
    }
    size_t pick = FINISHED_MAX;

    for (size_t m = 0; m < 3; m++) {
        static const double parameters[3] = { 0.0, 2.0, 2.0 + 1.0 + TERMS };

        if (best[m] == FINISHED_MAX)
            continue;
        if (pick == FINISHED_MAX
            || s->end[best[m]].cost + 4.0 * (parameters[m] - parameters[s->end[pick].map.model])
                   < s->end[pick].cost)
            pick = best[m];
    }
    return pick;
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

static sl_status search_maps(search *s, const sl_rectify_params *params, sl_error *err)
{
    static const double factor[3] = { 1.0, 0.7, 1.4 };
    const bool has_size = params->page_mm[0] > 0.0 && params->page_mm[1] > 0.0;
    /* beyond 20 % one start no longer finds every focal length */
    const size_t focals = s->optics->ln_focal_sigma > 0.2 ? 3 : 1;
    double page[2][2];
    const size_t pages = page_sizes(page, s, has_size ? params->page_mm : (double[2]){ 0 });

    for (size_t p = 0; p < pages; p++)
        for (size_t f = 0; f < focals; f++)
            for (size_t kind = 0; kind < KINDS; kind++)
                try_start(s, page[p], has_size, factor[f], kind);
    if (s->starts == 0)
        return sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                       "no view of a page explains the outline");
    qsort(s->start, s->starts, sizeof s->start[0], by_cost);
    finish_class(s, SL_MODEL_FLAT, 1);
    finish_class(s, SL_MODEL_LENS, 1);
    finish_class(s, SL_MODEL_SHEET, 3);
    if (s->ends == 0)
        return sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                       "no view of a page explains the outline");
    return SL_OK;
}

static void measure(sl_rectified *out, const search *s, size_t pick)
{
    const sl_fit_point *const block = s->block[pick];
    const size_t count = s->blocks[pick];
    double sum = 0.0;
    size_t inliers = 0;

    for (size_t i = 0; i < count; i++)
        if (block[i].weight > 0.0) {
            sum += block[i].off * block[i].off;
            inliers++;
        }
    out->residual_px = inliers > 0 ? sqrt(sum / (double)inliers) : 0.0;
    out->outlier_share = 1.0 - (double)inliers / (double)count;
}

/* Sigmas that `inside_error_mm` stands for. */
static const double INSIDE_SIGMAS = 2.0;

static void bound_inside(sl_rectified *out, const search *s, size_t pick)
{
    double covariance[SL_P_COUNT * SL_P_COUNT];
    size_t index[SL_P_COUNT];
    const candidate *const best = s->end + pick;
    sl_fit_point point[SL_FIT_POINTS];
    const double scale = robust_scale(s->block[pick], s->blocks[pick]);
    double bound;

    for (size_t i = 0; i < s->blocks[pick]; i++) {
        point[i] = s->block[pick][i];
        point[i].sigma *= scale;
    }

    const size_t n = sl_fit_covariance(covariance, index, &best->map, point, s->blocks[pick],
                                       &best->prior, best->freedom, s->work);

    bound = n > 0 ? INSIDE_SIGMAS
                        * sl_inside_sigma(&best->map, covariance, index, n, s->work)
                  : INFINITY;
    for (size_t i = 0; i < n; i++)
        if (index[i] == SL_P_LN_STRETCH)
            out->aspect_sigma = out->aspect * sqrt(covariance[i * n + i]);

    const double unit = sl_inside_unit(&best->map);

    bound = fmax(bound, 0.15 * s->seen.blur_px * unit);
    out->inside_error_mm = best->map.has_size ? bound : 1000.0 * bound / best->map.page[0];
    out->residual_mm = best->map.has_size ? out->residual_px * unit : 0.0;
}

sl_status sl_rectify(sl_rectified *out, const sl_outline *outline, const sl_optics *optics,
                     const sl_rectify_params *params, sl_error *err)
{
    const bool has_size = params->page_mm[0] > 0.0 && params->page_mm[1] > 0.0;
    search *const s = calloc(1, sizeof *s);
    sl_rectified result = { 0 };
    sl_status st;

    if (s == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "rectify", "no memory for the search");
    s->optics = optics;
    s->ratio_sigma = !has_size ? 0.10 : params->ratio_sigma > 0.0 ? params->ratio_sigma : 0.005;
    st = sl_fit_work_new(&s->work, err);
    if (st != SL_OK)
        goto done;
    st = sl_seen_from_outline(&s->seen, outline, err);
    if (st != SL_OK)
        goto done;
    st = search_maps(s, params, err);
    if (st != SL_OK)
        goto done;

    const size_t pick = choose(s);
    sl_page_map *const map = &result.map;

    *map = s->end[pick].map;
    measure(&result, s, pick);
    if (!has_size)
        adopt_ratio(map);
    round_map(map);
    result.aspect = map->stretch * map->page[1] / map->page[0];
    if (folds(map)) {
        st = sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                     "the page would fold back on itself in this view");
        goto done;
    }
    bound_inside(&result, s, pick);
    *out = result;
done:
    if (s != NULL)
        sl_fit_work_free(s->work);
    free(s);
    return st;
}
