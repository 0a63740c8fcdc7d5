/* Which of the hypotheses is the page, and what else there is. */
#ifndef SL_BORDER_CHOOSE_H
#define SL_BORDER_CHOOSE_H

#include "border/search.h"

/*
 * The page among the hypotheses, perhaps with sides moved out to lines that none of them has.
 * doubt   what it lies on, or lies on it, may be the page all the same
 * on_sheet  it lies on a sheet of other proportions, or that the frame cuts, which may be the page
 *         if it does not look like one itself, or has not the stated proportions to a hair
 * of_two  what lies on it, or what it is glued into the corner of, has the stated proportions too:
 *         then it is the page only if its own are exact
 * inner   such a one, which it was taken for the larger of; NULL: there is none
 */
typedef struct sl_choice {
    sl_quad quad;
    const sl_quad *inner;
    bool    doubt;
    bool    on_sheet;
    bool    of_two;
} sl_choice;

/* False when none is good enough. */
bool sl_choose(sl_choice *out, const sl_quads *quads, const sl_lines *lines, const sl_small *small,
               const sl_border_params *params);

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

/* May `outer`, a side of which is the frame, be a page that all but fills the picture, with the
   chosen one as a print of the stated proportions on it? */
bool sl_may_fill_frame(const sl_quad *outer, const sl_quad *chosen, const sl_small *small);

/* Does the frame cut a single side of a sheet, the others of which are seen all along? */
bool sl_is_cut_sheet(const sl_quad *q);

#endif
