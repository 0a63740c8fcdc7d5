/* How sure it is that an outline is the page. */
#ifndef SL_BORDER_RATE_H
#define SL_BORDER_RATE_H

#include "border/attempt.h"
#include "border/choose.h"

/*
 * Sets the outline's confidence, the margin over its best rival, and that rival's corners; 0 when
 * something about it leaves a doubt.
 * first  what was chosen among the hypotheses; the page may be another one
 */
void sl_rate(sl_outline *out, const sl_attempt *page, const sl_choice *first,
             const sl_evidence *v);

#endif
