#include "geometry/camera.h"

#include "geometry/linear.h"

#include <math.h>

/* Below this angle sin and 1 - cos over their powers are taken from their series. */
static const double SMALL_ANGLE = 1e-4;

void sl_rotation_matrix(double r[9], const double w[3])
{
    const double angle = sqrt(sl_dot3(w, w));
    const double q = angle * angle;
    const double a = angle < SMALL_ANGLE ? 1.0 - q / 6.0 : sin(angle) / angle;
    const double half = sin(0.5 * angle);
    const double b = angle < SMALL_ANGLE ? 0.5 - q / 24.0 : 2.0 * half * half / q;

    /* I + a [w]x + b [w]x^2 */
    r[0] = 1.0 - b * (w[1] * w[1] + w[2] * w[2]);
    r[1] = b * w[0] * w[1] - a * w[2];
    r[2] = b * w[0] * w[2] + a * w[1];
    r[3] = b * w[0] * w[1] + a * w[2];
    r[4] = 1.0 - b * (w[0] * w[0] + w[2] * w[2]);
    r[5] = b * w[1] * w[2] - a * w[0];
    r[6] = b * w[0] * w[2] - a * w[1];
    r[7] = b * w[1] * w[2] + a * w[0];
    r[8] = 1.0 - b * (w[0] * w[0] + w[1] * w[1]);
}

void sl_rotation_vector(double w[3], const double r[9])
{
    const double axis[3] = { r[7] - r[5], r[2] - r[6], r[3] - r[1] };  /* 2 sin(angle) n */
    const double sine = 0.5 * sqrt(sl_dot3(axis, axis));
    const double cosine = 0.5 * (r[0] + r[4] + r[8] - 1.0);
    const double angle = atan2(sine, cosine);

    if (sine > 1e-7) {
        for (size_t i = 0; i < 3; i++)
            w[i] = axis[i] * angle / (2.0 * sine);
    } else if (cosine > 0.0) {
        for (size_t i = 0; i < 3; i++)
            w[i] = 0.5 * axis[i];
    } else {
        /* half a turn: R = 2 n n' - I, n from its longest column */
        size_t best = 0;

        for (size_t i = 1; i < 3; i++)
            if (r[4 * i] > r[4 * best])
                best = i;

        const double length = sqrt(fmax(0.5 * (r[4 * best] + 1.0), 0.25));

        for (size_t i = 0; i < 3; i++) {
            const double nn = 0.25 * (r[3 * i + best] + r[3 * best + i]);

            w[i] = angle * (i == best ? length : nn / length);
        }
    }
}

void sl_rotation_right_jacobian(double jr[9], const double w[3])
{
    const double angle = sqrt(sl_dot3(w, w));
    const double q = angle * angle;
    const double half = sin(0.5 * angle);
    const double b = angle < SMALL_ANGLE ? 0.5 - q / 24.0 : 2.0 * half * half / q;
    /* (angle - sin)/angle^3 loses digits earlier than the others do */
    const double c = angle < 0.02 ? 1.0 / 6.0 - q / 120.0 + q * q / 5040.0
                                  : (angle - sin(angle)) / (q * angle);

    /* I - b [w]x + c [w]x^2 */
    jr[0] = 1.0 - c * (w[1] * w[1] + w[2] * w[2]);
    jr[1] = c * w[0] * w[1] + b * w[2];
    jr[2] = c * w[0] * w[2] - b * w[1];
    jr[3] = c * w[0] * w[1] - b * w[2];
    jr[4] = 1.0 - c * (w[0] * w[0] + w[2] * w[2]);
    jr[5] = c * w[1] * w[2] + b * w[0];
    jr[6] = c * w[0] * w[2] + b * w[1];
    jr[7] = c * w[1] * w[2] - b * w[0];
    jr[8] = 1.0 - c * (w[0] * w[0] + w[1] * w[1]);
}

sl_point sl_camera_project(const sl_camera *camera, const double p[3])
{
    const double x = p[0] / p[2];
    const double y = p[1] / p[2];
    const double r2 = x * x + y * y;
    const double d = camera->focal_px * (1.0 + r2 * (camera->k1 + r2 * camera->k2));

    return (sl_point){ camera->centre_x + d * x, camera->centre_y + d * y };
}

sl_point sl_camera_project_derivative(double j[6], const sl_camera *camera, const double p[3])
{
    const double z = 1.0 / p[2];
    const double x = p[0] * z;
    const double y = p[1] * z;
    const double r2 = x * x + y * y;
    const double d = camera->focal_px * (1.0 + r2 * (camera->k1 + r2 * camera->k2));
    const double slope = camera->focal_px * 2.0 * (camera->k1 + 2.0 * r2 * camera->k2);
    const double xx = d + slope * x * x;
    const double xy = slope * x * y;
    const double yy = d + slope * y * y;

    j[0] = xx * z;
    j[1] = xy * z;
    j[2] = -(xx * x + xy * y) * z;
    j[3] = xy * z;
    j[4] = yy * z;
    j[5] = -(xy * x + yy * y) * z;
    return (sl_point){ camera->centre_x + d * x, camera->centre_y + d * y };
}

bool sl_camera_ray(sl_point *ray, const sl_camera *camera, sl_point px)
{
    enum { STEPS = 40 };
    const double x = (px.x - camera->centre_x) / camera->focal_px;
    const double y = (px.y - camera->centre_y) / camera->focal_px;
    const double seen = hypot(x, y);
    double r = seen;

    if (!(seen > 0.0)) {
        *ray = (sl_point){ 0.0, 0.0 };
        return seen >= 0.0;
    }
    for (int i = 0; i < STEPS; i++) {
        const double r2 = r * r;
        const double value = r * (1.0 + r2 * (camera->k1 + r2 * camera->k2)) - seen;
        const double slope = 1.0 + r2 * (3.0 * camera->k1 + 5.0 * r2 * camera->k2);

        if (!(slope > 0.0))
            return false;
        r -= value / slope;
        if (fabs(value) <= 1e-15 * seen)
            break;
    }

    const double r2 = r * r;

    if (!(r > 0.0 && 1.0 + r2 * (3.0 * camera->k1 + 5.0 * r2 * camera->k2) > 0.0)
        || !(fabs(r * (1.0 + r2 * (camera->k1 + r2 * camera->k2)) - seen) < 1e-9 * seen))
        return false;
    *ray = (sl_point){ x * r / seen, y * r / seen };
    return true;
}
