/* A side that lies a few px inside the picture's frame, too few for the coarse search. */
#ifndef SL_BORDER_NEAR_FRAME_H
#define SL_BORDER_NEAR_FRAME_H

#include "border/fine.h"

/*
 * Where the table shows along the frame, from corner to corner, the page is not cut there.
 * edge    out: the side's points, when there is such a strip
 * course  the four sides, px of the shot; that of `side` runs along the frame, and is moved onto
 *         the side's edge
 * cut     which sides run along the frame: the others tell page from table
 * False, and nothing changed, when there is no such strip.
 */
bool sl_edge_near_frame(sl_edge *edge, sl_course course[4], int side, const bool cut[4],
                        const sl_image *shot, const sl_tone *tone);

#endif
