/* Papers, and the drawing of a whole page. */
#include <stdlib.h>

#include "scenes/canvas.h"
#include "scenes/chance.h"

scene_colour scene_paper_base(scene_paper paper)
{
    /* coded colours as such papers measure under even light, by eye */
    static const unsigned base[PAPER_COUNT] = {
        [PAPER_WHITE] = 0xf0eeea, [PAPER_CREAM] = 0xeee2c6, [PAPER_KRAFT] = 0xb98f62,
        [PAPER_BLACK] = 0x2a2829, [PAPER_BLUE] = 0x5f7f9f, [PAPER_FLORAL] = 0xe9dcd2,
        [PAPER_GREY] = 0x8f8f8d, [PAPER_ROSE] = 0xdcb4b0, [PAPER_STRIPED] = 0xe6e0cf,
        [PAPER_DOTTED] = 0xdfe6e0, [PAPER_CHECKED] = 0xece7dc
    };

    return scene_coded(base[paper < PAPER_COUNT ? paper : PAPER_WHITE]);
}

/* ---- patterns -------------------------------------------------------------------------------- */

/* Five petals and a leaf in each cell of a grid, every second row shifted, some left out. */
scene_colour scene_flowers(scene_colour p, float u, float v, unsigned seed)
{
    const float pitch = 19;
    const int row = whole(v / pitch);
    const float su = u + (row % 2 != 0 ? pitch / 2 : 0);
    const int column = whole(su / pitch);
    const float angle = 6.2832f * scene_lattice(seed, column, row);
    const float x = su - ((float)column + 0.5f) * pitch
                    - 3 * (scene_lattice(seed + 1, column, row) - 0.5f);
    const float y = v - ((float)row + 0.5f) * pitch
                    - 3 * (scene_lattice(seed + 2, column, row) - 0.5f);
    const float r = length2f(x, y);
    const scene_colour petal = scene_lattice(seed + 3, column, row) < 0.5f
                                   ? scene_coded(0xc9868c) : scene_coded(0xa9b0cf);
    float a;
    float edge;

    if (r > 8 || scene_lattice(seed + 4, column, row) < 0.15f)
        return p;
    a = atan2f(y, x) + angle;
    edge = 3.6f + 1.3f * cosf(5 * a);
    p = scene_mix(p, scene_coded(0x8fae88), 0.8f * scene_step(0.5f, -0.1f, fabsf(sinf(a)) * r - 1.2f
                                                             + 0.02f * r * r * r)
                                                * (r > 3 && cosf(a) > 0 ? 1 : 0));
    p = scene_mix(p, petal, 0.85f * scene_clamp((edge - r) * 4));
    return scene_mix(p, scene_coded(0xd8b060), scene_clamp((1.3f - r) * 4));
}

static scene_colour pattern(scene_colour p, scene_paper paper, float u, float v, unsigned seed)
{
    switch (paper) {
    case PAPER_FLORAL:
        return scene_flowers(p, u, v, seed);
    case PAPER_STRIPED: {
        const float t = fabsf(wrapped(u, 16) - 8);

        return scene_mix(p, scene_coded(0x9fb4a6), 0.8f * scene_clamp((t - 5) * 5 + 0.5f));
    }
    case PAPER_DOTTED: {
        const int row = (int)(v / 9);
        const float du = wrapped(u + (row % 2 != 0 ? 4.5f : 0), 9) - 4.5f;
        const float dv = v - 9 * (float)row - 4.5f;

        return scene_mix(p, scene_coded(0x7d9aa8),
                         0.75f * scene_clamp((1.4f - length2f(du, dv)) * 5));
    }
    case PAPER_CHECKED: {
        const float a = scene_clamp((fabsf(wrapped(u, 12) - 6) - 3) * 5 + 0.5f);
        const float b = scene_clamp((fabsf(wrapped(v, 12) - 6) - 3) * 5 + 0.5f);

        return scene_mix(p, scene_coded(0xb86a60), 0.42f * (a + b));
    }
    default:
        return p;
    }
}

/* Fibres: thin bent lines, from the steep places of stretched noise. */
static float fibres(unsigned seed, float u, float v)
{
    const float a = scene_noise(seed, u / 3.1f + 0.4f * v, v / 0.55f);
    const float b = scene_noise(seed + 7, u / 0.6f, v / 2.7f - 0.3f * u);

    return (a > 0.86f ? (a - 0.86f) * 4 : 0) - (b > 0.86f ? (b - 0.86f) * 4 : 0);
}

void scene_draw_paper(scene_canvas *canvas, const scene_sheet *sheet)
{
    static const float mottled[PAPER_COUNT] = {
        [PAPER_WHITE] = 0.025f, [PAPER_CREAM] = 0.045f, [PAPER_KRAFT] = 0.14f,
        [PAPER_BLACK] = 0.16f, [PAPER_BLUE] = 0.06f, [PAPER_FLORAL] = 0.03f,
        [PAPER_GREY] = 0.08f, [PAPER_ROSE] = 0.05f, [PAPER_STRIPED] = 0.03f,
        [PAPER_DOTTED] = 0.03f, [PAPER_CHECKED] = 0.03f
    };
    const scene_paper paper = sheet->paper < PAPER_COUNT ? sheet->paper : PAPER_WHITE;
    const scene_colour base = scene_paper_base(paper);
    const unsigned seed = sheet->seed * 31 + 5;
    const bool fibrous = paper == PAPER_KRAFT || paper == PAPER_BLACK || paper == PAPER_GREY;
    const scene_colour brown = scene_rgb(0.74f, 0.55f, 0.30f);

    for (size_t j = 0; j < canvas->height; j++) {
        const float v = (float)(((double)j + 0.5) / canvas->scale);
        scene_colour *row = canvas->px + j * canvas->width;

        for (size_t i = 0; i < canvas->width; i++) {
            const float u = (float)(((double)i + 0.5) / canvas->scale);
            /* tooth of the paper, and clouds across the page */
            float t = 0.45f * (scene_lattice(seed, (int)(u * 6), (int)(v * 6)) - 0.5f)
                      + (scene_noise(seed + 2, u / 30, v / 30) - 0.5f);
            scene_colour p = pattern(base, paper, u, v, seed);

            if (fibrous)
                t += 1.2f * fibres(seed, u, v);
            p = scene_dim(p, 1 + mottled[paper] * t);
            if (sheet->aged > 0) {
                const float side = smallerf(smallerf(u, (float)sheet->mm[0] - u),
                                         smallerf(v, (float)sheet->mm[1] - v));
                const float old = (float)sheet->aged
                                  * (expf(-side / 14) * (0.5f + t) + 0.18f * (0.5f + t));

                p.r *= 1 - old * (1 - brown.r);
                p.g *= 1 - old * (1 - brown.g);
                p.b *= 1 - old * (1 - brown.b);
            }
            row[i] = p;
        }
    }
}

/* ---- the page -------------------------------------------------------------------------------- */

bool scene_canvas_range(const scene_canvas *canvas, double u, double v, double reach,
                        size_t first[2], size_t end[2])
{
    const double at[2] = { u, v };
    const size_t size[2] = { canvas->width, canvas->height };

    for (int k = 0; k < 2; k++) {
        const double from = floor((at[k] - reach) * canvas->scale);
        const double to = ceil((at[k] + reach) * canvas->scale) + 1;

        if (to <= 0 || from >= (double)size[k])
            return false;
        first[k] = from > 0 ? (size_t)from : 0;
        end[k] = to < (double)size[k] ? (size_t)to : size[k];
    }
    return true;
}

/* Two printed lines, a thick one and a thin one within it, in the page's own proportions. */
static void draw_frame(scene_canvas *canvas, const scene_sheet *sheet, scene_colour ink)
{
    const double w = sheet->mm[0] / 2;
    const double h = sheet->mm[1] / 2;
    const double keep = 1 - sheet->frame_mm / h; /* equal proportions: scaled about the middle */

    for (size_t j = 0; j < canvas->height; j++)
        for (size_t i = 0; i < canvas->width; i++) {
            const double u = fabs(((double)i + 0.5) / canvas->scale - w) - keep * w;
            const double v = fabs(((double)j + 0.5) / canvas->scale - h) - keep * h;
            const double d = larger(u, v);
            const double line = smaller(fabs(d + 0.6) - 0.6, fabs(d + 2.6) - 0.2);
            scene_colour *p = &canvas->px[j * canvas->width + i];

            if (d < 1 && d > -4)
                *p = scene_mix(*p, ink, 0.92f * scene_clamp((float)(0.5 - line * canvas->scale)));
        }
}

bool scene_canvas_draw(scene_canvas *out, const scene_sheet *sheet, double scale)
{
    const bool dark = sheet->paper == PAPER_BLACK;
    const scene_colour black = scene_coded(0x26242c);
    const scene_colour ink = dark ? scene_coded(0xdcd8cf) : black;

    out->scale = scale;
    out->width = (size_t)ceil(sheet->mm[0] * scale) + 1;
    out->height = (size_t)ceil(sheet->mm[1] * scale) + 1;
    out->px = malloc(out->width * out->height * sizeof *out->px);
    if (out->px == NULL)
        return false;
    scene_draw_paper(out, sheet);
    if (sheet->frame_mm > 0)
        draw_frame(out, sheet, ink);
    for (size_t i = 0; i < sheet->prints; i++)
        scene_draw_print(out, &sheet->print[i]);
    for (size_t i = 0; i < sheet->captions; i++)
        scene_draw_caption(out, &sheet->caption[i], sheet->caption[i].label ? black : ink,
                           sheet->seed + (unsigned)i);
    return true;
}
