#include "album/guidelines.h"

#include <math.h>

#include "album/report.h"

enum { STARS = 4 };

/* FADGI 2016, prints and photographs: ppi at the original's size, one star to four. */
static const double ppi_of[STARS] = { 100, 200, 400, 600 };

/* The same table: illuminance non-uniformity below, %. */
static const double uneven_of[STARS] = { 8, 5, 3, 1 };

static json_t *figure(bool known, double value)
{
    return known ? sl_json_number(value) : json_null();
}

static int stars_of_ppi(double ppi)
{
    int stars = 0;

    while (stars < STARS && ppi >= ppi_of[stars])
        stars++;
    return stars;
}

static int stars_of_light(double percent)
{
    int stars = 0;

    while (stars < STARS && percent < uneven_of[stars])
        stars++;
    return stars;
}

json_t *sl_guidelines(const sl_inspection *in)
{
    const double ppi = in->native_ppi.p5;
    const double uneven = 100 * (1 - in->evenness);
    const bool lit = isfinite(uneven);
    json_t *all = json_object();

    /* what the camera delivered: guidelines do not let upsampled pixels count (36 CFR 1236.48) */
    json_object_set_new(all, "resolution_ppi", figure(in->has_ppi, ppi));
    json_object_set_new(all, "reaches_300_ppi",
                        in->has_ppi ? json_boolean(ppi >= 300) : json_null());
    json_object_set_new(all, "reaches_400_ppi",
                        in->has_ppi ? json_boolean(ppi >= 400) : json_null());
    json_object_set_new(all, "resolution_stars",
                        in->has_ppi ? json_integer(stars_of_ppi(ppi)) : json_null());
    json_object_set_new(all, "illuminance_non_uniformity_percent", figure(true, uneven));
    json_object_set_new(all, "non_uniformity_stars",
                        lit ? json_integer(stars_of_light(uneven)) : json_null());
    json_object_set_new(all, "clipped_percent", figure(true, 100 * in->clipped));
    return all;
}
