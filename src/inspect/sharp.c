/*
 * Sharpness from what is on the page. Its edges alone say too little: paper has a thickness, and a
 * shadow beside it, that no lens makes sharper. Borders of prints, ink and the grain of pictures
 * are flat. The sharpest fifth of small windows all over the page tells of the camera, the rest of
 * what was photographed.
 */
#include <math.h>
#include <stdlib.h>

#include "base/blur.h"
#include "inspect/figures.h"

enum { GRID = 32, LEAST_WINDOWS = 12 };

double sl_figure_print_blur(const sl_image *shot, const sl_page_map *map)
{
    double blur[2][GRID * GRID];
    size_t count[2] = { 0, 0 };
    double worst = 0;

    for (int v = 0; v < GRID; v++) {
        for (int u = 0; u < GRID; u++) {
            const sl_point p = sl_page_map_point(map, map->page[0] * (u + 0.5) / GRID,
                                                 map->page[1] * (v + 0.5) / GRID);

            if (!(p.x > SL_WINDOW_ROOM && p.y > SL_WINDOW_ROOM
                  && p.x < (double)shot->width - SL_WINDOW_ROOM - 1
                  && p.y < (double)shot->height - SL_WINDOW_ROOM - 1))
                continue;
            for (int across = 0; across < 2; across++) {
                const double b = sl_window_blur(shot, (sl_point){ floor(p.x), floor(p.y) },
                                                (sl_point){ across, 1 - across });

                if (b > 0)
                    blur[across][count[across]++] = b;
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
