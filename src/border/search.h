/*
 * The coarse search, shared by its parts: a small copy of the shot, its gradient, lines on it
 * and quadrilaterals made of them. Coordinates are px of the small copy unless a name says
 * otherwise.
 */
#ifndef SL_BORDER_SEARCH_H
#define SL_BORDER_SEARCH_H

#include "squareleaf.h"

/* The shot averaged over factor x factor blocks, in coded values 0..255, and its gradient. */
typedef struct sl_small {
    size_t width;
    size_t height;
    size_t factor;           /* shot px per small px; x_shot = (x + 0.5) factor - 0.5 */
    float *plane[3];         /* red, green, blue: [height][width] each; all is one allocation */
    float *strength;         /* [height][width]: colour gradient, codes per px */
    float *twice;            /* [height][width][2]: cos, sin of twice the normal's angle */
    float *off_table;        /* [height][width]: 0..1: has a colour that the table has not */
    double noise;            /* strength of what is no edge, codes per px */
    double threshold;        /* strength from which a px may belong to an edge */
} sl_small;

sl_status sl_small_new(sl_small **out, const sl_image *shot, sl_error *err);
void sl_small_free(sl_small *small);

/* The small copy averaged once more, over factor x factor of its px; NULL when hardly anything
   would be left of it. Its own `factor` is 1. */
sl_status sl_small_coarser(sl_small **out, const sl_small *small, size_t factor, sl_error *err);

/* Shot px of a point of the small copy. */
static inline sl_point sl_small_to_shot(const sl_small *small, sl_point p)
{
    const double f = (double)small->factor;

    return (sl_point){ (p.x + 0.5) * f - 0.5, (p.y + 0.5) * f - 0.5 };
}

static inline sl_point sl_shot_to_small(const sl_small *small, sl_point p)
{
    const double f = (double)small->factor;

    return (sl_point){ (p.x + 0.5) / f - 0.5, (p.y + 0.5) / f - 0.5 };
}

#define SL_BOLDEST 4.0

/*
 * A long edge: the point at t lies at origin + t along + bow t^2 across, `across` being `along`
 * turned a quarter clockwise. Beyond start..end it goes on straight along its end tangents.
 * Bows are real: paper curls, lenses bow.
 */
typedef struct sl_line {
    sl_point origin;
    sl_point along;          /* unit */
    double   bow;            /* 1/px */
    double   start;          /* t of the first and last supported px; start < 0 < end */
    double   end;
    double   weight;         /* px that carry an edge, times their share and their boldness */
    double   boldness;       /* 1..SL_BOLDEST, of the supported px' median strength */
    bool     frame;          /* a side of the picture's frame: no edge of its own */
    bool     drawn;          /* of a ruled table: the same lies on both sides of it */
    bool     checked;        /* of a checked one: there is no one colour on either side of it */
    float   *support;        /* edge px from t = -reach up to t, one entry per px */
    int      reach;
} sl_line;

typedef struct sl_lines {
    sl_line *line;
    size_t   count;
} sl_lines;

/* The longest edges of the small copy, and its four frame sides at the end. */
sl_status sl_lines_find(sl_lines *out, const sl_small *small, sl_error *err);
void sl_lines_clear(sl_lines *lines);

/* Point of the line at t, its bow included. */
sl_point sl_line_point(const sl_line *line, double t);

/* Edge px carried between two places of the line. */
double sl_line_support(const sl_line *line, double t0, double t1);

enum { SL_SIDE_SAMPLES = 64, SL_BOW_TERMS = 5 };

/* One side of a hypothesis, measured on the small copy. */
typedef struct sl_side_fit {
    double bow[SL_BOW_TERMS]; /* offset along the outward normal: sum of bow[k] s^k, s in -1..1 */
    double support;          /* 0..1: share of samples with an edge on the side's curve */
    double contrast;         /* share of samples that differ from the paper just outside */
    double paper;            /* share of samples that are paper just inside, or end the table */
    double ends;             /* share of samples at which the table's colours end */
    double beyond;           /* how much what lies just outside is off the table, in the mean */
    double strength;         /* median gradient of the supported samples, codes per px */
    double solid;            /* 0..1: the step stays beyond the edge; a drawn line or fold has none */
    bool   frame;            /* the side is the picture's frame */
} sl_side_fit;

/* Offset of the side's curve at s, px outward of the chord between its corners. */
static inline double sl_side_offset(const sl_side_fit *side, double s)
{
    double sum = 0;

    for (int k = SL_BOW_TERMS - 1; k >= 0; k--)
        sum = sum * s + side->bow[k];
    return sum;
}

/* A quadrilateral that may be the page. */
typedef struct sl_quad {
    sl_point    corner[4];   /* clockwise; side i runs from corner i to corner i + 1 */
    sl_side_fit side[4];
    float       colour[3];   /* of the paper along the border, coded */
    float       around[3];   /* of what lies just outside, coded */
    double      plain;       /* share of samples inside that have the paper's one colour */
    double      area;        /* share of the picture */
    double      quality;     /* 0..1: of the sides alone */
    double      misfit;      /* 0: has the stated proportions, or none are stated; 1: far from it */
    double      score;       /* quality, area, misfit: what hypotheses are ranked by */
} sl_quad;

enum { SL_QUADS_MAX = 105 };

typedef struct sl_quads {
    sl_quad quad[SL_QUADS_MAX]; /* best first */
    size_t  count;
} sl_quads;

/* Quadrilaterals made of the lines, measured and ranked. */
sl_status sl_quads_find(sl_quads *out, const sl_small *small, const sl_lines *lines,
                        const sl_border_params *params, sl_error *err);

/*
 * The quadrilateral with side `side` moved out to a line, measured and rated; false when the line
 * does not run along that side, 2 px to `most` px outside it.
 */
bool sl_quad_move_out(sl_quad *out, const sl_quad *quad, int side, const sl_line *line, double most,
                      const sl_small *small, const sl_border_params *params);

/* Are the two colours one paper, lit somewhat differently? */
bool sl_same_paper(const float a[3], const float b[3], double noise);

/* Measures the sides of a quadrilateral whose corners are given, searching `reach` px about them. */
void sl_quad_measure(sl_quad *quad, const sl_small *small, double reach);

#endif
