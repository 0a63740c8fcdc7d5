/*
 * The joint fit.
 *
 * A residual is the signed distance of a seen edge point to the model's edge as projected:
 * each evaluation moves the point's foot along the edge by Newton's method, and at the foot
 * the derivative by any parameter is -n . d(px)/d(parameter), n the edge's normal: the foot's
 * own move is along the edge and does not count. Priors are rows of the same least squares.
 *
 * The focal length is nearly free in a frontal view: a longer one from further away with a
 * deeper curl, a larger tilt and a stronger lens looks almost the same. In the map's own
 * parameters that valley is bent and LM creeps along it, so lmder sees others ("slots"),
 * held in proportion to the focal length as what they do to the picture is:
 *   g = f / f_ref,  tilt = g slot,  profile = g slot,  k1 = g^2 slot,  k2 = g^4 slot,
 *   distance = g slot,  and the page's middle in the shot, px, in place of its x and y.
 */
#include "rectify/fit.h"

#include "base/error.h"
#include "geometry/linear.h"

#include <cminpack.h>
#include <math.h>
#include <stdlib.h>

enum { ROWS = SL_FIT_POINTS + SL_P_COUNT };

struct sl_fit_work {
    sl_profile_table table;
    sl_view view;
    /* the problem */
    const sl_page_map *start;
    sl_fit_point *point;
    size_t count;
    const sl_fit_prior *prior;
    size_t index[SL_P_COUNT];
    size_t free;
    double focal_ref;
    double scale[SL_P_COUNT]; /* d(parameter)/d(slot) at the view, of those that are scaled */
    double pull[SL_P_COUNT];  /* d(parameter)/d(ln f) at fixed slots */
    /* for lmder */
    double residual[ROWS];
    double jacobian[ROWS * SL_P_COUNT];
    double wa4[ROWS];
};

sl_status sl_fit_work_new(sl_fit_work **out, sl_error *err)
{
    sl_fit_work *const work = calloc(1, sizeof *work);

    if (work == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "rectify", "no memory for the fit");
    sl_profile_table_init(&work->table);
    *out = work;
    return SL_OK;
}

void sl_fit_work_free(sl_fit_work *work)
{
    free(work);
}

void sl_fit_edge_place(double *p, double *q, sl_side side, double along)
{
    const bool level = side == SL_TOP || side == SL_BOTTOM;
    const double off = side == SL_TOP || side == SL_LEFT ? -0.5 : 0.5;

    *p = level ? along : off;
    *q = level ? off : along;
}

/* Feet run on a little beyond the corners: a point seen there still tells of its edge. */
static const double FOOT_MAX = 0.56;

/* The foot's Newton step from the edge's tangent and the way to the point that was seen. */
static double step_along(double along, double tx, double ty, double dx, double dy)
{
    return fmin(fmax(along + (tx * dx + ty * dy) / (tx * tx + ty * ty), -FOOT_MAX), FOOT_MAX);
}

/* Moves the foot to the closest point of the edge; returns the signed distance. */
static double foot(sl_point *normal, double *along, const sl_view *view, sl_side side,
                   sl_point seen, int turns)
{
    const size_t k = side == SL_TOP || side == SL_BOTTOM ? 0 : 1;

    for (int turn = 0;; turn++) {
        double p;
        double q;
        double tangent[4];
        double depth;

        sl_fit_edge_place(&p, &q, side, *along);

        const sl_point px = sl_view_point(tangent, &depth, view, p, q);
        const double tx = tangent[k];
        const double ty = tangent[2 + k];
        const double square = tx * tx + ty * ty;

        if (!(depth > 0.0) || !(square > 0.0) || !isfinite(square))
            return NAN;

        const double dx = seen.x - px.x;
        const double dy = seen.y - px.y;
        const double length = sqrt(square);

        *normal = (sl_point){ -ty / length, tx / length };
        if (turn == turns)
            return normal->x * dx + normal->y * dy;
        *along = step_along(*along, tx, ty, dx, dy);
    }
}

static double distance_then_foot(const sl_view *view, sl_fit_point *point)
{
    const size_t k = point->side == SL_TOP || point->side == SL_BOTTOM ? 0 : 1;
    double p;
    double q;
    double tangent[4];
    double depth;

    sl_fit_edge_place(&p, &q, point->side, point->along);

    const sl_point px = sl_view_point(tangent, &depth, view, p, q);
    const double tx = tangent[k];
    const double ty = tangent[2 + k];
    const double length = sqrt(tx * tx + ty * ty);
    const double dx = point->at.x - px.x;
    const double dy = point->at.y - px.y;

    if (!(depth > 0.0) || !(length > 0.0) || !isfinite(length))
        return NAN;
    point->along = step_along(point->along, tx, ty, dx, dy);
    return (tx * dy - ty * dx) / length;
}

/* ---- slots ----------------------------------------------------------------------------- */

/* The power of g that a parameter goes with. */
static int focal_power(size_t parameter)
{
    if (parameter == SL_P_ROTATION || parameter == SL_P_ROTATION + 1
        || parameter == SL_P_TRANSLATION + 2 || parameter >= SL_P_PROFILE)
        return 1;
    return parameter == SL_P_K1 ? 2 : parameter == SL_P_K2 ? 4 : 0;
}

/* g to that power. */
static double focal_factor(double g, size_t parameter)
{
    const int power = focal_power(parameter);
    const double square = g * g;

    return power == 0 ? 1.0 : power == 1 ? g : power == 2 ? square : square * square;
}

/* x (the free slots) from the map's parameters. */
static void to_slots(double *x, const sl_fit_work *work, const double value[SL_P_COUNT])
{
    const double f = exp(value[SL_P_LN_FOCAL]);
    const double g = f / work->focal_ref;

    for (size_t i = 0; i < work->free; i++) {
        const size_t k = work->index[i];

        x[i] = value[k] / focal_factor(g, k);
        if (k == SL_P_TRANSLATION || k == SL_P_TRANSLATION + 1)
            x[i] = value[SL_P_CENTRE + k - SL_P_TRANSLATION]
                   + f * value[k] / value[SL_P_TRANSLATION + 2];
    }
}

/* The map's parameters from x; those that are not free are the start's. */
static void from_slots(double value[SL_P_COUNT], const sl_fit_work *work, const double *x)
{
    sl_view_pack(value, work->start);
    for (size_t i = 0; i < work->free; i++)
        value[work->index[i]] = x[i];

    const double f = exp(value[SL_P_LN_FOCAL]);
    const double g = f / work->focal_ref;

    for (size_t i = 0; i < work->free; i++)
        value[work->index[i]] *= focal_factor(g, work->index[i]);
    for (size_t k = 0; k < 2; k++)
        value[SL_P_TRANSLATION + k] =
            (value[SL_P_TRANSLATION + k] - value[SL_P_CENTRE + k])
            * value[SL_P_TRANSLATION + 2] / f;
}

void sl_fit_change_focal(sl_page_map *map, double factor)
{
    double value[SL_P_COUNT];

    sl_view_pack(value, map);
    value[SL_P_LN_FOCAL] += log(factor);
    /* x and y go with the distance and against the focal length: they stay */
    for (size_t k = 0; k < SL_P_COUNT; k++)
        value[k] *= focal_factor(factor, k);
    sl_view_unpack(map, value);
}

/* A derivative by the map's parameters becomes one by the slots. */
static void row_to_slots(double *row, const sl_fit_work *work, const double d[SL_P_COUNT],
                         const double value[SL_P_COUNT])
{
    const double f = exp(value[SL_P_LN_FOCAL]);
    const double g = f / work->focal_ref;
    const double z = value[SL_P_TRANSLATION + 2];

    for (size_t i = 0; i < work->free; i++) {
        const size_t k = work->index[i];

        row[i] = d[k] * work->scale[i];
        if (k == SL_P_TRANSLATION || k == SL_P_TRANSLATION + 1)
            row[i] = d[k] * z / f;
        else if (k == SL_P_CENTRE || k == SL_P_CENTRE + 1)
            row[i] = d[k] - d[SL_P_TRANSLATION + k - SL_P_CENTRE] * z / f;
        else if (k == SL_P_TRANSLATION + 2)
            row[i] = g * (d[k] + (d[k - 2] * value[k - 2] + d[k - 1] * value[k - 1]) / z);
        else if (k == SL_P_LN_FOCAL)
            for (size_t m = 0; m < work->free; m++)
                row[i] += d[work->index[m]] * work->pull[m];
    }
}

/* ---- priors ---------------------------------------------------------------------------- */

/* The prior's row of parameter k: coefficients by (value - mean) of all parameters. */
static void prior_row(double row[SL_P_COUNT], const sl_fit_prior *prior, size_t k)
{
    for (size_t i = 0; i < SL_P_COUNT; i++)
        row[i] = 0.0;
    if (prior->joint && k >= SL_CAMERA_FIRST && k < SL_CAMERA_FIRST + SL_CAMERA_COUNT)
        for (size_t i = 0; i < SL_CAMERA_COUNT; i++)
            row[SL_CAMERA_FIRST + i] =
                prior->root[(k - SL_CAMERA_FIRST) * SL_CAMERA_COUNT + i];
    else if (prior->sigma[k] > 0.0)
        row[k] = 1.0 / prior->sigma[k];
}

/* ---- residuals and derivatives --------------------------------------------------------- */

static void set_view(sl_fit_work *work, double value[SL_P_COUNT], const double *x)
{
    sl_page_map map = *work->start;

    from_slots(value, work, x);
    sl_view_unpack(&map, value);
    sl_view_set(&work->view, &map, map.profile_count > 0 ? &work->table : NULL);
    for (size_t i = 0; i < work->free; i++) {
        const size_t k = work->index[i];

        work->scale[i] = focal_factor(map.focal_px / work->focal_ref, k);
        work->pull[i] = focal_power(k) * value[k];
    }
}

/* A residual that no real one comes near, for maps that are behind the camera. */
static const double IMPOSSIBLE = 1e6;

/*
 * With `turns` the feet are moved first. Without, the distance is taken at each foot as it is,
 * along the edge's normal there, which a foot off by t changes by t^2 / 2R only (R is tens of
 * thousands of px), and the foot then moved for the next time: LM's steps shrink, and so does t.
 */
static void residuals(sl_fit_work *work, const double *x, double *out, int turns)
{
    double value[SL_P_COUNT];

    set_view(work, value, x);
    for (size_t i = 0; i < work->count; i++) {
        sl_fit_point *const point = work->point + i;
        sl_point normal = { 0.0, 0.0 };
        const double off = turns > 0 ? foot(&normal, &point->along, &work->view, point->side,
                                            point->at, turns)
                                     : distance_then_foot(&work->view, point);

        point->off = off;
        out[i] = isfinite(off) ? sqrt(point->weight) * off / point->sigma : IMPOSSIBLE;
    }
    for (size_t i = 0; i < work->free; i++) {
        double row[SL_P_COUNT];

        prior_row(row, work->prior, work->index[i]);
        out[work->count + i] = 0.0;
        for (size_t k = 0; k < SL_P_COUNT; k++)
            out[work->count + i] += row[k] * (value[k] - work->prior->mean[k]);
    }
}

/*
 * Rows of the Jacobian, column-major with `stride`: by slots, or by the map's own parameters
 * (in the same order).
 */
static void derivatives(sl_fit_work *work, const double *x, double *out, size_t stride,
                        bool slots)
{
    double value[SL_P_COUNT];
    double d[SL_P_COUNT];
    double row[SL_P_COUNT];

    set_view(work, value, x);
    if (work->view.table != NULL)
        sl_profile_table_derivatives(work->view.table);
    for (size_t i = 0; i < work->count + work->free; i++) {
        for (size_t k = 0; k < SL_P_COUNT; k++)
            d[k] = 0.0;
        if (i < work->count) {
            const sl_fit_point *const point = work->point + i;
            const size_t way = point->side == SL_TOP || point->side == SL_BOTTOM ? 0 : 1;
            const double scale = sqrt(point->weight) / point->sigma;
            double dx[SL_P_COUNT];
            double dy[SL_P_COUNT];
            double tangent[4];
            double p;
            double q;

            if (isfinite(point->off) && scale > 0.0) {
                sl_fit_edge_place(&p, &q, point->side, point->along);
                (void)sl_view_derivative(dx, dy, tangent, &work->view, p, q);

                const double length = hypot(tangent[way], tangent[2 + way]);
                const double nx = scale * tangent[2 + way] / length;
                const double ny = -scale * tangent[way] / length;

                for (size_t k = 0; k < SL_P_COUNT; k++)
                    d[k] = nx * dx[k] + ny * dy[k];
            }
        } else {
            prior_row(d, work->prior, work->index[i - work->count]);
        }
        if (slots)
            row_to_slots(row, work, d, value);
        for (size_t k = 0; k < work->free; k++)
            out[k * stride + i] = slots ? row[k] : d[work->index[k]];
    }
}

static int evaluate(void *ctx, int rows, int cols, const double *x, double *fvec, double *fjac,
                    int stride, int flag)
{
    sl_fit_work *const work = ctx;

    (void)rows;
    (void)cols;
    if (flag == 2)
        derivatives(work, x, fjac, (size_t)stride, true);
    else
        residuals(work, x, fvec, 0);
    return 0;
}

static void set_problem(sl_fit_work *work, const sl_page_map *map, sl_fit_point *point,
                        size_t count, const sl_fit_prior *prior, sl_fit_free freedom)
{
    work->start = map;
    work->point = point;
    work->count = count < SL_FIT_POINTS ? count : SL_FIT_POINTS;
    work->prior = prior;
    work->free = 0;
    work->focal_ref = map->focal_px;
    for (size_t k = 0; k < SL_P_COUNT; k++) {
        const bool lens = k == SL_P_K1 || k == SL_P_K2;
        const bool sheet = k >= SL_P_PHI;

        if ((lens && !freedom.lens) || (sheet && !freedom.sheet)
            || (k >= SL_P_PROFILE && k - SL_P_PROFILE >= map->profile_count))
            continue;
        work->index[work->free++] = k;
    }
}

bool sl_fit_solve(sl_page_map *map, double *cost, sl_fit_point *point, size_t count,
                  const sl_fit_prior *prior, sl_fit_free freedom, double tolerance,
                  int steps, sl_fit_work *work)
{
    double value[SL_P_COUNT];
    double x[SL_P_COUNT] = { 0 };
    double diag[SL_P_COUNT];
    double qtf[SL_P_COUNT];
    double wa[3][SL_P_COUNT];
    int pivot[SL_P_COUNT];
    int evaluations;
    int jacobians;

    set_problem(work, map, point, count, prior, freedom);
    sl_view_pack(value, map);
    to_slots(x, work, value);

    const int rows = (int)(work->count + work->free);

    residuals(work, x, work->residual, 3);
    for (size_t i = 0; i < work->count; i++)
        if (!(work->residual[i] < IMPOSSIBLE))
            return false;

    const int info = lmder(evaluate, work, rows, (int)work->free, x, work->residual,
                           work->jacobian, rows, tolerance, 1e-13, 0.0, steps, diag, 1,
                           100.0, 0, &evaluations, &jacobians, pivot, qtf, wa[0], wa[1], wa[2],
                           work->wa4);

    if (info <= 0)
        return false;
    residuals(work, x, work->residual, 2);
    *cost = 0.0;
    for (int i = 0; i < rows; i++)
        *cost += work->residual[i] * work->residual[i];
    for (size_t i = 0; i < work->free; i++)
        if (!isfinite(x[i]))
            return false;
    from_slots(value, work, x);
    sl_view_unpack(map, value);
    return isfinite(*cost);
}

void sl_fit_measure(sl_fit_point *point, size_t count, const sl_page_map *map,
                    sl_fit_work *work)
{
    sl_view_set(&work->view, map, map->profile_count > 0 ? &work->table : NULL);
    for (size_t i = 0; i < count; i++) {
        sl_point normal = { 0.0, 0.0 };

        point[i].off =
            foot(&normal, &point[i].along, &work->view, point[i].side, point[i].at, 1);
    }
}

void sl_fit_place(sl_fit_point *point, size_t count, const sl_page_map *map,
                  sl_fit_work *work)
{
    sl_view_set(&work->view, map, map->profile_count > 0 ? &work->table : NULL);
    for (size_t i = 0; i < count; i++) {
        double along = point[i].along;
        double p;
        double q;
        sl_point normal = { 0.0, 0.0 };

        sl_fit_edge_place(&p, &q, point[i].side, along);
        point[i].at = sl_view_point(NULL, NULL, &work->view, p, q);
        (void)foot(&normal, &along, &work->view, point[i].side, point[i].at, 0);
        point[i].at.x += point[i].off * normal.x;
        point[i].at.y += point[i].off * normal.y;
    }
}

void sl_fit_view(sl_view *view, const sl_page_map *map, sl_fit_work *work)
{
    sl_view_set(view, map, map->profile_count > 0 ? &work->table : NULL);
    if (view->table != NULL)
        sl_profile_table_derivatives(view->table);
}

size_t sl_fit_covariance(double *covariance, size_t index[SL_P_COUNT], const sl_page_map *map,
                         const sl_fit_point *point, size_t count, const sl_fit_prior *prior,
                         sl_fit_free freedom, sl_fit_work *work)
{
    double value[SL_P_COUNT];
    double x[SL_P_COUNT] = { 0 };

    /* the points are only read on this way */
    set_problem(work, map, (sl_fit_point *)point, count, prior, freedom);
    sl_view_pack(value, map);
    to_slots(x, work, value);

    const size_t n = work->free;
    const size_t rows = work->count + n;

    derivatives(work, x, work->jacobian, rows, false);
    for (size_t i = 0; i < n; i++) {
        index[i] = work->index[i];
        for (size_t k = 0; k < n; k++) {
            double sum = 0.0;

            for (size_t r = 0; r < rows; r++)
                sum += work->jacobian[i * rows + r] * work->jacobian[k * rows + r];
            covariance[i * n + k] = sum;
        }
    }
    return sl_spd_invert(covariance, n) ? n : 0;
}
