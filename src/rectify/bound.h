/* The honest figure beside a page map: how far its inside may be off. */
#ifndef SL_RECTIFY_BOUND_H
#define SL_RECTIFY_BOUND_H

#include "rectify/search.h"

/*
 * Blocks of the outline that the model leaves unexplained: long runs that the robust fit gave
 * up, not the odd tab, hole or rounded corner. marked[i] tells of block i; returns how many.
 */
size_t sl_bound_unexplained(bool *marked, const sl_fit_point *block, size_t count);

/*
 * Sets inside_error_mm, aspect_sigma, residual_px, residual_mm and outlier_share of
 * out->map, which is search->end[pick]'s.
 */
void sl_bound_set(sl_rectified *out, const sl_search *search, size_t pick);

#endif
