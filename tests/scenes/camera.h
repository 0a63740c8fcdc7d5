/* The camera of a scene: space -> shot px, and back to the table or to a sheet. */
#ifndef SCENES_CAMERA_H
#define SCENES_CAMERA_H

#include "scenes/sheet.h"

typedef struct scene_camera {
    double rotation[9];
    double centre[2];        /* principal point, px */
    double shift[2];
    double focal;            /* px */
    double distance;         /* mm from the camera to the middle of the page's plane */
    double k1;
    double k2;
} scene_camera;

void scene_camera_set(scene_camera *out, const scene *s);

/* Table mm and height (upwards, towards the camera) to shot px. False behind the camera. */
bool scene_camera_project(sl_point *px, const scene_camera *camera, const double xyz[3]);

/* The point of the plane z = height under a shot px. False when the ray misses it. */
bool scene_camera_plane(double xy[2], const scene_camera *camera, sl_point px, double height);

/*
 * The point of a sheet seen at a shot px, to 1e-3 px, by Newton's method.
 * uv     in: a guess; out: page mm; off the page it goes straight on
 */
bool scene_camera_sheet(double uv[2], const scene_camera *camera, const scene_shape *shape,
                        sl_point px);

/* Page mm to shot px. */
bool scene_camera_page(sl_point *px, const scene_camera *camera, const scene_shape *shape,
                       double u, double v);

#endif
