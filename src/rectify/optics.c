/* What the tags say of the camera, and how far to believe them. */
#include "squareleaf.h"

#include <math.h>

/* Diagonal of the 35 mm frame, sqrt(36^2 + 24^2) mm: CIPA DC-008's FocalLengthIn35mmFilm. */
static const double DIAGONAL_35MM = 43.266615;

/* Where the tag is missing: between a phone (26) and a long lens (85), 0.4 either way in ln. */
static const double USUAL_35MM = 40.0;

/* The stored pixel size differs from the picture's, either way up. */
static bool size_differs(const sl_exif *exif, size_t width, size_t height)
{
    if (exif->pixel_x == 0 || exif->pixel_y == 0)
        return false;
    return !((exif->pixel_x == width && exif->pixel_y == height)
             || (exif->pixel_x == height && exif->pixel_y == width));
}

/* Sensors are 4:3 or 3:2; another shape has been cut. 1 %: 4000 x 3000 or 5184 x 3456 exactly,
   but also 4624 x 3468, 6016 x 4000. */
static bool sensor_shaped(size_t width, size_t height)
{
    const double ratio = width > height ? (double)width / (double)height
                                        : (double)height / (double)width;

    return fabs(ratio * 3.0 / 4.0 - 1.0) < 0.01 || fabs(ratio * 2.0 / 3.0 - 1.0) < 0.01;
}

sl_optics sl_optics_guess(const sl_exif *exif, size_t width, size_t height)
{
    static const sl_exif none = { 0 };
    const sl_exif *const tags = exif != NULL ? exif : &none;
    const bool tag = tags->focal_35mm >= 5.0 && tags->focal_35mm <= 2000.0;
    const bool cut = size_differs(tags, width, height) || !sensor_shaped(width, height);
    const bool sure = tag && !cut && !(tags->digital_zoom > 1.0);
    const double diagonal = hypot((double)width, (double)height);

    return (sl_optics){
        .width = width,
        .height = height,
        .focal_px = (tag ? tags->focal_35mm : USUAL_35MM) * diagonal / DIAGONAL_35MM,
        /* tags follow the diagonal or the width (4 % apart on 4:3), in whole mm (2 % at 26) */
        .ln_focal_sigma = !tag ? 0.4 : sure ? 0.05 : 0.35,
        .centre_x = 0.5 * ((double)width - 1.0),
        .centre_y = 0.5 * ((double)height - 1.0),
        .centre_sigma = (cut ? 0.04 : 0.005) * (double)(width > height ? width : height),
        /* most shots are corrected in the camera; the rest stay within -0.1 .. +0.05 */
        .k1_sigma = 0.05,
        .k2_sigma = 0.02,
    };
}
