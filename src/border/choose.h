/* Which of the hypotheses is the page, and what else there is. */
#ifndef SL_BORDER_CHOOSE_H
#define SL_BORDER_CHOOSE_H

#include "border/search.h"

/*
 * The page among the hypotheses, perhaps with sides moved out to lines that none of them has.
 * doubt   what it lies on, or lies on it, may be the page all the same
 * of_two  what lies on it has the stated proportions too: unless its own are exact it may be a board
 */
typedef struct sl_choice {
    sl_quad quad;
    bool    doubt;
    bool    of_two;
} sl_choice;

/* False when none is good enough. */
bool sl_choose(sl_choice *out, const sl_quads *quads, const sl_lines *lines, const sl_small *small,
               const sl_border_params *params);

/* Has it a side on the picture's frame, as a page has that the frame cuts? */
bool sl_quad_is_framed(const sl_quad *q);

/* How far the worst of its corners lies from b's, as a share of b's size. */
double sl_quad_distance(const sl_quad *a, const sl_quad *b, const sl_small *small);

/*
 * Is a hypothesis another outline than the page's: does a corner lie 1.2 % of its size off?
 * stack   it lies on lower sheets: the edges of each are found, and any mixture of them; then 4.5 %
 * stated  its proportions are stated
 */
bool sl_is_rival(const sl_quad *q, const sl_quad *chosen, const sl_small *small, bool stack,
                 bool stated);

/* The best-scored such one that comes `after` another (NULL: of all); NULL when there is none. */
const sl_quad *sl_next_rival(const sl_quads *quads, const sl_quad *after, const sl_quad *chosen,
                             const sl_small *small, bool stack, bool stated);

/* A sheet that the chosen one lies on: it may be a print on a page. NULL when there is none. */
const sl_quad *sl_lain_on(const sl_quads *quads, const sl_quad *chosen, const sl_small *small);

/* May `outer`, a side of which is the frame, be a page that all but fills the picture, with the
   chosen one as a print of the stated proportions on it? */
bool sl_may_fill_frame(const sl_quad *outer, const sl_quad *chosen, const sl_small *small);

/* Do all corners of one lie within the other's sides? */
bool sl_lies_within(const sl_quad *inner, const sl_quad *outer);

/* Does the frame cut a single side of a sheet, the others of which are seen all along? */
bool sl_is_cut_sheet(const sl_quad *q);

/* Is there a print on a sheet, as on a page? It is searched for among the lines on the sheet only.
   False too when there is no memory for it. */
bool sl_has_print_on(const sl_quad *sheet, const sl_lines *lines, const sl_small *small,
                     const sl_border_params *params);

/* Does a thing as sharply bounded as a print lie beside one, no part of it? */
bool sl_lies_beside_print(const sl_quads *quads, const sl_quad *sheet);

/* A sheet that covers much of the chosen one: it may be the page, on a board. NULL when there is
   none, or none that has the `stated` proportions better. */
const sl_quad *sl_large_on(const sl_quads *quads, const sl_quad *chosen, const sl_lines *lines,
                           const sl_small *small, const sl_border_params *params);

/*
 * Page-like sheets that lie apart from each other, the chosen one included. About one that is small
 * in the picture the others are searched for on their own. Errors: SL_ERR_NOMEM.
 */
sl_status sl_count_sheets(unsigned *out, const sl_quads *quads, const sl_quad *chosen,
                          const sl_lines *lines, const sl_small *small,
                          const sl_border_params *params, sl_error *err);

#endif
