/* Linear colours, and how one lies over another. */
#ifndef SCENES_COLOUR_H
#define SCENES_COLOUR_H

#include "scenes/maths.h"

typedef struct scene_colour {
    float r;
    float g;
    float b;
} scene_colour;

static inline scene_colour scene_rgb(float r, float g, float b)
{
    return (scene_colour){ r, g, b };
}

/* From a coded value such as 0xc8a878: sRGB's curve by a cubic, within 0.002 (fitted; common
   practice), which the compiler works out beforehand. */
static inline scene_colour scene_coded(unsigned rgb)
{
    float c[3];

    for (int k = 0; k < 3; k++) {
        const float v = (float)(rgb >> (16 - 8 * k) & 255u) / 255.0f;

        c[k] = v * (0.0125f + v * (0.6822f + v * 0.3053f));
    }
    return scene_rgb(c[0], c[1], c[2]);
}

static inline float scene_clamp(float v)
{
    return v < 0 ? 0 : v > 1 ? 1 : v;
}

/* 0 below a, 1 above b, smooth between. */
static inline float scene_step(float a, float b, float v)
{
    const float t = scene_clamp((v - a) / (b - a));

    return t * t * (3 - 2 * t);
}

static inline scene_colour scene_mix(scene_colour a, scene_colour b, float t)
{
    return scene_rgb(a.r + t * (b.r - a.r), a.g + t * (b.g - a.g), a.b + t * (b.b - a.b));
}

static inline scene_colour scene_dim(scene_colour a, float by)
{
    return scene_rgb(a.r * by, a.g * by, a.b * by);
}

#endif
