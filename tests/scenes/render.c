/*
 * Rendering: each shot px asks where it sees the table and each sheet, and lays them over one
 * another in linear light. Where it sees is solved exactly on a lattice of shot px and
 * interpolated between by Catmull and Rom's cubic; a sheet covers an edge px by its distance from
 * the outline, in px along its gradient.
 */
#include <stdlib.h>
#include <string.h>

#include "scenes/camera.h"
#include "scenes/canvas.h"
#include "scenes/light.h"
#include "scenes/maths.h"
#include "scenes/sensor.h"
#include "scenes/table.h"

enum {
    CELL = 8,                /* px between lattice points */
    VALUES = 4,              /* at each: two of place, two of light */
    LAYERS = 1 + SCENE_SHEETS /* the table, then the sheets */
};

static const double FAR_MM = 120; /* from a sheet nothing of it is seen, not even its shadow */

typedef struct layer {
    double *node;            /* lattice, VALUES each; one column and row more on the left and top,
                                two on the right and bottom */
    double *column;          /* the lattice interpolated down to one row of px */
    double *row;             /* of the px in work, VALUES each */
    double *next;            /* and of the px below */
    scene_shape *shape;      /* NULL: the table */
    scene_canvas canvas;
} layer;

typedef struct stage {
    const scene *scene;
    scene_camera camera;
    scene_lamps  lamps;
    scene_desk   desk;
    layer        layer[LAYERS];
    size_t       layers;
    size_t       columns;    /* of the lattice */
    size_t       rows;
    double       px_per_mm;
    double       weight[CELL][4];
} stage;

/* ---- what each px sees ----------------------------------------------------------------------- */

static void solve_node(double n[VALUES], const stage *g, const layer *l, sl_point px)
{
    const double up[3] = { 0, 0, 1 };
    double xyz[3] = { 0, 0, -g->scene->thick_mm };
    double flat[2];
    double uv[2];
    double normal[3];

    if (l->shape == NULL) {
        (void)scene_camera_plane(xyz, &g->camera, px, xyz[2]);
        n[0] = xyz[0];
        n[1] = xyz[1];
        scene_lamps_at(n + 2, &g->lamps, xyz, up);
        return;
    }
    (void)scene_camera_plane(xyz, &g->camera, px, 0);
    scene_shape_flat(l->shape, xyz[0], xyz[1], flat);
    memcpy(uv, flat, sizeof uv);
    /* Far off a bent sheet, its straight continuation may not be seen at all. */
    if (!scene_camera_sheet(uv, &g->camera, l->shape, px))
        memcpy(uv, flat, sizeof uv);
    n[0] = uv[0];
    n[1] = uv[1];
    scene_shape_at(l->shape, uv[0], uv[1], xyz, normal);
    scene_lamps_at(n + 2, &g->lamps, xyz, normal);
}

static void cubic(double w[4], double t)
{
    w[0] = t * (-0.5 + t * (1 - 0.5 * t));
    w[1] = 1 + t * t * (-2.5 + 1.5 * t);
    w[2] = t * (0.5 + t * (2 - 1.5 * t));
    w[3] = t * t * (-0.5 + 0.5 * t);
}

static void interpolate_row(double *out, const stage *g, const layer *l, size_t y)
{
    const double *w = g->weight[y % CELL];
    const size_t n = g->columns * VALUES;
    const double *a = l->node + y / CELL * n;

    for (size_t k = 0; k < n; k++)
        l->column[k] = w[0] * a[k] + w[1] * a[n + k] + w[2] * a[2 * n + k] + w[3] * a[3 * n + k];
    for (size_t x = 0; x < g->scene->width; x++) {
        const double *c = l->column + x / CELL * VALUES;
        const double *h = g->weight[x % CELL];

        for (size_t k = 0; k < VALUES; k++)
            out[VALUES * x + k] = h[0] * c[k] + h[1] * c[VALUES + k] + h[2] * c[2 * VALUES + k]
                                  + h[3] * c[3 * VALUES + k];
    }
}

static bool solve_layer(stage *g, layer *l)
{
    const size_t n = g->columns * VALUES;

    l->node = malloc(g->rows * n * sizeof *l->node);
    l->column = malloc(n * sizeof *l->column);
    l->row = malloc(g->scene->width * VALUES * sizeof *l->row);
    l->next = malloc(g->scene->width * VALUES * sizeof *l->next);
    if (l->node == NULL || l->column == NULL || l->row == NULL || l->next == NULL)
        return false;
    for (size_t j = 0; j < g->rows; j++)
        for (size_t i = 0; i < g->columns; i++)
            solve_node(l->node + j * n + i * VALUES, g, l,
                       (sl_point){ ((double)i - 1) * CELL, ((double)j - 1) * CELL });
    return true;
}

/* ---- one px ---------------------------------------------------------------------------------- */

/*
 * How much of a px lies where a distance d (mm) is negative.
 * gradient  of d on the sheet
 */
static double covered(const stage *g, const layer *l, size_t x, double d, const double gradient[2])
{
    const double *at = l->row + VALUES * x;
    const double *below = l->next + VALUES * x;
    const double *right = x + 1 < g->scene->width ? at + VALUES : at;
    const double *left = x + 1 < g->scene->width ? at : at - VALUES;
    double dx;
    double dy;

    if (fabs(d) * g->px_per_mm > 4)
        return d < 0;
    dx = gradient[0] * (right[0] - left[0]) + gradient[1] * (right[1] - left[1]);
    dy = gradient[0] * (below[0] - at[0]) + gradient[1] * (below[1] - at[1]);
    return smaller(larger(0.5 - d / larger(length2(dx, dy), 1e-9), 0), 1);
}

static scene_colour canvas_colour(const scene_canvas *c, double u, double v)
{
    const double x = smaller(larger(u * c->scale - 0.5, 0), (double)c->width - 1.001);
    const double y = smaller(larger(v * c->scale - 0.5, 0), (double)c->height - 1.001);
    const size_t i = (size_t)x;
    const size_t j = (size_t)y;
    const float fx = (float)(x - (double)i);
    const scene_colour *p = c->px + j * c->width + i;
    const scene_colour *q = p + c->width;

    return scene_mix(scene_mix(p[0], p[1], fx), scene_mix(q[0], q[1], fx), (float)(y - (double)j));
}

/* What lies beside a sheet's edge, d mm from it: the edge's height keeps the light away. */
static scene_colour beside_edge(scene_colour p, double d)
{
    return scene_dim(p, 1 - 0.5f * expf(-(float)larger(d, 0) / 0.7f));
}

/* The album's lower sheets, from the lowest up, each in the shadow of the next; the first in that
   of the page, whose edge lies page_d mm away. */
static void paint_lower(scene_colour *p, const stage *g, const layer *l, size_t x, double page_d,
                        float light)
{
    const scene *s = g->scene;
    const double *at = l->row + VALUES * x;
    const scene_colour base = scene_paper_base(s->sheet[0].paper);

    for (unsigned k = s->lower; k > 0; k--) {
        const double w = s->sheet[0].mm[0];
        const double grown = k * s->lower_grow_mm;
        /* wider: the part beyond the middle is pushed outwards */
        const double off = at[0] - k * s->lower_mm[0];
        const double u = off < w / 2 ? smaller(off + grown, w / 2) : larger(off - grown, w / 2);
        const double v = at[1] - k * s->lower_mm[1];
        double gradient[2];
        const double d = scene_sheet_outside(&s->sheet[0], u, v, gradient);
        const float cover = (float)covered(g, l, x, d, gradient);

        if (d > 6)
            continue;
        *p = beside_edge(*p, d);
        *p = scene_mix(*p, scene_dim(base, light * (k % 2 != 0 ? 0.93f : 0.85f)), cover);
    }
    *p = beside_edge(*p, page_d);
}

static void paint_ribbon(scene_colour *p, const stage *g, const layer *l, size_t x, float light)
{
    const double *at = l->row + VALUES * x;
    scene_colour ribbon;
    const double d = scene_ribbon(&ribbon, g->scene, at[0], at[1]);

    if (d > 8)
        return;
    *p = scene_dim(*p, 1 - 0.4f * expf(-(float)larger(d, 0)));
    *p = scene_mix(*p, scene_dim(ribbon, light), scene_clamp((float)(0.5 - d * g->px_per_mm)));
}

static void paint_sheet(scene_colour *p, const stage *g, size_t which, size_t x)
{
    const scene *s = g->scene;
    const layer *l = &g->layer[which];
    const scene_sheet *sheet = l->shape->sheet;
    const bool top = which == 1;
    const double *at = l->row + VALUES * x;
    const float light = (float)(g->lamps.ambient + at[2] + at[3]);
    double gradient[2];
    const double d = scene_sheet_outside(sheet, at[0], at[1], gradient);
    const double below = top ? s->thick_mm : 0.6;
    double cover;

    if (d > FAR_MM)
        return;
    cover = covered(g, l, x, d, gradient);
    if (cover < 1) {
        if (d < scene_shadow_reach(l->shape, below))
            *p = scene_dim(*p, (float)scene_shadow(&g->lamps, l->shape, at[0], at[1], d,
                                                   at + 2, below));
        if (top && s->lower > 0)
            paint_lower(p, g, l, x, d, light);
        if (top && s->tab_mm > 0)
            paint_ribbon(p, g, l, x, light);
    }
    if (cover > 0) {
        scene_colour page = scene_dim(canvas_colour(&l->canvas, at[0], at[1]), light);

        if (top && s->glare > 0) {
            const double r = length2((at[0] - s->glare_mm[0]) / 1.5, at[1] - s->glare_mm[1])
                             / s->glare_size;
            const float shine = (float)(s->glare * exp(-0.5 * r * r));

            page = scene_rgb(page.r + shine, page.g + shine, page.b + shine);
        }
        *p = scene_mix(*p, page, (float)cover);
    }
    if (top && (s->strips > 0 || s->sleeve_mm > 0))
        scene_plastic_paint(p, s, at[0], at[1], (float)(1 / g->px_per_mm), light);
    if (top && s->weight != WEIGHT_NONE)
        scene_weight_paint(p, s, at[0], at[1], (float)(1 / g->px_per_mm), light);
}

static void render_row(float *out, stage *g, size_t y)
{
    const scene *s = g->scene;
    const double middle = length2((double)s->width, (double)s->height) / 2;

    for (size_t k = 0; k < g->layers; k++) {
        layer *l = &g->layer[k];
        double *done = l->row;

        if (y == 0)
            interpolate_row(l->next, g, l, 0);
        l->row = l->next;
        l->next = done;
        interpolate_row(l->next, g, l, y + 1);
    }
    for (size_t x = 0; x < s->width; x++) {
        const double *table = g->layer[0].row + VALUES * x;
        const double rx = ((double)x - g->camera.centre[0]) / middle;
        const double ry = ((double)y - g->camera.centre[1]) / middle;
        const double r2 = rx * rx + ry * ry;
        const float seen = (float)(s->exposure * (1 - s->vignetting * r2 * (0.5 + 0.5 * r2)));
        bool hidden = false;
        scene_colour p = { 0, 0, 0 };

        /* well inside the first sheet nothing below shows */
        if (s->sheets > 0) {
            const double *at = g->layer[1].row + VALUES * x;

            hidden = scene_sheet_outside(&s->sheet[0], at[0], at[1], NULL) * g->px_per_mm < -4;
        }
        if (!hidden) {
            p = scene_desk_colour(&g->desk, table[0], table[1]);
            p = scene_dim(p, (float)(g->lamps.ambient + table[2] + table[3]));
            for (size_t k = s->sheets; k > 1; k--)
                paint_sheet(&p, g, k, x);
        }
        if (s->sheets > 0)
            paint_sheet(&p, g, 1, x);
        out[3 * x] = p.r * seen * (float)s->cast[0];
        out[3 * x + 1] = p.g * seen * (float)s->cast[1];
        out[3 * x + 2] = p.b * seen * (float)s->cast[2];
    }
}

/* ---- the whole ------------------------------------------------------------------------------- */

static sl_status fail(sl_error *err, sl_status status, const char *what)
{
    if (err != NULL) {
        err->status = status;
        err->stage = "scene";
        (void)snprintf(err->detail, sizeof err->detail, "%s", what);
    }
    return status;
}

static bool set_stage(stage *g, const scene *s)
{
    const double denser = 1.12; /* than the shot's own px: tilted pages come nearer on one side */
    bool ok = true;

    *g = (stage){ .scene = s, .layers = 1 + s->sheets };
    scene_camera_set(&g->camera, s);
    scene_lamps_set(&g->lamps, s);
    g->px_per_mm = g->camera.focal / g->camera.distance;
    scene_desk_set(&g->desk, s, g->px_per_mm);
    /* the row below the last is asked for, too */
    g->columns = (s->width - 1) / CELL + 4;
    g->rows = s->height / CELL + 4;
    for (size_t k = 0; k < CELL; k++)
        cubic(g->weight[k], (double)k / CELL);
    for (size_t k = 0; k < g->layers && ok; k++) {
        layer *l = &g->layer[k];

        if (k > 0) {
            l->shape = malloc(sizeof *l->shape);
            ok = l->shape != NULL;
            if (ok) {
                scene_shape_set(l->shape, &s->sheet[k - 1]);
                ok = scene_canvas_draw(&l->canvas, &s->sheet[k - 1], denser * g->px_per_mm);
            }
        }
        ok = ok && solve_layer(g, l);
    }
    return ok;
}

static void clear_stage(stage *g)
{
    for (size_t k = 0; k < LAYERS; k++) {
        free(g->layer[k].canvas.px);
        free(g->layer[k].shape);
        free(g->layer[k].next);
        free(g->layer[k].row);
        free(g->layer[k].column);
        free(g->layer[k].node);
    }
}

/* What scene_render() cannot do without. */
static const char *lacking(const scene *s)
{
    if (s->width < 16 || s->height < 16 || s->width > 30000 || s->height > 30000)
        return "the picture must be 16 to 30000 px wide and high";
    if (s->sheets > SCENE_SHEETS || s->clutters > SCENE_CLUTTER)
        return "too many sheets or too much clutter";
    if (!(s->focal_35mm > 0) || !(s->fill > 0))
        return "focal length and fill must be above 0";
    for (size_t k = 0; k < (s->sheets > 0 ? s->sheets : 1); k++)
        if (!(s->sheet[k].mm[0] > 1 && s->sheet[k].mm[1] > 1)
            || s->sheet[k].prints > SCENE_PRINTS || s->sheet[k].captions > SCENE_CAPTIONS)
            return "a sheet is too small, or has too much on it";
    return NULL;
}

sl_status scene_render(sl_image **out, const scene *s, sl_error *err)
{
    const char *lack = lacking(s);
    stage *g = NULL;
    float *light = NULL;
    sl_status st = SL_ERR_NOMEM;

    if (lack != NULL)
        return fail(err, SL_ERR_ARG, lack);
    if (s->sheets > 0) {
        scene_truth *truth = malloc(sizeof *truth);

        st = truth != NULL ? scene_truth_of(truth, s, err)
                           : fail(err, SL_ERR_NOMEM, "out of memory");
        free(truth);
        if (st != SL_OK)
            return st;
    }
    g = malloc(sizeof *g);
    light = malloc(s->width * s->height * 3 * sizeof *light);
    if (g == NULL || light == NULL) {
        free(light);
        free(g);
        return fail(err, SL_ERR_NOMEM, "out of memory");
    }
    if (set_stage(g, s)) {
        for (size_t y = 0; y < s->height; y++)
            render_row(light + 3 * s->width * y, g, y);
        st = scene_develop(out, light, s, err);
    } else {
        st = fail(err, SL_ERR_NOMEM, "out of memory");
    }
    clear_stage(g);
    free(light);
    free(g);
    return st;
}
