/* The outline as the fit wants it: checked, placed on its sides, thinned, averaged. */
#ifndef SL_RECTIFY_SEEN_H
#define SL_RECTIFY_SEEN_H

#include "rectify/fit.h"

enum { SL_SEEN_MAX = 4 * SL_EDGE_POINTS };

typedef struct sl_seen {
    sl_point corner[4];
    size_t count;
    size_t first[5];         /* side s has points first[s] .. first[s + 1] - 1 */
    sl_fit_point point[SL_SEEN_MAX];
    size_t strays;           /* points dropped at once */
    double block_px[4];      /* scatter of means of SL_FIT_PER_SIDE blocks, each side */
    double blur_px;          /* median of the fitted blurs */
} sl_seen;

/*
 * SL_ERR_DEGENERATE, and why, for an outline that is no view of a page: corners not convex and
 * clockwise, too small, fewer than three sides seen. An outline by hand without edge points
 * gets straight edges between its corners.
 */
sl_status sl_seen_from_outline(sl_seen *seen, const sl_outline *outline, sl_error *err);

/* Every so many-th point, at most `per_side` a side. */
size_t sl_seen_thin(sl_fit_point *out, const sl_seen *seen, size_t per_side);

/*
 * Blocks of neighbours, SL_FIT_PER_SIDE a side at most, each as one point: off the map's edge
 * by the mean of its points' distances (so that an edge's bow is not averaged away), single
 * strays left out.
 */
size_t sl_seen_blocks(sl_fit_point *out, sl_seen *seen, const sl_page_map *map,
                      sl_fit_work *work);

#endif
