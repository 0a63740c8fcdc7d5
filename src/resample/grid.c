/*
 * Bicubic Lagrange interpolation between nodes: in each direction the cubic through the four
 * nearest nodes, at the ends through the four last ones, so that the map is never asked outside
 * the output. Its error falls with the fourth power of the step, and is greatest about the middle
 * of a cell: there the grid is compared with the map itself, cell by cell, and the step halved
 * until it holds.
 */
#include "resample/grid.h"

#include <math.h>
#include <stdlib.h>

#include "base/error.h"
#include "base/size.h"
#include "resample/kernel.h"

/* Half of the error that is allowed anywhere, for what lies between the places measured. */
static const double TOLERANCE_PX = 0.005;

/* Steps tried, output px. Below the last the map is asked for each pixel instead. */
static const size_t STEPS[] = { 64, 32, 16, 8 };

/* Where the map lies this far outside the shot, only that it is outside counts. */
static const double FRAME_PX = 8.0;

/* ---- interpolation --------------------------------------------------------------------------- */

/*
 * Coefficients of the cubic through p[0..3] at u = 0, 1, 2, 3 (Newton's forward differences,
 * collected), shifted to t = u - offset.
 */
static void cubic_through(double c[4], const double p[4], double offset)
{
    const double c1 = (-11.0 * p[0] + 18.0 * p[1] - 9.0 * p[2] + 2.0 * p[3]) / 6.0;
    const double c2 = (2.0 * p[0] - 5.0 * p[1] + 4.0 * p[2] - p[3]) / 2.0;
    const double c3 = (-p[0] + 3.0 * p[1] - 3.0 * p[2] + p[3]) / 6.0;

    c[0] = p[0] + offset * (c1 + offset * (c2 + offset * c3));
    c[1] = c1 + offset * (2.0 * c2 + offset * 3.0 * c3);
    c[2] = c2 + 3.0 * offset * c3;
    c[3] = c3;
}

static double cubic_at(const double c[4], double t)
{
    return c[0] + t * (c[1] + t * (c[2] + t * c[3]));
}

/* First of the four nodes that serve a cell. */
static size_t first_node(size_t cell, size_t cells)
{
    return cell == 0 ? 0 : cell - 1 > cells - 3 ? cells - 3 : cell - 1;
}

void sl_grid_patch(sl_patch *out, const sl_grid *grid, size_t cell_row, size_t cell_column)
{
    const size_t top = first_node(cell_row, grid->rows);
    const size_t left = first_node(cell_column, grid->columns);
    double x[4][4];          /* [j][i]: coefficient of t^i along node row top + j */
    double y[4][4];

    out->row = cell_row;
    out->column = cell_column;
    for (size_t j = 0; j < 4; j++) {
        const sl_point *node = &grid->node[(top + j) * (grid->columns + 1) + left];
        const double px[4] = { node[0].x, node[1].x, node[2].x, node[3].x };
        const double py[4] = { node[0].y, node[1].y, node[2].y, node[3].y };

        cubic_through(x[j], px, (double)(cell_column - left));
        cubic_through(y[j], py, (double)(cell_column - left));
    }
    for (size_t i = 0; i < 4; i++) {
        const double px[4] = { x[0][i], x[1][i], x[2][i], x[3][i] };
        const double py[4] = { y[0][i], y[1][i], y[2][i], y[3][i] };
        double cx[4];
        double cy[4];

        cubic_through(cx, px, (double)(cell_row - top));
        cubic_through(cy, py, (double)(cell_row - top));
        for (size_t j = 0; j < 4; j++) {
            out->x[j][i] = cx[j];
            out->y[j][i] = cy[j];
        }
    }
}

void sl_patch_cubic(sl_cubic *out, const sl_patch *patch, const sl_grid *grid, double row)
{
    const double s = row / grid->cell_height - (double)patch->row;

    for (size_t i = 0; i < 4; i++) {
        out->x[i] = patch->x[0][i]
                    + s * (patch->x[1][i] + s * (patch->x[2][i] + s * patch->x[3][i]));
        out->y[i] = patch->y[0][i]
                    + s * (patch->y[1][i] + s * (patch->y[2][i] + s * patch->y[3][i]));
    }
}

/* Bernstein coefficients over [from, to] of the cubic with the coefficients c. */
static void bernstein(double b[4], const double c[4], double from, double to)
{
    const double h = to - from;
    const double a0 = cubic_at(c, from);
    const double a1 = h * (c[1] + from * (2.0 * c[2] + from * 3.0 * c[3]));
    const double a2 = h * h * (c[2] + 3.0 * from * c[3]);
    const double a3 = h * h * h * c[3];

    b[0] = a0;
    b[1] = a0 + a1 / 3.0;
    b[2] = a0 + (2.0 * a1 + a2) / 3.0;
    b[3] = a0 + a1 + a2 + a3;
}

static void hull(double *least, double *most, const double c[4][4], const double s[2],
                 const double t[2])
{
    double along[4][4];
    double low = INFINITY;
    double high = -INFINITY;

    for (size_t j = 0; j < 4; j++)
        bernstein(along[j], c[j], t[0], t[1]);
    for (size_t i = 0; i < 4; i++) {
        const double down[4] = { along[0][i], along[1][i], along[2][i], along[3][i] };
        double b[4];

        bernstein(b, down, s[0], s[1]);
        /* fmin and fmax are calls into a library: too slow for a bent page's many small cells */
        for (size_t j = 0; j < 4; j++) {
            low = b[j] < low ? b[j] : low;
            high = b[j] > high ? b[j] : high;
        }
    }
    *least = low;
    *most = high;
}

sl_box sl_patch_box(const sl_patch *patch, const sl_grid *grid, size_t first_column,
                    size_t last_column, size_t first_row, size_t last_row)
{
    const double t[2] = { (double)first_column / grid->cell_width - (double)patch->column,
                          (double)last_column / grid->cell_width - (double)patch->column };
    const double s[2] = { (double)first_row / grid->cell_height - (double)patch->row,
                          (double)last_row / grid->cell_height - (double)patch->row };
    sl_box box;

    hull(&box.left, &box.right, patch->x, s, t);
    hull(&box.top, &box.bottom, patch->y, s, t);
    return box;
}

/* ---- pixels and cells ------------------------------------------------------------------------ */

static size_t start_of(size_t cell, size_t cells, double step, size_t end)
{
    const double first = ceil((double)cell * step);

    return cell >= cells || first > (double)end ? end : (size_t)first;
}

/* The cell whose pixels, by start_of(), hold this one. */
static size_t cell_of(size_t pixel, size_t cells, double step, size_t end)
{
    size_t cell = (size_t)((double)pixel / step);

    cell = cell < cells ? cell : cells - 1;
    while (cell > 0 && start_of(cell, cells, step, end) > pixel)
        cell--;
    while (cell + 1 < cells && start_of(cell + 1, cells, step, end) <= pixel)
        cell++;
    return cell;
}

size_t sl_grid_column(const sl_grid *grid, size_t cell)
{
    return start_of(cell, grid->columns, grid->cell_width, grid->width);
}

size_t sl_grid_row(const sl_grid *grid, size_t cell)
{
    return start_of(cell, grid->rows, grid->cell_height, grid->height);
}

size_t sl_grid_cell_of_column(const sl_grid *grid, size_t column)
{
    return cell_of(column, grid->columns, grid->cell_width, grid->width);
}

size_t sl_grid_cell_of_row(const sl_grid *grid, size_t row)
{
    return cell_of(row, grid->rows, grid->cell_height, grid->height);
}

sl_point sl_grid_point(const sl_grid *grid, double column, double row)
{
    sl_patch patch;
    sl_cubic cubic;
    double t;

    if (grid->direct)
        return grid->map(grid->ctx, column, row);
    sl_grid_patch(&patch, grid, sl_grid_cell_of_row(grid, (size_t)row),
                  sl_grid_cell_of_column(grid, (size_t)column));
    sl_patch_cubic(&cubic, &patch, grid, row);
    t = column / grid->cell_width - (double)patch.column;
    return (sl_point){ cubic_at(cubic.x, t), cubic_at(cubic.y, t) };
}

/* ---- making it ------------------------------------------------------------------------------- */

static bool is_finite(sl_point p)
{
    return isfinite(p.x) && isfinite(p.y);
}

static sl_status place_nodes(sl_grid *grid, size_t step, sl_error *err)
{
    /* The last node is the last pixel; an output of one pixel still needs a cell. */
    const double wide = grid->width > 1 ? (double)(grid->width - 1) : 1.0;
    const double high = grid->height > 1 ? (double)(grid->height - 1) : 1.0;
    size_t nodes;

    grid->columns = (size_t)fmax(ceil(wide / (double)step), 3.0);
    grid->rows = (size_t)fmax(ceil(high / (double)step), 3.0);
    grid->cell_width = wide / (double)grid->columns;
    grid->cell_height = high / (double)grid->rows;
    free(grid->node);
    grid->node = NULL;
    if (sl_size_mul(&nodes, grid->columns + 1, grid->rows + 1)
        && nodes <= SIZE_MAX / sizeof *grid->node)
        grid->node = malloc(nodes * sizeof *grid->node);
    if (grid->node == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "resample", "no memory for a grid of %zu x %zu nodes",
                       grid->columns + 1, grid->rows + 1);
    for (size_t j = 0; j <= grid->rows; j++) {
        for (size_t i = 0; i <= grid->columns; i++)
            grid->node[j * (grid->columns + 1) + i] =
                grid->map(grid->ctx, (double)i * grid->cell_width,
                          (double)j * grid->cell_height);
    }
    grid->asked += nodes;
    return SL_OK;
}

/* Whether the grid agrees with the map at the middle of every cell. */
static bool holds(sl_grid *grid, size_t shot_width, size_t shot_height)
{
    const size_t nodes = (grid->columns + 1) * (grid->rows + 1);

    grid->error_px = 0.0;
    for (size_t n = 0; n < nodes; n++) {
        if (!is_finite(grid->node[n]))
            return false;
    }
    for (size_t j = 0; j < grid->rows; j++) {
        for (size_t i = 0; i < grid->columns; i++) {
            const double column = ((double)i + 0.5) * grid->cell_width;
            const double row = ((double)j + 0.5) * grid->cell_height;
            const sl_point want = grid->map(grid->ctx, column, row);
            sl_patch patch;
            sl_cubic at;
            double error;

            sl_grid_patch(&patch, grid, j, i);
            sl_patch_cubic(&at, &patch, grid, row);
            error = hypot(cubic_at(at.x, 0.5) - want.x, cubic_at(at.y, 0.5) - want.y);
            grid->asked++;
            if (!is_finite(want))
                return false;
            if (want.x < -FRAME_PX || want.x > (double)shot_width + FRAME_PX
                || want.y < -FRAME_PX || want.y > (double)shot_height + FRAME_PX)
                continue;
            grid->error_px = fmax(grid->error_px, error);
            if (!(error <= TOLERANCE_PX))
                return false;
        }
    }
    return true;
}

/*
 * How far an output pixel reaches in the shot: the half axes, along the shot's x and y, of the
 * ellipse that the map makes of a circle (Heckbert 1989, 3.5). It does not grow when the map
 * turns. No scale passes the shot's own size: the kernel then holds all of it.
 */
static sl_status choose_scales(sl_grid *grid, double shot_width, double shot_height,
                               sl_error *err)
{
    const size_t cells = grid->columns * grid->rows;
    const double widest_x = fmin(shot_width, SL_SCALE_MAX);
    const double widest_y = fmin(shot_height, SL_SCALE_MAX);

    grid->scale_x = malloc(cells * sizeof *grid->scale_x);
    grid->scale_y = malloc(cells * sizeof *grid->scale_y);
    if (grid->scale_x == NULL || grid->scale_y == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "resample", "no memory for %zu cells", cells);
    for (size_t j = 0; j < grid->rows; j++) {
        for (size_t i = 0; i < grid->columns; i++) {
            const sl_point *a = &grid->node[j * (grid->columns + 1) + i];
            const sl_point *b = a + grid->columns + 1;
            const double across = 2.0 * grid->cell_width;
            const double down = 2.0 * grid->cell_height;
            const double xi = (a[1].x - a[0].x + b[1].x - b[0].x) / across;
            const double yi = (a[1].y - a[0].y + b[1].y - b[0].y) / across;
            const double xj = (b[0].x - a[0].x + b[1].x - a[1].x) / down;
            const double yj = (b[0].y - a[0].y + b[1].y - a[1].y) / down;

            const bool whole = is_finite(a[0]) && is_finite(a[1]) && is_finite(b[0])
                               && is_finite(b[1]);
            const double wide_x = whole ? fmin(SL_WIDENING * hypot(xi, xj), widest_x) : 1.0;
            const double wide_y = whole ? fmin(SL_WIDENING * hypot(yi, yj), widest_y) : 1.0;

            grid->scale_x[j * grid->columns + i] = (uint16_t)sl_scale_step(wide_x);
            grid->scale_y[j * grid->columns + i] = (uint16_t)sl_scale_step(wide_y);
        }
    }
    return SL_OK;
}

sl_status sl_grid_make(sl_grid *out, sl_map_fn map, const void *ctx, size_t width, size_t height,
                       size_t shot_width, size_t shot_height, sl_error *err)
{
    sl_grid grid = { .map = map, .ctx = ctx, .width = width, .height = height, .direct = true };
    sl_status status = SL_OK;

    for (size_t s = 0; s < sizeof STEPS / sizeof STEPS[0] && grid.direct; s++) {
        status = place_nodes(&grid, STEPS[s], err);
        if (status != SL_OK)
            goto failed;
        grid.direct = !holds(&grid, shot_width, shot_height);
    }
    if (grid.direct)
        grid.error_px = 0.0;
    status = choose_scales(&grid, (double)shot_width, (double)shot_height, err);
    if (status != SL_OK)
        goto failed;
    *out = grid;
    return SL_OK;
failed:
    sl_grid_clear(&grid);
    return status;
}

void sl_grid_clear(sl_grid *grid)
{
    free(grid->node);
    free(grid->scale_x);
    free(grid->scale_y);
    grid->node = NULL;
    grid->scale_x = NULL;
    grid->scale_y = NULL;
}
