/* The measurements of inspect, each from the shot, the outline and the page map alone. */
#ifndef SL_INSPECT_FIGURES_H
#define SL_INSPECT_FIGURES_H

#include "base/order.h"
#include "squareleaf.h"

/* What a page's width is held to be where nothing says, mm: 12 in. */
#define SL_USUAL_PAGE_MM 305.0

/* Native ppi over the page, from the page map's Jacobian; needs a page size. */
sl_ppi sl_figure_ppi(const sl_page_map *map);

/* Angle between the page's normal and the optical axis, degrees. */
double sl_figure_tilt(const sl_page_map *map);

/* Share of the shot's px that lie inside the outline. */
double sl_figure_frame_share(const sl_outline *outline, const sl_image *shot);

/*
 * Sigma of the blur at the page's edges, px of the shot: the worst side's median. Misses of focus
 * and motion blur both widen it; motion only across its direction, hence the worst side.
 * 0 when the outline was given and not fitted.
 */
double sl_figure_blur(const sl_outline *outline);

/*
 * Sigma of the blur of what is on the page, px of the shot: the worse of across and down. INFINITY
 * where the page shows too little to tell.
 */
double sl_figure_print_blur(const sl_image *shot, const sl_page_map *map);

typedef struct sl_light {
    double clipped;          /* share of the page whose channels are all at the top code */
    double glare;            /* share of the page in the largest such spot that fades out softly */
    double evenness;         /* least over greatest paper brightness over the page, 0..1 */
    double brightness;       /* of the brightest 200th of the page, linear */
} sl_light;

/* Looks at the page through the page map on a grid of 192 x 192 points. */
sl_status sl_figure_light(sl_light *out, const sl_image *shot, const sl_tone *tone,
                          const sl_page_map *map, sl_error *err);

typedef struct sl_beyond {
    double  mm;              /* how far it reaches, to half a mm, at most 80; 0: nothing there */
    sl_side side;
} sl_beyond;

/*
 * What lies across an edge of the page and reaches furthest beyond it, told by colours that the
 * table has nowhere round the page. Without a page size mm are of a page 305 mm wide.
 */
sl_status sl_figure_beyond(sl_beyond *out, const sl_image *shot, const sl_outline *outline,
                           const sl_page_map *map, sl_error *err);

#endif
