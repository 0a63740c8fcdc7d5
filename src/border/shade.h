/* A dark page's edge in its own shadow. */
#ifndef SL_BORDER_SHADE_H
#define SL_BORDER_SHADE_H

#include "border/fine.h"

/*
 * Sigma of the camera's blur across edges that run like the sides 0, 2 (out[0]) and 1, 3 (out[1])
 * of the outline, px, by the prints and the ink on the page; INFINITY where there are too few.
 */
void sl_camera_blur(double out[2], const sl_image *shot, const sl_point corner[4]);

/* Has the side enough points with a blur of their own? Others sl_shade_fit() leaves alone. */
bool sl_shade_possible(const sl_edge *edge);

/*
 * Moves the points of a side from the step that is seen to the edge that the page's shadow hides.
 * Beside an edge that stands off the table the shadow is nearly as dark as a dark page and grows
 * light outward: the step that a fit finds is the shadow's, up to several px too far out. The page
 * ends where the camera's own sharpness still shows: the profile is fitted with a page, blurred by
 * the camera only, and a shadow that begins there.
 * edge, course  in: the step's, out: the page's
 * camera        sigma of the camera's blur, px
 * False, nothing changed: the side is lighter than what lies beside it, or it is no such edge.
 */
bool sl_shade_fit(sl_edge *edge, sl_course *course, const sl_image *shot, const sl_tone *tone,
                  double camera);

#endif
