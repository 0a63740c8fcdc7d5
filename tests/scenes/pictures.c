/*
 * What the prints show: landscapes and things, drawn by rule from simple shapes, soft noise and
 * a little perspective. Nobody's photographs, nobody's faces.
 *
 * Each motif paints from the back to the front. Lengths are in heights of the picture.
 */
#include "scenes/canvas.h"
#include "scenes/chance.h"

typedef struct place {
    float    x;              /* 0 .. a */
    float    y;              /* 0 .. 1, down */
    float    a;
    float    px;
    unsigned seed;
} place;

/* ---- brushes --------------------------------------------------------------------------------- */

/* Lays a colour over *p where a distance is below 0. A macro, so that the colour, often costly, is
   worked out only where it shows. */
#define PAINT(p, at, distance, colour) \
    do { \
        const float paint_d = (distance); \
 \
        if (paint_d < (at)->px) \
            *(p) = scene_mix(*(p), (colour), scene_clamp(0.5f - paint_d / (at)->px)); \
    } while (0)

static float disc(const place *at, float x, float y, float r)
{
    return length2f(at->x - x, at->y - y) - r;
}

static float ellipse(const place *at, float x, float y, float rx, float ry)
{
    return (length2f((at->x - x) / rx, (at->y - y) / ry) - 1) * smallerf(rx, ry);
}

static float box(const place *at, float x0, float y0, float x1, float y1)
{
    return largerf(fabsf(at->x - (x0 + x1) / 2) - (x1 - x0) / 2,
                 fabsf(at->y - (y0 + y1) / 2) - (y1 - y0) / 2);
}

/* Upright triangle over a base line, its tip at (x, top). */
static float tent(const place *at, float x, float top, float base, float half)
{
    const float slant = (fabsf(at->x - x) - half * (at->y - top) / (base - top))
                        * (base - top) / length2f(base - top, half);

    return largerf(slant, at->y - base);
}

static float line(const place *at, float x0, float y0, float x1, float y1, float width)
{
    const float dx = x1 - x0;
    const float dy = y1 - y0;
    const float t = scene_clamp(((at->x - x0) * dx + (at->y - y0) * dy) / (dx * dx + dy * dy));

    return length2f(at->x - x0 - t * dx, at->y - y0 - t * dy) - width / 2;
}

/* A skyline: y of its edge above x. */
static float ridge(unsigned seed, float x, float level, float height, float period)
{
    return level - height * scene_clouds(seed, x / period, 0.5f, 4);
}

static scene_colour foliage(const place *at, scene_colour leaf, float grain)
{
    /* aslant, so that the noise's lattice does not show */
    const float x = grain * (0.8f * at->x + 0.6f * at->y);
    const float y = grain * (0.8f * at->y - 0.6f * at->x);

    return scene_dim(leaf, 0.45f + 1.1f * scene_clouds(at->seed + 9, x, y, 3));
}

static void paint_tree(scene_colour *p, const place *at, float x, float base, float size,
                       scene_colour leaf)
{
    float d;

    if (fabsf(at->x - x) > 0.6f * size || at->y > base + size || at->y < base - 1.3f * size)
        return;
    PAINT(p, at, box(at, x - 0.05f * size, base - 0.4f * size, x + 0.05f * size, base),
          scene_coded(0x5b4330));
    d = ellipse(at, x, base - 0.68f * size, 0.40f * size, 0.48f * size)
        + 0.22f * size * (scene_clouds(at->seed + 3, at->x / (0.16f * size),
                                       at->y / (0.16f * size), 2) - 0.5f);
    PAINT(p, at, d, scene_dim(foliage(at, leaf, 9 / size),
                              0.8f + 0.5f * scene_clamp((x - at->x) / size + 0.4f)));
}

static void paint_boat(scene_colour *p, const place *at, float x, float y, float size,
                       scene_colour hull, scene_colour sail)
{
    if (fabsf(at->x - x) > size || fabsf(at->y - y) > 1.3f * size)
        return;
    PAINT(p, at, box(at, x - 0.012f * size, y - 1.05f * size, x + 0.012f * size, y),
          scene_coded(0x4a3a2c));
    PAINT(p, at, largerf(tent(at, x + 0.02f * size, y - 1.0f * size, y - 0.12f * size,
                              0.42f * size), x + 0.03f * size - at->x), sail);
    PAINT(p, at, largerf(tent(at, x - 0.02f * size, y - 0.85f * size, y - 0.12f * size,
                            0.30f * size), at->x - x + 0.03f * size), scene_dim(sail, 0.86f));
    PAINT(p, at, largerf(ellipse(at, x, y - 0.06f * size, 0.5f * size, 0.2f * size),
                       y - 0.06f * size - at->y), hull);
}

static scene_colour sky(const place *at, scene_colour high, scene_colour low, float horizon)
{
    const scene_colour p = scene_mix(high, low, scene_clamp(at->y / horizon));
    float c;

    if (at->y > horizon + 0.1f) /* hidden by the land */
        return p;
    c = scene_clouds(at->seed + 21, at->x * 2.2f, at->y * 6, 4);
    return scene_mix(p, scene_coded(0xf4f3f0), 0.85f * scene_step(0.52f, 0.78f, c));
}

static scene_colour water(const place *at, scene_colour near, scene_colour far, float horizon)
{
    const float depth = scene_clamp((at->y - horizon) / (1 - horizon));
    const float scale = 0.02f + 0.10f * depth;
    const float ripple = scene_clouds(at->seed + 33, at->x / (3 * scale), at->y / (0.35f * scale),
                                      2) - 0.5f;

    return scene_dim(scene_mix(far, near, depth), 1 + 0.7f * ripple);
}

/* ---- motifs ---------------------------------------------------------------------------------- */

static scene_colour lake(const place *at)
{
    const float sun = at->a * (0.25f + 0.5f * scene_lattice(at->seed, 1, 1));
    const float far = ridge(at->seed + 1, at->x, 0.50f, 0.30f, 0.45f);
    const float near = ridge(at->seed + 2, at->x, 0.56f, 0.20f, 0.25f);
    scene_colour p = sky(at, scene_coded(0x6d9fd0), scene_coded(0xf0dcc0), 0.5f);
    const float glow = length2f(at->x - sun, at->y - 0.2f);

    p = scene_mix(p, scene_coded(0xfff0c8), 0.8f * expf(-glow * glow / 0.02f));
    PAINT(&p, at, glow - 0.06f, scene_coded(0xfffbe8));
    PAINT(&p, at, far - at->y, scene_coded(0x8aa0b4));
    PAINT(&p, at, near - at->y, foliage(at, scene_coded(0x4d6b45), 26));
    if (at->y > 0.55f) {
        p = water(at, scene_coded(0x2e5f7c), scene_coded(0x9fbccb), 0.55f);
        p = scene_mix(p, scene_coded(0xfff3d0),
                      0.7f * scene_step(0.55f, 0.8f, scene_noise(at->seed + 5, at->x * 30,
                                                                 at->y * 120))
                          * expf(-(at->x - sun) * (at->x - sun) / 0.01f));
    }
    paint_boat(&p, at, 0.32f * at->a, 0.68f, 0.2f, scene_coded(0x8c3a2c), scene_coded(0xf3ead6));
    paint_boat(&p, at, 0.68f * at->a, 0.80f, 0.3f, scene_coded(0x2c4a7c), scene_coded(0xf6f2ea));
    PAINT(&p, at, ridge(at->seed + 6, at->x, 1.02f, 0.10f, 0.06f) - at->y,
          foliage(at, scene_coded(0x4a5a28), 60));
    return p;
}

static scene_colour house(const place *at)
{
    const float m = 0.52f * at->a;
    scene_colour p = sky(at, scene_coded(0x78a8dc), scene_coded(0xdce8f0), 0.65f);
    const scene_colour wall = scene_lattice(at->seed, 2, 2) < 0.5f ? scene_coded(0xe8d9b0)
                                                                  : scene_coded(0xd8c4bc);

    PAINT(&p, at, ridge(at->seed + 1, at->x, 0.66f, 0.2f, 0.4f) - at->y,
          foliage(at, scene_coded(0x6f8f6a), 30));
    PAINT(&p, at, 0.66f - at->y, foliage(at, scene_coded(0x6f9a48), 40));
    paint_tree(&p, at, m - 0.52f, 0.74f, 0.58f, scene_coded(0x4f7a38));
    paint_tree(&p, at, m + 0.56f, 0.72f, 0.46f, scene_coded(0x5c7f30));
    PAINT(&p, at, box(at, m + 0.14f, 0.14f, m + 0.2f, 0.36f), scene_coded(0x8a4f40));
    PAINT(&p, at, box(at, m - 0.3f, 0.42f, m + 0.3f, 0.76f),
          scene_dim(wall, 0.97f + 0.06f * scene_noise(at->seed, at->x * 60, at->y * 120)));
    PAINT(&p, at, tent(at, m, 0.17f, 0.44f, 0.37f),
          scene_dim(scene_coded(0x9c4a38), 0.8f + 0.3f * scene_noise(at->seed, at->x * 35,
                                                                     at->y * 70)));
    for (int i = -1; i <= 1; i += 2) {
        const float x = m + 0.17f * (float)i;

        PAINT(&p, at, box(at, x - 0.065f, 0.50f, x + 0.065f, 0.63f), scene_coded(0xf6f3ea));
        PAINT(&p, at, box(at, x - 0.052f, 0.513f, x + 0.052f, 0.617f), scene_coded(0x42566a));
        PAINT(&p, at, box(at, x - 0.005f, 0.51f, x + 0.005f, 0.62f), scene_coded(0xf6f3ea));
    }
    PAINT(&p, at, box(at, m - 0.05f, 0.57f, m + 0.05f, 0.76f), scene_coded(0x3f6048));
    PAINT(&p, at, disc(at, m + 0.032f, 0.67f, 0.007f), scene_coded(0xd8c060));
    PAINT(&p, at, largerf(fabsf(at->x - m) - 0.05f - 0.5f * (at->y - 0.76f), 0.76f - at->y),
          scene_dim(scene_coded(0xd4c3a0), 0.9f + 0.2f * scene_noise(at->seed, at->x * 50,
                                                                    at->y * 50)));
    if (fabsf(at->x - m) > 0.16f) {
        const float post = fabsf(wrapped(at->x, 0.07f) - 0.035f) - 0.014f;

        PAINT(&p, at, largerf(post, fabsf(at->y - 0.86f) - 0.075f), scene_coded(0xf2f0ea));
        PAINT(&p, at, fabsf(at->y - 0.84f) - 0.011f, scene_coded(0xe6e3da));
    }
    return p;
}

static scene_colour harbour(const place *at)
{
    const float tower = 0.80f * at->a;
    scene_colour p = sky(at, scene_coded(0x5f98cc), scene_coded(0xd8e6ec), 0.45f);
    float shaft;

    PAINT(&p, at, ridge(at->seed + 1, at->x, 0.46f, 0.10f, 0.8f) - at->y, scene_coded(0x8a9aa4));
    if (at->y > 0.45f)
        p = water(at, scene_coded(0x1f5a78), scene_coded(0x86b0bf), 0.45f);
    PAINT(&p, at, ellipse(at, tower, 0.62f, 0.32f, 0.13f)
                      + 0.06f * (scene_clouds(at->seed + 2, at->x * 16, at->y * 16, 2) - 0.5f),
          scene_dim(scene_coded(0x77706a), 0.6f + 0.7f * scene_clouds(at->seed, at->x * 22,
                                                                     at->y * 30, 3)));
    shaft = fabsf(at->x - tower) - 0.045f - 0.05f * (at->y - 0.16f);
    PAINT(&p, at, largerf(shaft, largerf(0.18f - at->y, at->y - 0.56f)),
          wrapped(at->y, 0.14f) < 0.07f ? scene_coded(0xf2efe8) : scene_coded(0xb03a30));
    PAINT(&p, at, box(at, tower - 0.035f, 0.11f, tower + 0.035f, 0.18f), scene_coded(0xf5e2a0));
    PAINT(&p, at, tent(at, tower, 0.06f, 0.115f, 0.05f), scene_coded(0x7c2a26));
    for (int i = 0; i < 5; i++) {
        const float t = scene_lattice(at->seed + 5, i, 0);

        paint_boat(&p, at, at->a * (0.07f + 0.14f * (float)i), 0.53f + 0.07f * (float)i,
                   0.12f + 0.05f * (float)i,
                   t < 0.5f ? scene_coded(0xa0402c) : scene_coded(0x2f4f44),
                   t < 0.3f ? scene_coded(0xd88a50) : scene_coded(0xf3efe6));
    }
    for (int i = 0; i < 5; i++) {
        const float x = at->a * (0.15f + 0.6f * scene_lattice(at->seed, i, 5));
        const float y = 0.08f + 0.2f * scene_lattice(at->seed, i, 6);

        PAINT(&p, at, fabsf(at->y - y + 0.018f * fabsf(sinf((at->x - x) * 60)))
                          - 0.004f + (fabsf(at->x - x) > 0.05f ? 1.0f : 0), scene_coded(0x3c4248));
    }
    return p;
}

static void paint_kite(scene_colour *p, const place *at, float x, float y, float size,
                       scene_colour a, scene_colour b)
{
    const float dx = at->x - x - 0.3f * (at->y - y);
    const float dy = at->y - y;
    const float d = (fabsf(dx) * 1.5f + (dy < 0 ? -dy * 1.3f : dy * 0.8f) - size) * 0.6f;
    const float tail = fabsf(dx + 0.03f * sinf(dy * 40) - 0.1f * dy) - 0.005f;

    if (dy > size && dy < 3.2f * size)
        PAINT(p, at, wrapped(dy, 0.06f) < 0.03f ? tail - 0.008f : tail, b);
    PAINT(p, at, d, (dx < 0) != (dy < 0) ? a : b);
    PAINT(p, at, largerf(d, fabsf(dx) - 0.004f), scene_coded(0x5a4632));
}

static scene_colour kites(const place *at)
{
    const float hill = 0.80f - 0.22f * expf(-3 * (at->x / at->a - 0.3f) * (at->x / at->a - 0.3f))
                       - 0.015f * scene_noise(at->seed, at->x * 40, 0);
    scene_colour p = sky(at, scene_coded(0x4f93d8), scene_coded(0xcfe4f2), 0.85f);

    PAINT(&p, at, ridge(at->seed + 1, at->x, 0.82f, 0.16f, 0.5f) - at->y, scene_coded(0x9ab0a8));
    PAINT(&p, at, hill - at->y,
          scene_dim(foliage(at, scene_coded(0x86a848), 34), 1.15f - 0.6f * (at->y - hill)));
    paint_tree(&p, at, 0.86f * at->a, 0.86f, 0.3f, scene_coded(0x4c7038));
    paint_kite(&p, at, 0.30f * at->a, 0.24f, 0.11f, scene_coded(0xd04030), scene_coded(0xf0c840));
    paint_kite(&p, at, 0.58f * at->a, 0.14f, 0.075f, scene_coded(0x3058b0),
               scene_coded(0xf2f0e8));
    paint_kite(&p, at, 0.80f * at->a, 0.33f, 0.09f, scene_coded(0x3a8a50), scene_coded(0xe87838));
    return p;
}

static scene_colour orchard(const place *at)
{
    const scene_colour leaf = scene_coded(0x5a8a34);
    scene_colour p = sky(at, scene_coded(0x84b4e4), scene_coded(0xe8f0f4), 0.5f);

    PAINT(&p, at, ridge(at->seed + 1, at->x, 0.5f, 0.16f, 0.5f) - at->y, scene_coded(0x7f9f86));
    PAINT(&p, at, 0.5f - at->y,
          scene_dim(foliage(at, scene_coded(0x7a9c44), 30), 0.7f + 0.5f * at->y));
    for (int row = 0; row < 4; row++) {
        const float y = 0.54f + 0.13f * (float)row;
        const float size = 0.16f + 0.11f * (float)row;

        for (int i = -1; i < 8; i++) {
            const float x = at->a / 2 + size * 0.95f * ((float)i - 3 + 0.5f * (float)(row % 2));

            if (fabsf(at->x - x) > 0.6f * size || at->y > y + 0.05f)
                continue;
            PAINT(&p, at, ellipse(at, x, y, 0.4f * size, 0.05f * size), scene_coded(0x4a6a2c));
            paint_tree(&p, at, x, y, size, leaf);
            for (int k = 0; k < 7; k++) {
                const float u = scene_lattice(at->seed + (unsigned)row, 9 * i + k, 1) - 0.5f;
                const float v = scene_lattice(at->seed + (unsigned)row, 9 * i + k, 2) - 0.5f;

                PAINT(&p, at, disc(at, x + 0.55f * u * size, y - (0.68f + 0.6f * v) * size,
                                   0.030f * size), scene_coded(0xc83828));
            }
        }
    }
    PAINT(&p, at, line(at, 0.44f * at->a, 0.92f, 0.49f * at->a, 0.45f, 0.016f),
          scene_coded(0xb08a58));
    PAINT(&p, at, line(at, 0.50f * at->a, 0.92f, 0.52f * at->a, 0.45f, 0.016f),
          scene_coded(0xb08a58));
    for (int k = 0; k < 7; k++) {
        const float t = (float)k / 7 + 0.06f;

        PAINT(&p, at, line(at, at->a * (0.44f + 0.05f * t), 0.92f - 0.47f * t,
                           at->a * (0.50f + 0.02f * t), 0.92f - 0.47f * t, 0.012f),
              scene_coded(0xa07a48));
    }
    return p;
}

static scene_colour cake(const place *at)
{
    const float m = at->a / 2;
    scene_colour p = scene_dim(scene_coded(0xb8a890), 0.8f + 0.2f * scene_noise(at->seed, at->x * 3,
                                                                               at->y * 3));
    float top = 0.66f;

    PAINT(&p, at, fabsf(wrapped(at->x, 0.16f) - 0.08f) - 0.02f, scene_coded(0xa89880));
    for (int i = 0; i < 9; i++) {  /* bunting */
        static const unsigned flags[4] = { 0xc84038, 0x3c6ab0, 0xe8b840, 0x4a9060 };
        const float x = at->a * ((float)i + 0.5f) / 9;
        const float y = 0.08f + 0.05f * sinf(3.1416f * x / at->a);

        PAINT(&p, at, largerf(fabsf(at->x - x) - 0.055f + 0.46f * (at->y - y),
                            largerf(y - at->y, at->y - y - 0.12f)), scene_coded(flags[i % 4]));
    }
    PAINT(&p, at, 0.74f - at->y,
          scene_dim(scene_coded(0xe6e2da),
                    (wrapped(at->x, 0.12f) < 0.06f) != (wrapped(at->y, 0.08f) < 0.04f) ? 0.92f
                                                                                     : 0.72f));
    PAINT(&p, at, ellipse(at, m + 0.04f, 0.88f, 0.50f, 0.07f), scene_coded(0x8a8478));
    PAINT(&p, at, ellipse(at, m, 0.86f, 0.47f, 0.07f), scene_coded(0xf4f4f2));
    for (int tier = 0; tier < 2; tier++) {
        const float half = 0.36f - 0.12f * (float)tier;
        const float low = tier == 0 ? 0.86f : 0.64f;
        const float shade = 1.05f - 0.5f * (at->x - m) * (at->x - m) / (half * half)
                            - 0.2f * (at->x - m) / half;
        const float drip = 0.055f + 0.03f * sinf(at->x * 48) + 0.02f * sinf(at->x * 31 + 1);

        top = low - 0.22f;
        PAINT(&p, at, smallerf(box(at, m - half, top, m + half, low),
                            ellipse(at, m, low, half, 0.045f)),
              scene_dim(tier == 0 ? scene_coded(0xc89a68) : scene_coded(0xdcb078), shade));
        PAINT(&p, at, largerf(fabsf(at->x - m) - half, largerf(top - at->y, at->y - top - drip)),
              scene_dim(scene_coded(0xf6dfe0), shade));
        PAINT(&p, at, ellipse(at, m, top, half, 0.045f), scene_coded(0xfaeaea));
    }
    for (int i = 0; i < 5; i++) {
        const float x = m + 0.085f * ((float)i - 2);
        const float glow = disc(at, x, top - 0.17f, 0);

        PAINT(&p, at, box(at, x - 0.011f, top - 0.14f, x + 0.011f, top),
              i % 2 == 0 ? scene_coded(0x4878b8) : scene_coded(0xd85858));
        PAINT(&p, at, ellipse(at, x, top - 0.17f, 0.014f, 0.03f), scene_coded(0xffd060));
        p = scene_mix(p, scene_coded(0xffe8a0),
                      0.5f * expf(-glow * glow / 0.002f));
    }
    return p;
}

static scene_colour mountains(const place *at)
{
    const float peak = ridge(at->seed + 1, at->x, 0.72f, 0.78f, 0.62f);
    const float light = scene_clouds(at->seed + 4, at->x * 7 - at->y * 3, at->y * 5, 4);
    const float snow = 0.30f + 0.25f * scene_noise(at->seed + 6, at->x * 9, at->y * 4);
    const float hut = 0.3f * at->a;
    scene_colour p = sky(at, scene_coded(0x5c8cc8), scene_coded(0xe4ecf4), 0.6f);

    PAINT(&p, at, ridge(at->seed + 8, at->x, 0.7f, 0.42f, 0.35f) - at->y, scene_coded(0xa8b8cc));
    PAINT(&p, at, peak - at->y,
          at->y < snow + peak * 0.5f ? scene_dim(scene_coded(0xf0f4fa), 0.6f + 0.6f * light)
                                     : scene_dim(scene_coded(0x74747c), 0.5f + 0.9f * light));
    PAINT(&p, at, 0.72f + 0.05f * sinf(at->x * 3) - at->y,
          scene_dim(foliage(at, scene_coded(0x6a8a40), 30), 0.6f + 0.6f * at->y));
    for (int i = 0; i < 14; i++) {
        const float x = at->a * scene_lattice(at->seed + 7, i, 0);
        const float y = 0.74f + 0.2f * (float)i / 14;
        const float size = 0.14f + 0.12f * (float)i / 14;

        if (fabsf(at->x - x) < 0.3f * size && fabsf(x - hut) > 0.25f)
            for (int k = 0; k < 3; k++)
                PAINT(&p, at, tent(at, x, y - size * (1 - 0.22f * (float)k),
                                   y - size * (0.62f - 0.28f * (float)k),
                                   size * (0.15f + 0.05f * (float)k)),
                      scene_dim(scene_coded(0x2f5238),
                                0.7f + 0.5f * scene_noise(at->seed, at->x * 60, at->y * 60)));
    }
    PAINT(&p, at, box(at, hut - 0.13f, 0.68f, hut + 0.13f, 0.84f),
          scene_dim(scene_coded(0x7a5436), wrapped(at->y, 0.025f) < 0.005f ? 0.45f : 1.0f));
    PAINT(&p, at, tent(at, hut, 0.58f, 0.70f, 0.18f), scene_coded(0xd8dce0));
    PAINT(&p, at, box(at, hut - 0.02f, 0.74f, hut + 0.04f, 0.84f), scene_coded(0x3c2a20));
    PAINT(&p, at, box(at, hut - 0.09f, 0.73f, hut - 0.045f, 0.78f), scene_coded(0xf0d080));
    return p;
}

static scene_colour viaduct(const place *at)
{
    const float pitch = 0.30f;
    const float cell = wrapped(at->x + 0.1f, pitch) - pitch / 2;
    scene_colour p = sky(at, scene_coded(0x88acd0), scene_coded(0xf0e8d8), 0.6f);
    const scene_colour stone = scene_dim(scene_coded(0xb09878),
                                         0.7f + 0.5f * scene_noise(at->seed + 2, at->x * 50,
                                                                   at->y * 70));

    PAINT(&p, at, ridge(at->seed + 1, at->x, 0.66f, 0.34f, 0.5f) - at->y,
          foliage(at, scene_coded(0x7c9670), 24));
    PAINT(&p, at, ridge(at->seed + 5, at->x, 0.84f, 0.16f, 0.3f) - at->y,
          foliage(at, scene_coded(0x5a7a40), 34));
    if (at->y > 0.88f)
        p = water(at, scene_coded(0x4a6c74), scene_coded(0x88a8a8), 0.88f);
    PAINT(&p, at, largerf(largerf(0.42f - at->y, at->y - 0.9f),
                        -smallerf(largerf(fabsf(cell) - 0.11f, 0.60f - at->y),
                               length2f(cell, at->y - 0.60f) - 0.11f)), stone);
    PAINT(&p, at, fabsf(at->y - 0.425f) - 0.012f, scene_dim(stone, 0.7f));
    for (int i = 0; i < 4; i++) {  /* the train */
        const float x = at->a * 0.62f - 0.27f * (float)i;

        if (i == 0) {
            PAINT(&p, at, box(at, x - 0.1f, 0.325f, x + 0.1f, 0.39f), scene_coded(0x26342c));
            PAINT(&p, at, box(at, x - 0.11f, 0.28f, x - 0.04f, 0.39f), scene_coded(0x26342c));
            PAINT(&p, at, box(at, x + 0.055f, 0.275f, x + 0.08f, 0.33f), scene_coded(0x1c1c1c));
        } else {
            PAINT(&p, at, box(at, x - 0.12f, 0.30f, x + 0.12f, 0.39f), scene_coded(0x7c3428));
            PAINT(&p, at, largerf(fabsf(wrapped(at->x - x, 0.06f) - 0.03f) - 0.017f,
                                fabsf(at->y - 0.335f) - 0.017f
                                    + (fabsf(at->x - x) > 0.11f ? 1.0f : 0)),
                  scene_coded(0xe8e0c0));
        }
        for (int k = -1; k <= 1; k += 2)
            PAINT(&p, at, disc(at, x + 0.07f * (float)k, 0.398f, 0.018f), scene_coded(0x201c1a));
    }
    {
        const float x = at->a * 0.62f + 0.067f - at->x;
        const float rise = 0.24f - 0.08f * sqrtf(largerf(x, 0)) - 0.02f * x;
        const float puff = fabsf(at->y - rise) - 0.02f - 0.10f * largerf(x, 0);

        if (x > 0)
            p = scene_mix(p, scene_coded(0xf0efec),
                          0.9f * scene_step(0.02f, -0.05f, puff)
                              * scene_step(0.2f, 0.6f, scene_clouds(at->seed + 11, at->x * 14,
                                                                  at->y * 14, 3))
                              * expf(-x));
    }
    return p;
}

static scene_colour flowers(const place *at)
{
    const float m = at->a / 2;
    scene_colour p = scene_dim(scene_coded(0xa8b49c), 0.75f + 0.35f * (at->x / at->a));
    float d;

    PAINT(&p, at, length2f(wrapped(at->x, 0.14f) - 0.07f, wrapped(at->y, 0.14f) - 0.07f)
                      - 0.014f, scene_coded(0xd8d4b4));
    PAINT(&p, at, 0.78f - at->y,
          scene_dim(scene_coded(0x8a5c38), 0.7f + 0.6f * scene_clouds(at->seed, at->x * 3,
                                                                    at->y * 40, 3)));
    PAINT(&p, at, ellipse(at, m + 0.16f, 0.91f, 0.26f, 0.045f), scene_coded(0x4a3020));
    for (int i = 0; i < 9; i++) {
        const float t = ((float)i - 4) / 4;

        PAINT(&p, at, line(at, m + 0.04f * t, 0.62f, m + 0.40f * t, 0.34f + 0.12f * t * t, 0.014f),
              scene_coded(0x4c7034));
    }
    d = fabsf(at->x - m) - 0.10f - 0.07f * sinf((at->y - 0.55f) * 8.2f);
    PAINT(&p, at, largerf(d, largerf(0.55f - at->y, at->y - 0.92f)),
          scene_dim(scene_coded(0x3c6a94), 0.6f + 0.8f * expf(-(at->x - m + 0.07f)
                                                             * (at->x - m + 0.07f) / 0.004f)));
    for (int i = 0; i < 13; i++) {
        static const unsigned petals[4] = { 0xd84858, 0xf0c040, 0xe88cb0, 0xf0ece4 };
        const float x = m + 0.46f * (scene_lattice(at->seed + 2, i, 0) * 2 - 1);
        const float y = 0.16f + 0.34f * scene_lattice(at->seed + 2, i, 1);
        const float r = length2f(at->x - x, at->y - y);

        if (r < 0.11f) {
            const float a = atan2f(at->y - y, at->x - x);

            PAINT(&p, at, r - 0.062f - 0.022f * cosf(6 * a + (float)i),
                  scene_dim(scene_coded(petals[i % 4]), 0.65f + 5 * r));
            PAINT(&p, at, r - 0.022f, scene_coded(0x8a5a24));
        }
    }
    return p;
}

scene_colour scene_picture(const scene_print *print, float x, float y, float aspect, float px)
{
    typedef scene_colour (*motif_fn)(const place *at);
    static const motif_fn motifs[SCENE_MOTIFS] = { lake, house, harbour, kites, orchard, cake,
                                                   mountains, viaduct, flowers };
    const place at = { x, y, aspect, px, print->seed * 7919u + print->motif };

    return motifs[print->motif % SCENE_MOTIFS](&at);
}
