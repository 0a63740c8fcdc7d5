/* Chance that depends on place alone: textures that look the same at every resolution. */
#ifndef SCENES_CHANCE_H
#define SCENES_CHANCE_H

#include <stdint.h>

#include "scenes/maths.h"

/* A number in 0..1 for a lattice point. Multiply and xor-shift, as in MurmurHash3's finaliser
   (Appleby, public domain). */
static inline float scene_lattice(uint32_t seed, int x, int y)
{
    uint32_t h = seed ^ (uint32_t)x * 0x8da6b343u ^ (uint32_t)y * 0xd8163841u;

    h ^= h >> 16;
    h *= 0x85ebca6bu;
    h ^= h >> 13;
    h *= 0xc2b2ae35u;
    h ^= h >> 16;
    return (float)(h >> 8) * (1.0f / 16777216.0f);
}

/* Value noise, period 1, in 0..1. */
static inline float scene_noise(uint32_t seed, float x, float y)
{
    const int i = whole(x);
    const int j = whole(y);
    const float u = x - (float)i;
    const float v = y - (float)j;
    const float a = u * u * (3 - 2 * u);
    const float b = v * v * (3 - 2 * v);
    const float top = scene_lattice(seed, i, j) * (1 - a) + scene_lattice(seed, i + 1, j) * a;
    const float low = scene_lattice(seed, i, j + 1) * (1 - a)
                      + scene_lattice(seed, i + 1, j + 1) * a;

    return top * (1 - b) + low * b;
}

/* Octaves of it, each of half the period and half the weight; in 0..1. */
static inline float scene_clouds(uint32_t seed, float x, float y, int octaves)
{
    float sum = 0;
    float weight = 0.5f;
    float all = 0;

    for (int k = 0; k < octaves; k++) {
        sum += weight * scene_noise(seed + (uint32_t)k * 101u, x, y);
        all += weight;
        weight *= 0.5f;
        x = 2 * x + 17.3f;
        y = 2 * y + 31.7f;
    }
    return sum / all;
}

#endif
