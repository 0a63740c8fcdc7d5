/* Straight pieces of edge on the small copy, before they are put together to lines. */
#ifndef SL_BORDER_SEGMENTS_H
#define SL_BORDER_SEGMENTS_H

#include "border/search.h"

enum { SL_KNOTS_MAX = 16 };

/* A segment's course: weighted means of its px in slices along it. */
typedef struct sl_segment {
    sl_point knot[SL_KNOTS_MAX];
    size_t   knots;
    double   length;
    double   strength;       /* mean, codes per px */
    double   worth;          /* length times boldness */
    double   together;       /* worth of all that may lie on one line with it ... */
    sl_point along;          /* ... which then runs about this way; unit */
    bool     taken;
} sl_segment;

typedef struct sl_segments {
    sl_segment *item;
    size_t      count;
} sl_segments;

/* Those of the richest lines first. */
sl_status sl_segments_find(sl_segments *out, const sl_small *small, sl_error *err);
void sl_segments_clear(sl_segments *segs);

/* A bold edge is worth more than a faint one of its length: the grain of wood is faint and long.
   But not so much that a black page on a black cloth had none. 1..4. */
double sl_boldness(double strength, const sl_small *small);

#endif
