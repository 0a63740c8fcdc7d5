/*
 * Rows of the page, through the map, in linear light.
 *
 * The output is worked in tiles. For each: the places of its pixels in the shot, the piece of the
 * shot that their taps need in linear light, the weighted sums, the bound on overshoot, the codes.
 * What a pixel becomes depends on its row and column only, not on the tile or the call that it is
 * made in: cells of the grid are counted from the output's corner, and all else is of the pixel.
 */
#include "resample/resample.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "resample/bound.h"
#include "resample/fixed.h"
#include "resample/grid.h"
#include "resample/levels.h"

enum {
    TILE_COLUMNS = 256,
    TILE_ROWS = 64,
    ROW_PLACES = TILE_COLUMNS + SL_LANES, /* paths write up to a multiple of SL_LANES */
    /* A grid has cells of 6 px or more, or three along a side: see its steps. */
    AREA_CELLS = TILE_COLUMNS / 6 + 2,
    TILE_CELLS = AREA_CELLS * (TILE_ROWS / 6 + 2),
    /* Shot pixels in linear light at once: 0.5 MB in colour. Where a tile needs more, as with
     * far more shot pixels than the page needs, it is halved; a single pixel goes by bands. */
    TILE_PIXELS = 1 << 15,
    SHOT_MAX = 65535         /* px a side: places are 32-bit */
};

struct sl_resampler {
    const sl_image    *shot;
    const sl_tone     *tone;
    const float       *linear;
    sl_resample_params params;
    size_t             floats;
    unsigned           fill;
    double             outside; /* share of the output */
    const sl_path     *path;
    sl_grid            grid;
    sl_levels          levels;
    sl_fixed          *fixed;  /* NULL where all is worked in floats */
    sl_kernel         *kernel; /* [SL_SCALE_STEPS]; those that no cell needs have no tables */
};

/* Part of an area's row that lies in one column of cells. */
typedef struct run {
    size_t cell;
    size_t column;           /* output px */
    size_t count;
} run;

/* What one call works with. */
typedef struct work {
    sl_patch      *patch;    /* of an area's cells, row by row; unset when the grid is direct */
    size_t         cell_row;
    size_t         cell_rows;
    size_t         cell;
    size_t         cells;
    run            run[AREA_CELLS]; /* of the area's columns of cells */
    int32_t       *x;        /* TILE_ROWS x ROW_PLACES; the first row alone when all are inside */
    int32_t       *y;
    unsigned char *outside;  /* as x */
    float         *sum;      /* 4 a pixel of one row */
    int16_t       *held;     /* as sum, in whole numbers */
    sl_fixed_tile  fixed;
    int16_t       *whole;    /* its room: as `light`, in whole numbers */
    float         *light;    /* of `room` floats */
    size_t         room;
    unsigned char *flag;
    float         *scratch;
} work;

typedef struct area {
    size_t column;           /* output px */
    size_t row;
    size_t columns;
    size_t rows;
} area;

/* ---- places ---------------------------------------------------------------------------------- */

static const int32_t NOWHERE = INT32_MIN;

static int32_t place_of(double v)
{
    if (!(fabs(v) <= (double)SHOT_MAX + 1.0))
        return NOWHERE;
    return (int32_t)floor(v * (double)(1 << SL_PLACE_BITS) + 0.5);
}

/* True when the fast path may take this cubic: finite, and far from the ends of an int32_t. */
static bool is_tame(const double c[4])
{
    return fabs(c[0]) <= (double)SHOT_MAX
           && fabs(c[1]) + fabs(c[2]) + fabs(c[3]) <= (double)(1 << 14);
}

static sl_way way_of(const double c[4], long origin)
{
    const double base = floor(c[0]);

    return (sl_way){ { (float)(c[0] - base), (float)c[1], (float)c[2], (float)c[3] },
                     (int32_t)((long)base - origin) };
}

static run run_of(const sl_resampler *r, area a, size_t cell)
{
    const size_t first = sl_grid_column(&r->grid, cell);
    const size_t next = sl_grid_column(&r->grid, cell + 1);
    const size_t column = first > a.column ? first : a.column;
    const size_t end = next < a.column + a.columns ? next : a.column + a.columns;

    return (run){ cell, column, end > column ? end - column : 0 };
}

/* Finds the area's cells and their patches. */
static void find_cells(work *w, const sl_resampler *r, area a)
{
    const sl_grid *grid = &r->grid;

    w->cell_row = sl_grid_cell_of_row(grid, a.row);
    w->cell_rows = sl_grid_cell_of_row(grid, a.row + a.rows - 1) - w->cell_row + 1;
    w->cell = sl_grid_cell_of_column(grid, a.column);
    w->cells = sl_grid_cell_of_column(grid, a.column + a.columns - 1) - w->cell + 1;
    assert(w->cells <= AREA_CELLS && w->cell_rows * w->cells <= TILE_CELLS);
    for (size_t k = 0; k < w->cells; k++)
        w->run[k] = run_of(r, a, w->cell + k);
    for (size_t n = 0; n < w->cell_rows * w->cells && !grid->direct; n++)
        sl_grid_patch(&w->patch[n], grid, w->cell_row + n / w->cells, w->cell + n % w->cells);
}

/* Places of one row of an area, less the origin (px): 0, or the tile's corner. */
static void places_of_row(int32_t *x, int32_t *y, const work *w, const sl_resampler *r, area a,
                          size_t row, long origin_x, long origin_y)
{
    const sl_grid *grid = &r->grid;
    const size_t cell_row = sl_grid_cell_of_row(grid, row);

    for (size_t k = 0; k < w->cells; k++) {
        const run part = w->run[k];
        int32_t *to_x = x + (part.column - a.column);
        int32_t *to_y = y + (part.column - a.column);
        sl_cubic cubic;

        if (!grid->direct) {
            sl_patch_cubic(&cubic, &w->patch[(cell_row - w->cell_row) * w->cells + k], grid,
                           (double)row);
            if (is_tame(cubic.x) && is_tame(cubic.y)) {
                const size_t first = sl_grid_column(grid, part.cell);
                const double start = (double)first / grid->cell_width - (double)part.cell;
                const sl_way way_x = way_of(cubic.x, origin_x);
                const sl_way way_y = way_of(cubic.y, origin_y);

                r->path->places(to_x, to_y, part.column - first, part.count, &way_x, &way_y,
                                (float)start, (float)(1.0 / grid->cell_width));
                continue;
            }
        }
        for (size_t i = 0; i < part.count; i++) {
            const sl_point p = sl_grid_point(grid, (double)(part.column + i), (double)row);

            to_x[i] = place_of(p.x);
            to_y[i] = place_of(p.y);
        }
    }
}

/* A pixel is inside while its centre is not more than half a pixel beyond the outermost ones. */
static bool is_inside(const sl_resampler *r, int32_t x, int32_t y)
{
    const int32_t half = 1 << (SL_PLACE_BITS - 1);

    return x >= -half && x <= (int32_t)r->shot->width * (1 << SL_PLACE_BITS) - half
           && y >= -half && y <= (int32_t)r->shot->height * (1 << SL_PLACE_BITS) - half;
}

/* ---- one tile -------------------------------------------------------------------------------- */

typedef struct extent {
    int32_t x_least;         /* places inside the shot */
    int32_t x_most;
    int32_t y_least;
    int32_t y_most;
    size_t  inside;          /* pixels */
    size_t  x_taps;          /* of the widest kernel */
    size_t  y_taps;
} extent;

static const sl_kernel *kernel_of(const sl_resampler *r, const uint16_t *scale, size_t cell_row,
                                  size_t cell)
{
    return &r->kernel[scale[cell_row * r->grid.columns + cell]];
}

static void find_taps(extent *e, const work *w, const sl_resampler *r)
{
    for (size_t n = 0; n < w->cell_rows * w->cells; n++) {
        const size_t cell_row = w->cell_row + n / w->cells;
        const size_t cell = w->cell + n % w->cells;
        const size_t tx = kernel_of(r, r->grid.scale_x, cell_row, cell)->taps;
        const size_t ty = kernel_of(r, r->grid.scale_y, cell_row, cell)->taps;

        e->x_taps = tx > e->x_taps ? tx : e->x_taps;
        e->y_taps = ty > e->y_taps ? ty : e->y_taps;
    }
}

/*
 * Where an area lies in the shot, told from its patches alone; false when that does not show
 * that all of it lies inside the shot.
 */
static bool lies_inside(extent *e, const work *w, const sl_resampler *r, area a)
{
    /* Places are rounded, and computed in floats. */
    const double margin = 1.0 / 64.0;
    const size_t last_row = a.row + a.rows - 1;
    sl_box box = { INFINITY, INFINITY, -INFINITY, -INFINITY };

    if (r->grid.direct)
        return false;
    for (size_t n = 0; n < w->cell_rows * w->cells; n++) {
        const size_t cell_row = w->cell_row + n / w->cells;
        const run part = w->run[n % w->cells];
        const size_t first = sl_grid_row(&r->grid, cell_row);
        const size_t end = sl_grid_row(&r->grid, cell_row + 1);
        sl_box cell;

        if (part.count == 0 || end == first)
            continue;
        cell = sl_patch_box(&w->patch[n], &r->grid, part.column, part.column + part.count - 1,
                            first > a.row ? first : a.row,
                            end - 1 < last_row ? end - 1 : last_row);
        box.left = fmin(box.left, cell.left);
        box.top = fmin(box.top, cell.top);
        box.right = fmax(box.right, cell.right);
        box.bottom = fmax(box.bottom, cell.bottom);
    }
    if (!(box.left >= -0.5 + margin && box.right <= (double)r->shot->width - 0.5 - margin
          && box.top >= -0.5 + margin && box.bottom <= (double)r->shot->height - 0.5 - margin))
        return false;
    *e = (extent){ place_of(box.left - margin), place_of(box.right + margin),
                   place_of(box.top - margin), place_of(box.bottom + margin),
                   a.columns * a.rows, 0, 0 };
    return true;
}

/* Fills the places of an area and tells what part of the shot they lie in. */
static extent find_places(work *w, const sl_resampler *r, area a)
{
    extent e = { INT32_MAX, INT32_MIN, INT32_MAX, INT32_MIN, 0, 0, 0 };

    for (size_t j = 0; j < a.rows; j++) {
        int32_t *x = w->x + j * ROW_PLACES;
        int32_t *y = w->y + j * ROW_PLACES;
        unsigned char *outside = w->outside + j * ROW_PLACES;

        places_of_row(x, y, w, r, a, a.row + j, 0, 0);
        for (size_t i = 0; i < a.columns; i++) {
            outside[i] = !is_inside(r, x[i], y[i]);
            if (!outside[i]) {
                e.x_least = x[i] < e.x_least ? x[i] : e.x_least;
                e.x_most = x[i] > e.x_most ? x[i] : e.x_most;
                e.y_least = y[i] < e.y_least ? y[i] : e.y_least;
                e.y_most = y[i] > e.y_most ? y[i] : e.y_most;
                e.inside++;
            }
        }
    }
    return e;
}

/* The same places, from the tile's corner. */
static void shift_places(work *w, const sl_tile *tile, const extent *e, area a)
{
    for (size_t j = 0; j < a.rows; j++) {
        int32_t *x = w->x + j * ROW_PLACES;
        int32_t *y = w->y + j * ROW_PLACES;
        const unsigned char *outside = w->outside + j * ROW_PLACES;

        for (size_t i = 0; i < a.columns; i++) {
            /* Outside the shot the sum is of any place in the tile; it is not used. */
            x[i] = (outside[i] ? e->x_least : x[i]) - (int32_t)(tile->x * (1 << SL_PLACE_BITS));
            y[i] = (outside[i] ? e->y_least : y[i]) - (int32_t)(tile->y * (1 << SL_PLACE_BITS));
        }
    }
}

static long whole(int32_t place)
{
    /* floor() of a place that may lie up to half a pixel left of 0. */
    return (long)((place + (1 << SL_PLACE_BITS)) >> SL_PLACE_BITS) - 1;
}

static sl_tile tile_of(const work *w, const sl_resampler *r, const extent *e)
{
    const long left = whole(e->x_least) + 1 - (long)(e->x_taps / 2);
    const long top = whole(e->y_least) + 1 - (long)(e->y_taps / 2);

    return (sl_tile){ .x = left, .y = top,
                      .width = (size_t)(whole(e->x_most) + (long)(e->x_taps / 2) - left + 1),
                      .height = (size_t)(whole(e->y_most) + (long)(e->y_taps / 2) - top + 1),
                      .floats = r->floats, .data = w->light, .flag = w->flag };
}

/* The codes of a row of lights, interleaved: 4 floats a pixel, of which `channels` are taken. */
static void encode8(unsigned char *restrict to, const sl_levels levels, const float *light,
                    unsigned channels, size_t columns)
{
    if (channels == 3 && levels.single) {
        const sl_levels l = { .until = levels.until, .guess = levels.guess,
                              .first = levels.first, .shift = levels.shift, .single = true };

        for (size_t i = 0; i < columns; i++) {
            to[3 * i] = (unsigned char)sl_level_of_held(&l, light[4 * i]);
            to[3 * i + 1] = (unsigned char)sl_level_of_held(&l, light[4 * i + 1]);
            to[3 * i + 2] = (unsigned char)sl_level_of_held(&l, light[4 * i + 2]);
        }
        return;
    }
    for (size_t i = 0; i < columns; i++) {
        for (unsigned c = 0; c < channels; c++)
            *to++ = (unsigned char)sl_level_of_held(&levels, light[4 * i + c]);
    }
}

static void encode16(unsigned char *restrict to, const sl_levels levels, const float *light,
                     unsigned channels, size_t columns)
{
    for (size_t i = 0; i < columns; i++) {
        for (unsigned c = 0; c < channels; c++) {
            const uint16_t code = (uint16_t)sl_level_of_held(&levels, light[4 * i + c]);

            memcpy(to, &code, sizeof code);
            to += sizeof code;
        }
    }
}

/* Writes a run from its sums. */
static void encode_lights(unsigned char *to, const sl_resampler *r, float *sum, size_t columns)
{
    sl_levels_hold(sum, 4 * columns, &r->levels);
    if (r->params.bits == 8)
        encode8(to, r->levels, sum, r->shot->channels, columns);
    else
        encode16(to, r->levels, sum, r->shot->channels, columns);
}

static void fill_outside(unsigned char *to, const sl_resampler *r, const unsigned char *outside,
                         size_t columns)
{
    const unsigned channels = r->shot->channels;
    const size_t size = r->params.bits / 8;
    const uint16_t wide = (uint16_t)r->fill;
    const unsigned char byte = (unsigned char)r->fill;

    for (size_t i = 0; i < columns; i++) {
        for (unsigned c = 0; outside[i] && c < channels; c++)
            memcpy(to + (i * channels + c) * size,
                   size == 1 ? (const void *)&byte : (const void *)&wide, size);
    }
}

/* Bounds the float sums of a run. */
static void bound_run(float *sum, const sl_tile *tile, const int32_t *x, const int32_t *y,
                      size_t count, const sl_kernel *kx, const sl_kernel *ky)
{
    for (size_t i = 0; i < count; i++) {
        if (sl_bound_needed(tile, x[i], y[i], kx, ky))
            sl_bound(sum + 4 * i, tile, x[i], y[i], kx, ky);
    }
}

static void bound_whole_run(int16_t *held, const sl_fixed_tile *fixed, const sl_tile *tile,
                            const int32_t *x, const int32_t *y, size_t count,
                            const sl_kernel *kx, const sl_kernel *ky)
{
    if (!sl_bound_needed_along(tile, x, y, count, kx, ky))
        return;
    for (size_t i = 0; i < count; i++) {
        if (sl_bound_needed(tile, x[i], y[i], kx, ky))
            sl_bound_whole(held + 4 * i, fixed, tile, x[i], y[i], kx, ky);
    }
}

static bool goes_whole(const sl_resampler *r, const sl_kernel *kx, const sl_kernel *ky)
{
    return r->fixed != NULL && kx->whole != NULL && ky->whole != NULL;
}

/* One row of an area whose shot pixels are all in the tile: sums, bounds, codes. */
static void run_row(unsigned char *to, work *w, const sl_resampler *r, const sl_tile *tile,
                    area a, size_t row, const int32_t *all_x, const int32_t *all_y,
                    const unsigned char *outside)
{
    const size_t cell_row = sl_grid_cell_of_row(&r->grid, row);
    const size_t pixel = (size_t)r->shot->channels * (r->params.bits / 8);

    for (size_t k = 0; k < w->cells; k++) {
        const run part = w->run[k];
        const sl_kernel *kx = kernel_of(r, r->grid.scale_x, cell_row, part.cell);
        const sl_kernel *ky = kernel_of(r, r->grid.scale_y, cell_row, part.cell);
        const size_t at = part.column - a.column;
        const int32_t *x = all_x + at;
        const int32_t *y = all_y + at;

        if (goes_whole(r, kx, ky)) {
            r->path->whole(w->held, &w->fixed, x, y, part.count, kx, ky);
            if (tile->any_flag)
                bound_whole_run(w->held, &w->fixed, tile, x, y, part.count, kx, ky);
            sl_fixed_encode(to + at * pixel, r->fixed, w->held, part.count);
        } else {
            r->path->taps(w->sum, tile, x, y, part.count, kx, ky);
            if (tile->any_flag)
                bound_run(w->sum, tile, x, y, part.count, kx, ky);
            encode_lights(to + at * pixel, r, w->sum, part.count);
        }
    }
    if (outside != NULL)
        fill_outside(to, r, outside, a.columns);
}

/* One pixel whose taps are more than fit: the tile takes one band of their rows after another. */
static void sum_by_bands(work *w, const sl_resampler *r, sl_tile tile, const sl_kernel *kx,
                         const sl_kernel *ky)
{
    const size_t row_floats = sl_tile_floats(tile.width, 1, tile.floats);
    const size_t fit = w->room / row_floats;
    float acc[SL_LANES] = { 0.0f };
    sl_range range[SL_RANGES];

    sl_bound_start(range);
    for (size_t first = 0; first < ky->taps; first += tile.height) {
        tile.height = ky->taps - first < fit ? ky->taps - first : fit;
        sl_tile_load(&tile, r->shot, r->linear);
        r->path->band(acc, &tile, w->x[0], w->y[0], first, tile.height, kx, ky);
        sl_bound_add(range, &tile, w->x[0], w->y[0], first, tile.height, kx, ky);
        tile.y += (long)tile.height;
    }
    sl_lanes_close(w->sum, acc, tile.floats);
    sl_bound_end(w->sum, range, tile.floats);
}

/* The tile in whole numbers, in floats, or both: floats are needed for bounds, too. */
static void load_tiles(work *w, const sl_resampler *r, sl_tile *tile, const extent *e)
{
    bool some_whole = false;
    bool all_whole = true;

    for (size_t n = 0; n < w->cell_rows * w->cells; n++) {
        const size_t cell_row = w->cell_row + n / w->cells;
        const size_t cell = w->cell + n % w->cells;
        const bool whole = goes_whole(r, kernel_of(r, r->grid.scale_x, cell_row, cell),
                                      kernel_of(r, r->grid.scale_y, cell_row, cell));

        some_whole = some_whole || whole;
        all_whole = all_whole && whole;
    }
    if (some_whole) {
        w->fixed = (sl_fixed_tile){ .x = tile->x, .y = tile->y, .width = tile->width,
                                    .height = tile->height, .data = w->whole };
        sl_fixed_load(&w->fixed, r->shot, r->fixed);
    }
    if (r->fixed != NULL)    /* before the floats come to where it works */
        sl_tile_flag8(tile, r->shot, r->linear, e->x_taps, e->y_taps,
                      (unsigned char *)w->light, w->scratch);
    if (!all_whole || tile->any_flag || r->fixed == NULL)
        sl_tile_load(tile, r->shot, r->linear);
    if (r->fixed == NULL)
        sl_tile_flag(tile, e->x_taps, e->y_taps, w->scratch);
}

static void run_area(work *w, const sl_resampler *r, area a, unsigned char *to, size_t stride);

/* A half is an area like any other. */
static void run_halves(work *w, const sl_resampler *r, area a, unsigned char *to, size_t stride)
{
    const size_t pixel = (size_t)r->shot->channels * (r->params.bits / 8);
    area first = a;
    area second = a;

    if (a.rows > 1) {
        first.rows = a.rows / 2;
        second.row += first.rows;
        second.rows -= first.rows;
        run_area(w, r, first, to, stride);
        run_area(w, r, second, to + first.rows * stride, stride);
    } else {
        first.columns = a.columns / 2;
        second.column += first.columns;
        second.columns -= first.columns;
        run_area(w, r, first, to, stride);
        run_area(w, r, second, to + first.columns * pixel, stride);
    }
}

static void run_area(work *w, const sl_resampler *r, area a, unsigned char *to, size_t stride)
{
    extent e;
    sl_tile tile;
    bool inside;
    bool fits;

    find_cells(w, r, a);
    inside = lies_inside(&e, w, r, a);
    if (!inside)
        e = find_places(w, r, a);
    if (e.inside == 0) {
        for (size_t j = 0; j < a.rows; j++)
            fill_outside(to + j * stride, r, w->outside + j * ROW_PLACES, a.columns);
        return;
    }
    find_taps(&e, w, r);
    tile = tile_of(w, r, &e);
    fits = tile.width <= SHOT_MAX && tile.height <= SHOT_MAX
           && tile.width * tile.height <= TILE_PIXELS;
    if (!fits && (a.rows > 1 || a.columns > 1)) {
        run_halves(w, r, a, to, stride);
        return;
    }
    if (!fits) {
        if (inside) {
            places_of_row(w->x, w->y, w, r, a, a.row, tile.x, tile.y);
            w->outside[0] = 0;
        } else {
            shift_places(w, &tile, &e, a);
        }
        sum_by_bands(w, r, tile, kernel_of(r, r->grid.scale_x, w->cell_row, w->cell),
                     kernel_of(r, r->grid.scale_y, w->cell_row, w->cell));
        encode_lights(to, r, w->sum, 1);
        fill_outside(to, r, w->outside, 1);
        return;
    }
    load_tiles(w, r, &tile, &e);
    if (!inside)
        shift_places(w, &tile, &e, a);
    for (size_t j = 0; j < a.rows; j++) {
        const size_t at = inside ? 0 : j * ROW_PLACES;

        if (inside)
            places_of_row(w->x, w->y, w, r, a, a.row + j, tile.x, tile.y);
        run_row(to + j * stride, w, r, &tile, a, a.row + j, w->x + at, w->y + at,
                inside ? NULL : w->outside + at);
    }
}

/* ---- what a call needs ----------------------------------------------------------------------- */

static void work_clear(work *w)
{
    free(w->patch);
    free(w->x);
    free(w->y);
    free(w->outside);
    free(w->sum);
    free(w->held);
    free(w->whole);
    free(w->light);
    free(w->flag);
    free(w->scratch);
}

static sl_status work_make(work *out, const sl_resampler *r, sl_error *err)
{
    /* A tile of TILE_PIXELS of any shape, or one row of the widest kernel's taps. */
    size_t widest = TILE_PIXELS;
    work w = { 0 };

    for (size_t s = 0; s < SL_SCALE_STEPS; s++)
        widest = r->kernel[s].taps > widest ? r->kernel[s].taps : widest;
    w.room = widest * (r->floats + SL_LANES);
    w.patch = malloc(TILE_CELLS * sizeof *w.patch);
    w.x = calloc(TILE_ROWS * ROW_PLACES, sizeof *w.x);
    w.y = calloc(TILE_ROWS * ROW_PLACES, sizeof *w.y);
    w.outside = malloc(TILE_ROWS * ROW_PLACES);
    w.sum = calloc(4 * ROW_PLACES, sizeof *w.sum);
    w.held = malloc(4 * ROW_PLACES * sizeof *w.held);
    w.whole = malloc(sl_fixed_room(TILE_PIXELS) * sizeof *w.whole);
    w.light = malloc(w.room * sizeof *w.light);
    w.flag = malloc(TILE_PIXELS);
    w.scratch = malloc(8 * (size_t)TILE_PIXELS * sizeof *w.scratch);
    if (w.patch == NULL || w.x == NULL || w.y == NULL || w.outside == NULL || w.sum == NULL
        || w.held == NULL || w.whole == NULL || w.light == NULL || w.flag == NULL
        || w.scratch == NULL) {
        work_clear(&w);
        return sl_fail(err, SL_ERR_NOMEM, "resample", "no memory for a band of rows");
    }
    *out = w;
    return SL_OK;
}

static sl_status make_kernels(sl_resampler *r, sl_error *err)
{
    const size_t cells = r->grid.columns * r->grid.rows;

    r->kernel = calloc(SL_SCALE_STEPS, sizeof *r->kernel);
    if (r->kernel == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "resample", "out of memory");
    for (size_t n = 0; n < 2 * cells; n++) {
        const size_t step = n < cells ? r->grid.scale_x[n] : r->grid.scale_y[n - cells];

        if (r->kernel[step].taps == 0) {
            const sl_status status = sl_kernel_make(&r->kernel[step], sl_scale_of_step(step),
                                                    r->floats, r->fixed != NULL, err);

            if (status != SL_OK)
                return status;
        }
    }
    return SL_OK;
}

/* The tile-sized area at a column and row; no row from `end` on. */
static area area_at(const sl_resampler *r, size_t column, size_t row, size_t end)
{
    const size_t columns = r->params.width - column;

    return (area){ column, row, columns < TILE_COLUMNS ? columns : TILE_COLUMNS,
                   end - row < TILE_ROWS ? end - row : TILE_ROWS };
}

static sl_status count_outside(sl_resampler *r, sl_error *err)
{
    const double pixels = (double)r->params.width * (double)r->params.height;
    size_t outside = 0;
    work w;
    const sl_status status = work_make(&w, r, err);

    if (status != SL_OK)
        return status;
    for (size_t row = 0; row < r->params.height; row += TILE_ROWS) {
        for (size_t column = 0; column < r->params.width; column += TILE_COLUMNS) {
            const area a = area_at(r, column, row, r->params.height);
            extent e;

            find_cells(&w, r, a);
            if (!lies_inside(&e, &w, r, a))
                e = find_places(&w, r, a);
            outside += a.columns * a.rows - e.inside;
        }
    }
    work_clear(&w);
    r->outside = (double)outside / pixels;
    return SL_OK;
}

/* ---- public ---------------------------------------------------------------------------------- */

sl_status sl_resampler_new(sl_resampler **out, const sl_image *shot, const sl_tone *tone,
                           sl_map_fn map, const void *ctx, const sl_resample_params *params,
                           sl_error *err)
{
    sl_resampler *r;
    sl_status status;

    if (params->width == 0 || params->height == 0 || params->width > INT32_MAX
        || params->height > INT32_MAX || (params->bits != 8 && params->bits != 16)
        || !(params->fill >= 0.0 && params->fill <= 1.0))
        return sl_fail(err, SL_ERR_ARG, "resample", "a page of %zu x %zu px, %u bits, fill %g",
                       params->width, params->height, params->bits, params->fill);
    if (shot->width > SHOT_MAX || shot->height > SHOT_MAX)
        return sl_fail(err, SL_ERR_LIMIT, "resample", "a shot of %zu x %zu px, limit %d px a side",
                       shot->width, shot->height, (int)SHOT_MAX);
    r = calloc(1, sizeof *r);
    if (r == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "resample", "out of memory");
    r->shot = shot;
    r->tone = tone;
    r->linear = shot->bits == 8 ? sl_tone_linear8(tone) : sl_tone_linear16(tone);
    r->params = *params;
    r->floats = shot->channels == 3 ? 4 : 1;
    r->fill = (unsigned)(params->fill * (params->bits == 8 ? 255.0 : 65535.0) + 0.5);
    r->path = sl_path_best();
    status = sl_levels_make(&r->levels, tone, params->bits, err);
    if (status == SL_OK && shot->bits == 8 && shot->channels == 3 && params->bits == 8)
        status = sl_fixed_new(&r->fixed, tone, &r->levels, err);
    if (status == SL_OK)
        status = sl_grid_make(&r->grid, map, ctx, params->width, params->height, shot->width,
                              shot->height, err);
    if (status == SL_OK)
        status = make_kernels(r, err);
    if (status == SL_OK)
        status = count_outside(r, err);
    if (status != SL_OK) {
        sl_resampler_free(r);
        return status;
    }
    *out = r;
    return SL_OK;
}

void sl_resampler_free(sl_resampler *resampler)
{
    if (resampler == NULL)
        return;
    for (size_t s = 0; resampler->kernel != NULL && s < SL_SCALE_STEPS; s++)
        sl_kernel_clear(&resampler->kernel[s]);
    free(resampler->kernel);
    sl_grid_clear(&resampler->grid);
    sl_levels_clear(&resampler->levels);
    sl_fixed_free(resampler->fixed);
    free(resampler);
}

sl_status sl_resampler_rows(const sl_resampler *resampler, size_t first, size_t count,
                            void *rows, size_t stride, sl_error *err)
{
    const sl_resampler *r = resampler;
    const size_t pixel = (size_t)r->shot->channels * (r->params.bits / 8);
    unsigned char *to = rows;
    work w;
    sl_status status;

    if (first > r->params.height || count > r->params.height - first)
        return sl_fail(err, SL_ERR_ARG, "resample", "rows %zu to %zu of %zu", first,
                       first + count, r->params.height);
    if (count == 0)
        return SL_OK;
    status = work_make(&w, r, err);
    if (status != SL_OK)
        return status;
    for (size_t row = 0; row < count; row += TILE_ROWS) {
        for (size_t column = 0; column < r->params.width; column += TILE_COLUMNS) {
            const area a = area_at(r, column, first + row, first + count);

            run_area(&w, r, a, to + row * stride + column * pixel, stride);
        }
    }
    work_clear(&w);
    return SL_OK;
}

double sl_resampler_outside(const sl_resampler *resampler)
{
    return resampler->outside;
}

void sl_resampler_force_path(sl_resampler *resampler, const sl_path *path)
{
    resampler->path = path;
}
