/* What lies just inside and outside the page's edges, for those who look for things across them. */
#ifndef SL_INSPECT_BESIDE_H
#define SL_INSPECT_BESIDE_H

#include <math.h>

#include "inspect/figures.h"

enum { SL_PLACES = 256 };    /* along a side */

/* Depths at which a place's colours are read, mm: from past the edge's blur and thickness on. */
#define SL_BESIDE_NEAREST 1.0
#define SL_BESIDE_STEP    0.5

/* A colour in codes 0..255. */
typedef struct sl_tint {
    double c[3];
} sl_tint;

/* A place on the edge and, as good as linear over some centimetres, the way out of the page. */
typedef struct sl_place {
    sl_point at;             /* shot px */
    sl_point out;            /* px per mm */
    sl_tint  inside;
    sl_tint  outside;
    sl_tint  away[2];        /* further out */
    sl_tint  far;            /* some cm out, or as far as the picture goes */
    double   step;           /* codes from inside to outside */
    bool     seen;           /* both lie in the shot */
} sl_place;

/* Codes between two colours, root mean square over the channels. */
static inline double sl_tints_apart(sl_tint a, sl_tint b)
{
    double sum = 0;

    for (int k = 0; k < 3; k++)
        sum += (a.c[k] - b.c[k]) * (a.c[k] - b.c[k]);
    return sqrt(sum / 3);
}

/* Shot px so many mm out from a place; below 0: in. */
static inline sl_point sl_place_outward(const sl_place *p, double mm)
{
    return (sl_point){ p->at.x + mm * p->out.x, p->at.y + mm * p->out.y };
}

/* Colour of the px nearest to p; false when that lies beyond the picture. */
bool sl_tint_read(sl_tint *out, const sl_image *shot, sl_point p);

/* Places along a side, clockwise round the page. `unit` is a mm in the page map's unit. */
void sl_walk_edge(sl_place edge[SL_PLACES], const sl_image *shot, const sl_page_map *map, int side,
                  double unit);

/* Median, which sorts them; 0 of none. */
double sl_median_of(double *value, size_t n);

/* Colour that most of the table has, just outside the page. Where something lies along most of the
   page's sides, a letter under it, the table is what is seen there that goes on further out. */
sl_tint sl_usual_table(sl_place all[4][SL_PLACES]);

/* Codes from any colour of the table: a thing of its own; and up to here two places are of one. */
#define SL_LEAST_STRANGE 12.0
#define SL_ONE_COLOUR    14.0

/* Has the table beside the page another colour there than most of it? */
bool sl_is_strange(const sl_place *p, sl_tint usual);

/* Where one thing may lie along a side. */
typedef struct sl_run {
    int first;
    int last;                /* before `first`: none */
} sl_run;

/* The next stretch of one strange colour along a side, from `from` on; false: there is none. */
bool sl_next_run(sl_run *out, const sl_place edge[SL_PLACES], int from, sl_tint usual);

/*
 * How far a strip reaches, mm, that hardly differs from the table beside it: a green ribbon on a
 * green cutting mat, whose lines it hides. 0: there is none, or the table is not even enough.
 * look     which sides are looked at
 * spacing  mm from place to place, of each side
 * side     out: where it is
 */
double sl_faint_reach(sl_side *side, const sl_image *shot, sl_place all[4][SL_PLACES],
                      const bool look[4], const double spacing[4]);

#endif
