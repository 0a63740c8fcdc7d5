/*
 * A sheet of paper bends but keeps its lengths. Its profile has unit speed,
 *
 *     x'(s) = cos theta(s),  z'(s) = sin theta(s),
 *
 * and is swept along straight rulings: a generalised cylinder, which is developable (do Carmo,
 * Differential Geometry of Curves and Surfaces, 1976, section 3-5). theta is chosen, x and z are
 * integrated by Simpson's rule and interpolated by Hermite's cubic, whose slopes are known.
 */
#include "scenes/sheet.h"

#include <stdlib.h>

#include "scenes/chance.h"

static const double PI = 3.14159265358979323846;

static double slope_at(const scene_shape *shape, double t)
{
    const scene_sheet *sheet = shape->sheet;
    const double m = sheet->bend_rad;

    switch (sheet->bend) {
    case BEND_BOW:
        return m * cos(PI * t);
    case BEND_S:
        return m * cos(2 * PI * t);
    case BEND_SPINE:
        return m * (exp(-6 * t) - 0.08);
    case BEND_WAVE:
        return m * cos(3 * PI * t);
    case BEND_CORNER: {
        const double from = 1 - sheet->lift_mm / (2 * shape->half);
        const double f = t <= from ? 0 : (t - from) / (1 - from);

        return m * f * f * (3 - 2 * f);
    }
    case BEND_FLAT:
    default:
        return 0;
    }
}

/* Profile at arc length a from its middle; `slope` is its cosine and sine. */
static void profile_at(const scene_shape *shape, double a, double *x, double *z, double slope[2])
{
    const double h = 2 * shape->half / SHEET_STEPS;
    const double at = (a + shape->half) / h;
    const size_t i = at <= 0 ? 0 : at >= SHEET_STEPS - 1 ? SHEET_STEPS - 1 : (size_t)at;
    const double f = at - (double)i;

    if (f < 0 || f > 1) {    /* straight on */
        const size_t end = f < 0 ? 0 : SHEET_STEPS;
        const double beyond = (at - (double)end) * h;

        slope[0] = shape->slope_c[end];
        slope[1] = shape->slope_s[end];
        *x = shape->x[end] + beyond * slope[0];
        *z = shape->z[end] + beyond * slope[1];
    } else {
        const double *const c = shape->slope_c + i;
        const double *const s = shape->slope_s + i;
        const double b = f * f * (3 - 2 * f);
        const double m = f * (1 - f) * (1 - f) * h;
        const double n = f * f * (f - 1) * h;

        slope[0] = c[0] + f * (c[1] - c[0]);
        slope[1] = s[0] + f * (s[1] - s[0]);
        *x = (1 - b) * shape->x[i] + b * shape->x[i + 1] + m * c[0] + n * c[1];
        *z = (1 - b) * shape->z[i] + b * shape->z[i + 1] + m * s[0] + n * s[1];
    }
}

void scene_shape_set(scene_shape *out, const scene_sheet *sheet)
{
    double h;
    double x;
    double z;
    double slope[2];
    double lowest = 0;

    out->sheet = sheet;
    out->c = cos(sheet->across);
    out->s = sin(sheet->across);
    out->turn_c = cos(sheet->turn);
    out->turn_s = sin(sheet->turn);
    out->half = (sheet->mm[0] * fabs(out->c) + sheet->mm[1] * fabs(out->s)) / 2;
    out->highest = 0;
    h = 2 * out->half / SHEET_STEPS;
    out->x[0] = out->z[0] = 0;
    for (size_t i = 0; i <= SHEET_STEPS; i++) {
        const double theta = slope_at(out, (double)i / SHEET_STEPS);

        out->slope_c[i] = cos(theta);
        out->slope_s[i] = sin(theta);
    }
    for (size_t i = 0; i < SHEET_STEPS; i++) {
        const double m = slope_at(out, ((double)i + 0.5) / SHEET_STEPS);

        out->x[i + 1] = out->x[i] + h * (out->slope_c[i] + 4 * cos(m) + out->slope_c[i + 1]) / 6;
        out->z[i + 1] = out->z[i] + h * (out->slope_s[i] + 4 * sin(m) + out->slope_s[i + 1]) / 6;
        lowest = smaller(lowest, out->z[i + 1]);
    }
    profile_at(out, 0, &x, &z, slope);
    for (size_t i = 0; i <= SHEET_STEPS; i++) {
        out->x[i] -= x;
        out->z[i] -= lowest;
        out->highest = larger(out->highest, out->z[i]);
    }
}

void scene_shape_at(const scene_shape *shape, double u, double v, double xyz[3],
                    double normal[3])
{
    const scene_sheet *sheet = shape->sheet;
    const double du = u - sheet->mm[0] / 2;
    const double dv = v - sheet->mm[1] / 2;
    const double along = -shape->s * du + shape->c * dv;
    double x;
    double z;
    double slope[2];
    double px;
    double py;

    profile_at(shape, shape->c * du + shape->s * dv, &x, &z, slope);
    px = shape->c * x - shape->s * along;
    py = shape->s * x + shape->c * along;
    xyz[0] = sheet->place[0] + shape->turn_c * px - shape->turn_s * py;
    xyz[1] = sheet->place[1] + shape->turn_s * px + shape->turn_c * py;
    xyz[2] = z;
    if (normal != NULL) {
        const double nx = -slope[1] * shape->c;
        const double ny = -slope[1] * shape->s;

        normal[0] = shape->turn_c * nx - shape->turn_s * ny;
        normal[1] = shape->turn_s * nx + shape->turn_c * ny;
        normal[2] = slope[0];
    }
}

void scene_shape_flat(const scene_shape *shape, double x, double y, double uv[2])
{
    const scene_sheet *sheet = shape->sheet;
    const double dx = x - sheet->place[0];
    const double dy = y - sheet->place[1];

    uv[0] = shape->turn_c * dx + shape->turn_s * dy + sheet->mm[0] / 2;
    uv[1] = -shape->turn_s * dx + shape->turn_c * dy + sheet->mm[1] / 2;
}

/* ---- outline --------------------------------------------------------------------------------- */

/* Holes of 6 mm, their middles 12 mm from the left side, 80 mm apart (ISO 838). */
static const double HOLE_RADIUS = 3;
static const double HOLE_INSET = 12;
static const double HOLE_PITCH = 80;

/* How far a side gives way at a place along it: above 0 inwards. */
static double uneven(const scene_sheet *sheet, double along, unsigned side)
{
    const double pitch = larger(sheet->scallop_pitch_mm, 1);
    double in = 0;

    if (sheet->scallop_mm > 0)
        in += sheet->scallop_mm * (0.5 - fabs(sin(PI * along / pitch)));
    if (sheet->fray_mm > 0) {
        /* seldom deep, mostly shallow */
        const float f = scene_clouds(sheet->seed * 4 + side, (float)along / 3.2f, 0.5f, 4);
        const double deep = smaller(larger((f - 0.5) * 2.4 + 0.5, 0), 1);

        in += sheet->fray_mm * (deep - 0.5);
    }
    return in;
}

double scene_sheet_outside(const scene_sheet *sheet, double u, double v, double gradient[2])
{
    const double r = sheet->rounded_mm;
    const double cu = u - sheet->mm[0] / 2;
    const double cv = v - sheet->mm[1] / 2;
    const double dx = fabs(cu) - sheet->mm[0] / 2 + r;
    const double dy = fabs(cv) - sheet->mm[1] / 2 + r;
    double g[2];
    double d;

    if (dx > 0 && dy > 0) {
        const double n = length2(dx, dy);

        d = n - r;
        g[0] = dx / n;
        g[1] = dy / n;
    } else {
        d = larger(dx, dy) - r;
        g[0] = dx > dy;
        g[1] = dx <= dy;
        if ((sheet->scallop_mm > 0 || sheet->fray_mm > 0) && fabs(d) < 20)
            d += uneven(sheet, dx > dy ? v : u, dx > dy ? (cu > 0) : 2u + (cv > 0));
    }
    g[0] = cu < 0 ? -g[0] : g[0];
    g[1] = cv < 0 ? -g[1] : g[1];
    for (unsigned k = 0; k < sheet->holes; k++) {
        const double hu = u - HOLE_INSET;
        const double hv = cv - (k - (sheet->holes - 1) / 2.0) * HOLE_PITCH;

        if (fabs(hu) < 2 * HOLE_RADIUS && fabs(hv) < 2 * HOLE_RADIUS) {
            const double n = length2(hu, hv);

            if (HOLE_RADIUS - n > d) {
                d = HOLE_RADIUS - n;
                g[0] = n > 0 ? -hu / n : 1;
                g[1] = n > 0 ? -hv / n : 0;
            }
        }
    }
    if (gradient != NULL) {
        gradient[0] = g[0];
        gradient[1] = g[1];
    }
    return d;
}

sl_status scene_sheet_points(double (*xyz)[3], const scene_sheet *sheet, const sl_point *uv,
                             size_t count, sl_error *err)
{
    scene_shape *shape = malloc(sizeof *shape);

    if (shape == NULL) {
        if (err != NULL)
            *err = (sl_error){ SL_ERR_NOMEM, "scene", "out of memory" };
        return SL_ERR_NOMEM;
    }
    scene_shape_set(shape, sheet);
    for (size_t i = 0; i < count; i++)
        scene_shape_at(shape, uv[i].x, uv[i].y, xyz[i], NULL);
    free(shape);
    return SL_OK;
}
