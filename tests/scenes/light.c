/*
 * Two lamps beside the page at about 45 degrees, as copy stands have them, and some light from
 * everywhere. A lamp is a point for brightness (cosine over distance squared) and a disc for the
 * softness of shadows.
 */
#include "scenes/light.h"

#include "scenes/maths.h"

void scene_lamps_set(scene_lamps *out, const scene *s)
{
    const double l = larger(s->sheet[0].mm[0], s->sheet[0].mm[1]);

    *out = (scene_lamps){ { { -2.4 * l, -s->lamp_back * l, 2.3 * l },
                            { 2.5 * l, -0.7 * s->lamp_back * l, 2.2 * l } },
                          { s->lamp[0], s->lamp[1] }, s->ambient, s->shadow, s->lamp_size,
                          s->bar, cos(s->bar_turn),
                          sin(s->bar_turn), s->bar_at, larger(s->bar_soft_mm, 0.1) };
    for (int i = 0; i < 2; i++) {
        const double *p = out->place[i];
        const double d = sqrt(p[0] * p[0] + p[1] * p[1] + p[2] * p[2]);

        out->power[i] *= 0.5 * (1 - s->ambient) * d * d * d / p[2];
    }
}

void scene_lamps_at(double light[2], const scene_lamps *lamps, const double xyz[3],
                    const double normal[3])
{
    const double across = (lamps->bar_c * xyz[0] + lamps->bar_s * xyz[1] - lamps->bar_at)
                          / lamps->bar_soft;
    const double t = smaller(larger(across / 2 + 0.5, 0), 1);
    const double open = 1 - lamps->bar * t * t * (3 - 2 * t);

    for (int i = 0; i < 2; i++) {
        const double d[3] = { lamps->place[i][0] - xyz[0], lamps->place[i][1] - xyz[1],
                              lamps->place[i][2] - xyz[2] };
        const double r2 = d[0] * d[0] + d[1] * d[1] + d[2] * d[2];
        const double c = d[0] * normal[0] + d[1] * normal[1] + d[2] * normal[2];

        light[i] = open * lamps->power[i] * larger(c, 0) / (r2 * sqrt(r2));
    }
}

double scene_shadow_reach(const scene_shape *shape, double below)
{
    /* the lamps stand about as far aside as they stand high; then the penumbra, the dim rim */
    return 1.5 * (shape->highest + below) + 6;
}

double scene_shadow(const scene_lamps *lamps, const scene_shape *shape, double u, double v,
                    double outside, const double light[2], double below)
{
    const scene_sheet *sheet = shape->sheet;
    const double all = lamps->ambient + light[0] + light[1];
    double left = lamps->ambient;
    double edge[3];

    /* the height of the nearest place of the page decides how far its shadow falls */
    scene_shape_at(shape, smaller(larger(u, 0), sheet->mm[0]),
                   smaller(larger(v, 0), sheet->mm[1]), edge, NULL);
    edge[2] += below;
    for (int i = 0; i < 2; i++) {
        const double lx = edge[2] * (lamps->place[i][0] - edge[0]) / lamps->place[i][2];
        const double ly = edge[2] * (lamps->place[i][1] - edge[1]) / lamps->place[i][2];
        const double du = shape->turn_c * lx + shape->turn_s * ly;
        const double dv = -shape->turn_s * lx + shape->turn_c * ly;
        const double d = scene_sheet_outside(sheet, u + du, v + dv, NULL);
        const double soft = lamps->size * edge[2] + 0.3;
        const double t = smaller(larger(0.5 - d / (2 * soft), 0), 1);

        left += light[i] * (1 - t * t * (3 - 2 * t));
    }
    /* beside a wall as high as the page's edge less of the ambient light comes down: the part of
       the sky over a flat place that an endless wall hides */
    outside = larger(outside, 0);
    left -= lamps->ambient * 0.5 * (1 - outside / larger(length2(outside, edge[2]), 1e-9));
    return all > 0 ? 1 - lamps->shadow * (1 - left / all) : 1;
}
