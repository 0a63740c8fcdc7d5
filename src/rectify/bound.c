/*
 * inside_error_mm is the largest of
 * - sigmas of the map over the page by the fit's covariance, its noise scaled by what the
 *   residuals show: their size, and how far along the edge they hang together; the sheet's finer
 *   waves included, and more where the fit leans on its priors;
 * - what the edges themselves, and the corners where they meet, show the model to be off by;
 * - most of the distance over the page to the other solutions that explain the outline nearly as well;
 * - the distance of stretches of the outline that were given up as no part of the model;
 * and, in quadrature with it, the bias of the edge finder, which no fit sees.
 */
#include "rectify/bound.h"

#include "rectify/inside.h"

#include <math.h>

/* Of the fitted blur's sigma; the finder's tests allow it 0.1 px. */
static const double EDGE_BIAS = 0.2;

/* Calibrated on scripts/survey-geometry: of its pages 95 in 100 lie below the bound. */
static const double SIGMAS = 1.75;

/*
 * What the edges show to be off at the rim is off by more inside: a lifted corner bends the sheet
 * between the sides. Calibrated on the survey's lifted corners.
 */
static const double INSIDE_OVER_RIM = 1.3;

/* Solutions with a residual below this multiple of the best one's count as alternatives ... */
static const double NEARLY_AS_WELL = 1.5;

/*
 * ... unless they give up this much more of the outline: a flat page through the two straight
 * sides of a bent one fits what it keeps, and explains nothing of the other two.
 */
static const double KEPT_AT_LEAST = 0.75;

/*
 * The truth lies between two such solutions, and nearer to the one picked: the other has followed
 * the noise. Calibrated on the survey.
 */
static const double TOWARD_OTHER = 0.4;

/*
 * Nor do those count whose cost, in squares of the noise, is higher by this much for each block
 * that goes its own way: five sigmas.
 */
static const double RULED_OUT = 25.0;

/*
 * Sigmas of the noise. One page in a hundred has a mean of edge blocks above, of its 150. Of torn
 * and frayed edges the noise has long tails: three sigmas called many of those bent that are not.
 */
static const double EDGE_NOISE = 4.0;
static const double CORNER_NOISE = 4.0;

/* Through so many blocks leads the line that tells where a corner was seen; all of them lie within
   this share of the side's length from it. */
enum { END_BLOCKS = 3 };
static const double END_SHARE = 0.12;

/* What is off by the same distance up to here and no further in, by these shares, is another line
   than the sheet's: a lifted corner bends up from it. */
static const double SAME_OFF = 0.67;
static const double NOT_OFF = 0.33;

/* A lifted corner moves both its sides: where only the last block of one tells of it, the other
   is off by this share of that at least. */
static const double BOTH_SIDES = 0.3;

static bool same_side(const sl_fit_point *block, size_t i, size_t k)
{
    return block[i].side == block[k].side;
}

static size_t kept(const sl_fit_point *block, size_t count)
{
    size_t n = 0;

    for (size_t i = 0; i < count; i++)
        n += block[i].weight > 0.0;
    return n;
}

static double rms_kept(const sl_fit_point *block, size_t count)
{
    double sum = 0.0;
    size_t n = 0;

    for (size_t i = 0; i < count; i++)
        if (block[i].weight > 0.0) {
            sum += block[i].off * block[i].off;
            n++;
        }
    return n > 0 ? sqrt(sum / (double)n) : 0.0;
}

/* Does the other solution explain the outline nearly as well as the one picked? */
static bool alternative(const sl_search *s, size_t other, size_t pick)
{
    const sl_candidate *const o = s->end + other;
    const sl_candidate *const p = s->end + pick;

    return other != pick && o->map.page[0] == p->map.page[0]
           && rms_kept(s->block[other], s->blocks[other])
                  < NEARLY_AS_WELL * rms_kept(s->block[pick], s->blocks[pick])
           && o->scale < NEARLY_AS_WELL * p->scale
           && (double)kept(s->block[other], s->blocks[other])
                  > KEPT_AT_LEAST * (double)kept(s->block[pick], s->blocks[pick])
           && o->cost < p->cost + RULED_OUT * p->hang;
}

/* What of a distance seen its noise, so many sigmas of it, does not explain. */
static double beyond_noise(double distance, double sigma, double sigmas)
{
    const double noise = sigmas * sigma;

    return sqrt(fmax(distance * distance - noise * noise, 0.0));
}

/* Largest mean residual of three neighbouring blocks, px, as far as it is no noise. */
static double edge_misfit(const sl_fit_point *block, size_t count, double hang)
{
    double worst = 0.0;

    for (size_t i = 0; i + 2 < count; i++)
        if (same_side(block, i, i + 2) && block[i].weight > 0.0 && block[i + 1].weight > 0.0
            && block[i + 2].weight > 0.0)
            worst = fmax(worst, beyond_noise((block[i].off + block[i + 1].off
                                              + block[i + 2].off) / 3.0,
                                             hang * block[i + 1].sigma / sqrt(3.0), EDGE_NOISE));
    return worst;
}

/* The blocks of a side nearest to one of its ends, nearest first; returns how many. */
static size_t last_blocks(size_t last[END_BLOCKS], const sl_fit_point *block, size_t count,
                          sl_side side, double end)
{
    size_t n = 0;

    for (size_t i = 0; i < count; i++) {
        size_t at = n;

        if (block[i].side != side || fabs(end - block[i].along) > END_SHARE)
            continue;
        while (at > 0 && end * block[i].along > end * block[last[at - 1]].along)
            at--;
        if (at == END_BLOCKS)
            continue;
        n = n < END_BLOCKS ? n + 1 : n;
        for (size_t k = n - 1; k > at; k--)
            last[k] = last[k - 1];
        last[at] = i;
    }
    return n;
}

/* Where a side was seen at one of its ends: how far from the model's corner, px, and its sigma. */
typedef struct end_seen {
    double off;
    double sigma;
    bool alone;    /* by a last block that was given up all by itself */
} end_seen;

/* Lie the last blocks on a line of their own, beside the one that the others lie on? */
static bool is_other_line(const sl_fit_point *block, const size_t last[END_BLOCKS])
{
    const double first = block[last[0]].off;

    return !(block[last[0]].weight > 0.0) && !(block[last[1]].weight > 0.0)
           && block[last[1]].off / first > SAME_OFF
           && fabs(block[last[2]].off) < NOT_OFF * fabs(first);
}

/*
 * One end of a side by the line through its last blocks. Of a last block that was given up all by
 * itself only its own distance, as nothing leads up to it; and nothing where it lies inward: a
 * rounded or torn corner tells nothing of the sheet.
 */
static end_seen see_end(const sl_fit_point *block, size_t count, sl_side side, double end)
{
    /* normals point into the page on the top and right, out of it on the others */
    const double outward = side == SL_TOP || side == SL_RIGHT ? -1.0 : 1.0;
    size_t last[END_BLOCKS];
    const size_t n = last_blocks(last, block, count, side, end);
    double sum[3] = { 0.0, 0.0, 0.0 };   /* of off, of places squared, of their product */
    double mean = 0.0;
    double noise = 0.0;

    if (n < 2)
        return (end_seen){ .alone = false };

    const sl_fit_point *const p = block + last[0];

    if (!(p->weight > 0.0) && outward * p->off < 0.0)
        return (end_seen){ .alone = false };
    if (n == END_BLOCKS && is_other_line(block, last))
        return (end_seen){ .alone = false };
    if (!(p->weight > 0.0) && block[last[1]].weight > 0.0)
        return (end_seen){ p->off, p->sigma, true };
    for (size_t i = 0; i < n; i++) {
        mean += block[last[i]].along / (double)n;
        noise = fmax(noise, block[last[i]].sigma);
    }
    for (size_t i = 0; i < n; i++) {
        const double t = block[last[i]].along - mean;

        sum[0] += block[last[i]].off;
        sum[1] += t * t;
        sum[2] += t * block[last[i]].off;
    }

    const double reach = end - mean;

    return (end_seen){ sum[0] / (double)n + reach * sum[2] / sum[1],
                       noise * sqrt(1.0 / (double)n + reach * reach / sum[1]), false };
}

/* Largest distance of the model's corners from where the edges seen would meet, px, as far as it
   is no noise. */
static double corner_misfit(const sl_fit_point *block, size_t count)
{
    static const struct { sl_side side[2]; double end[2]; } corners[4] = {
        { { SL_TOP, SL_LEFT }, { -0.5, -0.5 } },
        { { SL_TOP, SL_RIGHT }, { 0.5, -0.5 } },
        { { SL_BOTTOM, SL_RIGHT }, { 0.5, 0.5 } },
        { { SL_BOTTOM, SL_LEFT }, { -0.5, 0.5 } },
    };
    double worst = 0.0;

    for (size_t c = 0; c < 4; c++) {
        const end_seen a = see_end(block, count, corners[c].side[0], corners[c].end[0]);
        const end_seen b = see_end(block, count, corners[c].side[1], corners[c].end[1]);

        if ((b.alone && fabs(a.off) < BOTH_SIDES * fabs(b.off))
            || (a.alone && fabs(b.off) < BOTH_SIDES * fabs(a.off)))
            continue;
        worst = fmax(worst, hypot(beyond_noise(a.off, a.sigma, CORNER_NOISE),
                                  beyond_noise(b.off, b.sigma, CORNER_NOISE)));
    }
    return worst;
}

/* Chi-squared of the map's parameters from `first` up to `last` under their priors. */
static double strain_of(const sl_candidate *c, size_t first, size_t last)
{
    double value[SL_P_COUNT];
    double sum = 0.0;

    sl_view_pack(value, &c->map);
    for (size_t k = first; k <= last; k++)
        if (c->prior.sigma[k] > 0.0) {
            const double z = (value[k] - c->prior.mean[k]) / c->prior.sigma[k];

            sum += z * z;
        }
    return sum;
}

/*
 * How far a fit leans on its priors, at least 1. Edges hardly tell the camera and the page's
 * ratio apart, so that the fit leaves them near what was known, at a chi-squared of about 1: a
 * model that cannot follow the sheet bends the camera. A sheet that bends as sharply as its
 * profile can is next to one that bends more sharply. The bends, 2 and 4, are calibrated on the
 * survey: beyond them errors over their sigmas grow about as chi-squared does. Noise larger than
 * the fit took it for, by `swell`, moves the camera too, and is counted elsewhere.
 */
static double strain(const sl_candidate *c, double swell)
{
    const double camera = strain_of(c, SL_P_LN_FOCAL, SL_P_LN_STRETCH) / (swell * swell);
    const double sheet =
        c->freedom.sheet ? strain_of(c, SL_P_PROFILE, SL_P_COUNT - 1) : 0.0;

    return fmax(1.0, fmax(camera / 2.0, sheet / 4.0));
}

/*
 * The finer waves that the map's profile has no terms for, as far as this page's edges allow
 * them: they are as much smaller than their priors as the terms that it has are.
 */
static void add_finer_terms(sl_page_map *map, sl_fit_prior *prior)
{
    const size_t terms = map->profile_count;
    double sum = 0.0;

    for (size_t k = 0; k < terms; k++) {
        const double z = map->profile[k] / prior->sigma[SL_P_PROFILE + k];

        sum += z * z;
    }
    if (terms == 0)
        return;
    for (size_t k = terms; k < SL_PROFILE_MAX; k++) {
        map->profile[k] = 0.0;
        prior->sigma[SL_P_PROFILE + k] *= fmin(fmax(sqrt(sum / (double)terms), 0.01), 1.0);
    }
    map->profile_count = SL_PROFILE_MAX;
}

/* Greatest distance that the patch moves an edge, px. */
static double patch_px(const sl_page_map *map)
{
    double most = 0.0;

    for (size_t s = 0; s < 4 && map->model == SL_MODEL_PATCH; s++)
        for (size_t i = 0; i < SL_PATCH_NODES; i++)
            most = fmax(most, hypot(map->patch[s][i].x, map->patch[s][i].y));
    return most;
}

void sl_bound_set(sl_rectified *out, const sl_search *s, size_t pick)
{
    const sl_candidate *const best = s->end + pick;
    const sl_fit_point *const block = s->block[pick];
    const size_t count = s->blocks[pick];
    const double unit = sl_inside_unit(&best->map);
    const double residual = rms_kept(block, count);
    const double swell = best->scale * sqrt(best->hang);
    sl_fit_point point[SL_FIT_POINTS];
    double covariance[SL_P_COUNT * SL_P_COUNT];
    size_t index[SL_P_COUNT];
    bool marked[SL_FIT_POINTS];
    size_t lost = 0;
    const double bias = EDGE_BIAS * s->seen.blur_px * unit;
    double bound = 0;
    sl_page_map map = best->map;
    sl_fit_prior prior = best->prior;

    for (size_t i = 0; i < count; i++) {
        point[i] = block[i];
        point[i].sigma *= swell;
        lost += !(block[i].weight > 0.0);
    }

    add_finer_terms(&map, &prior);

    const size_t n = sl_fit_covariance(covariance, index, &map, point, count, &prior,
                                       best->freedom, s->work);

    bound = n == 0 ? INFINITY
                   : fmax(bound, SIGMAS * strain(best, swell)
                                     * sl_inside_sigma(&map, covariance, index, n, s->work));
    for (size_t i = 0; i < n; i++)
        if (index[i] == SL_P_LN_STRETCH)
            out->aspect_sigma = out->aspect * sqrt(covariance[i * n + i]);
    bound = fmax(bound, INSIDE_OVER_RIM * edge_misfit(block, count, fmin(sqrt(best->hang), 1.5)) * unit);
    bound = fmax(bound, INSIDE_OVER_RIM * corner_misfit(block, count) * unit);
    for (size_t i = 0; i < s->ends; i++)
        if (alternative(s, i, pick))
            bound = fmax(bound, TOWARD_OTHER * sl_inside_distance(&best->map, &s->end[i].map));
    (void)sl_search_unexplained(marked, block, count);
    for (size_t i = 0; i < count; i++)
        if (marked[i])
            bound = fmax(bound, fabs(block[i].off) * unit);
    bound = hypot(bound, bias); /* the finder errs besides, whatever the fit does */
    out->residual_px = residual;
    out->residual_mm = best->map.has_size ? residual * unit : 0.0;
    out->outlier_share = count > 0 ? (double)lost / (double)count : 0.0;
    out->patch_mm = (best->map.has_size ? 1.0 : 1000.0 / best->map.page[0]) * unit
                    * patch_px(&out->map);
    out->inside_error_mm = best->map.has_size ? bound : 1000.0 * bound / best->map.page[0];
}
