#include "border/quad.h"

#include <math.h>

bool sl_quad_is_framed(const sl_quad *q)
{
    for (int k = 0; k < 4; k++)
        if (q->side[k].frame)
            return true;
    return false;
}

double sl_quad_distance(const sl_quad *a, const sl_quad *b, const sl_small *small)
{
    double best = INFINITY;

    for (int turn = 0; turn < 4; turn++) {
        double worst = 0;

        for (int k = 0; k < 4; k++)
            worst = fmax(worst, hypot(a->corner[k].x - b->corner[(k + turn) % 4].x,
                                      a->corner[k].y - b->corner[(k + turn) % 4].y));
        best = fmin(best, worst);
    }
    return best / sqrt(b->area * (double)(small->width * small->height));
}

bool sl_quad_has_point(const sl_quad *q, sl_point p, double slack)
{
    for (int k = 0; k < 4; k++) {
        const sl_point a = q->corner[k];
        const sl_point b = q->corner[(k + 1) % 4];
        const double length = hypot(b.x - a.x, b.y - a.y);

        if (((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)) / length < -slack)
            return false;
    }
    return true;
}

bool sl_quad_within(const sl_quad *inner, const sl_quad *outer, double slack)
{
    for (int k = 0; k < 4; k++)
        if (!sl_quad_has_point(outer, inner->corner[k], slack))
            return false;
    return true;
}

static sl_point centre_of(const sl_quad *q)
{
    sl_point c = { 0, 0 };

    for (int k = 0; k < 4; k++) {
        c.x += q->corner[k].x / 4;
        c.y += q->corner[k].y / 4;
    }
    return c;
}

bool sl_quads_apart(const sl_quad *a, const sl_quad *b)
{
    for (int k = 0; k < 4; k++)
        if (sl_quad_has_point(b, a->corner[k], -2) || sl_quad_has_point(a, b->corner[k], -2))
            return false;
    return !sl_quad_has_point(b, centre_of(a), 0) && !sl_quad_has_point(a, centre_of(b), 0);
}
