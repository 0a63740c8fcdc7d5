#include "border/attempt.h"

#include <math.h>

#include "border/shape.h"
#include "border/sheets.h"

void sl_attempt_trace(sl_outline *out, sl_attempt *a, const sl_evidence *v)
{
    a->seen = sl_trace_quad(out, &a->quad, sl_trace_reach(v->small), NULL, v->small, v->shot,
                            v->tone, v->params);
}

bool sl_attempt_is_pagelike(const sl_attempt *a, double off, const sl_evidence *v)
{
    return (off < SL_HAIRS * SL_TO_A_HAIR && sl_has_margins(a->from, v->small))
           || sl_has_print_on(a->from, v->lines, v->small, v->params);
}

double sl_attempt_off(const sl_outline *out, const sl_evidence *v)
{
    return sl_off_shape(out, v->shot, v->params);
}

double sl_outline_area(const sl_outline *o)
{
    double twice = 0;

    for (int i = 0; i < 4; i++) {
        const sl_point p = o->corner[i];
        const sl_point q = o->corner[(i + 1) % 4];

        twice += p.x * q.y - q.x * p.y;
    }
    return fabs(twice) / 2;
}
