/* Where quadrilaterals of the small copy lie to each other. */
#ifndef SL_BORDER_QUAD_H
#define SL_BORDER_QUAD_H

#include "border/search.h"

/* Has it a side on the picture's frame, as a page has that the frame cuts? */
bool sl_quad_is_framed(const sl_quad *q);

/* How far the worst of its corners lies from b's, as a share of b's size. */
double sl_quad_distance(const sl_quad *a, const sl_quad *b, const sl_small *small);

/* Does a point lie within its sides, or less than `slack` px off? Negative: that far inside. */
bool sl_quad_has_point(const sl_quad *q, sl_point p, double slack);

/* Do all its corners lie within the other's sides, likewise? */
bool sl_quad_within(const sl_quad *inner, const sl_quad *outer, double slack);

/* Does neither lie on the other? */
bool sl_quads_apart(const sl_quad *a, const sl_quad *b);

#endif
