/* An attempt at the page's outline, and what the search has before it. */
#ifndef SL_BORDER_ATTEMPT_H
#define SL_BORDER_ATTEMPT_H

#include "border/search.h"
#include "border/trace.h"

/* What the search has before it, all through. */
typedef struct sl_evidence {
    const sl_quads         *quads;
    const sl_lines         *lines;
    const sl_small         *small;
    const sl_image         *shot;
    const sl_tone          *tone;
    const sl_border_params *params;
} sl_evidence;

/* What is known of an outline: the hypothesis that it was traced from, and what came of it. */
typedef struct sl_attempt {
    const sl_quad *from;
    sl_quad        quad;     /* its corners where its own sides lead on the shot */
    sl_traced      seen;
} sl_attempt;

/* Up to here an outline's proportions are the stated ones within what a shot may tell. */
#define SL_ODD_SHAPE 0.004
#define SL_ODD_PILE 0.0018   /* ... of a pile's topmost sheet: there may be another one on it */

/* Traces an attempt's quadrilateral on the shot. */
void sl_attempt_trace(sl_outline *out, sl_attempt *a, const sl_evidence *v);

/* As sl_off_shape(). */
double sl_attempt_off(const sl_outline *out, const sl_evidence *v);

/* Does it look like a page: with a print on it, or with margins of its paper and nearly the stated
   proportions? A portrait too has such margins.
   off  as sl_attempt_off() */
bool sl_attempt_is_pagelike(const sl_attempt *a, double off, const sl_evidence *v);

/* px squared */
double sl_outline_area(const sl_outline *o);

#endif
