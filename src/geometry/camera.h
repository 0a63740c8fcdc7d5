/*
 * Pinhole camera with a radial lens (Brown, "Close-range camera calibration", Photogrammetric
 * Engineering 37(8), 1971): distorted = undistorted (1 + k1 r^2 + k2 r^4) with r^2 of
 * x = X/Z, y = Y/Z; px = centre + f distorted. And rotations as Rodrigues vectors.
 */
#ifndef SL_GEOMETRY_CAMERA_H
#define SL_GEOMETRY_CAMERA_H

#include "squareleaf.h"

typedef struct sl_camera {
    double focal_px;
    double centre_x;         /* px */
    double centre_y;
    double k1;
    double k2;
} sl_camera;

/* Rotation matrix of the vector w: about w, by |w| radians. */
void sl_rotation_matrix(double r[9], const double w[3]);

/* The vector, |w| <= pi, of a rotation matrix. */
void sl_rotation_vector(double w[3], const double r[9]);

/*
 * Right Jacobian of SO(3) at w: R(w + d) = R(w) R(jr d) to first order in d, so that
 * d(R(w) p)/dw = -R(w) [p]x jr. Chirikjian, Stochastic Models, Information Theory, and Lie
 * Groups, vol. 2 (2012), 10.86; checked against differences in the tests.
 */
void sl_rotation_right_jacobian(double jr[9], const double w[3]);

/* Shot px of a point before the camera (p[2] > 0). */
sl_point sl_camera_project(const sl_camera *camera, const double p[3]);

/* Also d(px)/d(p), row-major 2x3. */
sl_point sl_camera_project_derivative(double j[6], const sl_camera *camera, const double p[3]);

/*
 * Undistorted x = X/Z, y = Y/Z of a shot point, by Newton's method on the radius.
 * False where the lens folds back, i.e. no undistorted radius gives this one.
 */
bool sl_camera_ray(sl_point *ray, const sl_camera *camera, sl_point px);

#endif
