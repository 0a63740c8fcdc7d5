/* The honest figure beside a page map: how far its inside may be off. */
#ifndef SL_RECTIFY_BOUND_H
#define SL_RECTIFY_BOUND_H

#include "rectify/search.h"

/*
 * Sets inside_error_mm, aspect_sigma, residual_px, residual_mm and outlier_share of
 * out->map, which is search->end[pick]'s.
 */
void sl_bound_set(sl_rectified *out, const sl_search *search, size_t pick);

#endif
