/* The shape of a bent sheet in space, and its outline on the plane. */
#ifndef SCENES_SHEET_H
#define SCENES_SHEET_H

#include "scenes/scene.h"

enum { SHEET_STEPS = 1024 };

typedef struct scene_shape {
    const scene_sheet *sheet; /* borrowed */
    double c;                /* of the direction across the rulings */
    double s;
    double half;             /* of the profile's length, mm: it runs from -half to half */
    double turn_c;
    double turn_s;
    double slope_c[SHEET_STEPS + 1]; /* cosine and sine of the slope at equal steps of arc */
    double slope_s[SHEET_STEPS + 1];
    double x[SHEET_STEPS + 1]; /* mm along the table at the same steps */
    double z[SHEET_STEPS + 1]; /* mm above the lowest point */
    double highest;          /* of its points, mm */
} scene_shape;

void scene_shape_set(scene_shape *out, const scene_sheet *sheet);

/* Page mm to table mm and height; straight on beyond the page. `normal` may be NULL. */
void scene_shape_at(const scene_shape *shape, double u, double v, double xyz[3],
                    double normal[3]);

/* Table mm to page mm of the sheet as if it lay flat: a start for a search. */
void scene_shape_flat(const scene_shape *shape, double x, double y, double uv[2]);

/*
 * mm outside the sheet's outline, negative inside; round its corners and with its holes.
 * gradient  out: the direction of growth, unit length; may be NULL
 */
double scene_sheet_outside(const scene_sheet *sheet, double u, double v, double gradient[2]);

#endif
