/* A page's edge beside the contact shadow that it casts on what it lies on. */
#ifndef SL_BORDER_CONTACT_H
#define SL_BORDER_CONTACT_H

#include "border/across.h"
#include "border/fine.h"

enum { SL_CONTACT_REACH = 12 };   /* px */

/*
 * How much further out than the step that was fitted at t = 0 the edge of a page lies that is
 * lighter than its surroundings. Its contact shadow is darkest at the edge and fades outward: a
 * bare step takes the mean of that for the surroundings and lies up to half a px too far in. The
 * profile is fitted with a step and a ramp that begins there, seen by a camera.
 * mean   values across the side, averaged along it, SL_CONTACT_REACH px either way of the step
 * blur   sigma of the step, px
 * Returns px, 0 where there is no such ramp.
 */
double sl_contact_shift(const sl_across *mean, double blur);

/* Moves a traced side, its points and its course, so far outward; `weight` as it was looked at. */
void sl_contact_leave(sl_edge *edge, sl_course *course, const sl_linear_shot *seen,
                      const double weight[3]);

#endif
