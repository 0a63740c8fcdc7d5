/* A side's course: where it runs, in shot px. */
#ifndef SL_BORDER_COURSE_H
#define SL_BORDER_COURSE_H

#include "squareleaf.h"

enum { SL_COURSE_TERMS = 10 };

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

/* Unit vectors out of the page and into it, across the course at s. */
sl_point sl_course_outward(const sl_course *course, double s);
sl_point sl_course_inward(const sl_course *course, double s);

/* A low course with `like`'s chord through points about along it; false when too few. */
bool sl_course_near(sl_course *course, const sl_course *like, const sl_point *point,
                    size_t count);

/* The course through points in order along a side, both corners included; false when too few. */
bool sl_course_through(sl_course *course, const sl_point *point, size_t count);

/* The robust curve through an edge's points, as sl_edge_fit leaves it. */
void sl_course_refit(sl_course *course, const sl_edge *edge);

/* How far an edge's points are from the course in the median, px; 0 for none. */
double sl_course_usual_off(const sl_course *course, const sl_edge *edge);

/* Where the end of course `a` meets the start of course `b`; false when they run parallel. */
bool sl_course_meet(sl_point *corner, const sl_course *a, const sl_course *b);

/* Moves the corners of an outline to where its four courses meet; one stays where they do not. */
void sl_course_corners(sl_point corner[4], const sl_course course[4]);

/* Unit vectors along the chord and out of the page; returns the chord's length, px. */
double sl_course_chord(sl_point *along, sl_point *out, const sl_course *course);

/* Points along a course. */
typedef struct sl_places {
    double s[SL_EDGE_POINTS];      /* -1..1 */
    double offset[SL_EDGE_POINTS]; /* px out of the chord */
    double weight[SL_EDGE_POINTS]; /* out: 0 is no point of the curve's */
    size_t count;
} sl_places;

/* Moves the course, its straight ends too, onto the robust curve through the points. Returns how
   they scatter about it, px. */
double sl_course_fit(sl_course *course, sl_places *p);

#endif
