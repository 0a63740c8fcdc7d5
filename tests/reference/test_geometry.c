/* The geometry against published vectors and against OpenCV. */
#include "support/near.h"
#include "support/python.h"

#include "geometry/camera.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static void homography_of_a_published_tutorial(void **state)
{
    /* OpenCV's tutorial "Geometric Transformations of Images", perspective: the four points */
    static const sl_point src[4] = { { 56, 65 }, { 368, 52 }, { 28, 387 }, { 389, 390 } };
    static const sl_point dst[4] = { { 0, 0 }, { 300, 0 }, { 0, 300 }, { 300, 300 } };
    static const double want[9] = { 1.05587376, 0.0918151097, -65.0969128,
                                    0.0469010049, 1.12562412, -75.792024,
                                    0.000183251448, 0.000513337001, 1.0 };
    double h[9];

    (void)state;
    assert_int_equal(sl_homography_fit(h, src, dst, 4, NULL), SL_OK);
    for (size_t i = 0; i < 9; i++)
        assert_near("tutorial", h[i], want[i], 1e-6);
    assert_point_near("tutorial, centre", sl_homography_apply(h, (sl_point){ 200, 200 }),
                      144.332755, 139.305307, 1e-5);
}

static void homography_of_a_benchmark_frame(void **state)
{
    /* SmartDoc 2015 challenge 1, background01/datasheet001, frame 1: corners, and A4 */
    static const sl_point quad[4] = { { 698.087, 200.476 }, { 1178.15, 191.515 },
                                      { 1253.18, 869.656 }, { 692.141, 891.077 } };
    static const sl_point a4[4] = { { 0, 0 }, { 2100, 0 }, { 2100, 2970 }, { 0, 2970 } };
    static const double square[9] = { 496.270228, -107.117582, 698.087,
                                      -6.32642262, 560.350559, 200.476,
                                      0.0137565067, -0.146171925, 1.0 };
    static const double page[9] = { 4.46373628, 0.0384322871, -3123.78102,
                                    0.0972586374, 5.21038648, -1112.45243,
                                    -2.44539808e-05, 0.000256183333, 1.0 };
    double h[9];

    (void)state;
    assert_int_equal(sl_homography_unit_square(h, quad, NULL), SL_OK);
    for (size_t i = 0; i < 9; i++)
        assert_near("unit square", h[i], square[i], 1e-6);
    assert_point_near("centre", sl_homography_apply(h, (sl_point){ 0.5, 0.5 }), 955.954908,
                      511.342911, 1e-5);
    assert_int_equal(sl_homography_fit(h, quad, a4, 4, NULL), SL_OK);
    for (size_t i = 0; i < 9; i++)
        assert_near("A4", h[i], page[i], 1e-6);
    assert_point_near("A4 point", sl_homography_apply(h, (sl_point){ 960, 540 }), 1060.362622,
                      1609.636587, 1e-4);
}

static void heckbert_by_hand(void **state)
{
    /* Heckbert 1989, 2.2.3: small integers that can be checked on paper */
    static const sl_point quad[4] = { { 0, 0 }, { 4, 0 }, { 3, 3 }, { 1, 3 } };
    static const double want[9] = { 4, 2, 0, 0, 6, 0, 0, 1, 1 };
    double h[9];

    (void)state;
    assert_int_equal(sl_homography_unit_square(h, quad, NULL), SL_OK);
    for (size_t i = 0; i < 9; i++)
        assert_near("by hand", h[i], want[i], 1e-12);
    assert_point_near("middle", sl_homography_apply(h, (sl_point){ 0.5, 0.5 }), 2, 2, 1e-12);
    assert_point_near("quarter", sl_homography_apply(h, (sl_point){ 0.25, 0.5 }), 4.0 / 3.0, 2,
                      1e-12);
}

static void whiteboard_views(void **state)
{
    /* Zhang & He's formulas; views computed with f = 3000, principal point (2000, 1500) */
    static const struct {
        const char *name;
        sl_point corner[4];      /* top left, top right, bottom left, bottom right */
        double focal;
        double ratio;
    } views[] = {
        { "square", { { 854.370, 118.771 }, { 3290.571, 423.920 }, { 858.520, 2476.062 },
                      { 2893.018, 2466.455 } }, 3000.00, 1.0 },
        { "12:9", { { 792.935, 780.944 }, { 3213.678, 413.841 }, { 1206.648, 2235.268 },
                    { 3242.567, 2159.331 } }, 3000.01, 1.333333 },
        { "8.5:11", { { 1230.673, 446.873 }, { 2869.595, 395.383 }, { 1289.163, 2457.815 },
                      { 2833.595, 2501.868 } }, 2999.98, 0.772727 },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(views); i++) {
        const sl_point clockwise[4] = { views[i].corner[0], views[i].corner[1],
                                        views[i].corner[3], views[i].corner[2] };
        double focal = 0.0;
        double ratio;

        assert_int_equal(sl_rectangle_from_view(&focal, &ratio, clockwise,
                                                (sl_point){ 2000, 1500 }, NULL), SL_OK);
        /* the corners are given to 0.001 px, the focal length to 0.01 */
        assert_near(views[i].name, focal, views[i].focal, 3e-6);
        assert_near(views[i].name, ratio, views[i].ratio, 1e-6);
    }
}

static void nearly_parallel_view(void **state)
{
    /* a true square, f 960, one pair of sides parallel in the picture: k3 = 1.00000097 */
    static const sl_point corner[4] = { { 849.029, 792.363 }, { 1170.147, 1019.212 },
                                        { 1170.154, 60.757 }, { 849.033, 287.516 } };
    double focal = 0.0;
    double ratio;

    (void)state;
    assert_int_equal(sl_rectangle_from_view(&focal, &ratio, corner, (sl_point){ 960, 540 },
                                            NULL), SL_ERR_DEGENERATE);
    assert_true(focal == 0.0);
    focal = 960.0;
    assert_int_equal(sl_rectangle_from_view(&focal, &ratio, corner, (sl_point){ 960, 540 },
                                            NULL), SL_OK);
    assert_near("ratio with f known", ratio, 1.001348, 1e-6);
}

static void homographies_as_opencv_finds_them(void **state)
{
    enum { N = 60 };
    static const char script[] =
        "r = np.random.default_rng(7)\n"
        "s = r.uniform(0, 3000, (60, 2))\n"
        "s[:4] = [[10, 20], [2900, 40], [2950, 2100], [-5, 2000]]\n"
        "H = np.array([[.9, .1, 40], [-.2, 1.1, 900], [2e-5, -4e-5, 1]])\n"
        "d = cv2.perspectiveTransform(s[None], H)[0] + r.normal(0, .5, (60, 2))\n"
        "P = cv2.getPerspectiveTransform(s[:4].astype(np.float32), d[:4].astype(np.float32))\n"
        "F = cv2.findHomography(s, d, 0)[0]\n"
        "s4 = s[:4].astype(np.float32).astype(float)\n"
        "d4 = d[:4].astype(np.float32).astype(float)\n"
        "for a in (s, d, s4, d4, P, F): print(*('%.17g' % v for v in a.ravel()))\n";
    double number[4 * N + 16 + 18];
    sl_point src[N];
    sl_point dst[N];
    sl_point four[2][4];
    double h[9];

    (void)state;
    if (python_numbers(number, COUNT(number), script) != COUNT(number))
        skip();
    for (size_t i = 0; i < N; i++) {
        src[i] = (sl_point){ number[2 * i], number[2 * i + 1] };
        dst[i] = (sl_point){ number[2 * N + 2 * i], number[2 * N + 2 * i + 1] };
    }
    for (size_t i = 0; i < 8; i++)
        four[i / 4][i % 4] = (sl_point){ number[4 * N + 2 * i], number[4 * N + 2 * i + 1] };

    const double *const exact = number + 4 * N + 16;
    const double *const fitted = exact + 9;

    assert_int_equal(sl_homography_fit(h, four[0], four[1], 4, NULL), SL_OK);
    for (size_t i = 0; i < 9; i++)
        assert_near("getPerspectiveTransform", h[i], exact[i], 1e-6);
    /*
     * OpenCV follows its DLT by a few steps on the distance in dst, ours is the DLT alone:
     * over the points both agree to a small part of the 0.5 px noise
     */
    assert_int_equal(sl_homography_fit(h, src, dst, N, NULL), SL_OK);
    for (size_t i = 0; i < N; i++) {
        const sl_point want = sl_homography_apply(fitted, src[i]);

        assert_point_near("findHomography", sl_homography_apply(h, src[i]), want.x, want.y,
                          0.1);
    }
}

static void graffiti_pair(void **state)
{
    /*
     * Mikolajczyk's graffiti pictures 1 and 3 with their measured homography (Debian's
     * opencv-doc): SIFT matches that agree with it to 3 px, our fit of them
     */
    enum { MOST = 2000 };
    static const char script[] =
        "p = '/usr/share/doc/opencv-doc/examples/data/'\n"
        "f = cv2.FileStorage(p + 'H1to3p.xml', cv2.FILE_STORAGE_READ)\n"
        "H = f.getNode('H13').mat()\n"
        "a, b = (cv2.imread(p + n, 0) for n in ('graf1.png', 'graf3.png'))\n"
        "s = cv2.SIFT_create(3000)\n"
        "(ka, da), (kb, db) = s.detectAndCompute(a, None), s.detectAndCompute(b, None)\n"
        "m = [x for x, y in cv2.BFMatcher().knnMatch(da, db, k=2)\n"
        "     if x.distance < .75 * y.distance]\n"
        "P = np.array([ka[x.queryIdx].pt for x in m])\n"
        "Q = np.array([kb[x.trainIdx].pt for x in m])\n"
        "e = np.hypot(*(cv2.perspectiveTransform(P[None], H)[0] - Q).T)\n"
        "P, Q = P[e < 3][:400], Q[e < 3][:400]\n"
        "print(*H.ravel())\n"
        "for p, q in zip(P, Q): print(*p, *q)\n";
    static double number[MOST];
    sl_point src[MOST / 4];
    sl_point dst[MOST / 4];
    double h[9];
    double sum = 0.0;
    const size_t n = python_numbers(number, MOST, script);
    const size_t pairs = n < 9 ? 0 : (n - 9) / 4;

    (void)state;
    if (pairs < 100) {
        printf("missing: graf1.png, graf3.png, H1to3p.xml of opencv-doc (%zu pairs)\n", pairs);
        skip();
    }
    for (size_t i = 0; i < pairs; i++) {
        src[i] = (sl_point){ number[9 + 4 * i], number[10 + 4 * i] };
        dst[i] = (sl_point){ number[11 + 4 * i], number[12 + 4 * i] };
    }
    assert_int_equal(sl_homography_fit(h, src, dst, pairs, NULL), SL_OK);
    for (size_t i = 0; i < pairs; i++) {
        const sl_point a = sl_homography_apply(h, src[i]);
        const sl_point b = sl_homography_apply(number, src[i]);

        sum += hypot(a.x - b.x, a.y - b.y) / (double)pairs;
    }
    /* the published homography is itself good to about a pixel */
    if (!(sum < 1.0))
        fail_msg("graffiti: %.3f px from the published homography over %zu pairs", sum, pairs);
}

static void lens_as_opencv_has_it(void **state)
{
    enum { N = 40 };
    static const char script[] =
        "r = np.random.default_rng(3)\n"
        "K = np.array([[2900., 0, 2010], [0, 2900., 1490], [0, 0, 1]])\n"
        "D = np.array([-.09, .02, 0, 0])\n"
        "X = np.c_[r.uniform(-150, 150, (40, 2)), r.uniform(-20, 20, 40)]\n"
        "rv, tv = np.array([.1, -.2, .05]), np.array([5., -8, 400])\n"
        "p = cv2.projectPoints(X, rv, tv, K, D)[0][:, 0]\n"
        "u = cv2.undistortPointsIter(p[:, None], K, D, None, None,\n"
        "    (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-14))[:, 0]\n"
        "R = cv2.Rodrigues(rv)[0]\n"
        "for a in (X, p, u, R): print(*('%.17g' % v for v in a.ravel()))\n";
    static const sl_camera camera = { 2900.0, 2010.0, 1490.0, -0.09, 0.02 };
    static const double turn[3] = { 0.1, -0.2, 0.05 };
    double number[7 * N + 9];
    double r[9];

    (void)state;
    if (python_numbers(number, COUNT(number), script) != COUNT(number))
        skip();
    sl_rotation_matrix(r, turn);
    for (size_t i = 0; i < 9; i++)
        assert_near("Rodrigues", r[i], number[7 * N + i], 1e-14);
    for (size_t i = 0; i < N; i++) {
        const double *const x = number + 3 * i;
        const double *const px = number + 3 * N + 2 * i;
        const double *const ray = number + 5 * N + 2 * i;
        const double eye[3] = { r[0] * x[0] + r[1] * x[1] + r[2] * x[2] + 5.0,
                                r[3] * x[0] + r[4] * x[1] + r[5] * x[2] - 8.0,
                                r[6] * x[0] + r[7] * x[1] + r[8] * x[2] + 400.0 };
        sl_point back;

        assert_point_near("projectPoints", sl_camera_project(&camera, eye), px[0], px[1], 1e-9);
        assert_true(sl_camera_ray(&back, &camera, (sl_point){ px[0], px[1] }));
        assert_point_near("undistortPoints", back, ray[0], ray[1], 1e-9);
    }
}

/* RMS distance, px, of rays (times f) of one row to their straight line. */
static double bend_of_row(const sl_point *ray, size_t n, double focal)
{
    double mx = 0.0;
    double my = 0.0;
    double xx = 0.0;
    double xy = 0.0;
    double yy = 0.0;

    for (size_t i = 0; i < n; i++) {
        mx += ray[i].x / (double)n;
        my += ray[i].y / (double)n;
    }
    for (size_t i = 0; i < n; i++) {
        xx += (ray[i].x - mx) * (ray[i].x - mx);
        xy += (ray[i].x - mx) * (ray[i].y - my);
        yy += (ray[i].y - my) * (ray[i].y - my);
    }
    return focal * sqrt(fmax(0.5 * (xx + yy) - hypot(0.5 * (xx - yy), xy), 0.0) / (double)n);
}

static void chessboard_photographs(void **state)
{
    /*
     * Thirteen photographs of a 9 x 6 chessboard (opencv-doc, left01..14): OpenCV's radial
     * calibration, and how straight the rows are before and after our lens is taken out
     */
    enum { COLUMNS = 9, ROWS = 6, CORNERS = COLUMNS * ROWS, VIEWS = 14 };
    static const char script[] =
        "import glob\n"
        "o = np.zeros((54, 3), np.float32)\n"
        "o[:, :2] = np.mgrid[0:9, 0:6].T.reshape(-1, 2)\n"
        "P = []\n"
        "for f in sorted(glob.glob('/usr/share/doc/opencv-doc/examples/data/left??.jpg')):\n"
        "    g = cv2.imread(f, 0)\n"
        "    ok, c = cv2.findChessboardCorners(g, (9, 6))\n"
        "    if ok: P.append(cv2.cornerSubPix(g, c, (5, 5), (-1, -1), (3, 50, 1e-3)))\n"
        "K = np.array([[540., 0, 320], [0, 540, 240], [0, 0, 1]])\n"
        "F = (cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_ASPECT_RATIO |\n"
        "     cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3)\n"
        "e, K, D, _, _ = cv2.calibrateCamera([o] * len(P), P, g.shape[::-1], K, None, flags=F)\n"
        "print(K[0, 0], K[0, 2], K[1, 2], *D.ravel()[:2])\n"
        "for p in P:\n"
        "    u = cv2.undistortPoints(p, K, D)\n"
        "    for a, b in zip(p[:, 0], u[:, 0]): print(*a, *b)\n";
    static double number[5 + VIEWS * CORNERS * 4];
    const size_t n = python_numbers(number, COUNT(number), script);
    const size_t corners = n < 5 ? 0 : (n - 5) / 4;
    double ours = 0.0;
    double theirs = 0.0;
    double raw = 0.0;

    (void)state;
    if (corners < 10 * CORNERS) {
        printf("missing: left01.jpg .. left14.jpg of opencv-doc\n");
        skip();
    }

    const sl_camera camera = { number[0], number[1], number[2], number[3], number[4] };

    for (size_t row = 0; row < corners / COLUMNS; row++) {
        sl_point a[COLUMNS];
        sl_point b[COLUMNS];
        sl_point c[COLUMNS];

        for (size_t i = 0; i < COLUMNS; i++) {
            const double *const at = number + 5 + 4 * (row * COLUMNS + i);

            assert_true(sl_camera_ray(a + i, &camera, (sl_point){ at[0], at[1] }));
            b[i] = (sl_point){ at[2], at[3] };
            c[i] = (sl_point){ at[0], at[1] };
        }
        ours += bend_of_row(a, COLUMNS, camera.focal_px);
        theirs += bend_of_row(b, COLUMNS, camera.focal_px);
        raw += bend_of_row(c, COLUMNS, 1.0);
    }
    if (!(ours < 1.01 * theirs && ours < 0.5 * raw))
        fail_msg("rows bend by %.4f, with OpenCV's undistortion %.4f, raw %.4f px",
                 ours / (double)(corners / COLUMNS), theirs / (double)(corners / COLUMNS),
                 raw / (double)(corners / COLUMNS));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(homography_of_a_published_tutorial),
        cmocka_unit_test(homography_of_a_benchmark_frame),
        cmocka_unit_test(heckbert_by_hand),
        cmocka_unit_test(whiteboard_views),
        cmocka_unit_test(nearly_parallel_view),
        cmocka_unit_test(homographies_as_opencv_finds_them),
        cmocka_unit_test(graffiti_pair),
        cmocka_unit_test(lens_as_opencv_has_it),
        cmocka_unit_test(chessboard_photographs),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
