/*
 * The made scenes against what is known without them: a flat page is a homography, paper keeps its
 * lengths, a rendered edge lies where the truth says. Surveys lean on this truth.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>

#include "scenes/canvas.h"
#include "scenes/scene.h"
#include "scenes/sheet.h"
#include "survey/cases.h"
#include "survey/judge.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static const double RIGHT_ANGLE = 1.5707963267948966;

static void assert_near(const char *what, double value, double wanted, double bound)
{
    if (!(fabs(value - wanted) <= bound))
        fail_msg("%s: %.9f, not %.9f within %g", what, value, wanted, bound);
}

static scene small(void)
{
    scene s = scene_default();

    s.width = 1200;
    s.height = 900;
    return s;
}

static scene_truth truth_of(const scene *s)
{
    scene_truth t;
    sl_error err = { SL_OK, NULL, "" };

    if (scene_truth_of(&t, s, &err) != SL_OK)
        fail_msg("truth: %s", err.detail);
    return t;
}

static sl_image *rendered(const scene *s)
{
    sl_image *image = NULL;
    sl_error err = { SL_OK, NULL, "" };

    if (scene_render(&image, s, &err) != SL_OK)
        fail_msg("render: %s", err.detail);
    return image;
}

/* ---- geometry -------------------------------------------------------------------------------- */

/* Gauss's elimination with pivots on the 8 equations of a homography with h[8] = 1
   (Hartley & Zisserman, Multiple View Geometry, 2nd ed., eq. 4.1, inhomogeneous). */
static void solve_homography(double h[9], const double from[4][2], const sl_point to[4])
{
    double m[8][9];

    for (int k = 0; k < 4; k++) {
        const double x = from[k][0];
        const double y = from[k][1];
        const double a[9] = { x, y, 1, 0, 0, 0, -x * to[k].x, -y * to[k].x, to[k].x };
        const double b[9] = { 0, 0, 0, x, y, 1, -x * to[k].y, -y * to[k].y, to[k].y };

        memcpy(m[2 * k], a, sizeof a);
        memcpy(m[2 * k + 1], b, sizeof b);
    }
    for (int c = 0; c < 8; c++) {
        int best = c;

        for (int r = c + 1; r < 8; r++)
            if (fabs(m[r][c]) > fabs(m[best][c]))
                best = r;
        for (int k = 0; k < 9; k++) {
            const double t = m[c][k];

            m[c][k] = m[best][k];
            m[best][k] = t;
        }
        for (int r = 0; r < 8; r++) {
            const double f = m[r][c] / m[c][c];

            for (int k = 0; k < 9 && r != c; k++)
                m[r][k] -= f * m[c][k];
        }
    }
    for (int k = 0; k < 8; k++)
        h[k] = m[k][8] / m[k][k];
    h[8] = 1;
}

static void flat_page_is_a_homography(void **state)
{
    (void)state;
    for (int n = 0; n < 8; n++) {
        scene s = small();
        const double corners[4][2] = { { 0, 0 }, { 1, 0 }, { 1, 1 }, { 0, 1 } };
        scene_truth t;
        double h[9];

        s.pitch = 0.05 * n;
        s.yaw = 0.3 - 0.08 * n;
        s.roll = 0.2 * n;
        s.centre_px[0] = 3.0 * n;
        s.sheet[0].mm[1] = 200 + 20.0 * n;
        t = truth_of(&s);
        solve_homography(h, corners, t.corner);
        for (int j = 0; j < SCENE_GRID; j++)
            for (int i = 0; i < SCENE_GRID; i++) {
                const double u = (double)i / (SCENE_GRID - 1);
                const double v = (double)j / (SCENE_GRID - 1);
                const double w = h[6] * u + h[7] * v + 1;

                assert_near("x", t.grid[j][i].x, (h[0] * u + h[1] * v + h[2]) / w, 1e-8);
                assert_near("y", t.grid[j][i].y, (h[3] * u + h[4] * v + h[5]) / w, 1e-8);
            }
    }
}

static void square_view_has_the_size_that_fill_says(void **state)
{
    scene s = small();
    scene_truth t;

    (void)state;
    s.fill = 0.8;
    t = truth_of(&s);
    assert_near("left", t.corner[0].x, 599.5 - 360, 1e-9);
    assert_near("top", t.corner[0].y, 449.5 - 360, 1e-9);
    assert_near("right", t.corner[2].x, 599.5 + 360, 1e-9);
    assert_near("bottom", t.corner[2].y, 449.5 + 360, 1e-9);
    /* the diagonal rule of CIPA DCG-001: 43.27 mm of film */
    assert_near("focal", t.focal_px, 28 * 1500 / 43.27, 1e-9);
}

/* Brown's radial model: the distance from the principal point grows by 1 + k1 r^2 + k2 r^4. */
static void lens_moves_points_along_their_radius(void **state)
{
    scene s = small();
    scene bowed;
    scene_truth a;
    scene_truth b;

    (void)state;
    s.pitch = 0.1;
    s.centre_px[0] = 11;
    s.centre_px[1] = -6;
    bowed = s;
    bowed.k1 = -0.08;
    bowed.k2 = 0.02;
    a = truth_of(&s);
    b = truth_of(&bowed);
    for (int j = 0; j < SCENE_GRID; j++)
        for (int i = 0; i < SCENE_GRID; i++) {
            const double x = (a.grid[j][i].x - 599.5 - 11) / a.focal_px;
            const double y = (a.grid[j][i].y - 449.5 + 6) / a.focal_px;
            const double r2 = x * x + y * y;
            const double d = 1 - 0.08 * r2 + 0.02 * r2 * r2;

            assert_near("x", b.grid[j][i].x, 610.5 + a.focal_px * x * d, 1e-8);
            assert_near("y", b.grid[j][i].y, 443.5 + a.focal_px * y * d, 1e-8);
        }
}

/* Any straight line drawn on the paper keeps its length, however the paper bends (an isometry:
   do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 4-2). */
static void paper_keeps_its_lengths(void **state)
{
    enum { STEPS = 20000 };
    static const double lines[][4] = { { 0, 0, 1, 0 }, { 0, 0, 0, 1 }, { 0, 0, 1, 1 },
                                       { 1, 0, 0, 1 }, { 0.2, 0, 0.9, 1 }, { 0, 0.7, 1, 0.4 } };
    sl_point *uv = malloc((STEPS + 1) * sizeof *uv);
    double (*xyz)[3] = malloc((STEPS + 1) * sizeof *xyz);

    (void)state;
    assert_non_null(uv);
    assert_non_null(xyz);
    for (int bend = BEND_FLAT; bend <= BEND_CORNER; bend++)
        for (size_t n = 0; n < COUNT(lines); n++) {
            scene_sheet sheet = scene_sheet_default();
            const double w = sheet.mm[0];
            const double h = sheet.mm[1] = 210;
            const double *l = lines[n];
            double length = 0;

            sheet.bend = (scene_bend)bend;
            sheet.bend_rad = 0.5;
            sheet.across = 0.3 * bend;
            sheet.lift_mm = 90;
            sheet.turn = 0.1;
            for (int k = 0; k <= STEPS; k++) {
                const double t = (double)k / STEPS;

                uv[k] = (sl_point){ w * (l[0] + t * (l[2] - l[0])), h * (l[1] + t * (l[3] - l[1])) };
            }
            assert_int_equal(scene_sheet_points(xyz, &sheet, uv, STEPS + 1, NULL), SL_OK);
            for (int k = 0; k < STEPS; k++) {
                const double x = xyz[k + 1][0] - xyz[k][0];
                const double y = xyz[k + 1][1] - xyz[k][1];
                const double z = xyz[k + 1][2] - xyz[k][2];

                length += sqrt(x * x + y * y + z * z);
                assert_true(xyz[k][2] >= -1e-4); /* it is laid down by its knots */
            }
            assert_near("length, mm", length, hypot(w * (l[2] - l[0]), h * (l[3] - l[1])), 1e-6 * w);
        }
    free(xyz);
    free(uv);
}

static void page_that_faces_away_is_refused(void **state)
{
    scene s = small();
    scene_truth t;
    sl_image *image = NULL;
    sl_error err = { SL_OK, NULL, "" };

    (void)state;
    s.yaw = 2;
    assert_int_equal(scene_truth_of(&t, &s, &err), SL_ERR_ARG);
    assert_int_equal(scene_render(&image, &s, &err), SL_ERR_ARG);
    assert_true(err.detail[0] != '\0');
    s = small();
    s.fill = 0;
    assert_int_equal(scene_render(&image, &s, &err), SL_ERR_ARG);
    s = small();
    s.sheet[0].prints = SCENE_PRINTS + 1;
    assert_int_equal(scene_render(&image, &s, &err), SL_ERR_ARG);
    s = small();
    s.blur_px = 200;
    assert_int_equal(scene_render(&image, &s, &err), SL_ERR_ARG);
    assert_null(image);
}

/* ---- pixels ---------------------------------------------------------------------------------- */

/* Linear green at a place between px centres, bilinear. IEC 61966-2-1. */
static double light_at(const sl_image *image, double x, double y)
{
    const size_t i = (size_t)x;
    const size_t j = (size_t)y;
    const double fx = x - (double)i;
    const double fy = y - (double)j;
    double sum = 0;

    for (size_t b = 0; b < 2; b++)
        for (size_t a = 0; a < 2; a++) {
            const double v = image->data[(j + b) * image->stride + 3 * (i + a) + 1] / 255.0;
            const double l = v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);

            sum += l * (a == 1 ? fx : 1 - fx) * (b == 1 ? fy : 1 - fy);
        }
    return sum;
}

/* The mean of five profiles side by side, for the paper's grain. */
static double light_across(const sl_image *image, sl_point at, double nx, double ny, double d)
{
    double sum = 0;

    for (int k = -4; k <= 4; k += 2)
        sum += light_at(image, at.x + d * nx - k * ny, at.y + d * ny + k * nx);
    return sum / 5;
}

/*
 * How far beyond a true place its edge lies along the outward normal, by equal areas: a step of
 * the same light would lie there. Unlike a threshold between px, this does not depend on where
 * between px the edge lies.
 */
static double edge_beyond(const sl_image *image, sl_point at, double nx, double ny)
{
    enum { STEPS = 100 };
    const double reach = 5;
    double in = 0;
    double out = 0;
    double sum = 0;

    for (int k = 0; k < 8; k++) {
        in += light_across(image, at, nx, ny, -reach - 0.5 * k) / 8;
        out += light_across(image, at, nx, ny, reach + 0.5 * k) / 8;
    }
    for (int k = 0; k < STEPS; k++)
        sum += light_across(image, at, nx, ny, reach * (2 * (k + 0.5) / STEPS - 1));
    return 2 * reach * (sum / STEPS - out) / (in - out) - reach;
}

/* A bare white page on black: the rendered edge is where the truth says, on all sides. */
static void rendered_edges_lie_on_the_truth(void **state)
{
    (void)state;
    for (int n = 0; n < 6; n++) {
        scene s = small();
        scene_truth t;
        sl_image *image;

        s.table = TABLE_BLACK;
        s.shot_noise = s.read_noise = 0;
        s.vignetting = 0;
        s.shadow = 0;        /* it would count as edge */
        s.seed = (uint64_t)n;
        s.roll = 0.02 + 0.11 * n;
        s.fill = 0.6;
        s.blur_px = 0.5 + 0.2 * n;
        if (n >= 1) {
            s.pitch = 0.12;
            s.yaw = -0.16;
        }
        if (n >= 2)
            s.k1 = -0.06;
        if (n >= 3) {
            s.sheet[0].bend = n == 3 ? BEND_BOW : n == 4 ? BEND_CORNER : BEND_S;
            s.sheet[0].bend_rad = 0.25;
            s.sheet[0].across = n == 4 ? 0.5 * RIGHT_ANGLE : 0.1;
            s.sheet[0].lift_mm = 100;
        }
        t = truth_of(&s);
        image = rendered(&s);
        for (int e = 0; e < 4; e++) {
            double sum = 0;
            int counted = 0;

            for (int k = 2; k + 3 < SCENE_EDGE; k++) {
                const sl_point a = t.edge[e][k];
                const double dx = t.edge[e][k + 1].x - t.edge[e][k - 1].x;
                const double dy = t.edge[e][k + 1].y - t.edge[e][k - 1].y;
                const double l = hypot(dx, dy);
                const double beyond = edge_beyond(image, a, dy / l, -dx / l);

                if (!(fabs(beyond) <= 0.05))
                    fail_msg("scene %d, edge %d, point %d at (%.2f, %.2f): %.3f px beyond", n, e, k,
                             a.x, a.y, beyond);
                sum += beyond;
                counted++;
            }
            if (!(fabs(sum / counted) <= 0.02))
                fail_msg("scene %d, edge %d: %.4f px beyond in the mean", n, e, sum / counted);
        }
        sl_image_free(image);
    }
}

/* What is drawn at a page point is seen where the truth puts it: a white piece of 6 mm on black
   paper has its centre of light there. */
static void drawings_lie_on_the_truth(void **state)
{
    (void)state;
    for (int n = 0; n < 4; n++) {
        scene s = small();
        const int i = 5 + 7 * n;
        const int j = 26 - 6 * n;
        double sum = 0;
        double at[2] = { 0, 0 };
        sl_image *image;
        sl_point middle;

        s.pitch = 0.1;
        s.k1 = -0.05;
        s.shot_noise = s.read_noise = 0;
        s.sheet[0].paper = PAPER_BLACK;
        s.sheet[0].bend = BEND_BOW;
        s.sheet[0].bend_rad = 0.2;
        s.sheet[0].print[0] = (scene_print){ .centre = { 304.8 * i / 32, 304.8 * j / 32 },
                                             .size = { 6, 6 }, .border = 4 };
        s.sheet[0].prints = 1;
        {
            const scene_truth t = truth_of(&s);

            middle = t.grid[j][i];
        }
        image = rendered(&s);
        for (int y = -16; y <= 16; y++)
            for (int x = -16; x <= 16; x++) {
                const double px = floor(middle.x) + x;
                const double py = floor(middle.y) + y;
                const double white = fmax(light_at(image, px, py) - 0.1, 0);

                sum += white;
                at[0] += white * px;
                at[1] += white * py;
            }
        assert_true(sum > 50);
        /* perspective and light move the centre of light a little from the image of the centre */
        assert_near("x", at[0] / sum, middle.x, 0.06);
        assert_near("y", at[1] / sum, middle.y, 0.06);
        sl_image_free(image);
    }
}

/* A scene of the survey, small. */
static scene lot(const char *name, uint64_t seed)
{
    return survey_shot_of(survey_case_named(name), seed, 800).scene;
}

static void same_scene_gives_same_bytes(void **state)
{
    const scene s = lot("clutter", 5);
    const scene again = lot("clutter", 5);
    scene other = s;
    sl_image *a = rendered(&s);
    sl_image *b = rendered(&again);
    sl_image *c;

    (void)state;
    other.seed++;
    c = rendered(&other);
    assert_memory_equal(a->data, b->data, a->stride * a->height);
    assert_memory_not_equal(a->data, c->data, a->stride * a->height);
    sl_image_free(c);
    sl_image_free(b);
    sl_image_free(a);
}

/* Noise of the given sigma, without the picture: the difference of two seeds. */
static void noise_has_the_sigma_it_says(void **state)
{
    scene s = small();
    sl_image *a;
    sl_image *b;
    double sum = 0;
    double square = 0;
    const double n = 200 * 200;

    (void)state;
    s.shot_noise = 0;
    s.read_noise = 0.02;
    s.sheet[0].paper = PAPER_GREY;
    s.table = TABLE_WHITE;
    a = rendered(&s);
    s.read_noise = 0;
    b = rendered(&s);
    for (size_t y = 350; y < 550; y++)
        for (size_t x = 500; x < 700; x++) {
            const double d = light_at(a, (double)x, (double)y) - light_at(b, (double)x, (double)y);

            sum += d;
            square += d * d;
        }
    assert_near("mean", sum / n, 0, 0.0005);
    assert_near("sigma", sqrt(square / n), 0.02, 0.0005);
    sl_image_free(b);
    sl_image_free(a);
}

/* ---- lots ------------------------------------------------------------------------------------ */

static void prints_by_lot_lie_apart_and_on_the_page(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 300; seed++) {
        const scene s = lot("plain", seed);
        const scene_sheet *p = &s.sheet[0];
        double half[SCENE_PRINTS][2];

        assert_true(p->prints >= 1);
        for (size_t i = 0; i < p->prints; i++) {
            const scene_print *a = &p->print[i];

            for (int k = 0; k < 2; k++) {
                half[i][k] = (a->size[k] * cos(a->turn) + a->size[1 - k] * fabs(sin(a->turn))) / 2;
                if (a->centre[k] - half[i][k] < 0 || a->centre[k] + half[i][k] > p->mm[k])
                    fail_msg("seed %llu: print %zu leaves the page", (unsigned long long)seed, i);
            }
            for (size_t j = 0; j < i; j++)
                if (fabs(a->centre[0] - p->print[j].centre[0]) < half[i][0] + half[j][0]
                    && fabs(a->centre[1] - p->print[j].centre[1]) < half[i][1] + half[j][1])
                    fail_msg("seed %llu: prints %zu and %zu overlap", (unsigned long long)seed, i,
                             j);
        }
        for (size_t i = 0; i < p->captions; i++) {
            const scene_caption *c = &p->caption[i];
            const double reach = scene_text_width(c->text) * c->height / 2;

            assert_true(c->at[0] - reach > 0 && c->at[0] + reach < p->mm[0]);
            for (size_t j = 0; j < p->prints; j++)
                if (fabs(c->at[0] - p->print[j].centre[0]) < reach + half[j][0]
                    && c->at[1] > p->print[j].centre[1] - half[j][1]
                    && c->at[1] - c->height < p->print[j].centre[1] + half[j][1])
                    fail_msg("seed %llu: caption %zu lies on print %zu", (unsigned long long)seed,
                             i, j);
        }
    }
}

static void lots_are_whole_unless_cut(void **state)
{
    (void)state;
    for (size_t which = 0; which < survey_case_count(); which++) {
        const char *name = survey_case_name(which);
        const bool cut = strcmp(name, "cut") == 0 || strcmp(name, "cropped") == 0;

        assert_int_equal(survey_case_named(name), which);
        for (uint64_t seed = 0; seed < 10; seed++) {
            const scene s = lot(name, seed);

            if (strcmp(name, "no-page") == 0) {
                assert_int_equal(s.sheets, 0);
            } else {
                const scene_truth t = truth_of(&s);

                if (cut != (t.inside < 1))
                    fail_msg("%s %llu: %.3f of the outline inside", name, (unsigned long long)seed,
                             t.inside);
            }
        }
    }
    assert_int_equal(survey_case_named("no such case"), survey_case_count());
}

static void waves_and_frays_lie_about_the_side(void **state)
{
    scene_sheet sheet = scene_sheet_default();
    double most[2] = { 0, 0 };
    double least[2] = { 0, 0 };

    (void)state;
    for (int kind = 0; kind < 2; kind++) {
        sheet.scallop_mm = kind == 0 ? 1.6 : 0;
        sheet.scallop_pitch_mm = 8;
        sheet.fray_mm = kind == 1 ? 1.6 : 0;
        for (double u = 20; u < 280; u += 0.05) {
            const double d = scene_sheet_outside(&sheet, u, 0, NULL);

            most[kind] = d > most[kind] ? d : most[kind];
            least[kind] = d < least[kind] ? d : least[kind];
        }
    }
    /* half on either side; frays reach seldom that far, and never beyond */
    assert_near("tips", least[0], -0.8, 0.01);
    assert_near("hollows", most[0], 0.8, 0.01);
    assert_true(least[1] < -0.4 && least[1] >= -0.8 && most[1] > 0.4 && most[1] <= 0.8);
}

/* ---- judging --------------------------------------------------------------------------------- */

/* An answer that is the truth, begun at the true corner `turns`, all of it moved by `off` px. */
static void answer_like(survey_answer *a, const scene_truth *t, int turns, sl_point off)
{
    enum { LAST = SCENE_GRID - 1 };

    for (int j = 0; j <= LAST; j++)
        for (int i = 0; i <= LAST; i++) {
            const int u[4] = { i, LAST - j, LAST - i, j };
            const int v[4] = { j, i, LAST - j, LAST - i };
            const sl_point p = t->grid[v[turns]][u[turns]];

            a->grid[j][i] = (sl_point){ p.x + off.x, p.y + off.y };
        }
}

static void errors_are_judged_in_mm(void **state)
{
    static const double rolls[] = { 0.1, -1.5707963, 3.0, 1.5 };
    static const int begins[] = { 0, 1, 2, 3 };
    survey_answer *a = calloc(1, sizeof *a);
    scene s = small();

    (void)state;
    assert_non_null(a);
    s.pitch = s.yaw = s.k1 = 0;
    for (size_t k = 0; k < 4; k++) {
        scene_truth t;
        double mm_per_px;

        s.roll = rolls[k];
        t = truth_of(&s);
        mm_per_px = s.sheet[0].mm[0] / hypot(t.corner[1].x - t.corner[0].x,
                                             t.corner[1].y - t.corner[0].y);
        answer_like(a, &t, begins[k], (sl_point){ 0, 0 });
        assert_near("right", survey_error_mm(a, &s, &t), 0, 1e-9);
        answer_like(a, &t, begins[k], (sl_point){ 3, -4 });
        assert_near("moved", survey_error_mm(a, &s, &t), 5 * mm_per_px, 0.01);
        answer_like(a, &t, (begins[k] + 1) % 4, (sl_point){ 0, 0 });
        assert_true(survey_error_mm(a, &s, &t) > 100); /* turned against the rule */
    }
    free(a);
}

/* ---- files ----------------------------------------------------------------------------------- */

static void temporary(char path[64])
{
    int fd;

    (void)snprintf(path, 64, "/tmp/squareleaf-scene-XXXXXX");
    fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(close(fd), 0);
}

static unsigned char *whole_file(const char *path, size_t *size)
{
    FILE *file = fopen(path, "rb");
    unsigned char *data;
    long end;

    assert_non_null(file);
    assert_int_equal(fseek(file, 0, SEEK_END), 0);
    end = ftell(file);
    assert_true(end > 0);
    rewind(file);
    data = malloc((size_t)end);
    assert_non_null(data);
    *size = fread(data, 1, (size_t)end, file);
    assert_int_equal(fclose(file), 0);
    return data;
}

/* All eight orientations read back upright (Exif 2.3, the tag Orientation). */
static void every_orientation_reads_upright(void **state)
{
    char path[64];
    sl_image *image = NULL;

    (void)state;
    assert_int_equal(sl_image_new(&image, 64, 48, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < 48; y++)
        for (size_t x = 0; x < 64; x++)
            memset(image->data + y * image->stride + 3 * x, (int)(2 * x + (y < 20 ? 100 : 0)), 3);
    temporary(path);
    for (unsigned o = 1; o <= 8; o++) {
        const scene_exif exif = { .focal_35mm = 26, .date = "2026:01:02 03:04:05",
                                  .make = "Pennock", .model = "Pennock P4", .orientation = o,
                                  .quality = 98 };
        const sl_decode_params params = sl_decode_defaults();
        sl_shot *shot = NULL;
        sl_error err = { SL_OK, NULL, "" };
        unsigned char *data;
        size_t size;

        assert_int_equal(scene_save_jpeg(path, image, &exif, &err), SL_OK);
        data = whole_file(path, &size);
        if (sl_shot_decode(&shot, data, size, &params, &err) != SL_OK)
            fail_msg("orientation %u: %s", o, err.detail);
        assert_int_equal(shot->exif.orientation, o);
        assert_int_equal(shot->exif.pixel_x, o >= 5 ? 48 : 64);
        assert_near("focal", shot->exif.focal_35mm, 26, 0);
        assert_string_equal(shot->exif.date, "2026:01:02 03:04:05");
        assert_string_equal(shot->exif.model, "Pennock P4");
        assert_int_equal(shot->image->width, 64);
        for (size_t y = 0; y < 48; y++)
            for (size_t x = 0; x < 64; x++)
                assert_near("px", shot->image->data[y * shot->image->stride + 3 * x],
                            image->data[y * image->stride + 3 * x], 12);
        sl_shot_free(shot);
        free(data);
    }
    assert_int_equal(unlink(path), 0);
    sl_image_free(image);
}

static double number_at(const json_t *list, size_t i, size_t axis)
{
    return json_number_value(json_array_get(json_array_get(list, i), axis));
}

static void truth_file_holds_the_truth(void **state)
{
    static const char *const side[4] = { "top", "right", "bottom", "left" };
    scene s = lot("curled", 3);
    const scene_truth t = truth_of(&s);
    char path[64];
    json_t *root;
    const json_t *grid;

    (void)state;
    temporary(path);
    assert_int_equal(scene_save_truth(path, &s, NULL), SL_OK);
    root = json_load_file(path, 0, NULL);
    assert_non_null(root);
    grid = json_object_get(root, "grid_px");
    assert_int_equal(json_array_size(grid), SCENE_GRID * SCENE_GRID);
    assert_near("grid", number_at(grid, 5 * SCENE_GRID + 7, 0), t.grid[5][7].x, 1e-6);
    assert_near("grid", number_at(grid, 5 * SCENE_GRID + 7, 1), t.grid[5][7].y, 1e-6);
    for (size_t e = 0; e < 4; e++) {
        const json_t *edge = json_object_get(json_object_get(root, "edges_px"), side[e]);

        assert_int_equal(json_array_size(edge), SCENE_EDGE);
        /* clockwise: each edge ends where the next begins */
        assert_near("corner", number_at(edge, SCENE_EDGE - 1, 0), t.corner[(e + 1) % 4].x, 1e-6);
        assert_near("corner", number_at(json_object_get(root, "corners_px"), e, 1), t.corner[e].y,
                    1e-6);
    }
    assert_near("mm", json_number_value(json_array_get(json_object_get(root, "page_mm"), 1)),
                s.sheet[0].mm[1], 1e-6);
    json_decref(root);
    s.sheets = 0;
    assert_int_equal(scene_save_truth(path, &s, NULL), SL_OK);
    root = json_load_file(path, 0, NULL);
    assert_non_null(root);
    assert_true(json_is_null(json_object_get(root, "page_mm")));
    json_decref(root);
    assert_int_equal(unlink(path), 0);
}

static void unwritable_places_are_told(void **state)
{
    const scene s = small();
    sl_error err = { SL_OK, NULL, "" };

    (void)state;
    assert_int_equal(scene_save_truth("/nowhere/at/all.json", &s, &err), SL_ERR_IO);
    assert_non_null(strstr(err.detail, "/nowhere/at/all.json"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(flat_page_is_a_homography),
        cmocka_unit_test(square_view_has_the_size_that_fill_says),
        cmocka_unit_test(lens_moves_points_along_their_radius),
        cmocka_unit_test(paper_keeps_its_lengths),
        cmocka_unit_test(page_that_faces_away_is_refused),
        cmocka_unit_test(rendered_edges_lie_on_the_truth),
        cmocka_unit_test(drawings_lie_on_the_truth),
        cmocka_unit_test(same_scene_gives_same_bytes),
        cmocka_unit_test(noise_has_the_sigma_it_says),
        cmocka_unit_test(prints_by_lot_lie_apart_and_on_the_page),
        cmocka_unit_test(lots_are_whole_unless_cut),
        cmocka_unit_test(waves_and_frays_lie_about_the_side),
        cmocka_unit_test(errors_are_judged_in_mm),
        cmocka_unit_test(every_orientation_reads_upright),
        cmocka_unit_test(truth_file_holds_the_truth),
        cmocka_unit_test(unwritable_places_are_told)
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
