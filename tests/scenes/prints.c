/* Prints: how they are cut, glued and toned. What they show is in pictures.c. */
#include "scenes/canvas.h"
#include "scenes/chance.h"

/* Paper of a print's border. */
static scene_colour border_colour(const scene_print *print)
{
    return scene_mix(scene_coded(0xe9e2d0), scene_coded(0xf0efec), (float)print->colour);
}

/* The tone of the print's time: black and white to sepia, faded colours, or full colours. */
static scene_colour toned(const scene_print *print, scene_colour p, float x, float y, float aspect)
{
    const float grey = 0.25f * p.r + 0.62f * p.g + 0.13f * p.b;
    const scene_colour sepia = scene_rgb(1.06f * grey + 0.022f, 0.93f * grey + 0.014f,
                                         0.72f * grey + 0.008f);
    const float cx = x / aspect - 0.5f;
    const float cy = y - 0.5f;

    p = scene_mix(sepia, p, (float)print->colour);
    p = scene_dim(p, 1 - 0.45f * (cx * cx + cy * cy));
    return scene_rgb(0.015f + 0.9f * p.r, 0.015f + 0.9f * p.g, 0.015f + 0.88f * p.b);
}

/* Black paper corners that hold a print: triangles over its own corners. */
static float mount_cover(const scene_print *print, double x, double y, double scale)
{
    const double in = print->size[0] / 2 - fabs(x) + print->size[1] / 2 - fabs(y);
    const double out = larger(fabs(x) - print->size[0] / 2, fabs(y) - print->size[1] / 2) - 0.9;

    return scene_clamp((float)((9 - in) * 0.7 * scale + 0.5))
           * scene_clamp((float)(0.5 - out * scale));
}

void scene_draw_print(scene_canvas *canvas, const scene_print *print)
{
    const double half_w = print->size[0] / 2;
    const double half_h = print->size[1] / 2;
    const double inner_w = 2 * (half_w - print->border);
    const double inner_h = 2 * (half_h - print->border);
    const double c = cos(print->turn);
    const double s = sin(print->turn);
    const float aspect = (float)(inner_w / inner_h);
    const scene_colour border = border_colour(print);
    size_t first[2];
    size_t end[2];

    if (!scene_canvas_range(canvas, print->centre[0], print->centre[1], length2(half_w, half_h) + 5,
                            first, end))
        return;
    for (size_t j = first[1]; j < end[1]; j++)
        for (size_t i = first[0]; i < end[0]; i++) {
            const double du = ((double)i + 0.5) / canvas->scale - print->centre[0];
            const double dv = ((double)j + 0.5) / canvas->scale - print->centre[1];
            const double x = du * c + dv * s;
            const double y = -du * s + dv * c;
            const double straight = larger(fabs(x) - half_w, fabs(y) - half_h);
            double out = straight;
            scene_colour *to = &canvas->px[j * canvas->width + i];
            float cover;

            if (out > 4)
                continue;
            if (print->deckle)
                out += 0.35 * sin((fabs(x) - half_w > fabs(y) - half_h ? y : x) * 2.1);
            cover = scene_clamp((float)(0.5 - out * canvas->scale));
            if (cover < 1) {
                /* the print's thickness throws a narrow shadow, to the lower right */
                const double shadow = larger(fabs(x - 0.35) - half_w, fabs(y - 0.45) - half_h);

                *to = scene_dim(*to, 1 - 0.42f * expf(-(float)larger(shadow, 0) / 0.5f));
            }
            if (cover > 0) {
                const float inside = scene_clamp((float)((-straight - print->border)
                                                         * canvas->scale + 0.5));
                scene_colour p = border;

                if (inside > 0) {
                    const float py = (float)((y + inner_h / 2) / inner_h);
                    const float px = (float)((x + inner_w / 2) / inner_h);

                    p = scene_picture(print, px, py, aspect,
                                      (float)(1.2 / (canvas->scale * inner_h)));
                    p = toned(print, p, px, py, aspect);
                    /* the grain of the film */
                    p = scene_dim(p, 1 + 0.07f * (scene_lattice(print->seed, (int)(x * 7),
                                                                (int)(y * 7))
                                                  - 0.5f));
                    p = scene_mix(border, p, inside);
                }
                *to = scene_mix(*to, p, cover);
            }
            if (print->mounts)
                *to = scene_mix(*to, scene_coded(0x2b2724),
                                mount_cover(print, x, y, canvas->scale));
        }
}
