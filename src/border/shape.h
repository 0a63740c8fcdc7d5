/* How far an outline is from the proportions that were stated. */
#ifndef SL_BORDER_SHAPE_H
#define SL_BORDER_SHAPE_H

#include "squareleaf.h"

/* |ln| of the proportions over the stated ones: up to here they are the same, from there on they
   differ (size-differs would say so). */
#define SL_IN_SHAPE 0.0075
#define SL_TO_A_HAIR 0.0005  /* as most pages are that are right, and few outlines that are not */
#define SL_HAIRS 4           /* what is so many times that off has other ones */
#define SL_OUT_OF_SHAPE 0.015

/* |ln| of the quotient of the outline's proportions and the stated ones; INFINITY: none are stated,
   or it is no view of a rectangle. */
double sl_off_shape(const sl_outline *out, const sl_image *shot, const sl_border_params *params);

/*
 * Moves a side, both its corners by the same distance along the neighbouring sides, to where the
 * proportions are the stated ones. False when that is more than `most` px.
 * side  from corner[side] to the next one; px of the shot
 */
bool sl_shape_side(sl_point corner[4], int side, double most, const sl_image *shot,
                   const sl_border_params *params);

#endif
