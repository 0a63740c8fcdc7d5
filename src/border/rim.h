/* A strip along a side of the outline that is not the page's paper. */
#ifndef SL_BORDER_RIM_H
#define SL_BORDER_RIM_H

#include "border/fine.h"

/*
 * Finds strips of one colour just inside a side, from corner to corner, whose colour the page
 * shows nowhere else. A lower sheet that peeps out by a few px looks like that: in the page's
 * shadow, or of another paper. A stripe or a border of the page comes again. Along a pattern any
 * plain strip is one: of the lower sheet's pattern a whole row may show and no more.
 * course   the four sides, px of the shot
 * blur_px  of each side's edge: sigma, px; INFINITY: unknown, that side is left out
 * depth    out: px from each side to where its strip ends; 0: it has none
 * most     px: no strip is wider
 */
void sl_rims_find(double depth[4], const sl_image *shot, const sl_course course[4],
                  const double blur_px[4], double most);

/*
 * Is what lies just inside one side, or inside two that meet, another paper than the one inside the
 * others? A part of a board, with the page's own edges for its other sides, looks like that.
 */
bool sl_has_odd_paper(const sl_image *shot, const sl_course course[4]);

#endif
