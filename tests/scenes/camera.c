/* Pinhole camera with Brown's radial terms (Brown, Photogrammetric Engineering 37, 1971). */
#include "scenes/camera.h"

#include <string.h>

#include "scenes/maths.h"

static const double FILM_DIAGONAL_MM = 43.27; /* of 36 x 24 mm: the diagonal rule of CIPA DCG-001 */

static void multiply(double out[9], const double a[9], const double b[9])
{
    double r[9];

    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            r[3 * i + j] = a[3 * i] * b[j] + a[3 * i + 1] * b[3 + j] + a[3 * i + 2] * b[6 + j];
    memcpy(out, r, sizeof r);
}

void scene_camera_set(scene_camera *out, const scene *s)
{
    const double cp = cos(s->pitch);
    const double sp = sin(s->pitch);
    const double cy = cos(s->yaw);
    const double sy = sin(s->yaw);
    const double cr = cos(s->roll);
    const double sr = sin(s->roll);
    const double about_x[9] = { 1, 0, 0, 0, cp, -sp, 0, sp, cp };
    const double about_y[9] = { cy, 0, sy, 0, 1, 0, -sy, 0, cy };
    const double about_z[9] = { cr, -sr, 0, sr, cr, 0, 0, 0, 1 };
    const double w = (double)s->width;
    const double h = (double)s->height;
    const double longest = larger(s->sheet[0].mm[0], s->sheet[0].mm[1]);

    multiply(out->rotation, about_x, about_y);
    multiply(out->rotation, about_z, out->rotation);
    out->centre[0] = (w - 1) / 2 + s->centre_px[0];
    out->centre[1] = (h - 1) / 2 + s->centre_px[1];
    out->shift[0] = s->shift_mm[0];
    out->shift[1] = s->shift_mm[1];
    out->focal = s->focal_35mm * length2(w, h) / FILM_DIAGONAL_MM;
    out->distance = out->focal * longest / (s->fill * smaller(w, h));
    out->k1 = s->k1;
    out->k2 = s->k2;
}

bool scene_camera_project(sl_point *px, const scene_camera *camera, const double xyz[3])
{
    const double *r = camera->rotation;
    const double p[3] = { xyz[0] + camera->shift[0], xyz[1] + camera->shift[1], -xyz[2] };
    const double z = r[6] * p[0] + r[7] * p[1] + r[8] * p[2] + camera->distance;
    const double x = (r[0] * p[0] + r[1] * p[1] + r[2] * p[2]) / z;
    const double y = (r[3] * p[0] + r[4] * p[1] + r[5] * p[2]) / z;
    const double r2 = x * x + y * y;
    const double d = 1 + r2 * (camera->k1 + r2 * camera->k2);

    *px = (sl_point){ camera->centre[0] + camera->focal * d * x,
                      camera->centre[1] + camera->focal * d * y };
    return z > 0;
}

/*
 * Undistorted direction: solves r (1 + k1 r^2 + k2 r^4) = rd by Newton's method. Where a barrel
 * lens folds back before it reaches rd, the largest radius that it shows is taken.
 */
static void undistort(double xy[2], const scene_camera *camera, sl_point px)
{
    const double xd = (px.x - camera->centre[0]) / camera->focal;
    const double yd = (px.y - camera->centre[1]) / camera->focal;
    const double rd = length2(xd, yd);
    double r = rd;

    for (int k = 0; k < 20 && rd > 0; k++) {
        const double r2 = r * r;
        const double f = r * (1 + r2 * (camera->k1 + r2 * camera->k2)) - rd;
        const double g = 1 + r2 * (3 * camera->k1 + 5 * r2 * camera->k2);
        const double step = g > 0.05 ? f / g : 0;

        r -= step;
        if (fabs(step) < 1e-13)
            break;
    }
    xy[0] = rd > 0 ? xd * r / rd : 0;
    xy[1] = rd > 0 ? yd * r / rd : 0;
}

bool scene_camera_plane(double xy[2], const scene_camera *camera, sl_point px, double height)
{
    const double *r = camera->rotation;
    double direction[2];
    double ray[3];
    double t;

    undistort(direction, camera, px);
    for (int i = 0; i < 3; i++)
        ray[i] = r[i] * direction[0] + r[3 + i] * direction[1] + r[6 + i];
    /* the camera's own place is -R^T (0, 0, distance); height is against z */
    t = (-height + r[8] * camera->distance) / ray[2];
    xy[0] = -r[6] * camera->distance + t * ray[0] - camera->shift[0];
    xy[1] = -r[7] * camera->distance + t * ray[1] - camera->shift[1];
    return t > 0 && ray[2] > 1e-6;
}

bool scene_camera_page(sl_point *px, const scene_camera *camera, const scene_shape *shape,
                       double u, double v)
{
    double xyz[3];

    scene_shape_at(shape, u, v, xyz, NULL);
    return scene_camera_project(px, camera, xyz);
}

bool scene_camera_sheet(double uv[2], const scene_camera *camera, const scene_shape *shape,
                        sl_point px)
{
    const double h = 0.05;   /* mm, of the differences that stand for derivatives */
    const double longest = 60; /* mm, of one step */

    for (int k = 0; k < 40; k++) {
        sl_point p;
        sl_point a;
        sl_point b;

        if (!scene_camera_page(&p, camera, shape, uv[0], uv[1])
            || !scene_camera_page(&a, camera, shape, uv[0] + h, uv[1])
            || !scene_camera_page(&b, camera, shape, uv[0], uv[1] + h))
            return false;
        {
            const double ux = (a.x - p.x) / h;
            const double uy = (a.y - p.y) / h;
            const double vx = (b.x - p.x) / h;
            const double vy = (b.y - p.y) / h;
            const double det = ux * vy - uy * vx;
            const double ex = px.x - p.x;
            const double ey = px.y - p.y;
            double du;
            double dv;
            double step;

            if (ex * ex + ey * ey < 1e-6)
                return true;
            if (!(det > 1e-9))
                return false;
            du = (ex * vy - ey * vx) / det;
            dv = (ux * ey - uy * ex) / det;
            step = length2(du, dv);
            if (step > longest) {
                du *= longest / step;
                dv *= longest / step;
            }
            uv[0] += du;
            uv[1] += dv;
        }
    }
    return false;
}
