#include "border/shape.h"

#include <math.h>

static const double USUAL_FOCAL = 0.75;       /* of the long side: 27 mm equivalent, a phone's */

double sl_off_shape(const sl_outline *out, const sl_image *shot, const sl_border_params *params)
{
    const double w = (double)shot->width;
    const double h = (double)shot->height;
    double focal = params->focal_px > 0 ? params->focal_px : USUAL_FOCAL * fmax(w, h);
    double ratio;

    if (!(params->page_ratio > 0)
        || sl_rectangle_from_view(&focal, &ratio, out->corner, (sl_point){ w / 2, h / 2 }, NULL)
               != SL_OK)
        return INFINITY;
    return fabs(log(fmax(ratio, 1 / ratio) / params->page_ratio));
}
