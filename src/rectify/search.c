/*
 * Starts are fitted to thinned points, first softly (edge noise taken for large, so that the
 * priors lead), then at the noise that was claimed; robust weights by reweighting outside the
 * fit. Only the best are carried on, and finished on means of blocks.
 */
#include "rectify/search.h"

#include "base/error.h"
#include "base/order.h"
#include "rectify/inside.h"
#include "rectify/pose.h"

#include <math.h>
#include <stdlib.h>

static const double DEGREE = 0.017453292519943295;

/* Terms of the profile while starts are compared, at the end, and where those do not do. */
enum { TERMS_START = 6, TERMS = 10, TERMS_MOST = SL_PROFILE_MAX, START_PER_SIDE = 16 };

/* Evaluations given to a start's two fits: most get there, the rest are beaten by those. */
enum { SOFT_STEPS = 8, SHARP_STEPS = 12 };

/* Flat, flat through a lens, and the sheet by the angle of its rulings, bent either way. */
enum { FLAT, LENS, FIRST_SHEET, KINDS = FIRST_SHEET + 8 };
static const double RULING_DEG[4] = { 0.0, 90.0, 45.0, -45.0 };

/*
 * First term of a start's profile, rad: a bow of 8 mm over 300 mm. Seen from afar a sheet bent
 * towards the camera and one bent away from it look alike, and no path of falling cost leads
 * from one to the other.
 */
static const double BENT = 0.1;

/* A soft fit's noise over the claimed one: 0.15 px become 3 px, a curl's own size. */
static const double SOFT = 20.0;

/* ... and the rulings' prior is that much narrower: first the profile, then its direction. */
static const double SOFT_PHI = 6.0;

/* Whether the caller told a page size. */
static bool has_size(const sl_search *s)
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
    prior->sigma[SL_P_LN_STRETCH] = !has_size(s) ? 0.10 : told > 0.0 ? told : 0.005;
    prior->mean[SL_P_PHI] = phi;
    prior->sigma[SL_P_PHI] = 30.0 * DEGREE;
    /* a page's slope reaches half a radian in a bow, less in finer waves: paper is stiff */
    for (size_t k = 0; k < SL_PROFILE_MAX; k++)
        prior->sigma[SL_P_PROFILE + k] = 0.4 / pow((double)(k + 1), 1.2);
}

/* ---- robust fitting -------------------------------------------------------------------- */

/* Tukey's biweight, zero beyond 4.685 scales: 95 % efficient for Gaussian noise. */
static const double TUKEY = 4.685;

/* Robust scale of off / sigma over the points, at least 1. count <= SL_FIT_POINTS */
static double robust_scale(const sl_fit_point *point, size_t count)
{
    double size[SL_FIT_POINTS];

    for (size_t i = 0; i < count; i++)
        size[i] = fabs(point[i].off) / point[i].sigma;
    return fmax(1.0, 1.4826 * sl_median(size, count));
}

void sl_search_reweigh(sl_fit_point *point, size_t count)
{
    const double scale = robust_scale(point, count);

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
    if (!has_size(s)) {
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

/* A start and its soft fit. */
static void add_start(sl_search *s, const double page[2], size_t kind, double turn_deg,
                      int steps)
{
    sl_candidate *const c = s->start + s->starts;
    const bool sheet = kind >= FIRST_SHEET;
    const double phi = sheet ? (RULING_DEG[(kind - FIRST_SHEET) / 2] + turn_deg) * DEGREE : 0.0;
    sl_fit_point point[4 * START_PER_SIDE];
    const size_t count = sl_seen_thin(point, &s->seen, START_PER_SIDE);

    /* a lens takes a bow faster than a sheet does, and does not give it back */
    *c = (sl_candidate){ .freedom = { .lens = kind == LENS, .sheet = sheet } };
    set_priors(&c->prior, s, phi);
    c->map = (sl_page_map){
        .model = sheet ? SL_MODEL_SHEET : kind == LENS ? SL_MODEL_LENS : SL_MODEL_FLAT,
        .page = { page[0], page[1] },
        .has_size = has_size(s),
        .focal_px = s->optics->focal_px,
        .centre = { s->optics->centre_x, s->optics->centre_y },
        .k1 = s->optics->k1,
        .k2 = s->optics->k2,
        .stretch = 1.0,
        .phi = phi,
        .profile_count = sheet ? TERMS_START : 0,
        .profile = { !sheet ? 0.0 : (kind - FIRST_SHEET) % 2 == 0 ? BENT : -BENT },
    };
    if (sl_pose_from_corners(&c->map, s->seen.corner, NULL) != SL_OK)
        return;
    for (size_t i = 0; i < count; i++)
        point[i].sigma *= SOFT;
    c->prior.sigma[SL_P_PHI] /= SOFT_PHI;
    if (!fit(c, point, count, steps > SOFT_STEPS ? 1e-4 : 1e-2, steps, s->work))
        return;
    c->cost = bounded_cost(c, point, count);
    c->prior.sigma[SL_P_PHI] *= SOFT_PHI;
    c->freedom.lens = kind != FLAT;
    s->starts++;
}

/* At the claimed noise. */
static bool sharpen_start(sl_candidate *c, const sl_search *s, int steps)
{
    sl_fit_point point[4 * START_PER_SIDE];
    const size_t count = sl_seen_thin(point, &s->seen, START_PER_SIDE);

    sl_fit_measure(point, count, &c->map, s->work);
    sl_search_reweigh(point, count);
    if (!fit(c, point, count, 1e-3, steps, s->work))
        return false;
    c->cost = bounded_cost(c, point, count);
    return true;
}

/*
 * Number of neighbouring blocks whose residuals move as one: 1 + 2 sum of the autocorrelation
 * up to its first zero (the integrated correlation length of a time series).
 */
static double correlation_length(const sl_fit_point *block, size_t count)
{
    enum { LAGS = 8 };
    double length = 1.0;
    double zero = 0.0;

    for (size_t lag = 0; lag <= LAGS; lag++) {
        double sum = 0.0;
        size_t n = 0;

        for (size_t i = 0; i + lag < count; i++)
            if (block[i].side == block[i + lag].side && block[i].weight > 0.0
                && block[i + lag].weight > 0.0) {
                sum += block[i].off * block[i + lag].off
                       / (block[i].sigma * block[i + lag].sigma);
                n++;
            }
        if (n == 0 || !(sum > 0.0))
            break;
        if (lag == 0)
            zero = sum / (double)n;
        else
            length += 2.0 * sum / (double)n / zero;
    }
    return length;
}

/* ---- finish ---------------------------------------------------------------------------- */

/* Blocks of the outline about the candidate's edges, weighed by it. */
static void take_blocks(sl_search *s, size_t at)
{
    s->blocks[at] =
        sl_seen_blocks(s->block[at], &s->seen, &s->end[at].map, s->work);
    sl_search_reweigh(s->block[at], s->blocks[at]);
}

static bool finish(sl_search *s, const sl_candidate *start, size_t terms)
{
    const size_t at = s->ends;
    sl_candidate *const c = s->end + at;
    sl_fit_point *const block = s->block[at];

    *c = *start;
    if (c->freedom.sheet)
        c->map.profile_count = terms;
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
    c->scale = robust_scale(block, s->blocks[at]);
    c->hang = correlation_length(block, s->blocks[at]);
    s->ends++;
    return true;
}

static int by_cost(const void *a, const void *b)
{
    const double x = ((const sl_candidate *)a)->cost;
    const double y = ((const sl_candidate *)b)->cost;

    return (x > y) - (x < y);
}

/* Whether two candidates are one solution, but for what the next fit would mend. */
static bool same(const sl_candidate *a, const sl_candidate *b)
{
    return a->map.model == b->map.model && a->map.page[0] == b->map.page[0]
           && fabs(a->cost - b->cost) < 0.02 * (a->cost + b->cost)
           && sl_inside_distance(&a->map, &b->map)
                  < 5e-4 * (a->map.page[0] + a->map.page[1]);
}

/*
 * A rival worth finishing. Costs on thinned points saturate at about 7 a point, are about 1 a
 * point for the truth, and 0.3 more for what four terms of a profile cannot follow.
 */
static bool worth_finishing(const sl_candidate *c, const sl_candidate *best)
{
    return c->cost < 2.0 * best->cost + 30.0;
}

/* Of one model, the best distinct starts, sharpened and finished. */
static void finish_model(sl_search *s, sl_model model, size_t sharpened, size_t finished,
                         int steps)
{
    sl_candidate *sharp[SL_STARTS_MAX];
    size_t n = 0;
    const size_t first = s->ends;

    qsort(s->start, s->starts, sizeof s->start[0], by_cost);
    for (size_t i = 0; i < s->starts && n < sharpened; i++) {
        sl_candidate *const c = s->start + i;
        bool twin = false;

        for (size_t k = 0; k < i; k++)
            twin = twin || same(s->start + k, c);
        if (c->map.model == model && !twin)
            sharp[n++] = c;
    }
    for (size_t i = 0; i < n;)
        if (sharpen_start(sharp[i], s, steps))
            i++;
        else
            sharp[i] = sharp[--n];
    for (size_t i = 0; i < n && s->ends < first + finished && s->ends < SL_FINISHED_MAX; i++) {
        bool twin = false;

        for (size_t k = i + 1; k < n; k++)
            if (sharp[k]->cost < sharp[i]->cost) {
                sl_candidate *const swap = sharp[i];

                sharp[i] = sharp[k];
                sharp[k] = swap;
            }
        for (size_t k = 0; k < i; k++)
            twin = twin || same(sharp[k], sharp[i]);
        if (!twin && worth_finishing(sharp[i], sharp[0]))
            (void)finish(s, sharp[i], TERMS);
    }
}

static size_t best_sheet(const sl_search *s)
{
    size_t best = SL_FINISHED_MAX;

    for (size_t i = 0; i < s->ends; i++)
        if (s->end[i].map.model == SL_MODEL_SHEET
            && (best == SL_FINISHED_MAX || s->end[i].cost < s->end[best].cost))
            best = i;
    return best;
}

/* Residuals of the right sheet are noise; larger ones, or such as move as one, are not. */
static const double LIKE_NOISE = 1.15;

/* A sheet that no simpler model beats, again with all terms if its residuals are not noise. */
static void finish_finer(sl_search *s)
{
    const size_t best = sl_search_choose(s);

    if (best == SL_FINISHED_MAX || s->ends == SL_FINISHED_MAX
        || s->end[best].map.model != SL_MODEL_SHEET
        || !(s->end[best].scale * sqrt(s->end[best].hang) > LIKE_NOISE))
        return;

    const sl_candidate start = s->end[best];

    (void)finish(s, &start, TERMS_MOST);
}

/*
 * Where the tags do not hold the focal length, more of the valley: the best sheet seen through
 * lenses 0.6 and 1.6 as long, from as much nearer or further.
 */
static void finish_other_focals(sl_search *s)
{
    static const double factor[2] = { 0.6, 1.6 };
    const size_t best = best_sheet(s);

    for (size_t f = 0; f < 2 && best < SL_FINISHED_MAX && s->ends < SL_FINISHED_MAX; f++) {
        sl_candidate other = s->end[best];

        sl_fit_change_focal(&other.map, factor[f]);
        (void)finish(s, &other, TERMS);
    }
}

/* Residuals of blocks this near the noise leave nothing for a sheet to explain ... */
static const double EXPLAINED = 1.2;

/* ... unless they move as one along the edges: this is noise over and over. */
static const double EXPLAINED_AS_ONE = 2.2;

/* ... and above this a sheet's own residuals say that it is not the right one. */
static const double EXPLAINED_BY_SHEET = 1.3;

/* Given up by the robust fit. */
static bool given_up(const sl_fit_point *p)
{
    return !(p->weight > 0.05);
}

size_t sl_search_unexplained(bool *marked, const sl_fit_point *block, size_t count)
{
    /* of a side's 40 blocks; a tab or a rounded corner (25 mm on 300) takes less */
    enum { RUN = 4 };
    size_t n = 0;

    for (size_t i = 0; i < count; i++)
        marked[i] = false;
    for (size_t i = 0; i < count;) {
        size_t end = i;

        /* one block that fits by chance does not part a run; corners do not either */
        while (end < count
               && (given_up(block + end) || (end + 1 < count && end > i
                                             && given_up(block + end + 1))))
            end++;
        if (end - i >= RUN)
            for (size_t k = i; k < end; k++, n++)
                marked[k] = true;
        i = end > i ? end : i + 1;
    }
    return n;
}

static bool explained(const sl_search *s, double scale)
{
    bool marked[SL_FIT_POINTS];

    for (size_t i = 0; i < s->ends; i++)
        if (s->end[i].scale <= scale
            && s->end[i].scale * sqrt(s->end[i].hang) <= EXPLAINED_AS_ONE
            && sl_search_unexplained(marked, s->block[i], s->blocks[i]) == 0)
            return true;
    return false;
}

sl_status sl_search_run(sl_search *s, sl_error *err)
{
    double page[2][2];
    const size_t pages = page_sizes(page, s);

    for (size_t p = 0; p < pages; p++)
        for (size_t kind = FLAT; kind <= LENS; kind++)
            add_start(s, page[p], kind, 0.0, SOFT_STEPS);
    finish_model(s, SL_MODEL_FLAT, pages, 1, SHARP_STEPS);
    finish_model(s, SL_MODEL_LENS, pages, 1, SHARP_STEPS);
    /* a second time with more patience where the first leaves something unexplained */
    for (int effort = 1;
         effort <= 4 && !explained(s, effort == 1 ? EXPLAINED : EXPLAINED_BY_SHEET);
         effort += 3) {
        s->starts = 0;
        for (size_t p = 0; p < pages; p++)
            for (size_t kind = FIRST_SHEET; kind < KINDS; kind++)
                add_start(s, page[p], kind, effort == 1 ? 0.0 : 22.5, SOFT_STEPS * effort);
        finish_model(s, SL_MODEL_SHEET, effort == 1 ? 5 : 8, effort == 1 ? 2 : 4,
                     SHARP_STEPS * effort);
        finish_finer(s);
        if (effort == 1 && s->optics->ln_focal_sigma > 0.2)
            finish_other_focals(s);
    }
    if (s->ends == 0)
        return sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                       "no view of a page explains the outline");
    return SL_OK;
}

/* What a map has more than a flat page without a lens. */
static double parameters(const sl_page_map *map)
{
    static const double lens = 2.0;
    static const double phi = 1.0;

    return map->model == SL_MODEL_FLAT   ? 0.0
           : map->model == SL_MODEL_LENS ? lens
                                         : lens + phi + (double)map->profile_count;
}

size_t sl_search_choose(const sl_search *s)
{
    size_t pick = SL_FINISHED_MAX;

    for (size_t m = 0; m < 3; m++)
        for (size_t i = 0; i < s->ends; i++) {
            const sl_candidate *const c = s->end + i;

            if ((size_t)c->map.model != m)
                continue;
            if (pick == SL_FINISHED_MAX) {
                pick = i;
                continue;
            }

            const sl_candidate *const held = s->end + pick;
            const double more = parameters(&c->map) - parameters(&held->map);
            /*
             * Four for each parameter, twice Akaike's price, times the blocks that move as one
             * in the richer model: so much does a parameter gain by following coloured noise.
             */
            if (c->cost + 4.0 * (more > 0.0 ? c->hang : held->hang) * more < held->cost)
                pick = i;
        }
    return pick;
}
