/* The page map as a plain value: a page point's place in the shot. */
#include "rectify/view.h"

#include <math.h>
#include <stdlib.h>

#include "base/error.h"

/*
 * Displacement on one edge at 0 <= t <= 1 and its derivative by t: Catmull-Rom pieces between
 * the nodes (at the ends the outer slope is the end piece's own).
 */
static sl_point edge_patch(sl_point *slope, const sl_point node[SL_PATCH_NODES], double t)
{
    enum { LAST = SL_PATCH_NODES - 1 };
    const double at = fmin(fmax(t, 0.0), 1.0) * LAST;
    const double cell = fmin(floor(at), LAST - 1.0);
    const size_t i = (size_t)cell;
    const double f = at - cell;
    const sl_point a = node[i];
    const sl_point b = node[i + 1];
    const sl_point before = i > 0 ? node[i - 1] : (sl_point){ 2 * a.x - b.x, 2 * a.y - b.y };
    const sl_point after =
        i + 1 < LAST ? node[i + 2] : (sl_point){ 2 * b.x - a.x, 2 * b.y - a.y };
    const double h[4] = { (1 + 2 * f) * (1 - f) * (1 - f), f * f * (3 - 2 * f),
                          f * (1 - f) * (1 - f), f * f * (f - 1) };
    const double d[4] = { 6 * f * (f - 1), 6 * f * (1 - f), (1 - f) * (1 - 3 * f),
                          f * (3 * f - 2) };
    const double ax = 0.5 * (b.x - before.x);
    const double ay = 0.5 * (b.y - before.y);
    const double bx = 0.5 * (after.x - a.x);
    const double by = 0.5 * (after.y - a.y);

    slope->x = LAST * (d[0] * a.x + d[1] * b.x + d[2] * ax + d[3] * bx);
    slope->y = LAST * (d[0] * a.y + d[1] * b.y + d[2] * ay + d[3] * by);
    return (sl_point){ h[0] * a.x + h[1] * b.x + h[2] * ax + h[3] * bx,
                       h[0] * a.y + h[1] * b.y + h[2] * ay + h[3] * by };
}

/*
 * Coons, MIT MAC-TR-41 (1967): the two ruled surfaces between opposite edges less the bilinear
 * one of the corners, at (p, q) in the unit square. j: d(x,y)/d(p,q), added to, or NULL.
 */
static sl_point coons(double j[4], const sl_page_map *map, double p, double q)
{
    const sl_point *const top = map->patch[SL_TOP];
    const sl_point *const bottom = map->patch[SL_BOTTOM];
    sl_point dt;
    sl_point db;
    sl_point dl;
    sl_point dr;
    const sl_point t = edge_patch(&dt, top, p);
    const sl_point b = edge_patch(&db, bottom, p);
    const sl_point l = edge_patch(&dl, map->patch[SL_LEFT], q);
    const sl_point r = edge_patch(&dr, map->patch[SL_RIGHT], q);
    const sl_point c00 = top[0];
    const sl_point c10 = top[SL_PATCH_NODES - 1];
    const sl_point c01 = bottom[0];
    const sl_point c11 = bottom[SL_PATCH_NODES - 1];

    if (j != NULL) {
        j[0] += (1 - q) * dt.x + q * db.x - l.x + r.x
                - ((1 - q) * (c10.x - c00.x) + q * (c11.x - c01.x));
        j[1] += b.x - t.x + (1 - p) * dl.x + p * dr.x
                - ((1 - p) * (c01.x - c00.x) + p * (c11.x - c10.x));
        j[2] += (1 - q) * dt.y + q * db.y - l.y + r.y
                - ((1 - q) * (c10.y - c00.y) + q * (c11.y - c01.y));
        j[3] += b.y - t.y + (1 - p) * dl.y + p * dr.y
                - ((1 - p) * (c01.y - c00.y) + p * (c11.y - c10.y));
    }
    return (sl_point){
        (1 - q) * t.x + q * b.x + (1 - p) * l.x + p * r.x
            - ((1 - p) * ((1 - q) * c00.x + q * c01.x) + p * ((1 - q) * c10.x + q * c11.x)),
        (1 - q) * t.y + q * b.y + (1 - p) * l.y + p * r.y
            - ((1 - p) * ((1 - q) * c00.y + q * c01.y) + p * ((1 - q) * c10.y + q * c11.y)),
    };
}

static sl_point point_of(const sl_page_map *map, const sl_view *view, double u, double v)
{
    const double p = u / map->page[0];
    const double q = v / map->page[1];
    sl_point px = sl_view_point(NULL, NULL, view, p - 0.5, q - 0.5);

    if (map->model == SL_MODEL_PATCH) {
        const sl_point d = coons(NULL, map, p, q);

        px.x += d.x;
        px.y += d.y;
    }
    return px;
}

sl_point sl_page_map_point(const sl_page_map *map, double u, double v)
{
    sl_view view;

    sl_view_set(&view, map, NULL);
    return point_of(map, &view, u, v);
}

/*
 * The view is set once, and a sheet's profile comes from a table: the quadrature is 17 polynomials
 * with their sines a point, and a bent page's grid asks for hundreds of thousands.
 */
struct sl_page_mapper {
    sl_page_map      map;
    sl_view          view;
    sl_profile_table table;
};

sl_status sl_page_mapper_new(sl_page_mapper **out, const sl_page_map *map, sl_error *err)
{
    sl_page_mapper *mapper = malloc(sizeof *mapper);

    if (mapper == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "rectify", "out of memory");
    mapper->map = *map;
    if (map->profile_count > 0)
        sl_profile_table_init(&mapper->table);
    sl_view_set(&mapper->view, &mapper->map, map->profile_count > 0 ? &mapper->table : NULL);
    *out = mapper;
    return SL_OK;
}

sl_point sl_page_mapper_point(const sl_page_mapper *mapper, double u, double v)
{
    const sl_view *const view = &mapper->view;
    const double a = (u / mapper->map.page[0] - 0.5) * view->size[0];
    const double b = (v / mapper->map.page[1] - 0.5) * view->size[1];

    /* a wide margin passes the table's end */
    if (fabs(a * view->cosine + b * view->sine) > SL_PROFILE_REACH * view->half)
        return sl_page_map_point(&mapper->map, u, v);
    return point_of(&mapper->map, view, u, v);
}

void sl_page_mapper_free(sl_page_mapper *mapper)
{
    free(mapper);
}

void sl_page_map_jacobian(double j[4], const sl_page_map *map, double u, double v)
{
    const double p = u / map->page[0];
    const double q = v / map->page[1];
    sl_view view;

    sl_view_set(&view, map, NULL);
    (void)sl_view_point(j, NULL, &view, p - 0.5, q - 0.5);
    if (map->model == SL_MODEL_PATCH)
        (void)coons(j, map, p, q);
    for (size_t k = 0; k < 2; k++) {
        j[k] /= map->page[k];
        j[2 + k] /= map->page[k];
    }
}
