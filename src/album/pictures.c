/*
 * For eyes only: averages and bilinear samples of coded values, which shows no difference on a
 * screen at this size. The page's own pixels are resampled elsewhere, in linear light.
 */
#include "album/pictures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "album/ours.h"
#include "base/error.h"

enum {
    SHOT_MOST = 1400,        /* px of the small shot's longer side */
    PAGE_SIDE = 640,         /* px of the page's longer side */
    WINDOW = 384,            /* px a side: what four windows on a screen can show at once */
    STRIP = 48,              /* px across an edge: 2 mm at 600 ppi, and a finger at 200 */
    NODES = 33,              /* of the grid that the page map is looked up on */
    OUTLINE = 9,             /* points a side that a browser draws */
    QUALITY = 78,
    FILES = 3
};

static const char *const endings[FILES] = { "", ".shot", ".edges" };

/* ---- pixels ---------------------------------------------------------------------------------- */

static unsigned sample(const sl_image *image, size_t x, size_t y, unsigned channel)
{
    const unsigned char *row = image->data + y * image->stride;
    const size_t i = x * image->channels + channel;
    uint16_t wide;

    if (image->bits == 8)
        return row[i];
    memcpy(&wide, row + 2 * i, sizeof wide);
    return wide >> 8;
}

/* Adds the first samples of a row, as 8 bits, to sums. */
static void add_row(unsigned *restrict sum, const sl_image *shot, size_t y, size_t samples)
{
    const unsigned char *restrict row = shot->data + y * shot->stride;

    if (shot->bits == 8) {
        for (size_t i = 0; i < samples; i++)
            sum[i] += row[i];
    } else {
        for (size_t i = 0; i < samples; i++)
            sum[i] += sample(shot, i / shot->channels, y, (unsigned)(i % shot->channels));
    }
}

/*
 * Means of factor x factor px from the sums of their columns. With factor and channels known where
 * it is inlined, this is a handful of additions a sample. The division is a multiplication:
 * right to the last code for sums below 2^24, that is for any factor below 256.
 */
static inline void put_means(unsigned char *row, const unsigned *sum, size_t width, size_t factor,
                             unsigned channels)
{
    const unsigned area = (unsigned)(factor * factor);
    const uint64_t share = ((uint64_t)1 << 40) / area + 1;

    for (size_t x = 0; x < width; x++)
        for (unsigned c = 0; c < channels; c++) {
            unsigned all = area / 2;

            for (size_t dx = 0; dx < factor; dx++)
                all += sum[(x * factor + dx) * channels + c];
            row[x * channels + c] = (unsigned char)(all * share >> 40);
        }
}

/* The mean of factor x factor px; what is left over at right and bottom is dropped. */
static sl_status shrink(sl_image **out, const sl_image *shot, size_t factor, sl_error *err)
{
    const size_t width = shot->width / factor;
    const unsigned channels = shot->channels;
    const size_t samples = width * factor * channels; /* of a row */
    unsigned *sum = calloc(samples, sizeof *sum);
    sl_status st = SL_OK;

    if (sum == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    st = sl_image_new(out, width, shot->height / factor, channels, 8, err);
    for (size_t y = 0; st == SL_OK && y < (*out)->height; y++) {
        unsigned char *row = (*out)->data + y * (*out)->stride;

        memset(sum, 0, samples * sizeof *sum);
        for (size_t dy = 0; dy < factor; dy++)
            add_row(sum, shot, y * factor + dy, samples);
        if (factor == 3 && channels == 3)             /* 12 Mpx and about */
            put_means(row, sum, width, 3, 3);
        else
            put_means(row, sum, width, factor, channels);
    }
    free(sum);
    return st;
}

/* Bilinear; mid grey outside. */
static void put_sample(unsigned char *px, const sl_image *image, sl_point at)
{
    const double x = floor(at.x);
    const double y = floor(at.y);
    const double fx = at.x - x;
    const double fy = at.y - y;

    /* what is not finite fails the comparison too */
    if (!(x >= 0 && y >= 0 && x + 1 < (double)image->width && y + 1 < (double)image->height)) {
        memset(px, 118, image->channels);
        return;
    }
    for (unsigned c = 0; c < image->channels; c++) {
        const size_t i = (size_t)x;
        const size_t j = (size_t)y;
        const double above = (1 - fx) * sample(image, i, j, c) + fx * sample(image, i + 1, j, c);
        const double below = (1 - fx) * sample(image, i, j + 1, c)
                             + fx * sample(image, i + 1, j + 1, c);

        px[c] = (unsigned char)((1 - fy) * above + fy * below + 0.5);
    }
}

/* ---- the flat page --------------------------------------------------------------------------- */

static sl_status flatten_small(sl_image **out, const sl_page *page, const sl_image *small,
                               double scale, sl_error *err)
{
    const sl_page_map *map = &page->rectified.map;
    const double longer = fmax(map->page[0], map->page[1]);
    const size_t width = (size_t)fmax(1, round(PAGE_SIDE * map->page[0] / longer));
    const size_t height = (size_t)fmax(1, round(PAGE_SIDE * map->page[1] / longer));
    sl_point node[NODES][NODES];
    sl_status st = sl_image_new(out, width, height, small->channels, 8, err);

    for (int v = 0; v < NODES; v++)
        for (int u = 0; u < NODES; u++)
            node[v][u] = sl_page_map_point(map, map->page[0] * u / (NODES - 1),
                                           map->page[1] * v / (NODES - 1));
    for (size_t y = 0; st == SL_OK && y < height; y++) {
        const double v = ((double)y + 0.5) / (double)height * (NODES - 1);
        const int j = (int)fmin(v, NODES - 2);

        for (size_t x = 0; x < width; x++) {
            const double u = ((double)x + 0.5) / (double)width * (NODES - 1);
            const int i = (int)fmin(u, NODES - 2);
            const double a = u - i;
            const double b = v - j;
            const sl_point *p = &node[j][i];
            const sl_point *q = &node[j + 1][i];
            const sl_point at = {
                (1 - b) * ((1 - a) * p[0].x + a * p[1].x) + b * ((1 - a) * q[0].x + a * q[1].x),
                (1 - b) * ((1 - a) * p[0].y + a * p[1].y) + b * ((1 - a) * q[0].y + a * q[1].y)
            };

            put_sample((*out)->data + y * (*out)->stride + x * small->channels, small,
                       (sl_point){ (at.x + 0.5) / scale - 0.5, (at.y + 0.5) / scale - 0.5 });
        }
    }
    return st;
}

/* ---- corners and edges ----------------------------------------------------------------------- */

/* Where to look for the page: its corners, or without an outline places near the shot's. */
static void corners_of(sl_point corner[4], const sl_page *page)
{
    const double w = (double)page->shot->image->width;
    const double h = (double)page->shot->image->height;
    const sl_point near_frame[4] = { { 0.08 * w, 0.08 * h }, { 0.92 * w, 0.08 * h },
                                     { 0.92 * w, 0.92 * h }, { 0.08 * w, 0.92 * h } };

    memcpy(corner, page->outline->found ? page->outline->corner : near_frame, 4 * sizeof *corner);
}

/* The first px of a window of `side` about `at`, inside 0 .. size. */
static size_t window_from(double at, size_t side, size_t size)
{
    const double most = (double)(size - side);

    return (size_t)fmin(most, fmax(0, floor(at) - (double)side / 2));
}

/* A point of an edge: as the map bends it, or straight between the corners. */
static sl_point edge_point(const sl_page *page, const sl_point corner[4], int side, double t)
{
    const sl_page_map *map = &page->rectified.map;
    const sl_point a = corner[side];
    const sl_point b = corner[(side + 1) % 4];

    if (!page->has_map)
        return (sl_point){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
    switch (side) {
    case SL_TOP:
        return sl_page_map_point(map, t * map->page[0], 0);
    case SL_RIGHT:
        return sl_page_map_point(map, map->page[0], t * map->page[1]);
    case SL_BOTTOM:
        return sl_page_map_point(map, (1 - t) * map->page[0], map->page[1]);
    default:
        return sl_page_map_point(map, 0, (1 - t) * map->page[1]);
    }
}

/* One strip: along the edge squeezed to the strip's length, across it px by px. */
static void draw_strip(sl_image *out, size_t top, const sl_page *page, const sl_point corner[4],
                       int side)
{
    const sl_image *shot = page->shot->image;

    for (size_t x = 0; x < out->width; x++) {
        const double t = ((double)x + 0.5) / (double)out->width;
        const sl_point p = edge_point(page, corner, side, t);
        const sl_point a = edge_point(page, corner, side, fmax(0, t - 0.01));
        const sl_point b = edge_point(page, corner, side, fmin(1, t + 0.01));
        const double length = hypot(b.x - a.x, b.y - a.y);
        /* clockwise with y down: the page lies to the right of the walk */
        const double nx = length > 0 ? -(b.y - a.y) / length : 0;
        const double ny = length > 0 ? (b.x - a.x) / length : 0;

        for (int k = 0; k < STRIP; k++) {
            const double d = k + 0.5 - STRIP / 2;

            put_sample(out->data + (top + (size_t)k) * out->stride + x * out->channels, shot,
                       (sl_point){ p.x + d * nx, p.y + d * ny });
        }
    }
}

static sl_status draw_edges(sl_image **out, json_t *told, const sl_page *page, sl_error *err)
{
    const sl_image *shot = page->shot->image;
    const size_t least = shot->width < shot->height ? shot->width : shot->height;
    const size_t side = least < WINDOW ? least : WINDOW;
    json_t *places = json_array();
    sl_point corner[4];
    sl_status st = sl_image_new(out, 2 * side, 2 * side + 4 * STRIP, shot->channels, 8, err);

    corners_of(corner, page);
    for (size_t i = 0; st == SL_OK && i < 4; i++) {
        const size_t from_x = window_from(corner[i].x, side, shot->width);
        const size_t from_y = window_from(corner[i].y, side, shot->height);

        for (size_t y = 0; y < side; y++)
            for (size_t x = 0; x < side; x++)
                for (unsigned c = 0; c < shot->channels; c++)
                    (*out)->data[(i / 2 * side + y) * (*out)->stride
                                 + (i % 2 * side + x) * shot->channels + c]
                        = (unsigned char)sample(shot, from_x + x, from_y + y, c);
        json_array_append_new(places, json_pack("[I, I]", (json_int_t)from_x,
                                                (json_int_t)from_y));
    }
    for (int i = 0; st == SL_OK && i < 4; i++)
        draw_strip(*out, 2 * side + (size_t)i * STRIP, page, corner, i);
    json_object_set_new(told, "window", json_integer((json_int_t)side));
    json_object_set_new(told, "strip", json_integer(STRIP));
    json_object_set_new(told, "corner_at", places);
    return st;
}

/* The outline as it bows, for a thin line over the small shot. */
static json_t *outline_of(const sl_page *page)
{
    json_t *sides = json_array();
    sl_point corner[4];

    corners_of(corner, page);
    for (int side = 0; side < 4; side++) {
        json_t *points = json_array();

        for (int k = 0; k < OUTLINE; k++) {
            const sl_point p = edge_point(page, corner, side, (double)k / (OUTLINE - 1));

            json_array_append_new(points, json_pack("[f, f]", round(10 * p.x) / 10,
                                                    round(10 * p.y) / 10));
        }
        json_array_append_new(sides, points);
    }
    return sides;
}

/* ---- files ----------------------------------------------------------------------------------- */

static sl_status encode(FILE *file, const sl_image *image, const sl_page *page, sl_error *err)
{
    const sl_encode_params params = { .format = SL_FORMAT_JPEG, .width = image->width,
                                      .height = image->height, .channels = image->channels,
                                      .bits = 8, .quality = QUALITY };
    /* the profile, or colours of a wide space would look dull */
    const sl_page_info info = { .icc = page->shot->icc, .icc_size = page->shot->icc_size };
    sl_writer *writer = NULL;
    sl_status st = sl_writer_new(&writer, file, &params, &info, err);

    if (st == SL_OK)
        st = sl_writer_rows(writer, image->data, image->height, image->stride, err);
    if (st == SL_OK)
        st = sl_writer_finish(writer, err);
    sl_writer_free(writer);
    return st;
}

static sl_status write_all(json_t *files, sl_image *const image[FILES], const sl_page *page,
                           const char *name, const sl_run *run, sl_error *err)
{
    sl_ours_file file[FILES];
    size_t count = 0;
    sl_status st = SL_OK;

    for (size_t i = 0; i < FILES && st == SL_OK; i++) {
        char rest[SL_PAGE_NAME + 24];

        if (image[i] == NULL)
            continue;
        (void)snprintf(rest, sizeof rest, "review/%s%s.jpg", name, endings[i]);
        st = sl_ours_open(&file[count], rest, run, err);
        if (st == SL_OK)
            st = encode(file[count++].part.file, image[i], page, err);
    }
    if (st == SL_OK)
        st = sl_ours_commit(file, count, files, run, err);
    for (size_t i = 0; i < count; i++)
        sl_ours_close(&file[i]);
    return st;
}

sl_status sl_pictures_write(json_t **out, const sl_page *page, const char *name,
                            const sl_run *run, sl_error *err)
{
    const sl_image *shot = page->shot->image;
    const size_t longer = shot->width > shot->height ? shot->width : shot->height;
    const size_t shorter = shot->width + shot->height - longer;
    size_t factor = (longer + SHOT_MOST - 1) / SHOT_MOST;
    sl_image *image[FILES] = { NULL, NULL, NULL };
    json_t *files = json_array();
    json_t *told = json_object();
    sl_status st = SL_OK;

    *out = NULL;
    if (files == NULL || told == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    factor = factor < shorter ? factor : 1;
    if (st == SL_OK)
        st = shrink(&image[1], shot, factor, err);
    if (st == SL_OK && page->has_map)
        st = flatten_small(&image[0], page, image[1], (double)factor, err);
    if (st == SL_OK)
        st = draw_edges(&image[2], told, page, err);
    if (st == SL_OK) {
        json_object_set_new(told, "scale", json_integer((json_int_t)factor));
        json_object_set_new(told, "outline", outline_of(page));
        json_object_set(told, "files", files);
        st = write_all(files, image, page, name, run, err);
    }
    if (st == SL_OK) {
        *out = told;
        told = NULL;
    }
    for (size_t i = 0; i < FILES; i++)
        sl_image_free(image[i]);
    json_decref(files);
    json_decref(told);
    return st == SL_ERR_EXISTS ? SL_OK : st;
}
