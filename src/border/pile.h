/* The sheets below: an outline's sides that are a lower sheet's. */
#ifndef SL_BORDER_PILE_H
#define SL_BORDER_PILE_H

#include "border/fine.h"

/*
 * Sides of a lower sheet that peeps out from under the page: moved in to the page's own edges. A
 * line at one depth all round is a frame printed on the page, and stays; and where the page has the
 * stated proportions and would lose them, the line within is a stripe of its paper.
 * dark    the paper is nearly black
 * moved   out: the sides that moved
 * doubt   out: a line is there, but not from corner to corner, or it goes all round unevenly, or
 *         it may be a printed one; or sides moved, and no proportions are stated. Not where it has
 *         the stated ones to a hair
 */
void sl_pile_leave(sl_outline *out, sl_course course[4], bool moved[4], bool *doubt,
                   const sl_image *shot, const sl_border_params *params, bool dark);

#endif
