/*
 * A bent sheet keeps its lengths: its profile has unit speed, x' = cos theta, z' = sin theta,
 * integrated numerically (Simpson's rule on 2048 steps), and straight rulings. Pinhole camera with
 * Brown's radial terms.
 */
#include "scenes/camera.h"

#include <math.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

static double slope(const scene *s, double t)
{
    switch (s->bend) {
    case BEND_BOW:
        return s->bend_rad * cos(PI * t);
    case BEND_S:
        return s->bend_rad * cos(2 * PI * t);
    case BEND_SPINE:         /* rises towards a binding, falls off away from it */
        return s->bend_rad * exp(-4 * t) - 0.12 * s->bend_rad;
    case BEND_FLAT:
    default:
        return 0;
    }
}

static void multiply(double out[9], const double a[9], const double b[9])
{
    double r[9];

    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            r[3 * i + j] = a[3 * i] * b[j] + a[3 * i + 1] * b[3 + j] + a[3 * i + 2] * b[6 + j];
    memcpy(out, r, sizeof r);
}

void scene_camera_set(scene_camera *c, const scene *s)
{
    const double across = s->rulings_level ? s->page_mm[1] : s->page_mm[0];
    const double h = across / PROFILE_STEPS;
    const double cp = cos(s->pitch);
    const double sp = sin(s->pitch);
    const double cy = cos(s->yaw);
    const double sy = sin(s->yaw);
    const double cr = cos(s->roll);
    const double sr = sin(s->roll);
    const double about_x[9] = { 1, 0, 0, 0, cp, -sp, 0, sp, cp };
    const double about_y[9] = { cy, 0, sy, 0, 1, 0, -sy, 0, cy };
    const double about_z[9] = { cr, -sr, 0, sr, cr, 0, 0, 0, 1 };
    const double longest = fmax(s->page_mm[0], s->page_mm[1]);
    const double frame = (double)(s->width < s->height ? s->width : s->height);
    double lowest = 0;

    c->scene = s;
    c->length = across;
    c->x[0] = c->z[0] = 0;
    for (int i = 0; i < PROFILE_STEPS; i++) {
        const double a = slope(s, (double)i / PROFILE_STEPS);
        const double m = slope(s, (i + 0.5) / PROFILE_STEPS);
        const double b = slope(s, (i + 1.0) / PROFILE_STEPS);

        c->x[i + 1] = c->x[i] + h * (cos(a) + 4 * cos(m) + cos(b)) / 6;
        c->z[i + 1] = c->z[i] + h * (sin(a) + 4 * sin(m) + sin(b)) / 6;
        lowest = fmin(lowest, c->z[i + 1]);
    }
    for (int i = 0; i <= PROFILE_STEPS; i++)
        c->z[i] -= lowest;
    multiply(c->rotation, about_x, about_y);
    multiply(c->rotation, about_z, c->rotation);
    c->distance = s->focal_px * longest / (s->fill * frame);
}

/* The profile at arc length t, mm; straight on beyond its ends. */
static void profile_at(const scene_camera *c, double t, double *x, double *z)
{
    const double at = t / c->length * PROFILE_STEPS;
    const int last = PROFILE_STEPS - 1;
    const int i = at < 0 ? 0 : at > last ? last : (int)at;
    const double f = at - i;

    *x = c->x[i] + f * (c->x[i + 1] - c->x[i]);
    *z = c->z[i] + f * (c->z[i + 1] - c->z[i]);
}

/* Space (mm; origin at the page's middle on the table, z up) to shot px. */
static sl_point project(const scene_camera *c, double x, double y, double z)
{
    const scene *s = c->scene;
    const double *r = c->rotation;
    const double p[3] = { x + s->shift_mm[0], y + s->shift_mm[1], -z };
    const double cx = r[0] * p[0] + r[1] * p[1] + r[2] * p[2];
    const double cy = r[3] * p[0] + r[4] * p[1] + r[5] * p[2];
    const double cz = r[6] * p[0] + r[7] * p[1] + r[8] * p[2] + c->distance;
    const double u = cx / cz;
    const double v = cy / cz;
    const double r2 = u * u + v * v;
    const double d = 1 + s->k1 * r2 + s->k2 * r2 * r2;

    return (sl_point){ ((double)s->width - 1) / 2 + s->focal_px * d * u,
                       ((double)s->height - 1) / 2 + s->focal_px * d * v };
}

sl_point scene_camera_page(const scene_camera *c, double u, double v)
{
    const scene *s = c->scene;
    const double middle = (c->x[PROFILE_STEPS] - c->x[0]) / 2;
    double x;
    double z;

    if (s->rulings_level) {
        profile_at(c, v, &x, &z);
        return project(c, u - s->page_mm[0] / 2, x - middle, z);
    }
    profile_at(c, u, &x, &z);
    return project(c, x - middle, v - s->page_mm[1] / 2, z);
}

bool scene_camera_see(const scene_camera *c, sl_point px, double uv[2])
{
    const double h = 0.05;

    for (int k = 0; k < 12; k++) {
        const sl_point p = scene_camera_page(c, uv[0], uv[1]);
        const sl_point a = scene_camera_page(c, uv[0] + h, uv[1]);
        const sl_point b = scene_camera_page(c, uv[0], uv[1] + h);
        const double ux = (a.x - p.x) / h;
        const double uy = (a.y - p.y) / h;
        const double vx = (b.x - p.x) / h;
        const double vy = (b.y - p.y) / h;
        const double det = ux * vy - uy * vx;
        const double ex = px.x - p.x;
        const double ey = px.y - p.y;

        if (ex * ex + ey * ey < 1e-8)
            return true;
        if (fabs(det) < 1e-9)
            return false;
        uv[0] += (ex * vy - ey * vx) / det;
        uv[1] += (ux * ey - uy * ex) / det;
        if (fabs(uv[0]) > 1e5 || fabs(uv[1]) > 1e5)
            return false;
    }
    return true;
}

sl_point scene_camera_table(const scene_camera *c, sl_point px)
{
    const scene *s = c->scene;
    const double *r = c->rotation;
    const double xd = (px.x - ((double)s->width - 1) / 2) / s->focal_px;
    const double yd = (px.y - ((double)s->height - 1) / 2) / s->focal_px;
    double x = xd;
    double y = yd;
    double ray[3];
    double base[3];
    double t;

    /* Brown's terms have no closed inverse: fixed point, a contraction for |k1 r^2| < 1/3 */
    for (int k = 0; k < 8; k++) {
        const double r2 = x * x + y * y;
        const double d = 1 + s->k1 * r2 + s->k2 * r2 * r2;

        x = xd / d;
        y = yd / d;
    }
    /* in the page's own space: the camera's place is -R^T (0, 0, distance) */
    for (int i = 0; i < 3; i++) {
        ray[i] = r[i] * x + r[3 + i] * y + r[6 + i];
        base[i] = -r[6 + i] * c->distance;
    }
    t = -base[2] / ray[2];
    return (sl_point){ base[0] + t * ray[0] - s->shift_mm[0] + s->page_mm[0] / 2,
                       base[1] + t * ray[1] - s->shift_mm[1] + s->page_mm[1] / 2 };
}
