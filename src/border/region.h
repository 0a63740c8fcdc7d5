/*
 * The region of the picture that is not the table: what has colours that the table, seen along the
 * picture's rim, has not. A cue of its own, that asks for no edge: a striped page on a chequered
 * cloth has a hundred edges better than its own.
 */
#ifndef SL_BORDER_REGION_H
#define SL_BORDER_REGION_H

#include "border/search.h"

/* Fills small->off_table from its planes; SL_ERR_NOMEM. Source of the idea: backprojection of a
   colour histogram (Swain and Ballard, Int. J. Computer Vision 7, 1991), here the rim's. */
sl_status sl_region_map(sl_small *small, sl_error *err);

/*
 * The quadrilateral that parts best what is off the table from the table: clockwise, to about 4 px
 * of the small copy. False when nothing large enough is off the table. SL_ERR_NOMEM.
 */
sl_status sl_region_quad(bool *found, sl_point corner[4], const sl_small *small, sl_error *err);

#endif
