/* Defaults, chance and truth. */
#include "scenes/scene.h"

#include <stdlib.h>

#include "scenes/camera.h"
#include "scenes/maths.h"

scene_sheet scene_sheet_default(void)
{
    return (scene_sheet){ .mm = { 304.8, 304.8 }, .seed = 1 };
}

scene scene_default(void)
{
    return (scene){ .sheet = { scene_sheet_default() }, .sheets = 1, .thick_mm = 2,
                    .width = 4032, .height = 3024, .focal_35mm = 28, .fill = 0.88,
                    .lamp = { 1, 1 }, .ambient = 0.25, .shadow = 1, .lamp_back = 0.3,
                    .lamp_size = 0.16, .exposure = 1, .cast = { 1, 1, 1 },
                    .bar_soft_mm = 4, .glare_size = 15, .vignetting = 0.12, .blur_px = 0.7,
                    .shot_noise = 0.008, .read_noise = 0.0012, .seed = 1 };
}

/* ---- chance ---------------------------------------------------------------------------------- */

uint64_t scene_bits(scene_chance *chance)
{
    uint64_t z = chance->state += 0x9e3779b97f4a7c15u;

    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return z ^ z >> 31;
}

double scene_between(scene_chance *chance, double low, double high)
{
    return low + (high - low) * ((double)(scene_bits(chance) >> 11) / 9007199254740992.0);
}

unsigned scene_below(scene_chance *chance, unsigned limit)
{
    return (unsigned)((scene_bits(chance) >> 32) * limit >> 32);
}

/* ---- truth ----------------------------------------------------------------------------------- */

typedef struct view {
    scene_camera camera;
    scene_shape  shape;
    bool         behind;
} view;

static sl_point look(view *v, double u, double w)
{
    sl_point px;

    if (!scene_camera_page(&px, &v->camera, &v->shape, u, w))
        v->behind = true;
    return px;
}

/* Twice the area of a cell of the grid; above 0 where the page's face is seen. */
static double turned(const sl_point *a, const sl_point *b)
{
    return (a[1].x - a[0].x) * (b[0].y - a[0].y) - (a[1].y - a[0].y) * (b[0].x - a[0].x);
}

sl_status scene_truth_of(scene_truth *out, const scene *s, sl_error *err)
{
    const double w = s->sheet[0].mm[0];
    const double h = s->sheet[0].mm[1];
    view *v = malloc(sizeof *v);
    scene_truth t;
    size_t inside = 0;
    bool hidden = false;

    if (v == NULL) {
        if (err != NULL)
            *err = (sl_error){ SL_ERR_NOMEM, "scene", "out of memory" };
        return SL_ERR_NOMEM;
    }
    v->behind = false;
    scene_camera_set(&v->camera, s);
    scene_shape_set(&v->shape, &s->sheet[0]);
    for (int k = 0; k < SCENE_EDGE; k++) {
        const double f = (double)k / (SCENE_EDGE - 1);

        t.edge[0][k] = look(v, f * w, 0);
        t.edge[1][k] = look(v, w, f * h);
        t.edge[2][k] = look(v, (1 - f) * w, h);
        t.edge[3][k] = look(v, 0, (1 - f) * h);
        for (int e = 0; e < 4; e++) {
            const sl_point p = t.edge[e][k];

            inside += p.x >= 0 && p.y >= 0 && p.x <= (double)s->width - 1
                      && p.y <= (double)s->height - 1;
        }
    }
    for (int k = 0; k < 4; k++)
        t.corner[k] = t.edge[k][0];
    for (int j = 0; j < SCENE_GRID; j++)
        for (int i = 0; i < SCENE_GRID; i++)
            t.grid[j][i] = look(v, w * i / (SCENE_GRID - 1), h * j / (SCENE_GRID - 1));
    for (int j = 0; j + 1 < SCENE_GRID; j++)
        for (int i = 0; i + 1 < SCENE_GRID; i++)
            hidden = hidden || turned(&t.grid[j][i], &t.grid[j + 1][i]) <= 0;
    t.focal_px = v->camera.focal;
    t.inside = (double)inside / (4 * SCENE_EDGE);
    hidden = hidden || v->behind;
    free(v);
    if (hidden) {
        if (err != NULL)
            *err = (sl_error){ SL_ERR_ARG, "scene", "a part of the page faces away" };
        return SL_ERR_ARG;
    }
    *out = t;
    return SL_OK;
}
