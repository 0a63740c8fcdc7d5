/*
 * One joint fit of pose, camera, lens, proportions and sheet to points on the page's edges,
 * under Gaussian priors, by MINPACK's Levenberg-Marquardt with analytic derivatives.
 */
#ifndef SL_RECTIFY_FIT_H
#define SL_RECTIFY_FIT_H

#include "rectify/view.h"

enum { SL_FIT_PER_SIDE = 40, SL_FIT_POINTS = 4 * SL_FIT_PER_SIDE };

/* A point of the outline, or the mean of a block of neighbours. */
typedef struct sl_fit_point {
    sl_point at;             /* px */
    sl_side  side;
    double   sigma;          /* px, across the edge */
    double   weight;         /* 0..1, the robust one */
    double   along;          /* place on the edge, -1/2..1/2 in the direction of u or v; kept
                                near the closest point by the fit */
    double   off;            /* out: signed distance from the model's edge, px */
} sl_fit_point;

/* The camera's parameters, what pages of one album share: focal length, centre, lens. */
enum { SL_CAMERA_FIRST = SL_P_LN_FOCAL, SL_CAMERA_COUNT = SL_P_K2 + 1 - SL_P_LN_FOCAL };

/*
 * A Gaussian prior on each parameter; sigma 0: none. With `joint` the camera's are priored
 * together: root' root is the inverse of their covariance about their means.
 */
typedef struct sl_fit_prior {
    double mean[SL_P_COUNT];
    double sigma[SL_P_COUNT];
    bool joint;
    double root[SL_CAMERA_COUNT * SL_CAMERA_COUNT];
} sl_fit_prior;

/* Which parameters are fitted; the others stay as they are in the map. */
typedef struct sl_fit_free {
    bool lens;               /* k1, k2 */
    bool sheet;              /* phi and the profile */
} sl_fit_free;

/* Everything a fit works in: big, so that it lives on the heap; no state between fits. */
typedef struct sl_fit_work sl_fit_work;
sl_status sl_fit_work_new(sl_fit_work **out, sl_error *err);
void sl_fit_work_free(sl_fit_work *work);

/*
 * map    in: the start (page and profile_count are kept); out: the solution
 * point  along and off are updated
 * cost   out: sum of squares of all weighted residuals, priors included
 * steps  at most so many evaluations; tolerance: relative fall of the cost that ends it
 * False when the start is not before the camera or nothing could be fitted.
 */
bool sl_fit_solve(sl_page_map *map, double *cost, sl_fit_point *point, size_t count,
                  const sl_fit_prior *prior, sl_fit_free freedom, double tolerance,
                  int steps, sl_fit_work *work);

/* Another focal length from further away or nearer: the picture stays nearly the same. */
void sl_fit_change_focal(sl_page_map *map, double factor);

/*
 * Closest points and signed distances of many points to the map's edges, without fitting.
 */
void sl_fit_measure(sl_fit_point *point, size_t count, const sl_page_map *map,
                    sl_fit_work *work);

/* The other way round: sets `at` from along and off. */
void sl_fit_place(sl_fit_point *point, size_t count, const sl_page_map *map,
                  sl_fit_work *work);

/*
 * Covariance of the fitted parameters at `map`: (J'J)^-1, priors included, and the parameters
 * it is for. covariance: n x n, row-major; index[n]. Returns n; 0 when J'J is singular.
 */
size_t sl_fit_covariance(double *covariance, size_t index[SL_P_COUNT], const sl_page_map *map,
                         const sl_fit_point *point, size_t count, const sl_fit_prior *prior,
                         sl_fit_free freedom, sl_fit_work *work);

/* The map's view on the work's own profile table, with the derivatives ready. */
void sl_fit_view(sl_view *view, const sl_page_map *map, sl_fit_work *work);

/* Place on the page, (p, q) in -1/2..1/2, of a place along a side. */
void sl_fit_edge_place(double *p, double *q, sl_side side, double along);

#endif
