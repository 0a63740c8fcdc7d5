/* Profiles across a side of the page, and where in one of them its edge is. */
#ifndef SL_BORDER_ACROSS_H
#define SL_BORDER_ACROSS_H

#include "border/surfaces.h"

enum {
    SL_BINS_PER_PX = 4,
    SL_REACH_MOST = 40,      /* px */
    SL_BINS = 2 * SL_REACH_MOST * SL_BINS_PER_PX
};

/* The shot in linear light. */
typedef struct sl_linear_shot {
    const sl_image *shot;
    const float    *linear;  /* by its depth's codes */
} sl_linear_shot;

/* A profile across the edge: bins of a quarter px with the px that fall into them. */
typedef struct sl_across {
    double t[SL_BINS];       /* mean distance outward, px */
    double rgb[SL_BINS][3];  /* mean, linear */
    double value[SL_BINS];   /* its weighted sum */
    double weight[SL_BINS];  /* px */
    size_t count;            /* bins that hold px; they come first, in order */
} sl_across;

/* The px within `reach` px of a place across the edge and `half` px along it, `value` left out;
   false when there are too few. */
bool sl_across_gather(sl_across *out, const sl_linear_shot *seen, sl_point at, sl_point normal,
                       double half, double reach);

/* The profile's values in one weighting of the channels. */
void sl_across_weigh(sl_across *p, const double weight[3]);

/* A profile in whole px: sums of colours, from the innermost px outward. */
typedef struct sl_across_px {
    double rgb[2 * SL_REACH_MOST + 1][3];
    double weight[2 * SL_REACH_MOST + 1];
    int    count;
} sl_across_px;

void sl_across_coarsen(sl_across_px *out, const sl_across *p, double reach);

/* Mean colour of the px first .. end - 1; false when there are none. */
bool sl_across_mean(double rgb[3], const sl_across_px *p, int first, int end);

/*
 * Where the edge is to be fitted, px outward: where what lies inside is most likely the page's and
 * what lies outside the table's, and at a step, the greater and the nearer to the course the
 * rather. Where the colours tell nothing the step alone does.
 * surfaces  NULL: nothing is known of the colours
 */
double sl_across_edge(const sl_across_px *p, double reach, sl_surfaces *surfaces, int side);

/* The greatest change within a few px of a place. */
double sl_across_bold_step(const sl_across_px *p, double reach, double near);

#endif
