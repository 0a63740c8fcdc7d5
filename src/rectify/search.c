/*
 * Starts are fitted to thinned points, first softly (edge noise taken for large, so that the
 * priors lead), then at the noise that was claimed; robust weights by reweighting outside the
 * fit. Only the best are carried on, and finished on means of blocks.
 */
#include "rectify/search.h"

#include "base/error.h"
#include "rectify/inside.h"
#include "rectify/pose.h"

#include <math.h>
#include <stdlib.h>

static const double DEGREE = 0.017453292519943295;

/* Terms of the profile while starts are compared, and at the end. */
enum { TERMS_START = 4, TERMS = 7, START_PER_SIDE = 16 };

/* Flat, flat through a lens, and the sheet by the angle of its rulings. */
enum { FLAT, LENS, FIRST_SHEET, KINDS = FIRST_SHEET + 4 };
static const double RULING_DEG[4] = { 0.0, 90.0, 45.0, -45.0 };

/* A soft fit's noise over the claimed one: 0.15 px become 3 px, a curl's own size. */
static const double SOFT = 20.0;

bool sl_search_has_size(const sl_search *s)
{
    return s->params->page_mm[0] > 0.0 && s->params->page_mm[1] > 0.0;
}

/* ---- priors ---------------------------------------------------------------------------- */

static void set_priors(sl_fit_prior *prior, const sl_search *s, double phi)
{
    const sl_optics *const optics = s->optics;
    const double told = s->params->ratio_sigma;

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
    prior->sigma[SL_P_LN_STRETCH] = !sl_search_has_size(s) ? 0.10 : told > 0.0 ? told : 0.005;
    prior->mean[SL_P_PHI] = phi;
    prior->sigma[SL_P_PHI] = 30.0 * DEGREE;
    /* a page's slope reaches half a radian in a bow, less in finer waves: paper is stiff */
    for (size_t k = 0; k < SL_PROFILE_MAX; k++)
        prior->sigma[SL_P_PROFILE + k] = 0.4 / pow((double)(k + 1), 1.2);
}

/* ---- robust fitting -------------------------------------------------------------------- */

/* Tukey's biweight, zero beyond 4.685 scales: 95 % efficient for Gaussian noise. */
static const double TUKEY = 4.685;

double sl_robust_scale(const sl_fit_point *point, size_t count)
{
    double size[SL_FIT_POINTS];

    for (size_t i = 0; i < count; i++)
        size[i] = fabs(point[i].off) / point[i].sigma;
    return fmax(1.0, 1.4826 * sl_median(size, count));
}

static void reweigh(sl_fit_point *point, size_t count)
{
    const double scale = sl_robust_scale(point, count);

    for (size_t i = 0; i < count; i++) {
        const double r = point[i].off / (TUKEY * scale * point[i].sigma);
        const double w = 1.0 - r * r;

        point[i].weight = w > 0.0 ? w * w : 0.0;
    }
}

/*
 * Cost with a bounded loss (Tukey's at the claimed noise): what a stray costs does not depend
 * on how far off it is, so that models can be compared.
 */
static double bounded_cost(const sl_candidate *c, const sl_fit_point *point, size_t count)
{
    double value[SL_P_COUNT];
    double cost = 0.0;

    for (size_t i = 0; i < count; i++) {
        const double r = point[i].off / (TUKEY * point[i].sigma);
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

static bool fit(sl_candidate *c, sl_fit_point *point, size_t count, double tolerance, int steps,
                sl_fit_work *work)
{
    double ignored;

    return sl_fit_solve(&c->map, &ignored, point, count, &c->prior, c->freedom, tolerance, steps,
                        work);
}

/* ---- starts ---------------------------------------------------------------------------- */

/* Page sizes to try; the one that the view's ratio is nearest to first. */
static size_t page_sizes(double page[2][2], const sl_search *s)
{
    const double *const stated = s->params->page_mm;
    const sl_point centre = { s->optics->centre_x, s->optics->centre_y };
    double focal = s->optics->focal_px;
    double ratio;

    if (sl_rectangle_from_view(&focal, &ratio, s->seen.corner, centre, NULL) != SL_OK)
        ratio = 1.0;
    if (!sl_search_has_size(s)) {
        page[0][0] = 1.0;
        page[0][1] = 1.0 / ratio;
        return 1;
    }

    const double longer = fmax(stated[0], stated[1]);
    const double shorter = fmin(stated[0], stated[1]);
    const bool wide = ratio > 1.0;

    page[0][0] = page[1][1] = wide ? longer : shorter;
    page[0][1] = page[1][0] = wide ? shorter : longer;
    /* a view within 20 % of square may be either way about; a square page is its own other */
    return shorter < 0.999 * longer && fabs(log(ratio)) < 0.2 ? 2 : 1;
}

static void try_start(sl_search *s, const double page[2], double focal_factor, size_t kind)
{
    sl_candidate *const c = s->start + s->starts;
    const bool sheet = kind >= FIRST_SHEET;
    const double phi = sheet ? RULING_DEG[kind - FIRST_SHEET] * DEGREE : 0.0;
    sl_fit_point point[4 * START_PER_SIDE];
    const size_t count = sl_seen_thin(point, &s->seen, START_PER_SIDE);

    *c = (sl_candidate){ .freedom = { .lens = kind != FLAT, .sheet = sheet } };
    set_priors(&c->prior, s, phi);
    c->map = (sl_page_map){
        .model = sheet ? SL_MODEL_SHEET : kind == LENS ? SL_MODEL_LENS : SL_MODEL_FLAT,
        .page = { page[0], page[1] },
        .has_size = sl_search_has_size(s),
        .focal_px = s->optics->focal_px * focal_factor,
        .centre = { s->optics->centre_x, s->optics->centre_y },
        .k1 = s->optics->k1,
        .k2 = s->optics->k2,
        .stretch = 1.0,
        .phi = phi,
        .profile_count = sheet ? TERMS_START : 0,
    };
    if (sl_pose_from_corners(&c->map, s->seen.corner, NULL) != SL_OK)
        return;
    for (size_t i = 0; i < count; i++)
        point[i].sigma *= SOFT;
    if (!fit(c, point, count, 1e-3, 12, s->work))
        return;
    for (size_t i = 0; i < count; i++)
        point[i].sigma /= SOFT;
    reweigh(point, count);
    if (!fit(c, point, count, 1e-3, 12, s->work))
        return;
    c->cost = bounded_cost(c, point, count);
    s->starts++;
}

/* ---- finish ---------------------------------------------------------------------------- */

/* Blocks of the outline about the candidate's edges, weighed by it. */
static void take_blocks(sl_search *s, size_t at)
{
    s->blocks[at] =
        sl_seen_blocks(s->block[at], &s->noise_px, &s->seen, &s->end[at].map, s->work);
    reweigh(s->block[at], s->blocks[at]);
}

static bool finish(sl_search *s, const sl_candidate *start)
{
    const size_t at = s->ends;
    sl_candidate *const c = s->end + at;
    sl_fit_point *const block = s->block[at];

    *c = *start;
    if (c->freedom.sheet)
        c->map.profile_count = TERMS;
    take_blocks(s, at);
    if (!fit(c, block, s->blocks[at], 1e-4, 25, s->work))
        return false;
    /* blocks anew about a model that is nearly right, then to the end */
    for (int round = 0; round < 2; round++) {
        take_blocks(s, at);
        if (!fit(c, block, s->blocks[at], 1e-7, 40, s->work))
            return false;
    }
    c->cost = bounded_cost(c, block, s->blocks[at]);
    c->scale = sl_robust_scale(block, s->blocks[at]);
    s->ends++;
    return true;
}

static int by_cost(const void *a, const void *b)
{
    const double x = ((const sl_candidate *)a)->cost;
    const double y = ((const sl_candidate *)b)->cost;

    return (x > y) - (x < y);
}

/* Whether a start has already been finished, but for a few px that the finish would mend. */
static bool same_as_finished(const sl_search *s, const sl_candidate *start)
{
    for (size_t i = 0; i < s->ends; i++)
        if (s->end[i].map.model == start->map.model
            && s->end[i].map.page[0] == start->map.page[0]
            && sl_inside_distance(&s->end[i].map, &start->map)
                   < 3e-4 * (start->map.page[0] + start->map.page[1]))
            return true;
    return false;
}

/* Of one model, the best starts, finished. */
static void finish_model(sl_search *s, sl_model model, size_t most)
{
    size_t done = 0;

    for (size_t i = 0; i < s->starts && done < most && s->ends < SL_FINISHED_MAX; i++)
        if (s->start[i].map.model == model && !same_as_finished(s, s->start + i))
            done += finish(s, s->start + i);
}

sl_status sl_search_run(sl_search *s, sl_error *err)
{
    static const double factor[3] = { 1.0, 0.7, 1.4 };
    /* beyond 20 % one start no longer finds every focal length */
    const size_t focals = s->optics->ln_focal_sigma > 0.2 ? 3 : 1;
    double page[2][2];
    const size_t pages = page_sizes(page, s);

    for (size_t p = 0; p < pages; p++)
        for (size_t kind = 0; kind < KINDS; kind++)
            for (size_t f = 0; f < (kind < FIRST_SHEET ? 1 : focals); f++)
                try_start(s, page[p], factor[f], kind);
    qsort(s->start, s->starts, sizeof s->start[0], by_cost);
    finish_model(s, SL_MODEL_FLAT, 1);
    finish_model(s, SL_MODEL_LENS, 1);
    finish_model(s, SL_MODEL_SHEET, 3);
    if (s->ends == 0)
        return sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                       "no view of a page explains the outline");
    return SL_OK;
}

size_t sl_search_choose(const sl_search *s)
{
    /* what the model has more than a flat page without a lens */
    static const double parameters[3] = { 0.0, 2.0, 2.0 + 1.0 + TERMS };
    size_t pick = SL_FINISHED_MAX;

    for (size_t m = 0; m < 3; m++)
        for (size_t i = 0; i < s->ends; i++) {
            const sl_candidate *const c = s->end + i;

            if ((size_t)c->map.model != m)
                continue;
            /* four for each parameter: twice Akaike's price, noise being a little coloured */
            if (pick == SL_FINISHED_MAX
                || c->cost + 4.0 * (parameters[m] - parameters[s->end[pick].map.model])
                       < s->end[pick].cost)
                pick = i;
        }
    return pick;
}
