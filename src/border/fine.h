/* The fine step: sub-pixel edge points along a known course, in shot px. */
#ifndef SL_BORDER_FINE_H
#define SL_BORDER_FINE_H

#include "squareleaf.h"

enum { SL_COURSE_TERMS = 10 };

struct sl_surfaces;

/* A side's course: its chord a -> b and Legendre terms of the offset along the outward normal. */
typedef struct sl_course {
    sl_point a;
    sl_point b;
    double   term[SL_COURSE_TERMS]; /* px; offset(s) = sum of term[k] P_k(s), s in -1..1 */
    /*
     * Straight ends: offset(s) = end[i][0] + end[i][1] s near s = -1 and s = 1, from the points
     * nearest to each corner. A polynomial that follows a wavy side says nothing beyond its last
     * point, and there the corner lies.
     */
    double   end[2][2];
    bool     has_ends;
} sl_course;

double sl_course_offset(const sl_course *course, double s);
sl_point sl_course_point(const sl_course *course, double s);

/* Unit vector into the page, across the course at s. */
sl_point sl_course_inward(const sl_course *course, double s);

/* A low course with `like`'s chord through points about along it; false when too few. */
bool sl_course_near(sl_course *course, const sl_course *like, const sl_point *point,
                    size_t count);

/* The course through points in order along a side, both corners included; false when too few. */
bool sl_course_through(sl_course *course, const sl_point *point, size_t count);

/* The robust curve through an edge's points, as sl_edge_fit leaves it. */
void sl_course_refit(sl_course *course, const sl_edge *edge);

/* Where the end of course `a` meets the start of course `b`; false when they run parallel. */
bool sl_course_meet(sl_point *corner, const sl_course *a, const sl_course *b);

/*
 * Edge points within `reach` px of the course, then the course moved onto them.
 * edge    out: points, support, spread; `cut` is left alone
 * most    points to try, at most SL_EDGE_POINTS
 * course  in: where to look; out: the robust curve through the points
 * surfaces, side  what colours tell of that side, see border/surfaces.h; NULL: nothing
 * The fit is on luminance in linear light (or along the colour's step, where luminance hardly has
 * one), on the px themselves, without interpolation.
 */
void sl_edge_fit(sl_edge *edge, sl_course *course, const sl_image *shot, const sl_tone *tone,
                 double reach, size_t most, struct sl_surfaces *surfaces, int side);

#endif
