/* A better outline in the place of the one that was chosen. */
#ifndef SL_BORDER_BETTER_H
#define SL_BORDER_BETTER_H

#include "border/attempt.h"
#include "border/choose.h"

/*
 * Where the chosen outline leaves a doubt, or has not the stated proportions: takes another
 * hypothesis, or moves a single side, when that is rather the page on the shot.
 * out, best  the outline chosen and what is known of it; then the better one's
 * first      what was chosen among the hypotheses
 */
void sl_take_better(sl_outline *out, sl_attempt *best, const sl_choice *first,
                    const sl_evidence *v);

#endif
