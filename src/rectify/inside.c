#include "rectify/inside.h"

#include <math.h>

/* A grid this fine meets the largest error of a smooth map within a few per cent. */
enum { GRID = 9 };

static double grid_place(size_t i)
{
    return (double)i / (GRID - 1) - 0.5;
}

double sl_inside_sigma(const sl_page_map *map, const double *covariance, const size_t *index,
                       size_t n, sl_fit_work *work)
{
    double worst = 0.0;
    sl_view view;

    sl_fit_view(&view, map, work);
    for (size_t k = 0; k < GRID * GRID; k++) {
        const double p = grid_place(k % GRID);
        const double q = grid_place(k / GRID);
        double dx[SL_P_COUNT];
        double dy[SL_P_COUNT];
        double j[4];
        double du[SL_P_COUNT];
        double dv[SL_P_COUNT];
        double uu = 0.0;
        double uv = 0.0;
        double vv = 0.0;

        (void)sl_view_derivative(dx, dy, j, &view, p, q);

        /* px back to the page */
        const double det = j[0] * j[3] - j[1] * j[2];

        for (size_t i = 0; i < n; i++) {
            const double x = dx[index[i]];
            const double y = dy[index[i]];

            du[i] = (j[3] * x - j[1] * y) / det * map->page[0];
            dv[i] = (j[0] * y - j[2] * x) / det * map->page[1];
        }
        for (size_t i = 0; i < n; i++) {
            double u = 0.0;
            double v = 0.0;

            for (size_t m = 0; m < n; m++) {
                u += covariance[i * n + m] * du[m];
                v += covariance[i * n + m] * dv[m];
            }
            uu += du[i] * u;
            uv += dv[i] * u;
            vv += dv[i] * v;
        }
        /* variance in the worst direction */
        worst = fmax(worst, 0.5 * (uu + vv) + hypot(0.5 * (uu - vv), uv));
    }
    return sqrt(worst);
}

double sl_inside_distance(const sl_page_map *map, const sl_page_map *other)
{
    double worst = 0.0;
    sl_view view;
    sl_view twin;

    sl_view_set(&view, map, NULL);
    sl_view_set(&twin, other, NULL);
    for (size_t k = 0; k < GRID * GRID; k++) {
        double j[4];
        const double p = grid_place(k % GRID);
        const double q = grid_place(k / GRID);
        const sl_point a = sl_view_point(j, NULL, &view, p, q);
        const sl_point b = sl_view_point(NULL, NULL, &twin, p, q);
        const double det = j[0] * j[3] - j[1] * j[2];
        const double u = (j[3] * (b.x - a.x) - j[1] * (b.y - a.y)) / det * map->page[0];
        const double v = (j[0] * (b.y - a.y) - j[2] * (b.x - a.x)) / det * map->page[1];

        worst = fmax(worst, hypot(u, v));
    }
    return worst;
}

double sl_inside_unit(const sl_page_map *map)
{
    double sum = 0.0;
    sl_view view;

    sl_view_set(&view, map, NULL);
    for (size_t k = 0; k < GRID * GRID; k++) {
        double j[4];

        (void)sl_view_point(j, NULL, &view, grid_place(k % GRID), grid_place(k / GRID));
        sum += sqrt(fabs(j[0] * j[3] - j[1] * j[2]) / (map->page[0] * map->page[1]));
    }
    return GRID * GRID / sum;
}
