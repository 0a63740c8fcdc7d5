#include "rectify/pose.h"

#include "base/error.h"
#include "geometry/camera.h"
#include "geometry/linear.h"

#include <math.h>

sl_status sl_pose_from_corners(sl_page_map *map, const sl_point corner[4], sl_error *err)
{
    double h[9];
    double column[3][3];
    const sl_status st = sl_homography_unit_square(h, corner, err);

    if (st != SL_OK)
        return st;
    for (size_t i = 0; i < 3; i++) {
        column[0][i] = h[3 * i] / map->page[0];
        column[1][i] = h[3 * i + 1] / map->page[1];
        column[2][i] = 0.5 * h[3 * i] + 0.5 * h[3 * i + 1] + h[3 * i + 2];
    }
    for (size_t k = 0; k < 3; k++)
        for (size_t i = 0; i < 2; i++)
            column[k][i] = (column[k][i] - map->centre[i] * column[k][2]) / map->focal_px;

    const double a = sqrt(sl_dot3(column[0], column[0]));
    const double b = sqrt(sl_dot3(column[1], column[1]));
    const double scale = sqrt(a * b);
    double sum[3];
    double difference[3];

    for (size_t i = 0; i < 3; i++) {
        sum[i] = column[0][i] / a + column[1][i] / b;
        difference[i] = column[0][i] / a - column[1][i] / b;
    }

    /* the two unit columns' half-angle frame, always orthogonal */
    const double ls = sqrt(2.0 * sl_dot3(sum, sum));
    const double ld = sqrt(2.0 * sl_dot3(difference, difference));
    double axis[3][3];
    double rotation[9];

    if (!(ls > 1e-6 && ld > 1e-6 && scale > 0.0) || !(column[2][2] > 0.0))
        return sl_fail(err, SL_ERR_DEGENERATE, "rectify", "the corners are no view of a page");
    for (size_t i = 0; i < 3; i++) {
        axis[0][i] = sum[i] / ls + difference[i] / ld;
        axis[1][i] = sum[i] / ls - difference[i] / ld;
    }
    sl_cross3(axis[2], axis[0], axis[1]);
    for (size_t i = 0; i < 3; i++) {
        for (size_t k = 0; k < 3; k++)
            rotation[3 * i + k] = axis[k][i];
        map->translation[i] = column[2][i] / scale;
    }
    sl_rotation_vector(map->rotation, rotation);
    return SL_OK;
}
