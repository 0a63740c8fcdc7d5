/* The drawn page: linear colours at some px per mm, and what is drawn on it. */
#ifndef SCENES_CANVAS_H
#define SCENES_CANVAS_H

#include "scenes/colour.h"
#include "scenes/scene.h"

typedef struct scene_canvas {
    scene_colour *px;        /* width x height; canvas px (i,j) has its middle at
                                ((i + 0.5) / scale, (j + 0.5) / scale) mm */
    size_t        width;
    size_t        height;
    double        scale;     /* px per mm */
} scene_canvas;

/* The sheet with all that is on it; free() canvas->px. False when memory lacks. */
bool scene_canvas_draw(scene_canvas *out, const scene_sheet *sheet, double scale);

/* A range of canvas px that holds the disc of `reach` mm round a place; false: none does. */
bool scene_canvas_range(const scene_canvas *canvas, double u, double v, double reach,
                        size_t first[2], size_t end[2]);

void scene_draw_paper(scene_canvas *canvas, const scene_sheet *sheet);
void scene_draw_print(scene_canvas *canvas, const scene_print *print);
void scene_draw_caption(scene_canvas *canvas, const scene_caption *caption, scene_colour ink,
                        unsigned seed);

/* Width of a text in units of its capitals' height. */
double scene_text_width(const char *text);

/*
 * A print's picture at x in 0..aspect, y in 0..1 (down). `px` is the size of a canvas px in these
 * units: edges are softened over it.
 */
scene_colour scene_picture(const scene_print *print, float x, float y, float aspect, float px);

/* Printed flowers over a colour at a place, mm: of papers and cloths. */
scene_colour scene_flowers(scene_colour ground, float u, float v, unsigned seed);

/* The paper's own colour, without texture; also used for lower sheets. */
scene_colour scene_paper_base(scene_paper paper);

#endif
