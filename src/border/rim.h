/* A strip along a side of the outline that is not the page's paper. */
#ifndef SL_BORDER_RIM_H
#define SL_BORDER_RIM_H

#include "border/fine.h"

/*
 * Is there a strip of one colour just inside a side, from corner to corner, whose colour the page
 * shows nowhere else? A lower sheet that peeps out by a few px looks like that: in the page's
 * shadow, or of another paper. A stripe or a border of the page comes again. Along a pattern any
 * plain strip is one: of the lower sheet's pattern a whole row may show and no more.
 * course   the four sides, px of the shot
 * blur_px  of each side's edge: sigma, px; INFINITY: unknown, that side is left out
 */
bool sl_has_rim(const sl_image *shot, const sl_course course[4], const double blur_px[4]);

/*
 * Is what lies just inside one side, or inside two that meet, another paper than the one inside the
 * others? A part of a board, with the page's own edges for its other sides, looks like that.
 */
bool sl_has_odd_paper(const sl_image *shot, const sl_course course[4]);

#endif
