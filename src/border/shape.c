#include "border/shape.h"

#include <math.h>
#include <string.h>

static const double USUAL_FOCAL = 0.75;       /* of the long side: 27 mm equivalent, a phone's */

/* ln of the proportions over the stated ones. */
static double shape_of(const sl_point corner[4], const sl_image *shot,
                       const sl_border_params *params)
{
    const double w = (double)shot->width;
    const double h = (double)shot->height;
    double focal = params->focal_px > 0 ? params->focal_px : USUAL_FOCAL * fmax(w, h);
    double ratio;

    if (!(params->page_ratio > 0)
        || sl_rectangle_from_view(&focal, &ratio, corner, (sl_point){ w / 2, h / 2 }, NULL)
               != SL_OK)
        return INFINITY;
    return log(fmax(ratio, 1 / ratio) / params->page_ratio);
}

double sl_off_shape(const sl_outline *out, const sl_image *shot, const sl_border_params *params)
{
    return fabs(shape_of(out->corner, shot, params));
}

/* Away from corner `from`, by a distance. */
static sl_point further(sl_point corner, sl_point from, double distance)
{
    const double length = hypot(corner.x - from.x, corner.y - from.y);

    return (sl_point){ corner.x + distance * (corner.x - from.x) / length,
                       corner.y + distance * (corner.y - from.y) / length };
}

bool sl_shape_side(sl_point corner[4], int side, double most, const sl_image *shot,
                   const sl_border_params *params)
{
    const int next = (side + 1) % 4;
    sl_point moved[4];
    double out = 0;

    memcpy(moved, corner, sizeof moved);
    /* all but linear: the second step of Newton's is exact to a fraction of a px */
    for (int step = 0; step < 2; step++) {
        const double here = shape_of(moved, shot, params);
        double slope;

        moved[side] = further(corner[side], corner[(side + 3) % 4], out + 1);
        moved[next] = further(corner[next], corner[(next + 1) % 4], out + 1);
        slope = shape_of(moved, shot, params) - here;
        out -= here / slope;
        if (!(fabs(out) <= most))
            return false;
        moved[side] = further(corner[side], corner[(side + 3) % 4], out);
        moved[next] = further(corner[next], corner[(next + 1) % 4], out);
    }
    corner[side] = moved[side];
    corner[next] = moved[next];
    return true;
}
