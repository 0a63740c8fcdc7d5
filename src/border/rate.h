/* How sure it is that an outline is the page. */
#ifndef SL_BORDER_RATE_H
#define SL_BORDER_RATE_H

#include "border/attempt.h"

/*
 * Sets the outline's confidence, the margin over its best rival, and that rival's corners; 0 when
 * something about it leaves a doubt.
 * lain_on  a sheet that it lies on, and that may be the page; NULL: none
 */
void sl_rate(sl_outline *out, const sl_attempt *page, const sl_quad *lain_on, const sl_evidence *v);

#endif
