/* The fine step: sub-pixel edge points along a known course, in shot px. */
#ifndef SL_BORDER_FINE_H
#define SL_BORDER_FINE_H

#include "border/course.h"
#include "border/surfaces.h"

/*
 * Edge points within `reach` px of the course, then the course moved onto them.
 * edge    out: points, support, spread; `cut` is left alone
 * most    points to try, at most SL_EDGE_POINTS
 * course  in: where to look; out: the robust curve through the points
 * surfaces, side  what colours tell of that side, see border/surfaces.h; NULL: nothing
 * The fit is on luminance in linear light (or along the colour's step, where luminance hardly has
 * one), on the px themselves, without interpolation.
 */
void sl_edge_fit(sl_edge *edge, sl_course *course, const sl_image *shot, const sl_tone *tone,
                 double reach, size_t most, sl_surfaces *surfaces, int side);

/* Median of the blurs along an edge, px; INFINITY where they were not measured or are too few. */
double sl_edge_blur(const sl_edge *edge);

#endif
