/*
 * Made pages with known truth: sheets seen through cameras, and their outlines with noise as the
 * border stage would give them.
 *
 * The maker shares no code with the fitter: sheets are walked in small steps from a slope that
 * is no polynomial, cameras are turned by three angles.
 */
#ifndef SURVEY_MADE_H
#define SURVEY_MADE_H

#include "squareleaf.h"

#define RADIAN 0.017453292519943295

/* SplitMix64 (Steele, Lea, Flood, OOPSLA 2014): the same pages everywhere. */
typedef struct dice {
    uint64_t state;
} dice;

double uniform(dice *d, double low, double high);
double normal(dice *d, double sigma);
size_t pick(dice *d, size_t n);

typedef enum kind { FLAT, LENS, BOW, SPINE, WAVE, ASKEW, CORNER, KINDS } kind;

extern const char *const kind_name[KINDS];

typedef enum tags { BY_DIAGONAL, BY_WIDTH, MISSING, CROPPED, TAGS } tags;

extern const char *const tags_name[TAGS];

enum { WALK = 4000 };

typedef struct scene {
    kind kind;
    tags tags;
    bool sized;                  /* the page size is told */
    double nominal[2];           /* mm */
    double actual[2];
    double along;                /* direction across the rulings */
    double reach;                /* half the page's extent that way */
    double slope;                /* of the sheet, rad */
    double decay;                /* spine, corner: mm */
    double phase;
    double walk_x[2 * WALK + 1]; /* the bent profile at equal arc lengths */
    double walk_z[2 * WALK + 1];
    double turn[3][3];
    double place[3];
    double focal;
    double centre[2];
    double k1;
    double k2;
    size_t width;
    size_t height;
    sl_exif exif;
} scene;

/* Shot px of the true page's point (u, v in 0..1). */
sl_point shoot(const scene *s, double u, double v);

/* A page of a kind, with everything else drawn. */
void make_scene(scene *s, dice *d, kind k);

/* The camera alone: frame, focal length, tags, centre; no lens. tags must be set. */
void make_camera(scene *s, dice *d);

/* Another page before the camera of `camera`: its size, tilt of `tilt_deg` at most, curl. */
void make_page_of_album(scene *s, dice *d, const scene *camera, kind k, double tilt_deg);

/* The four sides clockwise, as the border stage would give them. */
void make_outline(sl_outline *outline, const scene *s, dice *d);

/* Error of a page map inside the page over a grid: mm. */
enum { SCORE_GRID = 17 };
void score_map(double *rms, double *worst, const sl_page_map *map, const scene *s);

#endif
