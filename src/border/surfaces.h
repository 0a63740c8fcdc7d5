/* Paper or what lies round it: what a colour near one of the page's sides belongs to. */
#ifndef SL_BORDER_SURFACES_H
#define SL_BORDER_SURFACES_H

#include "border/course.h"

typedef struct sl_surfaces sl_surfaces;

/*
 * Learns the colours inside and outside the four courses of a page found to within about 0.6 % of
 * its size; cut[i]: nothing of side i shows.
 * NULL when memory is short: the edges are then told by their steps alone. Free with free().
 */
sl_surfaces *sl_surfaces_learn(const sl_image *shot, const sl_tone *tone, const sl_course course[4],
                               const bool cut[4]);

/*
 * Log odds, natural, that a colour (linear light, 0..1) near side i is the page's paper or what is
 * printed on it: above 0 rather paper, below 0 rather table; 0 when it is like neither, or both.
 */
double sl_surfaces_odds(sl_surfaces *surfaces, int side, const double rgb[3]);

#endif
