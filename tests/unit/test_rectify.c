/* Page maps of made pages with known truth; the map's laws; what must be refused. */
#include "support/near.h"

#include "rectify/pose.h"
#include "rectify/view.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* ---- made pages: a sheet bent to an arc of a circle, in closed form ---------------------- */

typedef struct made {
    const char *name;
    double page[2];          /* mm, true */
    double told[2];          /* what the caller says; 0: nothing */
    double bend;             /* 1/mm: curvature across the rulings */
    bool level;              /* rulings along u: the left and right edges bow */
    double tilt[3];          /* Rodrigues */
    double k1;
    sl_model model;          /* expected */
    double largest;          /* mm, the bar for the map's largest error */
} made;

enum { WIDTH = 4032, HEIGHT = 3024, POINTS = 180 };
static const double FOCAL = 2980.0;

/* Shot px of (p, q) in 0..1 of the page; the page fills about 0.85 of the height. */
static sl_point shoot(const made *m, double p, double q)
{
    const double a = (p - 0.5) * m->page[0];
    const double b = (q - 0.5) * m->page[1];
    const double s = m->level ? b : a;
    const double bent = m->bend != 0.0 ? sin(s * m->bend) / m->bend : s;
    const double rise = m->bend != 0.0 ? (1.0 - cos(s * m->bend)) / m->bend : 0.0;
    const double sheet[3] = { m->level ? a : bent, m->level ? bent : b, rise };
    const double away = FOCAL * fmax(m->page[1] / (0.85 * HEIGHT), m->page[0] / (0.85 * WIDTH));
    const sl_camera camera = { FOCAL, 2015.5 + 4.0, 1511.5 - 3.0, m->k1, 0.0 };
    double turn[9];
    double eye[3];

    sl_rotation_matrix(turn, m->tilt);
    for (size_t i = 0; i < 3; i++)
        eye[i] = turn[3 * i] * sheet[0] + turn[3 * i + 1] * sheet[1] + turn[3 * i + 2] * sheet[2];
    eye[2] += away;
    return sl_camera_project(&camera, eye);
}

/* Uniform noise in -1..1 of a fixed sequence (Park & Miller, CACM 31(10), 1988). */
static double noise(uint32_t *state)
{
    *state = (uint32_t)((uint64_t)*state * 48271u % 2147483647u);
    return 2.0 * (double)*state / 2147483647.0 - 1.0;
}

static void make_outline(sl_outline *outline, const made *m)
{
    static const double corner[4][2] = { { 0, 0 }, { 1, 0 }, { 1, 1 }, { 0, 1 } };
    uint32_t state = 2026;

    memset(outline, 0, sizeof *outline);
    outline->found = true;
    for (size_t side = 0; side < 4; side++) {
        const double *const a = corner[side];
        const double *const b = corner[(side + 1) % 4];

        outline->corner[side] = shoot(m, a[0], a[1]);
        outline->edge[side].count = POINTS;
        for (size_t i = 0; i < POINTS; i++) {
            const double t = ((double)i + 0.5) / POINTS;
            sl_point at = shoot(m, a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]));

            /* 0.15 px RMS on each axis, and every fiftieth point a stray */
            at.x += 0.26 * noise(&state) + (i % 50 == 17 ? 9.0 : 0.0);
            at.y += 0.26 * noise(&state) - (i % 50 == 17 ? 7.0 : 0.0);
            outline->edge[side].point[i] = (sl_edge_point){ at, 0.15, 0.7, 0.5 };
        }
    }
}

/* Largest error over the page, mm. */
static double map_error(const sl_page_map *map, const made *m)
{
    double worst = 0.0;

    for (size_t k = 0; k < 17 * 17; k++) {
        const double p = (double)(k % 17) / 16.0;
        const double q = (double)(k / 17) / 16.0;
        const sl_point want = shoot(m, p, q);
        const sl_point got = sl_page_map_point(map, p * map->page[0], q * map->page[1]);
        double j[4];

        sl_page_map_jacobian(j, map, p * map->page[0], q * map->page[1]);

        const double det = j[0] * j[3] - j[1] * j[2];
        const double u = (j[3] * (got.x - want.x) - j[1] * (got.y - want.y)) / det;
        const double v = (j[0] * (got.y - want.y) - j[2] * (got.x - want.x)) / det;

        worst = fmax(worst, hypot(u, v) * m->page[0] / map->page[0]);
    }
    return worst;
}

static sl_optics optics_told(void)
{
    const sl_exif exif = { .focal_35mm = 26, .pixel_x = WIDTH, .pixel_y = HEIGHT };

    return sl_optics_guess(&exif, WIDTH, HEIGHT);
}

static const made pages[] = {
    { "flat", { 304.8, 304.8 }, { 304.8, 304.8 }, 0, false, { 0.01, -0.02, 0.01 }, 0,
      SL_MODEL_FLAT, 0.05 },
    { "flat, off its size", { 304.0, 305.6 }, { 304.8, 304.8 }, 0, false, { 0.1, 0.1, 0.0 }, 0,
      SL_MODEL_FLAT, 0.05 },
    { "tilted 14 degrees", { 215.9, 279.4 }, { 279.4, 215.9 }, 0, false, { 0.2, -0.14, 0.02 }, 0,
      SL_MODEL_FLAT, 0.05 },
    { "barrel", { 304.8, 304.8 }, { 304.8, 304.8 }, 0, false, { -0.02, 0.01, 0.02 }, -0.07,
      SL_MODEL_LENS, 0.10 },
    { "bow", { 304.8, 304.8 }, { 304.8, 304.8 }, 1.2e-3, false, { 0.01, 0.02, -0.01 }, 0,
      SL_MODEL_SHEET, 0.30 },
    { "bow, the other way", { 304.8, 304.8 }, { 304.8, 304.8 }, -1e-3, true, { 0.1, -0.1, 0.01 },
      -0.02, SL_MODEL_SHEET, 0.30 },
    { "a4, lengths swapped", { 297, 210 }, { 210, 297 }, 8e-4, false, { 0.05, 0.0, 0.0 }, 0,
      SL_MODEL_SHEET, 0.30 },
    { "no size", { 240, 300 }, { 0, 0 }, 0, false, { 0.1, -0.05, 0.01 }, 0, SL_MODEL_FLAT, 0.10 },
};

static void made_pages_come_out_true(void **state)
{
    static sl_outline outline;
    const sl_optics optics = optics_told();

    (void)state;
    for (size_t i = 0; i < COUNT(pages); i++) {
        const made *const m = pages + i;
        const sl_rectify_params params = { { m->told[0], m->told[1] }, 0.005 };
        sl_rectified r;
        sl_error err = { 0 };

        make_outline(&outline, m);
        if (sl_rectify(&r, &outline, &optics, &params, &err) != SL_OK)
            fail_msg("%s: %s", m->name, err.detail);

        const double error = map_error(&r.map, m);
        const double unit = m->told[0] > 0.0 ? 1.0 : m->page[0] / 1000.0;

        if (r.map.model != m->model)
            fail_msg("%s: model %d, expected %d", m->name, (int)r.map.model, (int)m->model);
        if (!(error < m->largest))
            fail_msg("%s: %.3f mm off, bar %.3f", m->name, error, m->largest);
        if (!(error < r.inside_error_mm * unit))
            fail_msg("%s: %.3f mm off, said %.3f", m->name, error, r.inside_error_mm * unit);
        if (!(r.inside_error_mm * unit < 0.3))
            fail_msg("%s: said %.3f mm", m->name, r.inside_error_mm * unit);
        /* the ratio is told to half a per cent and measured better */
        assert_near(m->name, r.aspect, m->page[1] / m->page[0], fmax(3.0 * r.aspect_sigma, 1e-4));
        assert_true(r.map.has_size == (m->told[0] > 0.0));
        if (r.map.has_size)
            assert_true((r.map.page[0] > r.map.page[1]) == (m->page[0] > m->page[1])
                        || m->told[0] == m->told[1]);
        else
            assert_true(r.map.page[0] == 1.0);
    }
}

/*
 * With the album's lens a flat page fits the two straight sides of a bent one to the noise, and
 * gives up the others: no solution to be in doubt about.
 */
static void two_sides_are_no_rival(void **state)
{
    static sl_outline outline;
    sl_optics optics = optics_told();
    uint32_t seed = 7;

    (void)state;
    optics.focal_px = 1.002 * FOCAL;
    optics.ln_focal_sigma = 0.006;
    optics.centre_x = 2015.5 + 4.0;
    optics.centre_y = 1511.5 - 3.0;
    optics.centre_sigma = 2.0;
    optics.k1 = -0.0346;
    optics.k1_sigma = 0.001;
    optics.k2_sigma = 0.002;
    optics.from_album = true;
    for (size_t i = 0; i < 12; i++) {
        const made m = { .page = { 304.8, 304.8 }, .bend = (0.5 + 0.15 * (double)i) * 1e-3,
                         .tilt = { 0.012, -0.008, 0.002 }, .k1 = -0.035, .level = i % 2 == 1 };
        const sl_rectify_params params = { { 304.8, 304.8 }, 0.005 };
        sl_rectified r;
        sl_error err = { 0 };

        make_outline(&outline, &m);
        for (size_t k = 0; k < 4 * POINTS; k++) { /* seen to 0.02 px */
            const double t = ((double)(k % POINTS) + 0.5) / POINTS;
            const double to[4][2] = { { t, 0 }, { 1, t }, { 1 - t, 1 }, { 0, 1 - t } };
            sl_point at = shoot(&m, to[k / POINTS][0], to[k / POINTS][1]);

            at.x += 0.03 * noise(&seed);
            at.y += 0.03 * noise(&seed);
            outline.edge[k / POINTS].point[k % POINTS].at = at;
        }
        assert_int_equal(sl_rectify(&r, &outline, &optics, &params, &err), SL_OK);

        const double error = map_error(&r.map, &m);

        if (!(error < r.inside_error_mm && r.inside_error_mm < 0.5))
            fail_msg("bend %.5f: %.3f mm off, said %.3f", m.bend, error, r.inside_error_mm);
    }
}

static void same_outline_same_map(void **state)
{
    static sl_outline outline;
    const sl_optics optics = optics_told();
    const sl_rectify_params params = { { 304.8, 304.8 }, 0.005 };
    sl_rectified a;
    sl_rectified b;

    (void)state;
    memset(&a, 0, sizeof a);
    memset(&b, 0, sizeof b);
    make_outline(&outline, pages + 4);
    assert_int_equal(sl_rectify(&a, &outline, &optics, &params, NULL), SL_OK);
    assert_int_equal(sl_rectify(&b, &outline, &optics, &params, NULL), SL_OK);
    assert_memory_equal(a.map.profile, b.map.profile, sizeof a.map.profile);
    assert_memory_equal(a.map.rotation, b.map.rotation, sizeof a.map.rotation);
}

static void ten_digits_hold_the_map(void **state)
{
    static sl_outline outline;
    const sl_optics optics = optics_told();
    const sl_rectify_params params = { { 304.8, 304.8 }, 0.005 };
    sl_rectified r;

    (void)state;
    make_outline(&outline, pages + 5);
    assert_int_equal(sl_rectify(&r, &outline, &optics, &params, NULL), SL_OK);

    const double values[] = { r.map.rotation[0], r.map.rotation[1], r.map.rotation[2],
                              r.map.translation[0], r.map.translation[1], r.map.translation[2],
                              r.map.focal_px, r.map.centre[0], r.map.centre[1], r.map.k1,
                              r.map.k2, r.map.stretch, r.map.phi, r.map.profile[0],
                              r.map.profile[9] };

    for (size_t i = 0; i < COUNT(values); i++) {
        char text[40];

        snprintf(text, sizeof text, "%.10g", values[i]);
        if (strtod(text, NULL) != values[i])
            fail_msg("value %zu, %.17g, is not what %s reads as", i, values[i], text);
    }
}

static void three_sides_are_enough(void **state)
{
    static sl_outline outline;
    const made *const m = pages;
    const sl_optics optics = optics_told();
    const sl_rectify_params params = { { m->told[0], m->told[1] }, 0.005 };
    sl_rectified r;

    (void)state;
    make_outline(&outline, m);
    outline.edge[SL_BOTTOM].count = 0;
    outline.edge[SL_BOTTOM].cut = true;
    assert_int_equal(sl_rectify(&r, &outline, &optics, &params, NULL), SL_OK);

    const double error = map_error(&r.map, m);

    /* where the fourth side lies is known by the page's ratio only, to half a per cent */
    if (!(error < r.inside_error_mm && r.inside_error_mm > 0.5))
        fail_msg("%.3f mm off, said %.3f", error, r.inside_error_mm);
    outline.edge[SL_LEFT].count = 0;
    assert_int_equal(sl_rectify(&r, &outline, &optics, &params, NULL), SL_ERR_DEGENERATE);
}

static void hand_drawn_corners(void **state)
{
    static sl_outline outline;
    const made *const m = pages + 1;
    const sl_optics optics = optics_told();
    const sl_rectify_params params = { { m->told[0], m->told[1] }, 0.005 };
    sl_rectified r;

    (void)state;
    make_outline(&outline, m);
    for (size_t i = 0; i < 4; i++)
        outline.edge[i].count = 0;
    assert_int_equal(sl_rectify(&r, &outline, &optics, &params, NULL), SL_ERR_DEGENERATE);
    outline.by_hand = true;
    assert_int_equal(sl_rectify(&r, &outline, &optics, &params, NULL), SL_OK);
    assert_true(map_error(&r.map, m) < r.inside_error_mm);
    assert_true(map_error(&r.map, m) < 0.5);
}

static void lifted_corner_is_patched(void **state)
{
    static sl_outline outline;
    const made *const m = pages;
    const sl_optics optics = optics_told();
    const sl_rectify_params params = { { m->told[0], m->told[1] }, 0.005 };
    sl_rectified r;

    (void)state;
    make_outline(&outline, m);
    /* the right and bottom edges' last fifth swings out to 20 px: no cylinder of paper does */
    for (size_t i = POINTS * 4 / 5; i < POINTS; i++) {
        const double t = (double)(i - POINTS * 4 / 5) / (POINTS / 5.0);

        outline.edge[SL_RIGHT].point[i].at.x += 20.0 * t * t;
        outline.edge[SL_BOTTOM].point[POINTS - 1 - i].at.y += 20.0 * t * t;
    }
    assert_int_equal(sl_rectify(&r, &outline, &optics, &params, NULL), SL_OK);
    if (r.map.model == SL_MODEL_PATCH) {
        const sl_point corner = sl_page_map_point(&r.map, r.map.page[0], r.map.page[1]);

        assert_point_near("patched corner", corner, shoot(m, 1, 1).x + 20.0,
                          shoot(m, 1, 1).y + 20.0, 4.0);
    }
    assert_true(r.map.model == SL_MODEL_PATCH || r.map.model == SL_MODEL_SHEET);
    /* either way it is nothing to pass without a look */
    assert_true(r.inside_error_mm > 0.3);
}

static void absurd_outlines_are_refused(void **state)
{
    static const struct { const char *name; sl_point corner[4]; } outlines[] = {
        { "collinear", { { 100, 100 }, { 900, 100 }, { 1700, 100 }, { 100, 900 } } },
        { "all on a line", { { 0, 0 }, { 100, 100 }, { 200, 200 }, { 300, 300 } } },
        { "tiny", { { 100, 100 }, { 104, 100 }, { 104, 104 }, { 100, 104 } } },
        { "concave", { { 100, 100 }, { 1000, 100 }, { 300, 300 }, { 100, 1000 } } },
        { "counter-clockwise", { { 100, 100 }, { 100, 900 }, { 900, 900 }, { 900, 100 } } },
        { "not numbers", { { NAN, 100 }, { 900, 100 }, { 900, 900 }, { 100, 900 } } },
    };
    static sl_outline outline;
    const sl_optics optics = optics_told();
    const sl_rectify_params params = sl_rectify_defaults();
    sl_rectified r = { .aspect = 42.0 };
    sl_error err = { 0 };

    (void)state;
    for (size_t i = 0; i < COUNT(outlines); i++) {
        memset(&outline, 0, sizeof outline);
        outline.found = true;
        outline.by_hand = true;
        for (size_t k = 0; k < 4; k++)
            outline.corner[k] = outlines[i].corner[k];
        if (sl_rectify(&r, &outline, &optics, &params, &err) != SL_ERR_DEGENERATE)
            fail_msg("%s was accepted", outlines[i].name);
        assert_string_equal(err.stage, "rectify");
    }
    outline.found = false;
    assert_int_equal(sl_rectify(&r, &outline, &optics, &params, NULL), SL_ERR_ARG);
    assert_true(r.aspect == 42.0);
}

/* ---- the map's laws --------------------------------------------------------------------- */

static const sl_page_map bent_map = {
    .model = SL_MODEL_SHEET, .page = { 300, 240 }, .has_size = true,
    .rotation = { 0.1, -0.2, 0.05 }, .translation = { 10, -5, 400 }, .focal_px = 3000,
    .centre = { 2010, 1490 }, .k1 = -0.05, .k2 = 0.01, .stretch = 1.004, .phi = 0.3,
    .profile_count = 7, .profile = { 0.3, -0.1, 0.05, 0.02, 0.01, -0.01, 0.005 },
};

static void derivatives_agree_with_differences(void **state)
{
    static sl_profile_table table;
    double value[SL_P_COUNT];
    sl_view view;

    (void)state;
    sl_profile_table_init(&table);
    sl_view_pack(value, &bent_map);
    for (size_t k = 0; k < SL_P_COUNT; k++)
        for (size_t i = 0; i < 25; i++) {
            const double p = (double)(i % 5) / 4.0 - 0.5;
            const double q = (double)(i / 5) / 4.0 - 0.5;
            const double step = k == SL_P_CENTRE || k == SL_P_CENTRE + 1
                                        || (k >= SL_P_TRANSLATION && k < SL_P_LN_FOCAL)
                                    ? 1e-3 : 1e-6;
            double dx[SL_P_COUNT];
            double dy[SL_P_COUNT];
            sl_point at[2];
            char name[60];

            for (size_t end = 0; end < 2; end++) {
                sl_page_map moved = bent_map;
                double there[SL_P_COUNT];

                memcpy(there, value, sizeof there);
                there[k] += end == 0 ? -step : step;
                sl_view_unpack(&moved, there);
                sl_view_set(&view, &moved, NULL);
                at[end] = sl_view_point(NULL, NULL, &view, p, q);
            }
            sl_view_set(&view, &bent_map, &table);
            sl_profile_table_derivatives(&table);
            (void)sl_view_derivative(dx, dy, NULL, &view, p, q);
            if (k >= SL_P_PROFILE + bent_map.profile_count)
                continue;
            snprintf(name, sizeof name, "parameter %zu at %.2f,%.2f", k, p, q);
            assert_near(name, dx[k], (at[1].x - at[0].x) / (2 * step), 1e-3);
            assert_near(name, dy[k], (at[1].y - at[0].y) / (2 * step), 1e-3);
        }
}

static void jacobian_agrees_with_differences(void **state)
{
    sl_page_map map = bent_map;

    (void)state;
    for (int patched = 0; patched < 2; patched++) {
        if (patched) {
            map.model = SL_MODEL_PATCH;
            for (size_t i = 0; i < SL_PATCH_NODES; i++) {
                const double t = (double)i / (SL_PATCH_NODES - 1);

                map.patch[SL_RIGHT][i] = (sl_point){ 9 * t * t, 2 * t };
                map.patch[SL_BOTTOM][i] = (sl_point){ 9 * t, 2 * t * t * t };
            }
        }
        for (double v = 0.5; v < 240; v += 29.7)
            for (double u = 0.5; u < 300; u += 37.1) {
                double j[4];
                const double step = 1e-3;
                const sl_point l = sl_page_map_point(&map, u - step, v);
                const sl_point r = sl_page_map_point(&map, u + step, v);
                const sl_point t = sl_page_map_point(&map, u, v - step);
                const sl_point b = sl_page_map_point(&map, u, v + step);

                sl_page_map_jacobian(j, &map, u, v);
                assert_near("dx/du", j[0], (r.x - l.x) / (2 * step), 1e-5);
                assert_near("dx/dv", j[1], (b.x - t.x) / (2 * step), 1e-5);
                assert_near("dy/du", j[2], (r.y - l.y) / (2 * step), 1e-5);
                assert_near("dy/dv", j[3], (b.y - t.y) / (2 * step), 1e-5);
            }
    }
    /* on its edges the patch is exactly what the nodes say */
    {
        sl_page_map plain = map;

        plain.model = SL_MODEL_SHEET;
        for (size_t i = 0; i < SL_PATCH_NODES; i++) {
            const double v = 240.0 * (double)i / (SL_PATCH_NODES - 1);
            const sl_point a = sl_page_map_point(&plain, 300, v);

            assert_point_near("edge", sl_page_map_point(&map, 300, v),
                              a.x + map.patch[SL_RIGHT][i].x, a.y + map.patch[SL_RIGHT][i].y,
                              1e-9);
        }
    }
}

/* The table's points are the quadrature's, on the page and in a margin that passes its end. */
static void mapper_agrees_with_map(void **state)
{
    sl_page_map map = bent_map;

    (void)state;
    for (int patched = 0; patched < 2; patched++) {
        sl_page_mapper *mapper = NULL;
        sl_error err;

        if (patched) {
            map.model = SL_MODEL_PATCH;
            for (size_t i = 0; i < SL_PATCH_NODES; i++)
                map.patch[SL_RIGHT][i] = (sl_point){ 0.5 * (double)i, 1 };
        }
        assert_int_equal(sl_page_mapper_new(&mapper, &map, &err), SL_OK);
        for (double v = -70; v < 310; v += 7.3)
            for (double u = -70; u < 370; u += 7.7) {
                const sl_point want = sl_page_map_point(&map, u, v);

                assert_point_near("point", sl_page_mapper_point(mapper, u, v), want.x, want.y,
                                  1e-3);
            }
        sl_page_mapper_free(mapper);
    }
}

static void sheets_keep_their_lengths(void **state)
{
    /*
     * From straight above at a great distance with the lens out, each picture of the sheet's
     * step is its horizontal part; two such views at right angles give the whole step. Here
     * the steps are taken before the camera: |d(sheet)| = |d(page)| along u, v and askew.
     */
    static const double ways[3][2] = { { 1, 0 }, { 0, 1 }, { 0.6, 0.8 } };
    enum { STEPS = 4000 };
    sl_page_map map = bent_map;

    (void)state;
    map.stretch = 1.0;
    map.k1 = map.k2 = 0.0;
    for (size_t w = 0; w < COUNT(ways); w++) {
        double length = 0.0;
        double before[3] = { 0 };

        for (int i = 0; i <= STEPS; i++) {
            const double t = (double)i / STEPS - 0.5;
            const double p = 200.0 * t * ways[w][0] / map.page[0];
            const double q = 200.0 * t * ways[w][1] / map.page[1];
            sl_view view;
            double here[3];

            sl_view_set(&view, &map, NULL);

            const sl_point px = sl_view_point(NULL, here + 2, &view, p, q);

            here[0] = (px.x - map.centre[0]) / map.focal_px * here[2];
            here[1] = (px.y - map.centre[1]) / map.focal_px * here[2];
            if (i > 0)
                length += sqrt((here[0] - before[0]) * (here[0] - before[0])
                               + (here[1] - before[1]) * (here[1] - before[1])
                               + (here[2] - before[2]) * (here[2] - before[2]));
            memcpy(before, here, sizeof before);
        }
        assert_near("length", length / 200.0, 1.0, 1e-6);
    }
}

static void pose_of_exact_corners(void **state)
{
    sl_page_map truth = bent_map;
    sl_page_map found;
    sl_point corner[4];

    (void)state;
    truth.profile_count = 0;
    truth.k1 = truth.k2 = 0.0;
    truth.stretch = 1.0;
    corner[0] = sl_page_map_point(&truth, 0, 0);
    corner[1] = sl_page_map_point(&truth, 300, 0);
    corner[2] = sl_page_map_point(&truth, 300, 240);
    corner[3] = sl_page_map_point(&truth, 0, 240);
    found = truth;
    memset(found.rotation, 0, sizeof found.rotation);
    assert_int_equal(sl_pose_from_corners(&found, corner, NULL), SL_OK);
    for (size_t i = 0; i < 3; i++) {
        assert_near("rotation", found.rotation[i], truth.rotation[i], 1e-9);
        assert_near("translation", found.translation[i], truth.translation[i], 1e-9);
    }
}

/* ---- optics ----------------------------------------------------------------------------- */

static void tags_are_believed_as_far_as_they_go(void **state)
{
    const sl_exif plain = { .focal_35mm = 26, .pixel_x = 4032, .pixel_y = 3024 };
    const sl_exif zoomed = { .focal_35mm = 26, .pixel_x = 4032, .pixel_y = 3024,
                             .digital_zoom = 2.0 };
    const sl_exif cut = { .focal_35mm = 26, .pixel_x = 4624, .pixel_y = 3468 };
    sl_optics o = sl_optics_guess(&plain, 4032, 3024);

    (void)state;
    /* CIPA DC-008: 26 mm on the 43.27 mm diagonal, here of 5040 px */
    assert_near("by the diagonal", o.focal_px, 26.0 * 5040.0 / 43.2666, 1e-4);
    assert_near("sure", o.ln_focal_sigma, 0.05, 1e-12);
    assert_near("middle", o.centre_x, 2015.5, 1e-12);
    assert_near("middle sigma", o.centre_sigma, 0.005 * 4032, 1e-12);
    /* turned upright by the orientation tag: the same camera */
    o = sl_optics_guess(&plain, 3024, 4032);
    assert_near("turned", o.ln_focal_sigma, 0.05, 1e-12);
    assert_true(sl_optics_guess(&zoomed, 4032, 3024).ln_focal_sigma > 0.3);
    assert_true(sl_optics_guess(&cut, 4032, 3024).ln_focal_sigma > 0.3);
    assert_true(sl_optics_guess(&cut, 4032, 3024).centre_sigma > 0.03 * 4032);
    assert_true(sl_optics_guess(&plain, 4032, 2268).ln_focal_sigma > 0.3);
    assert_true(sl_optics_guess(NULL, 4032, 3024).ln_focal_sigma > 0.3);
    assert_true(sl_optics_guess(NULL, 4032, 3024).focal_px > 3000);
}

/*
 * Largest distance over the page of two lenses' pictures of it after the best homography
 * between them: what of a wrong lens a pose cannot take up, px.
 */
static double lens_distance(const sl_optics *o, double k1)
{
    enum { GRID = 13 };
    const sl_camera truth = { FOCAL, 2019.5, 1508.5, k1, 0.0 };
    const sl_camera found = { o->focal_px, o->centre_x, o->centre_y, o->k1, o->k2 };
    sl_point a[GRID * GRID];
    sl_point b[GRID * GRID];
    double h[9];
    double worst = 0.0;

    for (size_t i = 0; i < GRID * GRID; i++) {
        const double x = 0.43 * (2.0 * (double)(i % GRID) / (GRID - 1) - 1.0);
        const double y = 0.43 * (2.0 * (double)(i / GRID) / (GRID - 1) - 1.0);
        const double eye[3] = { x, y, 1.0 };

        a[i] = sl_camera_project(&found, eye);
        b[i] = sl_camera_project(&truth, eye);
    }
    assert_int_equal(sl_homography_fit(h, a, b, GRID * GRID, NULL), SL_OK);
    for (size_t i = 0; i < GRID * GRID; i++) {
        const sl_point p = sl_homography_apply(h, a[i]);

        worst = fmax(worst, hypot(p.x - b[i].x, p.y - b[i].y));
    }
    return worst;
}

static void twelve_pages_tell_the_lens(void **state)
{
    enum { PAGES = 12 };
    static sl_outline outline[PAGES + 1];
    const sl_outline *given[PAGES + 1];
    const sl_optics guess = optics_told();
    const sl_rectify_params params = { { 304.8, 304.8 }, 0.005 };
    made m = { "album", { 304.8, 304.8 }, { 304.8, 304.8 }, 0, false, { 0, 0, 0 }, -0.06,
               SL_MODEL_SHEET, 0.3 };
    sl_optics solved = { .width = 7 };
    sl_rectified alone;
    sl_rectified together;

    (void)state;
    for (size_t i = 0; i < PAGES; i++) {
        m.bend = 3e-4 * ((double)(i * 5 % PAGES) - 5.5) / 1.5;
        m.level = i % 3 == 0;
        m.tilt[0] = 0.02 * ((double)(i * 7 % PAGES) - 5.5) / 5.5;
        m.tilt[1] = 0.02 * ((double)(i * 11 % PAGES) - 5.5) / 5.5;
        m.tilt[2] = 0.01 * ((double)(i % 5) - 2.0);
        m.page[0] = 304.8 * (1.0 + 0.002 * ((double)(i % 3) - 1.0));
        make_outline(outline + i, &m);
        given[i] = outline + i;
    }
    assert_int_equal(sl_optics_solve(&solved, given, 2, &guess, &params, NULL),
                     SL_ERR_DEGENERATE);
    assert_true(solved.width == 7);
    assert_int_equal(sl_optics_solve(&solved, given, PAGES, &guess, &params, NULL), SL_OK);
    assert_true(solved.from_album && solved.width == WIDTH);
    if (!(lens_distance(&solved, -0.06) < 0.3))
        fail_msg("lens %.3f px off; f %.1f, centre %.1f,%.1f, k1 %.4f, k2 %.4f",
                 lens_distance(&solved, -0.06), solved.focal_px, solved.centre_x,
                 solved.centre_y, solved.k1, solved.k2);
    printf("lens %.3f px off; f %.1f +- %.4f, centre %.1f,%.1f +- %.1f, k1 %.4f +- %.4f, k2 "
           "%.4f +- %.4f\n", lens_distance(&solved, -0.06), solved.focal_px,
           solved.ln_focal_sigma, solved.centre_x, solved.centre_y, solved.centre_sigma,
           solved.k1, solved.k1_sigma, solved.k2, solved.k2_sigma);
    assert_true(fabs(log(solved.focal_px / FOCAL)) < 2.0 * solved.ln_focal_sigma);

    /* a page is then better known than from itself alone, and still honestly */
    assert_int_equal(sl_rectify(&alone, given[PAGES - 1], &guess, &params, NULL), SL_OK);
    assert_int_equal(sl_rectify(&together, given[PAGES - 1], &solved, &params, NULL), SL_OK);
    assert_true(together.inside_error_mm < alone.inside_error_mm);
    assert_true(map_error(&together.map, &m) < together.inside_error_mm);

    /* one page from another camera does not spoil it */
    m.k1 = 0.05;
    m.bend = 0.0;
    make_outline(outline + PAGES, &m);
    given[PAGES] = outline + PAGES;
    assert_int_equal(sl_optics_solve(&solved, given, PAGES + 1, &guess, &params, NULL), SL_OK);
    if (!(lens_distance(&solved, -0.06) < 0.3))
        fail_msg("with a stranger the lens is %.3f px off", lens_distance(&solved, -0.06));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(made_pages_come_out_true),
        cmocka_unit_test(two_sides_are_no_rival),
        cmocka_unit_test(same_outline_same_map),
        cmocka_unit_test(ten_digits_hold_the_map),
        cmocka_unit_test(three_sides_are_enough),
        cmocka_unit_test(hand_drawn_corners),
        cmocka_unit_test(lifted_corner_is_patched),
        cmocka_unit_test(absurd_outlines_are_refused),
        cmocka_unit_test(derivatives_agree_with_differences),
        cmocka_unit_test(jacobian_agrees_with_differences),
        cmocka_unit_test(mapper_agrees_with_map),
        cmocka_unit_test(sheets_keep_their_lengths),
        cmocka_unit_test(pose_of_exact_corners),
        cmocka_unit_test(tags_are_believed_as_far_as_they_go),
        cmocka_unit_test(twelve_pages_tell_the_lens),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
