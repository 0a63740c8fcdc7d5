/*
 * A picture of what was found in a shot. Lines and dots are drawn by distance: a px takes as much
 * of the colour as the shape's edge, half a px soft, covers of it.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "album/save.h"
#include "base/error.h"
#include "base/file.h"

/* The drawing's longer side at most: fits a screen, and shows an edge point as a dot. */
static const double LONGEST = 2000;

enum { LINES = 8, STEPS = 96 };  /* page lines each way; pieces of a drawn curve */

typedef struct ink {
    unsigned char rgb[3];
    double        share;     /* 1 covers */
} ink;

/* Seen on white paper and on black, and apart for eyes that confuse red with green. */
static const ink line_ink = { { 0, 150, 80 }, 0.45 };
static const ink outline_ink = { { 0, 190, 90 }, 1 };
static const ink point_ink = { { 255, 120, 0 }, 1 };
static const ink corner_ink = { { 235, 0, 140 }, 1 };

typedef struct canvas {
    sl_image *image;         /* 8-bit RGB */
    double    shrink;        /* shot px for each px of the drawing, >= 1 */
} canvas;

static sl_point on_canvas(const canvas *c, sl_point shot)
{
    return (sl_point){ (shot.x + 0.5) / c->shrink - 0.5, (shot.y + 0.5) / c->shrink - 0.5 };
}

/* ---- shapes ---------------------------------------------------------------------------------- */

static double distance_to_line(sl_point p, sl_point a, sl_point b)
{
    const double dx = b.x - a.x;
    const double dy = b.y - a.y;
    const double length = dx * dx + dy * dy;
    double t = length > 0 ? ((p.x - a.x) * dx + (p.y - a.y) * dy) / length : 0;

    t = fmin(1, fmax(0, t));
    return hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

static void blend(canvas *c, size_t x, size_t y, double cover, ink colour)
{
    unsigned char *px = c->image->data + y * c->image->stride + 3 * x;
    const double share = cover * colour.share;

    for (int i = 0; i < 3; i++)
        px[i] = (unsigned char)lround(px[i] + share * (colour.rgb[i] - px[i]));
}

/* A line with round ends between two points of the drawing; radius: half its width. */
static void stroke(canvas *c, sl_point a, sl_point b, double radius, ink colour)
{
    const double reach = radius + 1;
    const double right = (double)c->image->width - 1;
    const double bottom = (double)c->image->height - 1;
    const double x0 = fmax(0, floor(fmin(a.x, b.x) - reach));
    const double x1 = fmin(right, ceil(fmax(a.x, b.x) + reach));
    const double y0 = fmax(0, floor(fmin(a.y, b.y) - reach));
    const double y1 = fmin(bottom, ceil(fmax(a.y, b.y) + reach));

    /* what is not finite fails every comparison and draws nothing */
    for (double y = y0; y <= y1; y++) {
        for (double x = x0; x <= x1; x++) {
            const double d = distance_to_line((sl_point){ x, y }, a, b);
            const double cover = radius + 0.5 - d;

            if (cover > 0)
                blend(c, (size_t)x, (size_t)y, fmin(1, cover), colour);
        }
    }
}

static void dot(canvas *c, sl_point at, double radius, ink colour)
{
    stroke(c, at, at, radius, colour);
}

static void ring(canvas *c, sl_point at, double radius, ink colour)
{
    const double step = 2 * acos(-1) / STEPS;

    for (int i = 0; i < STEPS; i++) {
        const sl_point a = { at.x + radius * cos(i * step), at.y + radius * sin(i * step) };
        const sl_point b = { at.x + radius * cos((i + 1) * step),
                             at.y + radius * sin((i + 1) * step) };

        stroke(c, a, b, 0.8, colour);
    }
}

/* ---- what was found -------------------------------------------------------------------------- */

/* A straight line of the page, bent as the page lies; ends in shares of its width and height. */
static void page_line(canvas *c, const sl_page_map *map, sl_point from, sl_point to, double radius,
                      ink colour)
{
    sl_point last = { 0, 0 };

    for (int i = 0; i <= STEPS; i++) {
        const double t = (double)i / STEPS;
        const double u = from.x + t * (to.x - from.x);
        const double v = from.y + t * (to.y - from.y);
        const sl_point p = on_canvas(c, sl_page_map_point(map, u * map->page[0],
                                                          v * map->page[1]));

        if (i > 0)
            stroke(c, last, p, radius, colour);
        last = p;
    }
}

static void draw_map(canvas *c, const sl_page_map *map)
{
    for (int i = 1; i < LINES; i++) {
        const double t = (double)i / LINES;

        page_line(c, map, (sl_point){ t, 0 }, (sl_point){ t, 1 }, 0.6, line_ink);
        page_line(c, map, (sl_point){ 0, t }, (sl_point){ 1, t }, 0.6, line_ink);
    }
    page_line(c, map, (sl_point){ 0, 0 }, (sl_point){ 1, 0 }, 1, outline_ink);
    page_line(c, map, (sl_point){ 1, 0 }, (sl_point){ 1, 1 }, 1, outline_ink);
    page_line(c, map, (sl_point){ 1, 1 }, (sl_point){ 0, 1 }, 1, outline_ink);
    page_line(c, map, (sl_point){ 0, 1 }, (sl_point){ 0, 0 }, 1, outline_ink);
}

static void draw_outline(canvas *c, const sl_outline *outline)
{
    sl_point middle = { 0, 0 };

    for (int side = 0; side < 4; side++) {
        const sl_edge *edge = &outline->edge[side];

        for (size_t i = 0; i < edge->count; i++)
            dot(c, on_canvas(c, edge->point[i].at), 1.3, point_ink);
        middle.x += outline->corner[side].x / 4;
        middle.y += outline->corner[side].y / 4;
    }
    middle = on_canvas(c, middle);
    for (int i = 0; i < 4; i++) {
        const sl_point at = on_canvas(c, outline->corner[i]);
        const double far = hypot(middle.x - at.x, middle.y - at.y);

        ring(c, at, 9, corner_ink);
        for (int k = 0; k <= i && far > 0; k++) {
            const double away = (22 + 10 * k) / far;

            dot(c, (sl_point){ at.x + away * (middle.x - at.x), at.y + away * (middle.y - at.y) },
                3.2, corner_ink);
        }
    }
}

/* ---- the shot, smaller ----------------------------------------------------------------------- */

static sl_point enlarge(const void *ctx, double column, double row)
{
    const double shrink = *(const double *)ctx;

    return (sl_point){ (column + 0.5) * shrink - 0.5, (row + 0.5) * shrink - 0.5 };
}

/* Grey in the first third of each row becomes RGB; from the end, for it grows into itself. */
static void spread_grey(sl_image *image)
{
    for (size_t y = 0; y < image->height; y++) {
        unsigned char *row = image->data + y * image->stride;

        for (size_t x = image->width; x-- > 0;)
            memset(row + 3 * x, row[x], 3);
    }
}

static sl_status shrink_shot(canvas *c, const sl_page *page, sl_error *err)
{
    const sl_image *shot = page->shot->image;
    const double longer = (double)(shot->width > shot->height ? shot->width : shot->height);
    sl_resample_params params = { .bits = 8, .fill = 0.5 };
    sl_resampler *resampler = NULL;
    sl_status st;

    c->shrink = fmax(1, longer / LONGEST);
    params.width = (size_t)fmax(1, floor((double)shot->width / c->shrink));
    params.height = (size_t)fmax(1, floor((double)shot->height / c->shrink));
    st = sl_image_new(&c->image, params.width, params.height, 3, 8, err);
    if (st == SL_OK)
        st = sl_resampler_new(&resampler, shot, page->tone, enlarge, &c->shrink, &params, err);
    if (st == SL_OK)
        st = sl_resampler_rows(resampler, 0, params.height, c->image->data, c->image->stride, err);
    if (st == SL_OK && shot->channels == 1)
        spread_grey(c->image);
    sl_resampler_free(resampler);
    return st;
}

static sl_status write_png(const canvas *c, const sl_page *page, FILE *file, sl_error *err)
{
    const bool colour = page->shot->image->channels == 3;
    const sl_encode_params params = { .format = SL_FORMAT_PNG, .width = c->image->width,
                                      .height = c->image->height, .channels = 3, .bits = 8 };
    /* a grey shot's profile does not fit what is now RGB */
    const sl_page_info info = { .icc = colour ? page->shot->icc : NULL,
                                .icc_size = colour ? page->shot->icc_size : 0,
                                .shot_name = page->shot_name,
                                .shot_sha256 = page->shot_sha256 };
    sl_writer *writer = NULL;
    sl_status st = sl_writer_new(&writer, file, &params, &info, err);

    if (st == SL_OK)
        st = sl_writer_rows(writer, c->image->data, c->image->height, c->image->stride, err);
    if (st == SL_OK)
        st = sl_writer_finish(writer, err);
    sl_writer_free(writer);
    return st;
}

sl_status sl_page_draw(const sl_page *page, const char *path, const char *shot_path, bool force,
                       sl_error *err)
{
    canvas c = { NULL, 1 };
    sl_part part;
    sl_status st;

    if (page->shot->image->data == NULL)
        return sl_fail(err, SL_ERR_ARG, "draw", "there is no picture to draw on");
    st = sl_save_open(&part, path, shot_path, force, err);
    if (st == SL_OK)
        st = shrink_shot(&c, page, err);
    if (st == SL_OK) {
        if (page->has_map)
            draw_map(&c, &page->rectified.map);
        if (page->outline->found)
            draw_outline(&c, page->outline);
        st = write_png(&c, page, part.file, err);
    }
    if (st == SL_OK)
        st = sl_part_commit(&part, err);
    else
        sl_part_abort(&part);
    sl_image_free(c.image);
    return st;
}
