/* What lies on an outline, what it lies on, and what lies beside it. */
#ifndef SL_BORDER_SHEETS_H
#define SL_BORDER_SHEETS_H

#include "border/search.h"

#define SL_FITS 0.3           /* most misfit of a coarse outline that has the stated proportions */
#define SL_GOOD_SIDES 0.8     /* quality of one that may be the page rather than another */
#define SL_PRINT_AREA 0.5     /* a print covers no more of its page, */
#define SL_LARGE_PRINT 0.85   /* ... a large one no more than this */
#define SL_SLACK 4.0          /* px of the small copy: so far outside may be what lies on it */

/*
 * Does `inner` lie on the sheet that `outer` outlines? A print on a page is the better rectangle
 * of the two; what gives it away is that the page's paper goes on around it.
 * most  share of the sheet's area that it may cover
 */
bool sl_lies_on(const sl_quad *inner, const sl_quad *outer, double most, const sl_small *small);

/* A sheet that the chosen one lies on: it may be a print on a page. NULL when there is none. */
const sl_quad *sl_lain_on(const sl_quads *quads, const sl_quad *chosen, const sl_small *small);

/* Has a sheet, well inside its sides, another paper than what it lies on, be it lit a little
   otherwise? A frame that is printed on a page has not. */
bool sl_has_other_paper(const sl_quad *q, const sl_quad *outer, const sl_small *small);

/* Is there a print on a sheet, as on a page? It is searched for among the lines on the sheet only.
   False too when there is no memory for it. */
bool sl_has_print_on(const sl_quad *sheet, const sl_lines *lines, const sl_small *small,
                     const sl_border_params *params);

/* Does a sheet's paper go further in, all round, than the border of a print does? */
bool sl_has_margins(const sl_quad *sheet, const sl_small *small);

/* Does a sheet's pattern go on to the picture's frame: the colours along its sides, inside? */
bool sl_pattern_reaches_frame(const sl_quad *sheet, const sl_small *small);

/* Is one paper all round a sheet, of which nothing is seen along the frame of the picture: does the
   sheet lie on another, a board or a page? */
bool sl_lies_in_ring(const sl_quad *sheet, const sl_small *small);

/* Does a thing as sharply bounded as a print lie beside one, no part of it? */
bool sl_lies_beside_print(const sl_quads *quads, const sl_quad *sheet);

/* The next sheet that covers much of the chosen one: it may be the page, on a board. NULL when there
   is none, or none that has the stated proportions better.
   after  the one before; NULL: the first */
const sl_quad *sl_large_on(const sl_quads *quads, const sl_quad *after, const sl_quad *chosen,
                           const sl_lines *lines, const sl_small *small,
                           const sl_border_params *params);

/*
 * Page-like sheets that lie apart from each other, the chosen one included. About one that is small
 * in the picture the others are searched for on their own. Errors: SL_ERR_NOMEM.
 */
sl_status sl_count_sheets(unsigned *out, const sl_quads *quads, const sl_quad *chosen,
                          const sl_lines *lines, const sl_small *small,
                          const sl_border_params *params, sl_error *err);

#endif
