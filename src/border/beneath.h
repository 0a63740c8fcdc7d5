/* The edge of a sheet that lies on another of the same paper: a line inside the outline. */
#ifndef SL_BORDER_BENEATH_H
#define SL_BORDER_BENEATH_H

#include "border/fine.h"

/* A line that runs along a side, inside it. */
typedef struct sl_inner {
    sl_edge   edge;          /* its points; support: share of the side along which it is seen */
    double    depth;         /* px inside the side, on average */
    bool      alike;         /* the same paper lies on both sides of it, mostly */
    bool      shaded;        /* a shadow lies along it, mostly */
    int       pieces;        /* stretches of the side along which it is seen */
    double    evidence;      /* how bold it is: 1 is the least that is seen at all, 8 the most */
    sl_course course;
} sl_inner;

/*
 * The innermost such line between `nearest` and `farthest` px inside a side's course. Lower sheets
 * peep out by some mm, and the upper sheet's edge is then no more than a thin shadow on paper,
 * while the lower sheet's edge is a bold step to the table.
 */
void sl_inner_find(sl_inner *out, const sl_course *outer, const sl_image *shot, double nearest,
                   double farthest);

#endif
