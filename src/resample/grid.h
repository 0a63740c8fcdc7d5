/* The map from output to shot on a grid of few nodes, since asking the map itself is costly. */
#ifndef SL_RESAMPLE_GRID_H
#define SL_RESAMPLE_GRID_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "squareleaf.h"

typedef struct sl_grid {
    sl_map_fn map;           /* borrowed */
    const void *ctx;
    size_t    width;         /* of the output, px */
    size_t    height;
    size_t    columns;       /* cells, >= 3 */
    size_t    rows;
    double    cell_width;    /* output px */
    double    cell_height;
    bool      direct;        /* the map is not smooth enough for a grid: asked at each pixel */
    double    error_px;      /* greatest of the measured errors; 0 when direct */
    size_t    asked;         /* evaluations of the map while the grid was made */
    sl_point *node;          /* (rows + 1) x (columns + 1), shot px */
    uint16_t *scale_x;       /* rows x columns: sl_scale_step() of the kernel along the shot's x */
    uint16_t *scale_y;
} sl_grid;

/* The shot's size says where accuracy matters. */
sl_status sl_grid_make(sl_grid *out, sl_map_fn map, const void *ctx, size_t width, size_t height,
                       size_t shot_width, size_t shot_height, sl_error *err);
void sl_grid_clear(sl_grid *grid);

/* First output column, or row, of a cell; one past the last for the cell past the last. */
size_t sl_grid_column(const sl_grid *grid, size_t cell);
size_t sl_grid_row(const sl_grid *grid, size_t cell);
size_t sl_grid_cell_of_column(const sl_grid *grid, size_t column);
size_t sl_grid_cell_of_row(const sl_grid *grid, size_t row);

/*
 * The map in one cell as a polynomial: the coefficient of s^j t^i is [j][i], for
 * s = row / cell_height - cell_row and t = column / cell_width - cell_column.
 */
typedef struct sl_patch {
    size_t column;           /* cells */
    size_t row;
    double x[4][4];
    double y[4][4];
} sl_patch;

/* Not for a direct grid. */
void sl_grid_patch(sl_patch *out, const sl_grid *grid, size_t cell_row, size_t cell_column);

/* One output row inside a cell: coefficients of 1, t, t^2, t^3. */
typedef struct sl_cubic {
    double x[4];
    double y[4];
} sl_cubic;

void sl_patch_cubic(sl_cubic *out, const sl_patch *patch, const sl_grid *grid, double row);

/* A box in the shot. */
typedef struct sl_box {
    double left;
    double top;
    double right;
    double bottom;
} sl_box;

/*
 * Holds the places of all pixels in columns .. and rows .. (last ones included) of a patch: the
 * hull of its Bernstein coefficients there, which holds a polynomial patch.
 */
sl_box sl_patch_box(const sl_patch *patch, const sl_grid *grid, size_t first_column,
                    size_t last_column, size_t first_row, size_t last_row);

/* Place of an output pixel in the shot, as the resampler sees it. */
sl_point sl_grid_point(const sl_grid *grid, double column, double row);

#endif
