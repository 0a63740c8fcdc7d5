/* Corners of an outline that no paper fills. */
#ifndef SL_BORDER_NOTCH_H
#define SL_BORDER_NOTCH_H

#include "squareleaf.h"

/*
 * Is a corner of the outline empty: a rectangle of the table, where the page's paper should be? Of
 * a pile of sheets shifted against each other the outermost lines are no sheet's own: where a
 * lower sheet's side ends before the page's, the table shows in a notch, even when the line
 * between the two sheets cannot be seen. A side that lies on the end of a shadow leaves such a
 * corner too. Rounded and clipped corners, prints, patterns and things on a corner are none.
 * corner     px of the shot, clockwise
 * spread_px  by which each side's points scatter about it: wavy sides have notches of their own
 */
bool sl_corner_is_notched(const sl_image *shot, const sl_point corner[4],
                          const double spread_px[4]);

/* The same of an outline; false of one that the frame cuts. */
bool sl_outline_is_notched(const sl_outline *out, const sl_image *shot);

#endif
