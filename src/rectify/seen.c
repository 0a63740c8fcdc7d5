#include "rectify/seen.h"

#include "base/error.h"
#include "base/order.h"
#include "geometry/linear.h"

#include <math.h>
#include <stdlib.h>

/* No edge point is believed better than this: the border stage's own bound on bias is 0.1. */
static const double SIGMA_FLOOR = 0.05;

/* A page narrower than this has too few edge pixels to tell its shape. */
static const double SIDE_MIN = 24.0;

/* Points that make a side count as seen. */
enum { SEEN_MIN = 8, BY_HAND_POINTS = 16 };

static sl_status check_corners(const sl_point c[4], sl_error *err)
{
    double shortest = INFINITY;
    double longest = 0.0;

    for (size_t i = 0; i < 4; i++) {
        const sl_point a = c[i];
        const sl_point b = c[(i + 1) % 4];
        const sl_point n = c[(i + 2) % 4];
        const double side = hypot(b.x - a.x, b.y - a.y);
        const double next = hypot(n.x - b.x, n.y - b.y);
        const double turn = (b.x - a.x) * (n.y - b.y) - (b.y - a.y) * (n.x - b.x);

        if (!isfinite(side))
            return sl_fail(err, SL_ERR_DEGENERATE, "rectify", "a corner is not a number");
        /* y is down: a clockwise walk turns to positive; below 0.1 it is nearly straight */
        if (!(turn > 0.1 * side * next))
            return sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                           "the outline is no view of a page: its corner at %.0f,%.0f is "
                           "straight or turned inward", b.x, b.y);
        shortest = fmin(shortest, side);
        longest = fmax(longest, side);
    }
    if (shortest < SIDE_MIN)
        return sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                       "the outline is too small: its shortest side is %.1f px, %.0f px are "
                       "needed", shortest, SIDE_MIN);
    if (longest > 40.0 * shortest)
        return sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                       "the outline is no page: its longest side is %.0f px, its shortest %.1f "
                       "px", longest, shortest);
    return SL_OK;
}

/* Place of a point along a side's chord, -1/2..1/2 in the direction of u or v. */
static double place_along(const sl_seen *seen, sl_side side, sl_point at)
{
    const sl_point a = seen->corner[side];
    const sl_point b = seen->corner[(side + 1) % 4];
    const double dx = b.x - a.x;
    const double dy = b.y - a.y;
    const double t = ((at.x - a.x) * dx + (at.y - a.y) * dy) / (dx * dx + dy * dy);

    /* the outline walks clockwise: against u on the bottom, against v on the left */
    return side == SL_TOP || side == SL_RIGHT ? t - 0.5 : 0.5 - t;
}

static void add_point(sl_seen *seen, sl_side side, sl_point at, double sigma)
{
    seen->point[seen->count++] = (sl_fit_point){
        .at = at,
        .side = side,
        .sigma = fmax(sigma, SIGMA_FLOOR),
        .weight = 1.0,
        .along = fmin(fmax(place_along(seen, side, at), -0.5), 0.5),
    };
}

/* Distance of a point from its side's chord, px. */
static double chord_distance(const sl_seen *seen, const sl_fit_point *point)
{
    const sl_point a = seen->corner[point->side];
    const sl_point b = seen->corner[(point->side + 1) % 4];
    const double dx = b.x - a.x;
    const double dy = b.y - a.y;

    return (dx * (point->at.y - a.y) - dy * (point->at.x - a.x)) / hypot(dx, dy);
}

/*
 * Drops single strays before any model is fitted: points off the median of the nine about them
 * (of a slope that median is the middle point itself) by 5 robust scales of such distances.
 */
static void drop_strays(sl_seen *seen, size_t first)
{
    enum { REACH = 4, WINDOW = 2 * REACH + 1 };
    const size_t count = seen->count - first;
    double off[SL_EDGE_POINTS];
    double size[SL_EDGE_POINTS];
    size_t kept = first;

    if (count < WINDOW)
        return;
    for (size_t i = 0; i < count; i++) {
        const size_t low = i < REACH ? 0 : i + REACH < count ? i - REACH : count - WINDOW;
        double window[WINDOW];
        /* at the ends the window is lopsided: a line through its halves' medians would do no
           better than leaving them to the fit's own weights */
        for (size_t k = 0; k < WINDOW; k++)
            window[k] = chord_distance(seen, seen->point + first + low + k);

        const double here = window[i - low];

        off[i] = i - low == REACH ? fabs(here - sl_median(window, WINDOW)) : 0.0;
        size[i] = off[i];
    }

    const double limit = 5.0 * fmax(1.4826 * sl_median(size, count), SIGMA_FLOOR);

    for (size_t i = 0; i < count; i++)
        if (off[i] <= limit)
            seen->point[kept++] = seen->point[first + i];
    seen->strays += seen->count - kept;
    seen->count = kept;
}

/* First point of block b of so many over a side's points. */
static size_t block_first(const sl_seen *seen, size_t side, size_t b, size_t blocks)
{
    const size_t count = seen->first[side + 1] - seen->first[side];

    return seen->first[side] + b * count / blocks;
}

static size_t side_blocks(const sl_seen *seen, size_t side)
{
    const size_t count = seen->first[side + 1] - seen->first[side];

    return count < SL_FIT_PER_SIDE ? count : SL_FIT_PER_SIDE;
}

/* ---- noise ----------------------------------------------------------------------------- */

/*
 * A side's own shape, apart from any model: a polynomial of the chord. Eight degrees follow
 * every bow and S; what they leave is the edge's roughness and the edge finder's noise, and how
 * much of it is left in means of blocks tells how far it hangs together.
 */
enum { DEGREE = 8, SHAPE = DEGREE + 1 };

static void shape_terms(double p[SHAPE], double along)
{
    const double x = 2.0 * along;

    p[0] = 1.0;
    p[1] = x;
    for (size_t k = 1; k < DEGREE; k++)
        p[k + 1] = ((double)(2 * k + 1) * x * p[k] - (double)k * p[k - 1]) / (double)(k + 1);
}

/* Least squares of d over the marked points; false when they are too few. */
static bool fit_shape(double coefficient[SHAPE], const sl_fit_point *point, const double *d,
                      const bool *use, size_t count)
{
    double normal[SHAPE * SHAPE] = { 0 };
    double right[SHAPE] = { 0 };

    for (size_t i = 0; i < count; i++) {
        double p[SHAPE];

        if (!use[i])
            continue;
        shape_terms(p, point[i].along);
        for (size_t r = 0; r < SHAPE; r++) {
            right[r] += p[r] * d[i];
            for (size_t c = 0; c < SHAPE; c++)
                normal[r * SHAPE + c] += p[r] * p[c];
        }
    }
    if (!sl_spd_invert(normal, SHAPE))
        return false;
    for (size_t r = 0; r < SHAPE; r++) {
        coefficient[r] = 0.0;
        for (size_t c = 0; c < SHAPE; c++)
            coefficient[r] += normal[r * SHAPE + c] * right[c];
    }
    return true;
}

/* Sets the side's block_px and raises its points' sigmas to the scatter that is seen. */
static void measure_noise(sl_seen *seen, size_t side)
{
    const size_t first = seen->first[side];
    const size_t count = seen->first[side + 1] - first;
    const size_t blocks = side_blocks(seen, side);
    sl_fit_point *const point = seen->point + first;
    double d[SL_EDGE_POINTS];
    bool use[SL_EDGE_POINTS];
    double size[SL_EDGE_POINTS];
    double sum = 0.0;
    double block_sum = 0.0;
    size_t n = 0;
    size_t filled = 0;

    seen->block_px[side] = 0.0;
    if (count < 3 * SHAPE)
        return;
    for (size_t i = 0; i < count; i++) {
        d[i] = chord_distance(seen, point + i);
        use[i] = true;
    }
    for (int round = 0; round < 4; round++) {
        double c[SHAPE];
        double left[SL_EDGE_POINTS];

        if (!fit_shape(c, point, d, use, count))
            return;
        for (size_t i = 0; i < count; i++) {
            double p[SHAPE];

            shape_terms(p, point[i].along);
            left[i] = d[i];
            for (size_t k = 0; k < SHAPE; k++)
                left[i] -= c[k] * p[k];
            size[i] = fabs(left[i]);
        }

        const double limit = 3.0 * 1.4826 * sl_median(size, count);

        if (round < 3) {
            for (size_t i = 0; i < count; i++)
                use[i] = fabs(left[i]) <= limit;
            continue;
        }
        for (size_t b = 0; b < blocks; b++) {
            const size_t end = block_first(seen, side, b + 1, blocks) - first;
            double mean = 0.0;
            size_t m = 0;

            for (size_t i = block_first(seen, side, b, blocks) - first; i < end; i++)
                if (use[i]) {
                    mean += left[i];
                    sum += left[i] * left[i];
                    m++;
                }
            n += m;
            if (m > 0) {
                block_sum += mean / (double)m * (mean / (double)m);
                filled++;
            }
        }
    }
    /* the shape has taken its share of the degrees of freedom */
    if (n <= SHAPE || filled <= SHAPE)
        return;

    const double noise = sqrt(sum / (double)(n - SHAPE));

    seen->block_px[side] = sqrt(block_sum / (double)(filled - SHAPE));
    for (size_t i = 0; i < count; i++)
        point[i].sigma = fmax(point[i].sigma, noise);
}

/* ---- the outline ----------------------------------------------------------------------- */

sl_status sl_seen_from_outline(sl_seen *seen, const sl_outline *outline, sl_error *err)
{
    double blur[SL_SEEN_MAX];
    size_t blurs = 0;
    size_t sides = 0;

    if (!outline->found)
        return sl_fail(err, SL_ERR_ARG, "rectify", "the outline has no page");

    const sl_status st = check_corners(outline->corner, err);

    if (st != SL_OK)
        return st;
    *seen = (sl_seen){ 0 };
    for (size_t i = 0; i < 4; i++)
        seen->corner[i] = outline->corner[i];
    for (size_t s = 0; s < 4; s++) {
        const sl_edge *const edge = outline->edge + s;
        const size_t count = edge->count < SL_EDGE_POINTS ? edge->count : SL_EDGE_POINTS;
        const sl_point a = seen->corner[s];
        const sl_point b = seen->corner[(s + 1) % 4];

        seen->first[s] = seen->count;
        for (size_t i = 0; i < count; i++) {
            const sl_edge_point *const p = edge->point + i;

            if (!isfinite(p->at.x) || !isfinite(p->at.y) || !isfinite(p->sigma_px))
                continue;
            add_point(seen, (sl_side)s, p->at, p->sigma_px);
            if (p->blur_px > 0.0 && isfinite(p->blur_px))
                blur[blurs++] = p->blur_px;
        }
        drop_strays(seen, seen->first[s]);
        if (seen->count - seen->first[s] < SEEN_MIN) {
            seen->count = seen->first[s];
            /* a person's corners are good to about a pixel */
            for (size_t i = 0; outline->by_hand && i < BY_HAND_POINTS; i++) {
                const double t = ((double)i + 0.5) / BY_HAND_POINTS;

                add_point(seen, (sl_side)s,
                          (sl_point){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) }, 1.0);
            }
        }
        sides += seen->count > seen->first[s];
    }
    seen->first[4] = seen->count;
    for (size_t s = 0; s < 4; s++)
        measure_noise(seen, s);
    seen->blur_px = sl_median(blur, blurs);
    if (sides < 3)
        return sl_fail(err, SL_ERR_DEGENERATE, "rectify",
                       "only %zu sides of the page were seen, 3 are needed to tell its shape",
                       sides);
    return SL_OK;
}

size_t sl_seen_thin(sl_fit_point *out, const sl_seen *seen, size_t per_side)
{
    size_t n = 0;

    for (size_t s = 0; s < 4; s++) {
        const size_t count = seen->first[s + 1] - seen->first[s];
        const size_t take = count < per_side ? count : per_side;

        for (size_t i = 0; i < take; i++)
            out[n++] = seen->point[seen->first[s] + (2 * i + 1) * count / (2 * take)];
    }
    return n;
}

size_t sl_seen_blocks(sl_fit_point *out, sl_seen *seen, const sl_page_map *map,
                      sl_fit_work *work)
{
    size_t n = 0;

    sl_fit_measure(seen->point, seen->count, map, work);
    for (size_t s = 0; s < 4; s++) {
        const size_t blocks = side_blocks(seen, s);

        for (size_t b = 0; b < blocks; b++) {
            const size_t first = block_first(seen, s, b, blocks);
            const size_t end = block_first(seen, s, b + 1, blocks);
            double off[SL_EDGE_POINTS];
            size_t m = 0;

            for (size_t i = first; i < end; i++)
                if (isfinite(seen->point[i].off))
                    off[m++] = seen->point[i].off;
            if (m == 0)
                continue;

            const double middle = sl_median(off, m);
            double weight = 0.0;
            double along = 0.0;
            double mean = 0.0;

            for (size_t i = first; i < end; i++) {
                const sl_fit_point *const p = seen->point + i;
                const double w = 1.0 / (p->sigma * p->sigma);

                if (!(fabs(p->off - middle) <= 4.0 * p->sigma))
                    continue;
                weight += w;
                along += w * p->along;
                mean += w * p->off;
            }
            if (!(weight > 0.0))
                continue;
            out[n] = (sl_fit_point){
                .side = (sl_side)s,
                .sigma = fmax(1.0 / sqrt(weight), seen->block_px[s]),
                .weight = 1.0,
                .along = along / weight,
                .off = mean / weight,
            };
            n++;
        }
    }
    sl_fit_place(out, n, map, work);
    return n;
}
