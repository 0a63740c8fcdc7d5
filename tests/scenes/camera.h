/* Sheet and camera of a scene: page mm -> shot px and back. */
#ifndef SCENES_CAMERA_H
#define SCENES_CAMERA_H

#include "scenes/scene.h"

enum { PROFILE_STEPS = 2048 };

typedef struct scene_camera {
    const scene *scene;
    double       rotation[9];
    double       distance;   /* mm from the camera to the page's middle */
    double       x[PROFILE_STEPS + 1]; /* of the profile at equal steps of arc length, mm */
    double       z[PROFILE_STEPS + 1]; /* height above the table, mm */
    double       length;     /* of the profile, mm */
} scene_camera;

void scene_camera_set(scene_camera *out, const scene *s);

/* Page mm to shot px. */
sl_point scene_camera_page(const scene_camera *c, double u, double v);

/* The page point seen at a shot px, by Newton's method from a guess that it improves; false when
   it does not converge. Points somewhat off the page are found too. */
bool scene_camera_see(const scene_camera *c, sl_point px, double uv[2]);

/* The point of the table under a shot px, mm in the page's own directions. */
sl_point scene_camera_table(const scene_camera *c, sl_point px);

#endif
