/*
 * Homographies: closed form for a quadrilateral, normalised DLT for many pairs, and what one
 * view of a rectangle tells of its shape.
 */
#include "base/error.h"
#include "base/size.h"
#include "geometry/linear.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>

/* Three points are called collinear when their triangle is this small a part of the quad's. */
static const double FLAT_TRIANGLE = 1e-9;

static double cross2(sl_point o, sl_point a, sl_point b)
{
    return (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
}

/* Whether some three of four points are collinear, judged against their spread. */
static bool some_collinear(const sl_point q[4])
{
    double span = 0.0;

    for (size_t i = 0; i < 4; i++)
        for (size_t j = i + 1; j < 4; j++) {
            const double d = hypot(q[i].x - q[j].x, q[i].y - q[j].y);

            span = fmax(span, d);
        }
    for (size_t i = 0; i < 4; i++) {
        const double area = cross2(q[(i + 1) % 4], q[(i + 2) % 4], q[(i + 3) % 4]);

        if (!(fabs(area) > FLAT_TRIANGLE * span * span))
            return true;
    }
    return false;
}

sl_status sl_homography_unit_square(double h[9], const sl_point quad[4], sl_error *err)
{
    if (some_collinear(quad))
        return sl_fail(err, SL_ERR_DEGENERATE, "geometry",
                       "three corners of the quadrilateral lie on one line");

    const double dx1 = quad[1].x - quad[2].x;
    const double dx2 = quad[3].x - quad[2].x;
    const double dy1 = quad[1].y - quad[2].y;
    const double dy2 = quad[3].y - quad[2].y;
    const double sx = quad[0].x - quad[1].x + quad[2].x - quad[3].x;
    const double sy = quad[0].y - quad[1].y + quad[2].y - quad[3].y;
    const double den = dx1 * dy2 - dx2 * dy1;    /* not 0: corners 1, 2, 3 */
    const double g = (sx * dy2 - dx2 * sy) / den;
    const double k = (dx1 * sy - sx * dy1) / den;

    h[0] = quad[1].x - quad[0].x + g * quad[1].x;
    h[1] = quad[3].x - quad[0].x + k * quad[3].x;
    h[2] = quad[0].x;
    h[3] = quad[1].y - quad[0].y + g * quad[1].y;
    h[4] = quad[3].y - quad[0].y + k * quad[3].y;
    h[5] = quad[0].y;
    h[6] = g;
    h[7] = k;
    h[8] = 1.0;
    return SL_OK;
}

/* Centroid to the origin, mean distance sqrt(2) (Hartley & Zisserman 4.4.4); false: one spot. */
static bool normaliser(double *scale, sl_point *centre, const sl_point *p, size_t n)
{
    double distance = 0.0;

    *centre = (sl_point){ 0.0, 0.0 };
    for (size_t i = 0; i < n; i++) {
        centre->x += p[i].x / (double)n;
        centre->y += p[i].y / (double)n;
    }
    for (size_t i = 0; i < n; i++)
        distance += hypot(p[i].x - centre->x, p[i].y - centre->y) / (double)n;
    *scale = sqrt(2.0) / distance;
    return distance > 0.0 && isfinite(*scale);
}

sl_status sl_homography_fit(double h[9], const sl_point *src, const sl_point *dst, size_t n,
                            sl_error *err)
{
    double src_scale;
    double dst_scale;
    sl_point src_centre;
    sl_point dst_centre;
    double core[9];
    double second;
    size_t cells;

    if (n < 4)
        return sl_fail(err, SL_ERR_ARG, "geometry", "a homography needs 4 pairs, not %zu", n);
    if (!sl_size_mul(&cells, n, 18 * sizeof(double)))
        return sl_fail(err, SL_ERR_LIMIT, "geometry", "%zu pairs are too many", n);
    if (!normaliser(&src_scale, &src_centre, src, n)
        || !normaliser(&dst_scale, &dst_centre, dst, n))
        return sl_fail(err, SL_ERR_DEGENERATE, "geometry", "all points lie on one spot");

    double *const a = malloc(cells);

    if (a == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "geometry", "no memory for %zu pairs", n);
    for (size_t i = 0; i < n; i++) {
        const double x = (src[i].x - src_centre.x) * src_scale;
        const double y = (src[i].y - src_centre.y) * src_scale;
        const double u = (dst[i].x - dst_centre.x) * dst_scale;
        const double v = (dst[i].y - dst_centre.y) * dst_scale;
        const double rows[18] = { 0.0, 0.0, 0.0, -x,  -y,  -1.0, v * x,  v * y,  v,
                                  x,   y,   1.0, 0.0, 0.0, 0.0,  -u * x, -u * y, -u };

        for (size_t k = 0; k < 18; k++)
            a[18 * i + k] = rows[k];
    }
    sl_null_vector(core, &second, a, 2 * n, 9);
    free(a);
    if (!(second > 1e-12))
        return sl_fail(err, SL_ERR_DEGENERATE, "geometry",
                       "too many of the points lie on one line");

    /* H = T'^-1 core T */
    const double t[9] = { src_scale, 0.0, -src_scale * src_centre.x,
                          0.0, src_scale, -src_scale * src_centre.y, 0.0, 0.0, 1.0 };
    const double back[9] = { 1.0 / dst_scale, 0.0, dst_centre.x,
                             0.0, 1.0 / dst_scale, dst_centre.y, 0.0, 0.0, 1.0 };
    double half[9];
    double full[9];

    sl_mat3_mul(half, core, t);
    sl_mat3_mul(full, back, half);

    double size = 0.0;

    for (size_t k = 0; k < 9; k++)
        size = fmax(size, fabs(full[k]));
    if (!(fabs(full[8]) > 1e-12 * size))
        return sl_fail(err, SL_ERR_DEGENERATE, "geometry",
                       "the origin maps to infinity; h[8] cannot be 1");
    for (size_t k = 0; k < 9; k++)
        h[k] = full[k] / full[8];
    return SL_OK;
}

sl_point sl_homography_apply(const double h[9], sl_point p)
{
    const double w = h[6] * p.x + h[7] * p.y + h[8];

    return (sl_point){ (h[0] * p.x + h[1] * p.y + h[2]) / w,
                       (h[3] * p.x + h[4] * p.y + h[5]) / w };
}

sl_status sl_homography_invert(double inv[9], const double h[9], sl_error *err)
{
    double rows = 1.0;

    for (size_t i = 0; i < 3; i++)
        rows *= sqrt(sl_dot3(h + 3 * i, h + 3 * i));

    const double adj[9] = {
        h[4] * h[8] - h[5] * h[7], h[2] * h[7] - h[1] * h[8], h[1] * h[5] - h[2] * h[4],
        h[5] * h[6] - h[3] * h[8], h[0] * h[8] - h[2] * h[6], h[2] * h[3] - h[0] * h[5],
        h[3] * h[7] - h[4] * h[6], h[1] * h[6] - h[0] * h[7], h[0] * h[4] - h[1] * h[3],
    };

    /* |det| <= product of the rows' lengths (Hadamard): the scale of the data */
    if (!(fabs(sl_mat3_det(h)) > 64.0 * DBL_EPSILON * rows))
        return sl_fail(err, SL_ERR_DEGENERATE, "geometry", "the homography has no inverse");
    if (!(fabs(adj[8]) > 0.0))
        return sl_fail(err, SL_ERR_DEGENERATE, "geometry",
                       "the inverse takes the origin to infinity; h[8] cannot be 1");
    for (size_t k = 0; k < 9; k++)
        inv[k] = adj[k] / adj[8];
    return SL_OK;
}

sl_status sl_rectangle_from_view(double *focal_px, double *ratio, const sl_point corner[4],
                                 sl_point centre, sl_error *err)
{
    /* The paper's order: m1 top left, m2 top right, m3 bottom left, m4 bottom right. */
    static const size_t order[4] = { 0, 1, 3, 2 };
    double m[4][3];
    double m14[3];
    double m24[3];
    double m34[3];

    if (some_collinear(corner))
        return sl_fail(err, SL_ERR_DEGENERATE, "geometry",
                       "three corners of the rectangle lie on one line");

    double span = 0.0;

    for (size_t i = 0; i < 4; i++) {
        m[i][0] = corner[order[i]].x - centre.x;
        m[i][1] = corner[order[i]].y - centre.y;
        m[i][2] = 1.0;
        span = fmax(span, hypot(corner[i].x - corner[(i + 1) % 4].x,
                                corner[i].y - corner[(i + 1) % 4].y));
    }
    sl_cross3(m14, m[0], m[3]);
    sl_cross3(m24, m[1], m[3]);
    sl_cross3(m34, m[2], m[3]);

    const double k2 = sl_dot3(m14, m[2]) / sl_dot3(m24, m[2]);
    const double k3 = sl_dot3(m14, m[1]) / sl_dot3(m34, m[1]);
    double n2[3];
    double n3[3];

    for (size_t i = 0; i < 3; i++) {
        n2[i] = k2 * m[1][i] - m[0][i];
        n3[i] = k3 * m[2][i] - m[0][i];
    }

    double f = *focal_px;

    if (!(f > 0.0)) {
        /*
         * f^2 = -(n2x n3x + n2y n3y)/(n2z n3z); n2z, n3z are the convergences of the two pairs
         * of sides. Below 1e-4 (0.3 px over a 3000 px side) they are noise, not a view.
         */
        const double f2 = -(n2[0] * n3[0] + n2[1] * n3[1]) / (n2[2] * n3[2]);

        if (!(fabs(n2[2]) > 1e-4 && fabs(n3[2]) > 1e-4 && f2 > 0.0) || !isfinite(f2))
            return sl_fail(err, SL_ERR_DEGENERATE, "geometry",
                           "the view is too nearly frontal to tell the focal length");
        f = sqrt(f2);
        if (!(f > 0.05 * span && f < 1000.0 * span))
            return sl_fail(err, SL_ERR_DEGENERATE, "geometry",
                           "the view gives no plausible focal length (%.4g px)", f);
    }

    const double a = (n2[0] * n2[0] + n2[1] * n2[1]) / (f * f) + n2[2] * n2[2];
    const double b = (n3[0] * n3[0] + n3[1] * n3[1]) / (f * f) + n3[2] * n3[2];

    if (!(a > 0.0 && b > 0.0) || !isfinite(a / b))
        return sl_fail(err, SL_ERR_DEGENERATE, "geometry",
                       "the corners are no view of a rectangle");
    *focal_px = f;
    *ratio = sqrt(a / b);
    return SL_OK;
}
