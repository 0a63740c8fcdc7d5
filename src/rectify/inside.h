/* How far the inside of the page may be off: an outline tells the edges, no more. */
#ifndef SL_RECTIFY_INSIDE_H
#define SL_RECTIFY_INSIDE_H

#include "rectify/fit.h"

/*
 * Largest standard deviation of the map over the page, in page units, from the covariance of
 * its parameters (sl_fit_covariance).
 */
double sl_inside_sigma(const sl_page_map *map, const double *covariance, const size_t *index,
                       size_t n, sl_fit_work *work);

/* Largest distance between two maps of one page over it, in page units. */
double sl_inside_distance(const sl_page_map *map, const sl_page_map *other);

/* Page units per shot px, the mean over the page. */
double sl_inside_unit(const sl_page_map *map);

#endif
