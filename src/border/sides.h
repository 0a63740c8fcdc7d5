/* Colours of the small copy, for those who measure and rank hypotheses. */
#ifndef SL_BORDER_SIDES_H
#define SL_BORDER_SIDES_H

#include "border/search.h"

/* Coded colour 0..255 of the px nearest to p; beyond the picture that of its outermost px. */
void sl_small_colour(float rgb[3], const sl_small *small, sl_point p);

/* Median of coded values 0..255 to the nearest code: a colour needs no more. */
float sl_median_code(const float *value, size_t count);

/* Codes between two colours, root mean square over the channels. */
double sl_colour_distance(const float a[3], const float b[3]);

#endif
