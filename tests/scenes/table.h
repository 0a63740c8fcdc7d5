/* The table and what lies on it, as functions of place. */
#ifndef SCENES_TABLE_H
#define SCENES_TABLE_H

#include "scenes/colour.h"
#include "scenes/scene.h"

typedef struct scene_desk {
    const scene *scene;      /* borrowed */
    float        c;          /* of the pattern's turn */
    float        s;
    float        mm;         /* a shot px on the table: edges are softened over it */
    unsigned     seed;
} scene_desk;

void scene_desk_set(scene_desk *out, const scene *s, double px_per_mm);

/* Colour of the table with its clutter at a place, table mm; shadows of the clutter included. */
scene_colour scene_desk_colour(const scene_desk *desk, double x, double y);

/*
 * What lies on top of the page of truth, at page mm: lays its colour over *p.
 * light   falling there
 */
void scene_weight_paint(scene_colour *p, const scene *s, double u, double v, float px_mm,
                        float light);

/* The strips and the sleeve of clear plastic over page and table: changes *p. */
void scene_plastic_paint(scene_colour *p, const scene *s, double u, double v, float px_mm,
                         float light);

/* mm outside the ribbon that hangs out from under the page, and its colour there. */
double scene_ribbon(scene_colour *colour, const scene *s, double u, double v);

#endif
