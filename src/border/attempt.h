/* An attempt at the page's outline, and what the search has before it. */
#ifndef SL_BORDER_ATTEMPT_H
#define SL_BORDER_ATTEMPT_H

#include "border/search.h"
#include "border/trace.h"

/* What the search has before it, all through. */
typedef struct sl_view {
    const sl_quads         *quads;
    const sl_lines         *lines;
    const sl_small         *small;
    const sl_image         *shot;
    const sl_tone          *tone;
    const sl_border_params *params;
} sl_view;

/* What is known of an outline: the hypothesis that it was traced from, and what came of it. */
typedef struct sl_attempt {
    const sl_quad *from;
    sl_quad        quad;     /* its corners where its own sides lead on the shot */
    sl_traced      seen;
} sl_attempt;

/* An |ln| of the proportions, as sl_off_shape(), that is so many times SL_TO_A_HAIR is another. */
#define SL_HAIRS 4

/* Up to here an outline's proportions are the stated ones within what a shot may tell. */
#define SL_ODD_SHAPE 0.004
#define SL_ODD_PILE 0.0018   /* ... of a pile's topmost sheet: there may be another one on it */

/* Traces an attempt's quadrilateral on the shot. */
void sl_attempt_trace(sl_outline *out, sl_attempt *a, const sl_view *v);

/* As sl_off_shape(). */
double sl_view_off(const sl_outline *out, const sl_view *v);

/* px squared */
double sl_outline_area(const sl_outline *o);

#endif
