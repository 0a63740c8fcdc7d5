/* From light to codes: blur, noise, sRGB. */
#ifndef SCENES_SENSOR_H
#define SCENES_SENSOR_H

#include "scenes/scene.h"

/*
 * Develops linear light into an 8-bit sRGB image.
 * light  width x height x 3, row by row; used up
 * SL_ERR_NOMEM or SL_ERR_ARG (a blur beyond reach).
 */
sl_status scene_develop(sl_image **out, float *light, const scene *s, sl_error *err);

#endif
