/* A page's paper that goes on beyond its outline. */
#ifndef SL_BORDER_GOES_ON_H
#define SL_BORDER_GOES_ON_H

#include "border/fine.h"

/*
 * Does the paper go on beyond a side, or beyond all four? A stripe or a row of checks makes as good
 * a side as a page's edge does. There the colour changes, but to one that the paper has elsewhere
 * along its sides, and the table has not; at a page's edge it changes to the table's. Of a plain
 * page on a table of its colour nothing can be told so: no change, no answer.
 * course    the four sides, px of the shot
 * on_sheet  which of them end on a lower sheet: of its paper nothing is told there
 */
bool sl_paper_goes_on(const sl_image *shot, const sl_course course[4], const bool on_sheet[4]);

/* Share of each side at which another colour lies outside than any that the page has along its
   sides: there the page ends, however many colours it has. 0 when memory is short. */
void sl_paper_ends(double share[4], const sl_image *shot, const sl_course course[4]);

#endif
