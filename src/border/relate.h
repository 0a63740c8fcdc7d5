/* How two outlines on the small copy differ. */
#ifndef SL_BORDER_RELATE_H
#define SL_BORDER_RELATE_H

#include "border/search.h"

/*
 * Is `part` a part of `whole`: two or three of its sides are those of `whole`, and from the others
 * its paper goes on to bold edges of `whole`? A pattern of the paper or a print along an edge makes
 * such parts. A page ends where its paper ends.
 */
bool sl_quad_part_of(const sl_quad *part, const sl_quad *whole, const sl_small *small);

/* Is `outer` the page `inner` with its shadow on one side or two? */
bool sl_quad_with_shadow(const sl_quad *outer, const sl_quad *inner, const sl_small *small);

/*
 * Is `print` glued to an edge of `page`, or into its corner: some of its sides lie along the page's,
 * the others within it, on the page's paper, and the page's own sides are seen all along?
 */
bool sl_quad_glued_to_edge(const sl_quad *print, const sl_quad *page, const sl_small *small);

/*
 * No rival of the chosen outline: where the two differ, `quad` ends where the paper goes on, at a
 * line that the fine step looks at, or at the end of the page's shadow.
 */
bool sl_quad_no_rival(const sl_quad *quad, const sl_quad *chosen, const sl_small *small);

#endif
