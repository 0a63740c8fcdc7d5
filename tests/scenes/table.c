/* Tables: grey card, woods, cloths, felt, stone, a cutting mat. Patterns are in table mm. */
#include "scenes/table.h"

#include "scenes/canvas.h"
#include "scenes/chance.h"

static float fine_grain(unsigned seed, float x, float y, float mm)
{
    return scene_lattice(seed, whole(x / mm), whole(y / mm)) - 0.5f;
}

/* Distance of t from the nearest multiple of period. */
static float from_line(float t, float period)
{
    return fabsf(t - period * (float)whole(t / period + 0.5f));
}

static scene_colour wood(float x, float y, unsigned seed, scene_colour light, scene_colour dark,
                         float mm)
{
    const float plank = 118;
    const unsigned own = seed + (unsigned)whole(y / plank) * 61u;
    const float bend = 9 * scene_noise(own, x / 210, y / 70);
    const float rings = scene_clouds(own + 1, x / 260, (y + bend) / 7.5f, 3);
    const float pores = scene_noise(own + 2, x / 16, (y + bend) / 0.8f);
    float t = 0.15f + 0.5f * scene_step(0.2f, 0.9f, rings) + 0.3f * scene_lattice(own, 1, 1);
    scene_colour p;

    t += pores > 0.72f ? (pores - 0.72f) * 1.3f : 0;
    p = scene_mix(light, dark, scene_clamp(t));
    return scene_dim(p, 1 - 0.75f * scene_clamp((0.5f - from_line(y, plank)) / (mm + 0.3f) + 0.5f));
}

/* Threads over and under: a fast stand-in for a weave. */
static float weave(float x, float y, float pitch)
{
    const float a = from_line(x, pitch) / pitch;
    const float b = from_line(y, pitch) / pitch;

    return 1 - 0.9f * (a * a + b * b);
}

static scene_colour squares(float x, float y, float size, float mm, scene_colour a, scene_colour b)
{
    const bool odd = (whole(x / size) + whole(y / size)) % 2 != 0;
    const float edge = smallerf(from_line(x, size), from_line(y, size));

    return scene_mix(odd ? b : a, odd ? a : b, scene_clamp(0.5f - edge / mm));
}

static scene_colour table_colour(const scene_desk *desk, float x, float y)
{
    const unsigned seed = desk->seed;
    const float mm = desk->mm;

    switch (desk->scene->table) {
    case TABLE_WOOD:
        return wood(x, y, seed, scene_coded(0xc79a64), scene_coded(0x8a5a30), mm);
    case TABLE_WALNUT:
        return wood(x, y, seed, scene_coded(0x6d4a34), scene_coded(0x35221a), mm);
    case TABLE_CHECKED: {
        const scene_colour p = squares(x, y, 31, mm, scene_coded(0xe4ded0), scene_coded(0xa83234));

        return scene_dim(p, weave(x, y, 1.4f)
                                * (1 + 0.12f * (scene_noise(seed, x / 90, y / 90) - 0.5f)));
    }
    case TABLE_STRIPED: {
        const float t = from_line(x, 46);
        scene_colour p = scene_mix(scene_coded(0xd9d4c4), scene_coded(0x44618a),
                                   scene_clamp((t - 14) / mm + 0.5f));

        p = scene_mix(p, scene_coded(0xb89850), scene_clamp((1.2f - fabsf(t - 8)) / mm + 0.5f));
        return scene_dim(p, weave(x, y, 1.4f)
                                * (1 + 0.16f * (scene_noise(seed, x / 70, y / 70) - 0.5f)));
    }
    case TABLE_LINEN:
        return scene_dim(scene_coded(0xcfc2a8),
                         weave(x, y, 1.1f)
                             * (1 + 0.25f * (scene_noise(seed, x / 12, y / 0.9f) - 0.5f)
                                + 0.25f * (scene_noise(seed + 1, x / 0.9f, y / 12) - 0.5f)));
    case TABLE_FELT:
        return scene_dim(scene_coded(0x2f4438),
                         1 + 0.5f * fine_grain(seed, x, y, 0.45f)
                             + 0.5f * (scene_clouds(seed, x / 16, y / 16, 3) - 0.5f));
    case TABLE_BLACK:
        return scene_dim(scene_coded(0x1f1f21),
                         1 + 0.3f * fine_grain(seed, x, y, 0.5f)
                             + 0.5f * (scene_noise(seed, x / 60, y / 60) - 0.5f));
    case TABLE_STONE: {
        const float a = scene_noise(seed, x / 1.6f, y / 1.6f);
        const float b = scene_noise(seed + 1, x / 5, y / 5);
        scene_colour p = scene_mix(scene_coded(0xa39e98), scene_coded(0x5c5856),
                                   scene_step(0.5f, 0.75f, 0.6f * a + 0.4f * b));

        return scene_mix(p, scene_coded(0xdcd6cc), 0.8f * scene_step(0.74f, 0.9f, a));
    }
    case TABLE_CUTTING_MAT: {
        const float thin = smallerf(from_line(x, 10), from_line(y, 10));
        const float thick = smallerf(from_line(x, 50), from_line(y, 50));
        const float line = largerf(0.45f * scene_clamp((0.12f - thin) / mm + 0.5f),
                                 0.85f * scene_clamp((0.25f - thick) / mm + 0.5f));

        return scene_mix(scene_dim(scene_coded(0x2f6b58), 1 + 0.15f * fine_grain(seed, x, y, 0.5f)),
                         scene_coded(0xd8d8b0), line);
    }
    case TABLE_FLORAL: {
        /* roses on two sizes of grid, over a printed ground */
        const scene_colour ground = scene_mix(scene_coded(0x8fb0a4), scene_coded(0xa8c0b0),
                                              scene_noise(seed, x / 25, y / 25));

        return scene_dim(scene_flowers(scene_flowers(ground, 2.1f * x + 7, 2.1f * y + 3, seed + 3),
                                       0.55f * x, 0.55f * y, seed),
                         weave(x, y, 1.2f));
    }
    case TABLE_LID_WHITE:    /* of a flatbed scanner: foam without a grain */
        return scene_dim(scene_coded(0xf2f2f0), 1 + 0.015f * fine_grain(seed, x, y, 1));
    case TABLE_LID_BLACK:
        return scene_dim(scene_coded(0x1c1c1e), 1 + 0.05f * fine_grain(seed, x, y, 1));
    case TABLE_WHITE:
        return scene_dim(scene_coded(0xe9e8e5),
                         1 + 0.03f * fine_grain(seed, x, y, 0.6f)
                             + 0.05f * (scene_noise(seed, x / 120, y / 120) - 0.5f));
    case TABLE_GREY:
    default:
        return scene_dim(scene_coded(0x7e7f80),
                         1 + 0.10f * fine_grain(seed, x, y, 0.5f)
                             + 0.10f * (scene_clouds(seed, x / 80, y / 80, 2) - 0.5f));
    }
}

void scene_desk_set(scene_desk *out, const scene *s, double px_per_mm)
{
    *out = (scene_desk){ s, (float)cos(s->table_turn), (float)sin(s->table_turn),
                         (float)(1 / px_per_mm), (unsigned)(s->seed * 977u + 13u) };
}

/* ---- clutter --------------------------------------------------------------------------------- */

static float sdf_box(float x, float y, float w, float h)
{
    return largerf(fabsf(x) - w / 2, fabsf(y) - h / 2);
}

static void lay(scene_colour *p, float d, scene_colour with, float mm)
{
    *p = scene_mix(*p, with, scene_clamp(0.5f - d / mm));
}

static void soft_shadow(scene_colour *p, float d, float depth, float reach)
{
    *p = scene_dim(*p, 1 - depth * scene_step(reach, -reach, d));
}

/* Half the diagonal of the largest part, shadow included, mm. */
static float thing_reach(const scene_clutter *c)
{
    static const float reach[] = { [THING_RULER] = 170, [THING_PENCIL] = 100, [THING_COIN] = 20,
                                   [THING_PAPER] = 200, [THING_PRINT] = 80, [THING_CUP] = 65,
                                   [THING_BOARD] = 0, [THING_TARGET] = 85 };

    if (c->kind == THING_BOARD)
        return 8 + 0.5f * length2f((float)c->mm[0], (float)c->mm[1]);
    return reach[c->kind] * (float)c->size;
}

static void paint_thing(scene_colour *p, const scene_clutter *c, float x, float y, float mm)
{
    const unsigned seed = c->seed;

    switch (c->kind) {
    case THING_RULER:
        soft_shadow(p, sdf_box(x - 1.2f, y - 1.5f, 310, 30), 0.4f, 2.0f);
        lay(p, sdf_box(x, y, 310, 30),
            scene_dim(scene_coded(0xd8b878),
                      0.9f + 0.2f * scene_noise(seed, x / 40, y / 1.2f)), mm);
        if (y > 6 && y < 15 && fabsf(x) < 150) {
            const float tick = from_line(x, 10) < 1 ? 5.0f : 10.5f;

            if (y > tick)
                lay(p, from_line(x, 2) - 0.15f, scene_coded(0x302820), mm);
        }
        break;
    case THING_PENCIL: {
        const float tip = largerf(x - 62, 0);
        const float d = largerf(fabsf(y) - largerf(3.6f - 0.2f * tip, 0), fabsf(x + 5) - 85);
        const float round = 1.2f - 0.05f * y * y;
        const scene_colour body = seed % 2 != 0 ? scene_coded(0xd8a020) : scene_coded(0x2f5f8f);

        soft_shadow(p, largerf(fabsf(y - 3) - 3.6f, fabsf(x + 3) - 84), 0.45f, 2.5f);
        lay(p, d, scene_dim(x > 78 ? scene_coded(0x2a2a2a)
                                   : x > 62 ? scene_coded(0xdcb888)
                                            : x < -78 ? scene_coded(0xc08080) : body, round), mm);
        break;
    }
    case THING_COIN: {
        const float r = length2f(x, y);
        const float rim = r > 10 ? 1.25f : 0.95f + 0.2f * scene_noise(seed, x / 2, y / 2);
        const scene_colour metal = seed % 2 != 0 ? scene_coded(0xb08850) : scene_coded(0xa8a8a4);

        soft_shadow(p, length2f(x - 1, y - 1.3f) - 12, 0.45f, 1.2f);
        lay(p, r - 12, scene_dim(metal, rim * (1 - 0.02f * (x + y))), mm);
        break;
    }
    case THING_PAPER: {
        const bool line = y > -120 && from_line(y, 8) < 0.2f + mm / 4;

        soft_shadow(p, sdf_box(x - 0.6f, y - 0.8f, 210, 297), 0.35f, 1.0f);
        lay(p, sdf_box(x, y, 210, 297),
            line && seed % 2 != 0 ? scene_coded(0xb4c0d4) : scene_coded(0xe6e4dc), mm);
        break;
    }
    case THING_PRINT: {
        const float t = scene_clouds(seed, x / 30, y / 22, 3);

        soft_shadow(p, sdf_box(x - 0.5f, y - 0.7f, 127, 89), 0.35f, 0.9f);
        lay(p, sdf_box(x, y, 127, 89), scene_coded(0xeeece6), mm);
        lay(p, sdf_box(x, y, 117, 79),
            y < 4 - 20 * t ? scene_mix(scene_coded(0x98b4cc), scene_coded(0xe4e8e8), t)
                           : scene_dim(scene_coded(0x58703c), 0.5f + t), mm);
        break;
    }
    case THING_CUP: {
        const float r = length2f(x, y);
        const float handle = largerf(fabsf(length2f(x - 46, y) - 14) - 4, 44 - r);

        soft_shadow(p, length2f(x - 9, y - 11) - 44, 0.5f, 9);
        lay(p, handle, scene_coded(0xd4d8dc), mm);
        lay(p, r - 44, scene_dim(scene_coded(0xe6e8ea), 1 - 0.004f * (x + y)), mm);
        lay(p, r - 40, scene_dim(scene_coded(0xb8bcc0), 1 + 0.006f * (x + y)), mm);
        lay(p, length2f(x, y) - 37, scene_coded(0x4a2c1a), mm);
        break;
    }
    case THING_BOARD: {
        static const unsigned colours[] = { 0x6b6f74, 0xc9a97c, 0x3f4a44, 0xd9d6cf };
        const float w = (float)c->mm[0];
        const float h = (float)c->mm[1];

        soft_shadow(p, sdf_box(x - 1.5f, y - 2, w, h), 0.4f, 3);
        lay(p, sdf_box(x, y, w, h),
            scene_dim(scene_coded(colours[seed % 4]),
                      0.94f + 0.1f * scene_clouds(seed, x / 9, y / 9, 3)), mm);
        break;
    }
    case THING_TARGET: {
        /* six colours over six greys, on black card */
        static const unsigned patches[12] = { 0x9e3a34, 0xb9813a, 0xc9b83c, 0x4a7d46, 0x3a6c96,
                                              0x6a4a7c, 0xefeeea, 0xc4c4c2, 0x9a9a99, 0x70706f,
                                              0x4a4a4a, 0x2a2a2b };
        const int i = whole((x + 66) / 22);
        const int j = whole((y + 25) / 25);

        soft_shadow(p, sdf_box(x - 0.8f, y - 1, 140, 60), 0.4f, 1.5f);
        lay(p, sdf_box(x, y, 140, 60), scene_coded(0x191a1b), mm);
        if (i >= 0 && i < 6 && j >= 0 && j < 2)
            lay(p, sdf_box(x - 22 * ((float)i - 2.5f), y - 25 * ((float)j - 0.5f), 19, 22),
                scene_coded(patches[6 * j + i]), mm);
        break;
    }
    default:
        break;
    }
}

scene_colour scene_desk_colour(const scene_desk *desk, double x, double y)
{
    const scene *s = desk->scene;
    const float fx = (float)x;
    const float fy = (float)y;
    const float px = fx - (float)s->table_at[0];
    const float py = fy - (float)s->table_at[1];
    scene_colour p = table_colour(desk, desk->c * px + desk->s * py, -desk->s * px + desk->c * py);

    for (size_t i = 0; i < s->clutters; i++) {
        const scene_clutter *c = &s->clutter[i];
        const float dx = fx - (float)c->place[0];
        const float dy = fy - (float)c->place[1];

        if (dx * dx + dy * dy < thing_reach(c) * thing_reach(c)) {
            const float ct = cosf((float)c->turn) / (float)c->size;
            const float st = sinf((float)c->turn) / (float)c->size;

            paint_thing(&p, c, ct * dx + st * dy, -st * dx + ct * dy,
                        desk->mm / (float)c->size);
        }
    }
    return p;
}

/* ---- on the page ----------------------------------------------------------------------------- */

/* Fingertips that come in from beyond the page, along +x: mm outside them. */
static float sdf_fingers(float along, float side, bool hand, float thick)
{
    /* place and reach of each */
    static const float tips[3][2] = { { 0, 0 }, { -19, 5 }, { 18, 7 } };
    float d = 1e6f;

    for (int k = 0; k < (hand ? 3 : 1); k++) {
        const float beyond = smallerf(along - tips[k][1], 0);
        const float wide = thick + 0.012f * largerf(along, 0);

        d = smallerf(d, length2f(beyond, side - tips[k][0]) - wide);
    }
    return d;
}

void scene_weight_paint(scene_colour *p, const scene *s, double u, double v, float px_mm,
                        float light)
{
    /* from the page's middle outwards */
    const double ox = s->weight_at[0] - s->sheet[0].mm[0] / 2;
    const double oy = s->weight_at[1] - s->sheet[0].mm[1] / 2;
    const double n = larger(length2(ox, oy), 1e-9);
    const float dx = (float)(u - s->weight_at[0]);
    const float dy = (float)(v - s->weight_at[1]);
    const float along = (float)(ox / n) * dx + (float)(oy / n) * dy;
    const float side = (float)(-oy / n) * dx + (float)(ox / n) * dy;
    const unsigned seed = (unsigned)s->seed + 3;
    float d;
    float height;            /* 1 on top, 0 at the rim */
    scene_colour with;

    if (s->weight >= WEIGHT_FINGER) {
        const bool glove = s->weight == WEIGHT_GLOVE;
        const bool hand = s->weight != WEIGHT_FINGER;
        const float thick = glove ? 10.0f : 8.5f;
        const float nail = length2f(along + 1.5f, side / 0.85f) - 5.2f;

        if (along < -18 || fabsf(side) > 46)
            return;
        d = sdf_fingers(along, side, hand, thick);
        height = scene_clamp(-d / thick);
        soft_shadow(p, sdf_fingers(along - 1, side - 2.5f, hand, thick), 0.5f, 4);
        if (glove) {
            /* white cotton, knitted */
            with = scene_dim(scene_mix(scene_coded(0xb4b2ac), scene_coded(0xefede8),
                                       sqrtf(height)),
                             weave(along, side, 0.8f));
        } else {
            with = scene_mix(scene_coded(0xb07a5e), scene_coded(0xe0ae90), sqrtf(height));
            if (nail < 0)
                with = scene_mix(with, scene_coded(0xe8c4b4), scene_clamp(-nail / px_mm) * 0.6f);
        }
    } else {
        const float rx = s->weight == WEIGHT_BAG ? 30.0f : 22.0f;
        const float ry = s->weight == WEIGHT_BAG ? 20.0f : 17.0f;
        const float lump = 1 + 0.12f * (scene_noise(seed, 3 * atan2f(side, along) + 20, 0) - 0.5f);
        const float r = length2f(along / rx, side / ry) / lump;

        if (r > 2)
            return;
        d = (r - 1) * ry;
        height = scene_clamp(1 - r * r);
        soft_shadow(p, (length2f((along - 2) / rx, (side - 4) / ry) - 1) * ry, 0.55f, 5);
        with = s->weight == WEIGHT_BAG
                   ? scene_dim(scene_coded(0x3c4a6a), weave(along, side, 0.9f))
                   : scene_dim(scene_coded(0x8c8880),
                               0.7f + 0.5f * scene_clouds(seed, along / 6, side / 6, 3));
        with = scene_dim(with, 0.45f + 0.65f * sqrtf(height));
    }
    lay(p, d, scene_dim(with, light), px_mm);
}

/* Clear plastic over *p: it veils a little, and reflects in streaks; its rim catches the light.
   d: mm outside it */
static void veil(scene_colour *p, float d, float streak, float gloss, float light, float px_mm)
{
    const float over = scene_clamp(0.5f - d / px_mm);
    const float rim = scene_clamp((0.35f - fabsf(d + 0.35f)) / px_mm + 0.5f);
    const float shine = light * (0.012f + gloss * streak);

    if (d > 3)
        return;
    *p = scene_dim(*p, 1 - 0.22f * expf(-largerf(d, 0) / 0.6f) * (1 - over));
    *p = scene_mix(*p, scene_rgb(0.94f * p->r + shine, 0.94f * p->g + shine,
                                 0.94f * p->b + shine), over);
    *p = scene_mix(*p, scene_dim(scene_rgb(0.9f, 0.92f, 0.94f), light), 0.3f * rim);
}

void scene_plastic_paint(scene_colour *p, const scene *s, double u, double v, float px_mm,
                         float light)
{
    const float w = (float)s->sheet[0].mm[0];
    const float h = (float)s->sheet[0].mm[1];
    const float x = (float)u - w / 2;
    const float y = (float)v - h / 2;
    const unsigned seed = (unsigned)s->seed + 11;
    const float gloss = (float)s->gloss;

    for (unsigned k = 0; k < s->strips && k < 4; k++) {
        const bool lies = k < 2;
        const float half = (float)s->strip_mm[0] / 2;
        const float at = ((lies ? h : w) / 2 - (float)s->strip_mm[1]) * (k % 2 == 0 ? -1 : 1);
        const float across = (lies ? y : x) - at;
        const float along = lies ? x : y;
        const float d = largerf(fabsf(across) - half, fabsf(along) - (lies ? w : h) / 2 - 45);

        veil(p, d, scene_step(0.62f, 0.9f, scene_noise(seed + k, along / 22, across / 30)), gloss,
             light, px_mm);
    }
    if (s->sleeve_mm > 0) {
        const float c = (float)cos(s->sleeve_turn);
        const float n = (float)sin(s->sleeve_turn);
        const float sx = c * x + n * y;
        const float sy = -n * x + c * y;
        const float d = sdf_box(sx, sy, w + 2 * (float)s->sleeve_mm, h + 2 * (float)s->sleeve_mm);

        veil(p, d, scene_step(0.6f, 0.95f, scene_noise(seed, (sx + 0.6f * sy) / 34, sy / 160)),
             gloss, light, px_mm);
    }
}

double scene_ribbon(scene_colour *colour, const scene *s, double u, double v)
{
    const double w = s->sheet[0].mm[0];
    const double h = s->sheet[0].mm[1];
    const double gap[4] = { s->tab_at[1], w - s->tab_at[0], h - s->tab_at[1], s->tab_at[0] };
    const double du = u - s->tab_at[0];
    const double dv = v - s->tab_at[1];
    double along;
    double side;
    int nearest = 0;

    for (int k = 1; k < 4; k++)
        if (fabs(gap[k]) < fabs(gap[nearest]))
            nearest = k;
    along = nearest == 0 ? -dv : nearest == 1 ? du : nearest == 2 ? dv : -du;
    side = nearest % 2 == 0 ? du : dv;
    side -= 0.06 * along;    /* it hangs a little askew */
    *colour = scene_dim(scene_coded(s->seed % 2 != 0 ? 0xa02838 : 0x2f5f50),
                        0.85f + 0.25f * fabsf(wrapped((float)along, 1) - 0.5f));
    return larger(fabs(side) - 4.5, along - s->tab_mm + 0.6 * fabs(side));
}
