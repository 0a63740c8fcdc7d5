/* Lamps, and the shadows that sheets throw. */
#ifndef SCENES_LIGHT_H
#define SCENES_LIGHT_H

#include "scenes/sheet.h"

typedef struct scene_lamps {
    double place[2][3];      /* table mm, z up */
    double power[2];
    double ambient;
    double shadow;           /* depth of the sheets' shadows, 0..1 */
    double size;             /* radius over distance */
    double bar;              /* a shadow across everything */
    double bar_c;
    double bar_s;
    double bar_at;
    double bar_soft;
} scene_lamps;

void scene_lamps_set(scene_lamps *out, const scene *s);

/* Light of each lamp on a surface; with the ambient light 1 in all at the middle of the table. */
void scene_lamps_at(double light[2], const scene_lamps *lamps, const double xyz[3],
                    const double normal[3]);

/* mm beyond the sheet that its shadow may reach; `below` as in scene_shadow(). */
double scene_shadow_reach(const scene_shape *shape, double below);

/*
 * Share of the light that is left at a place beside a sheet, in the sheet's own shadow.
 * u, v     page mm of the place, as if the page went on
 * outside  of the sheet there, mm
 * light    of each lamp there
 * below    mm of the place under the sheet's lowest point
 */
double scene_shadow(const scene_lamps *lamps, const scene_shape *shape, double u, double v,
                    double outside, const double light[2], double below);

#endif
