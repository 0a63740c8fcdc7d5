/*
 * Sharpness from what is on the page. Its edges alone say too little: paper has a thickness, and a
 * shadow beside it, that no lens makes sharper. Borders of prints, ink and the grain of pictures
 * are flat.
 *
 * In small windows all over the page the steepest place across and down is compared with the
 * whole change about it: a Gaussian blur of sigma s turns a step of height h into a slope of
 * h / (s sqrt(2 pi)). The sharpest fifth of the windows tells of the camera, the rest of what was
 * photographed.
 */
#include <math.h>
#include <stdlib.h>

#include "inspect/figures.h"

enum { GRID = 32, HALF = 14, LINES = 4, REACH = 8, ROOM = HALF + LINES, LEAST_WINDOWS = 12 };

static const double LEAST_CHANGE = 30;        /* codes: grain and noise have less */
static const double ROOT_TWO_PI = 2.5066282746310002;

/* Mean of the channels at a px, codes 0..255. */
static double code_at(const sl_image *shot, size_t x, size_t y)
{
    const unsigned char *row = shot->data + y * shot->stride;
    double sum = 0;

    for (size_t c = 0; c < shot->channels; c++) {
        const size_t i = x * shot->channels + c;

        sum += shot->bits == 8 ? row[i] : ((const uint16_t *)(const void *)row)[i] / 257.0;
    }
    return sum / shot->channels;
}

/*
 * Blur of the steepest place on a line of px through x, y; 0 when there is no step on it.
 * across  true: the line runs along x
 */
static double line_blur(const sl_image *shot, size_t x, size_t y, bool across)
{
    double value[2 * HALF + 1];
    double steepest = 0;
    double low = INFINITY;
    double high = -INFINITY;
    int at = 0;

    for (int k = -HALF; k <= HALF; k++)
        value[k + HALF] = across ? code_at(shot, (size_t)((long)x + k), y)
                                 : code_at(shot, x, (size_t)((long)y + k));
    for (int k = REACH; k <= 2 * HALF - REACH; k++) {
        const double slope = fabs(value[k + 1] - value[k - 1]) / 2;

        if (slope > steepest) {
            steepest = slope;
            at = k;
        }
    }
    for (int k = at - REACH; k <= at + REACH && steepest > 0; k++) {
        low = fmin(low, value[k]);
        high = fmax(high, value[k]);
    }
    return high - low >= LEAST_CHANGE ? (high - low) / (steepest * ROOT_TWO_PI) : 0;
}

double sl_figure_print_blur(const sl_image *shot, const sl_page_map *map)
{
    double blur[2][GRID * GRID];
    size_t count[2] = { 0, 0 };
    double worst = 0;

    for (int v = 0; v < GRID; v++) {
        for (int u = 0; u < GRID; u++) {
            const sl_point p = sl_page_map_point(map, map->page[0] * (u + 0.5) / GRID,
                                                 map->page[1] * (v + 0.5) / GRID);

            if (!(p.x > ROOM && p.y > ROOM && p.x < (double)shot->width - ROOM - 1
                  && p.y < (double)shot->height - ROOM - 1))
                continue;
            for (int across = 0; across < 2; across++) {
                /* five lines: the window's sharpest */
                double best = 0;

                for (int k = -LINES; k <= LINES; k += 2) {
                    const double b = line_blur(shot, (size_t)((long)p.x + (across ? 0 : k)),
                                               (size_t)((long)p.y + (across ? k : 0)),
                                               across != 0);

                    if (b > 0 && (best <= 0 || b < best))
                        best = b;
                }
                if (best > 0)
                    blur[across][count[across]++] = best;
            }
        }
    }
    for (int k = 0; k < 2; k++) {
        if (count[k] < LEAST_WINDOWS)
            return INFINITY;
        qsort(blur[k], count[k], sizeof **blur, sl_by_double);
        worst = fmax(worst, blur[k][count[k] / 5]);
    }
    return worst;
}
