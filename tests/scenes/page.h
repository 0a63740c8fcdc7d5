/* A scene's page and table as functions of place: linear colours. */
#ifndef SCENES_PAGE_H
#define SCENES_PAGE_H

#include "scenes/scene.h"

typedef struct scene_colour {
    float r;
    float g;
    float b;
} scene_colour;

/* The page drawn at `scale` px per mm: floats, 3 a px, linear; the caller frees it. */
float *scene_draw_page(const scene *s, double scale, size_t *width, size_t *height);

/* The table at a place of it, mm. */
scene_colour scene_table_colour(const scene *s, double x, double y);

/* The bare paper, without anything glued to it. */
scene_colour scene_paper_colour(const scene *s, double x, double y);

/* Value noise in 0..1 of a lattice of period 1, `octaves` of it. */
double scene_noise(uint64_t seed, double x, double y, int octaves);

/* A generator of our own (L'Ecuyer's 64-bit LCG constants as in Knuth's MMIX): 0 <= value < 1. */
double scene_random(uint64_t *state);

#endif
