/* The fine step about a hypothesis: from a quadrilateral of the small copy to the page's edges. */
#ifndef SL_BORDER_TRACE_H
#define SL_BORDER_TRACE_H

#include "border/fine.h"
#include "border/search.h"

/* Times its bow a bent page's proportions may be off the stated ones, as an |ln|. */
#define SL_BENT 1.5

/* What was seen of an outline while it was traced. */
typedef struct sl_traced {
    bool moved;              /* sides moved in from a lower sheet, ... */
    bool on_sheet[4];        /* ... these, as the outline's edges */
    bool doubt;              /* a lower sheet may be mistaken for the page, or a part of it for all */
    bool shaded;             /* a side may lie in the page's own shadow */
    double bow;              /* the greatest of a side, as a share of its length */
    double rim[4];           /* px from an edge to where a strip of another sheet along it ends; 0 */
} sl_traced;

/*
 * Fine step about a quadrilateral.
 * q      out: its corners are where its own sides lead on the shot
 * reach  how far off its sides the edges may be, px of the shot
 * on_sheet  sides beyond which a lower sheet is known to lie; NULL: none
 */
sl_traced sl_trace_quad(sl_outline *out, sl_quad *q, double reach, const bool on_sheet[4],
                        const sl_small *small, const sl_image *shot, const sl_tone *tone,
                        const sl_border_params *params);

/*
 * Traces some sides of an outline anew; the others stay.
 * out     in: the outline traced before
 * q       in: what it was traced from; out: as sl_trace_quad()'s
 * corner  of the outline with its sides anew
 * reach   of each side, how far off the edge may be, px of the shot; 0: the side stays
 */
sl_traced sl_trace_sides(sl_outline *out, sl_quad *q, const sl_point corner[4],
                         const double reach[4], const bool on_sheet[4], const sl_small *small,
                         const sl_image *shot, const sl_tone *tone,
                         const sl_border_params *params);

/* How far off the sides of a hypothesis of the small copy the edges may be, px of the shot. */
double sl_trace_reach(const sl_small *small);

/* Moves a hypothesis' corners to where its sides lead on the shot, no more; returns how far it then
   is from the stated proportions, as sl_off_shape(). 0, and nothing moved, when memory is short. */
double sl_trace_settle(sl_quad *q, const sl_small *small, const sl_image *shot,
                       const sl_tone *tone, const sl_border_params *params);

/* Fine step on all sides about their courses, three times, each closer about the curves of the one
   before; the first within `reach` px. */
void sl_trace_refine(sl_outline *out, sl_course course[4], const sl_image *shot,
                     const sl_tone *tone, double reach);

/* Sets the outline's least distance to the frame, and marks the sides that leave the picture. */
void sl_trace_measure_frame(sl_outline *out, size_t width, size_t height);

/* Is its paper nearly black? */
bool sl_is_dark(const sl_quad *q);

/* The side whose direction is nearest to +x. */
int sl_top_side(const sl_point corner[4]);

#endif
