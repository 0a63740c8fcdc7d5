/* Laws of the geometry, and analytic derivatives against differences. */
#include "support/near.h"

#include "geometry/camera.h"
#include "geometry/linear.h"
#include "geometry/profile.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static void homography_laws(void **state)
{
    static const sl_point quad[4] = { { 10, 20 }, { 900, 35 }, { 880, 700 }, { -5, 650 } };
    double h[9];
    double inv[9];

    (void)state;
    assert_int_equal(sl_homography_unit_square(h, quad, NULL), SL_OK);
    assert_int_equal(sl_homography_invert(inv, h, NULL), SL_OK);
    for (size_t i = 0; i < 4; i++) {
        const double x = i == 1 || i == 2 ? 1.0 : 0.0;
        const double y = i >= 2 ? 1.0 : 0.0;

        assert_point_near("corner", sl_homography_apply(h, (sl_point){ x, y }), quad[i].x,
                          quad[i].y, 1e-9);
        assert_point_near("back", sl_homography_apply(inv, quad[i]), x, y, 1e-12);
    }
}

static void degenerate_quads_are_refused(void **state)
{
    static const sl_point line[4] = { { 0, 0 }, { 4, 0 }, { 9, 0 }, { 0, 9 } };
    static const sl_point spot[4] = { { 3, 3 }, { 3, 3 }, { 3, 3 }, { 3, 3 } };
    static const sl_point square[4] = { { 0, 0 }, { 1, 0 }, { 1, 1 }, { 0, 1 } };
    static const double flat[9] = { 1, 2, 3, 2, 4, 6, 0, 0, 1 };
    double h[9] = { 42.0 };
    double focal = 0.0;
    double ratio = 7.0;
    sl_error err = { 0 };

    (void)state;
    assert_int_equal(sl_homography_unit_square(h, line, &err), SL_ERR_DEGENERATE);
    assert_int_equal(sl_homography_unit_square(h, spot, NULL), SL_ERR_DEGENERATE);
    assert_int_equal(sl_homography_fit(h, square, spot, 4, NULL), SL_ERR_DEGENERATE);
    assert_int_equal(sl_homography_fit(h, line, line, 3, NULL), SL_ERR_ARG);
    assert_int_equal(sl_homography_invert(h, flat, NULL), SL_ERR_DEGENERATE);
    assert_int_equal(sl_rectangle_from_view(&focal, &ratio, line, (sl_point){ 0, 0 }, NULL),
                     SL_ERR_DEGENERATE);
    /* frontal: any focal length shows a square so */
    assert_int_equal(sl_rectangle_from_view(&focal, &ratio, square, (sl_point){ .5, .5 }, NULL),
                     SL_ERR_DEGENERATE);
    assert_true(h[0] == 42.0 && focal == 0.0 && ratio == 7.0);
    assert_string_equal(err.stage, "geometry");
    focal = 3.0;
    assert_int_equal(sl_rectangle_from_view(&focal, &ratio, square, (sl_point){ .5, .5 }, NULL),
                     SL_OK);
    assert_near("frontal square", ratio, 1.0, 1e-12);
}

static void inverse_of_a_positive_matrix(void **state)
{
    /* Hilbert's 5 x 5 matrix, condition 5e5; its inverse is of known integers (Choi 1983) */
    static const double want[5] = { 25, -300, 1050, -1400, 630 };
    double a[25];
    double bad[4] = { 1, 2, 2, 1 };

    (void)state;
    for (size_t i = 0; i < 25; i++)
        a[i] = 1.0 / (double)(i / 5 + i % 5 + 1);
    assert_true(sl_spd_invert(a, 5));
    for (size_t i = 0; i < 5; i++)
        assert_near("Hilbert", a[i], want[i], 1e-8);
    assert_near("Hilbert, last", a[24], 44100.0, 1e-8);
    assert_false(sl_spd_invert(bad, 2));
}

static void rotations(void **state)
{
    static const double vectors[][3] = { { 0, 0, 0 }, { 1e-6, -2e-6, 1e-7 }, { 0.3, -0.2, 0.1 },
                                         { 1.5, 1.0, -2.0 }, { 0, 3.14159265, 0 } };

    (void)state;
    for (size_t i = 0; i < COUNT(vectors); i++) {
        const double *const w = vectors[i];
        double r[9];
        double back[3];
        double jr[9];

        sl_rotation_matrix(r, w);
        assert_near("determinant", sl_mat3_det(r), 1.0, 1e-14);
        sl_rotation_vector(back, r);
        for (size_t k = 0; k < 3; k++)
            assert_near("vector", back[k], w[k], 1e-8);

        /* R(w + d) = R(w) R(jr d): the columns of jr by differences */
        sl_rotation_right_jacobian(jr, w);
        for (size_t k = 0; k < 3; k++) {
            const double step = 1e-6;
            double moved[3] = { w[0], w[1], w[2] };
            double transposed[9];
            double ahead[9];
            double change[9];

            moved[k] += step;
            sl_rotation_matrix(ahead, moved);
            for (size_t m = 0; m < 9; m++)
                transposed[m] = r[3 * (m % 3) + m / 3];
            sl_mat3_mul(change, transposed, ahead);
            sl_rotation_vector(back, change);
            for (size_t m = 0; m < 3; m++)
                assert_near("right Jacobian", back[m] / step, jr[3 * m + k], 2e-6);
        }
    }
}

static void lens_there_and_back(void **state)
{
    static const sl_camera lenses[] = { { 3000, 2000, 1500, 0.0, 0.0 },
                                        { 2900, 2016, 1512, -0.1, 0.02 },
                                        { 2900, 2016, 1512, 0.05, -0.01 } };
    static const sl_camera fold = { 1000, 0, 0, -0.3, 0.0 };
    sl_point ray;

    (void)state;
    for (size_t i = 0; i < COUNT(lenses); i++)
        for (int y = -3; y <= 3; y++)
            for (int x = -3; x <= 3; x++) {
                const double p[3] = { 70.0 * x, 70.0 * y, 300.0 };
                const sl_point px = sl_camera_project(lenses + i, p);

                assert_true(sl_camera_ray(&ray, lenses + i, px));
                assert_point_near("ray", ray, p[0] / p[2], p[1] / p[2], 1e-13);
            }
    /* x (1 - 0.3 x^2) is never above 0.703 */
    assert_true(sl_camera_ray(&ray, &fold, (sl_point){ 700, 0 }));
    assert_false(sl_camera_ray(&ray, &fold, (sl_point){ 710, 0 }));
}

static void projection_derivative(void **state)
{
    static const sl_camera camera = { 2900, 2016, 1512, -0.08, 0.02 };
    static const double p[3] = { 90, -120, 310 };
    double j[6];

    (void)state;
    (void)sl_camera_project_derivative(j, &camera, p);
    for (size_t k = 0; k < 3; k++) {
        double a[3] = { p[0], p[1], p[2] };
        double b[3] = { p[0], p[1], p[2] };
        const double step = 1e-4;

        a[k] -= step;
        b[k] += step;

        const sl_point low = sl_camera_project(&camera, a);
        const sl_point high = sl_camera_project(&camera, b);

        assert_near("dx", j[k], (high.x - low.x) / (2 * step), 1e-7);
        assert_near("dy", j[3 + k], (high.y - low.y) / (2 * step), 1e-7);
    }
}

static const double BENT[SL_PROFILE_TERMS] = { 0.3, -0.12, 0.08, 0.03, -0.02, 0.01, 0.004,
                                               -0.003 };

static void profiles_keep_their_length(void **state)
{
    /* Walked in chords, the curve is as long as its arc: paper bends but does not stretch. */
    enum { STEPS = 20000 };
    double length = 0.0;
    sl_profile_at before = sl_profile_point(BENT, SL_PROFILE_TERMS, -1.0);

    (void)state;
    for (int i = 1; i <= STEPS; i++) {
        const sl_profile_at now =
            sl_profile_point(BENT, SL_PROFILE_TERMS, -1.0 + 2.0 * i / STEPS);

        length += hypot(now.x - before.x, now.z - before.z);
        before = now;
    }
    assert_near("length", length, 2.0, 1e-6);
}

static void profile_of_a_circle(void **state)
{
    /* theta = a q is an arc of a circle: x = sin(a q)/a, z = (1 - cos(a q))/a */
    static const double arc[1] = { 0.7 };

    (void)state;
    for (int i = -10; i <= 10; i++) {
        const double q = i / 10.0;
        const sl_profile_at at = sl_profile_point(arc, 1, q);

        assert_near("x", at.x, sin(0.7 * q) / 0.7, 1e-14);
        assert_near("z", at.z, (1.0 - cos(0.7 * q)) / 0.7, 1e-14);
    }
}

static void profile_table_is_the_quadrature(void **state)
{
    static sl_profile_table table;

    (void)state;
    sl_profile_table_init(&table);
    sl_profile_table_set(&table, BENT, SL_PROFILE_TERMS);
    sl_profile_table_derivatives(&table);
    for (int i = -110; i <= 110; i++) {
        const double q = i / 103.0;
        const sl_profile_at slow = sl_profile_point(BENT, SL_PROFILE_TERMS, q);
        const sl_profile_at fast = sl_profile_table_point(&table, q);
        double dx[SL_PROFILE_TERMS];
        double dz[SL_PROFILE_TERMS];

        assert_near("x", fast.x, slow.x, 1e-7);
        assert_near("z", fast.z, slow.z, 1e-7);
        assert_near("cosine", fast.cosine, slow.cosine, 3e-5);
        assert_near("sine", fast.sine, slow.sine, 3e-5);
        sl_profile_table_dc(dx, dz, &table, q);
        for (size_t k = 0; k < SL_PROFILE_TERMS; k++) {
            double low[SL_PROFILE_TERMS];
            double high[SL_PROFILE_TERMS];
            const double step = 1e-5;

            for (size_t m = 0; m < SL_PROFILE_TERMS; m++)
                low[m] = high[m] = BENT[m];
            low[k] -= step;
            high[k] += step;

            const sl_profile_at a = sl_profile_point(low, SL_PROFILE_TERMS, q);
            const sl_profile_at b = sl_profile_point(high, SL_PROFILE_TERMS, q);

            /* derivatives only steer the fit; the finest wave is steep at the ends and beyond */
            const double near = fabs(q) <= 1.0 ? 1e-3 : 1e-2;

            assert_near("dx/dc", dx[k], (b.x - a.x) / (2 * step), near);
            assert_near("dz/dc", dz[k], (b.z - a.z) / (2 * step), near);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(homography_laws),
        cmocka_unit_test(degenerate_quads_are_refused),
        cmocka_unit_test(inverse_of_a_positive_matrix),
        cmocka_unit_test(rotations),
        cmocka_unit_test(lens_there_and_back),
        cmocka_unit_test(projection_derivative),
        cmocka_unit_test(profiles_keep_their_length),
        cmocka_unit_test(profile_of_a_circle),
        cmocka_unit_test(profile_table_is_the_quadrature),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
