/* How sharp a picture is at a place: the blur of the steepest step about it. */
#ifndef SL_BASE_BLUR_H
#define SL_BASE_BLUR_H

#include "squareleaf.h"

/* px about a window's middle that must lie in the picture. */
#define SL_WINDOW_ROOM 18

/*
 * Sigma of the blur of the sharpest step across a small window, px; 0 when there is no step.
 * at    the window's middle, at least SL_WINDOW_ROOM px from the picture's sides
 * step  unit vector across the edges that are asked for
 * A Gaussian blur of sigma s turns a step of height h into a slope of h / (s sqrt(2 pi)).
 */
double sl_window_blur(const sl_image *shot, sl_point at, sl_point step);

#endif
