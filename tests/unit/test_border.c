/*
 * Border: truth by construction. Pages are rendered with an exact outline, blurred analytically
 * in linear light, coded as 8-bit sRGB, and found again.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "border/fine.h"
#include "border/goes_on.h"
#include "border/notch.h"
#include "border/step.h"
#include "squareleaf.h"
#include "support/painted.h"

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

/* ---- pictures with a known truth ------------------------------------------------------------- */

/* Signed distance from the nearest side of a convex quadrilateral, negative inside. */
static double outside(const sl_point q[4], double x, double y)
{
    double most = -1e30;

    for (int k = 0; k < 4; k++) {
        const sl_point a = q[k];
        const sl_point b = q[(k + 1) % 4];
        const double d = ((b.y - a.y) * (x - a.x) - (b.x - a.x) * (y - a.y))
                         / hypot(b.x - a.x, b.y - a.y);

        most = fmax(most, d);
    }
    return most;
}

static sl_image *paint(size_t width, size_t height, const sl_point page[4], double paper,
                       double table, double blur, double noise)
{
    sl_image *image = NULL;
    uint64_t seed = 20260;

    assert_int_equal(sl_image_new(&image, width, height, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            const double d = outside(page, (double)x, (double)y);
            /* the px's own box adds 1/12 px^2 to the variance of the blur */
            const double sigma = sqrt(blur * blur + 1.0 / 12);
            const double share = 0.5 * erfc(d / sigma / sqrt(2));
            const double v = paper * share + table * (1 - share)
                             + noise * (uniform(&seed) + uniform(&seed) - 1);

            for (int c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + (size_t)c] = coded(v);
        }
    }
    return image;
}

static sl_tone *srgb(void)
{
    sl_tone *tone = NULL;

    assert_int_equal(sl_tone_new(&tone, NULL, 0, NULL), SL_OK);
    return tone;
}

/* ---- the blurred step ------------------------------------------------------------------------ */

static void step_fit_returns_what_was_made(void **state)
{
    static const double places[] = { -0.9, -0.37, 0, 0.25, 0.8 };
    static const double blurs[] = { 0.4, 0.7, 1.5, 3 };

    (void)state;
    for (size_t p = 0; p < COUNT(places); p++) {
        for (size_t b = 0; b < COUNT(blurs); b++) {
            double t[81];
            double value[81];
            double weight[81];
            sl_step s = { .place = 0, .blur = 1 };

            for (int i = 0; i < 81; i++) {
                t[i] = (i - 40) * 0.25;
                value[i] = 0.7 - 0.6 * 0.5 * erfc(-(t[i] - places[p]) / blurs[b] / sqrt(2));
                weight[i] = 1 + i % 3;
            }
            assert_true(sl_step_fit(&s, t, value, weight, 81));
            if (fabs(s.place - places[p]) > 1e-4 || fabs(s.blur - blurs[b]) > 1e-3)
                fail_msg("place %g blur %g fitted as %g, %g", places[p], blurs[b], s.place,
                         s.blur);
        }
    }
}

static void step_fit_refuses_what_is_no_step(void **state)
{
    double t[40];
    double flat[40];
    double weight[40];
    sl_step s = { .place = 0, .blur = 1 };

    (void)state;
    for (int i = 0; i < 40; i++) {
        t[i] = i - 20;
        flat[i] = 0.5;
        weight[i] = 1;
    }
    assert_false(sl_step_fit(&s, t, flat, weight, 5));
    s = (sl_step){ .place = 0, .blur = 1 };
    if (sl_step_fit(&s, t, flat, weight, 40))
        assert_true(fabs(s.after - s.before) < 1e-6);
}

/* design, section 4: |mean bias| <= 0.1 px for blur 0.6 to 3 px and for both signs of contrast */
static void edges_are_found_without_bias(void **state)
{
    static const struct { double paper; double table; } levels[] = {
        { 0.80, 0.05 }, { 0.05, 0.80 }, { 0.80, 0.55 }, { 0.02, 0.006 }, { 0.9, 0.002 },
    };
    static const double blurs[] = { 0.6, 1, 2, 3 };
    const sl_point page[4] = { { 60.3, 50.2 }, { 350.7, 57.9 }, { 342.1, 300.4 }, { 55.5, 290.8 } };
    sl_tone *tone = srgb();

    (void)state;
    for (size_t l = 0; l < COUNT(levels); l++) {
        for (size_t b = 0; b < COUNT(blurs); b++) {
            sl_image *image = paint(400, 350, page, levels[l].paper, levels[l].table, blurs[b],
                                    0.01 * levels[l].paper);
            double sum = 0;
            size_t n = 0;

            for (int i = 0; i < 4; i++) {
                const sl_point a = page[i];
                const sl_point c = page[(i + 1) % 4];
                sl_course course = { .a = { a.x + 1.5, a.y - 1 }, .b = { c.x - 1, c.y + 1.5 } };
                sl_edge *edge = calloc(1, sizeof *edge);

                assert_non_null(edge);
                sl_edge_fit(edge, &course, image, tone, 12, SL_EDGE_POINTS, NULL, 0);
                sl_edge_fit(edge, &course, image, tone, 5 + 2.5 * blurs[b], SL_EDGE_POINTS,
                            NULL, 0);
                if (edge->support < 0.9)
                    fail_msg("paper %g table %g blur %g: support %.2f", levels[l].paper,
                             levels[l].table, blurs[b], edge->support);
                for (size_t k = 0; k < edge->count; k++, n++)
                    sum += outside(page, edge->point[k].at.x, edge->point[k].at.y);
                free(edge);
            }
            if (!(fabs(sum / (double)n) <= 0.1))
                fail_msg("paper %g table %g blur %g: mean bias %+.3f px", levels[l].paper,
                         levels[l].table, blurs[b], sum / (double)n);
            sl_image_free(image);
        }
    }
    sl_tone_free(tone);
}

/* ---- the whole search ------------------------------------------------------------------------ */

static void assert_outline(const char *name, const sl_outline *o, const sl_point want[4],
                           double within)
{
    if (!o->found)
        fail_msg("%s: no page found", name);
    for (int k = 0; k < 4; k++) {
        const double d = hypot(o->corner[k].x - want[k].x, o->corner[k].y - want[k].y);

        if (!(d <= within))
            fail_msg("%s: corner %d at (%.2f, %.2f), should be (%.2f, %.2f)", name, k,
                     o->corner[k].x, o->corner[k].y, want[k].x, want[k].y);
    }
}

static const struct { const char *name; sl_point page[4]; double paper; double table; } scenes[] = {
    { "light on dark", { { 90, 70 }, { 710, 82 }, { 701, 520 }, { 83, 508 } }, 0.8, 0.1 },
    { "dark on light", { { 90, 70 }, { 710, 82 }, { 701, 520 }, { 83, 508 } }, 0.03, 0.7 },
    { "white on white", { { 150, 60 }, { 640, 95 }, { 655, 530 }, { 130, 505 } }, 0.85, 0.72 },
    { "black on black", { { 150, 60 }, { 640, 95 }, { 655, 530 }, { 130, 505 } }, 0.004, 0.016 },
    { "turned 30 degrees", { { 330, 40 }, { 700, 250 }, { 480, 560 }, { 120, 330 } }, 0.7, 0.2 },
    { "small in the picture", { { 300, 200 }, { 520, 210 }, { 510, 380 }, { 290, 365 } }, 0.7, 0.1 },
};

static void pages_are_found(void **state)
{
    const sl_border_params params = sl_border_defaults();
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();

    (void)state;
    assert_non_null(o);
    for (size_t i = 0; i < COUNT(scenes); i++) {
        sl_image *image = paint(800, 600, scenes[i].page, scenes[i].paper, scenes[i].table, 0.8,
                                0.004);

        assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
        assert_outline(scenes[i].name, o, scenes[i].page, 0.6);
        for (int k = 0; k < 4; k++)
            assert_false(o->edge[k].cut);
        sl_image_free(image);
    }
    sl_tone_free(tone);
    free(o);
}

static void four_quarter_turns_find_the_same_page(void **state)
{
    const size_t n = 500;
    sl_point page[4] = { { 70, 90 }, { 420, 60 }, { 440, 410 }, { 60, 430 } };
    const sl_border_params params = sl_border_defaults();
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();

    (void)state;
    assert_non_null(o);
    for (int turn = 0; turn < 4; turn++) {
        sl_image *image = paint(n, n, page, 0.7, 0.1, 0.8, 0.004);
        sl_point next[4];

        assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
        assert_outline("turned", o, page, 0.6);
        sl_image_free(image);
        /* a quarter clockwise: (x, y) -> (n - 1 - y, x); the last corner becomes the first */
        for (int k = 0; k < 4; k++) {
            const sl_point p = page[(k + 3) % 4];

            next[k] = (sl_point){ (double)n - 1 - p.y, p.x };
        }
        memcpy(page, next, sizeof page);
    }
    sl_tone_free(tone);
    free(o);
}

static void nothing_is_found_where_nothing_is(void **state)
{
    const sl_point nowhere[4] = { { -900, -900 }, { -800, -900 }, { -800, -800 }, { -900, -800 } };
    const sl_border_params params = sl_border_defaults();
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();

    (void)state;
    assert_non_null(o);
    for (int noisy = 0; noisy < 2; noisy++) {
        sl_image *image = paint(640, 480, nowhere, 0.5, 0.4, 1, noisy ? 0.1 : 0);

        o->found = true;
        assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
        assert_false(o->found);
        sl_image_free(image);
    }
    sl_tone_free(tone);
    free(o);
}

static void a_page_cut_by_the_frame_says_so(void **state)
{
    const sl_point page[4] = { { 80, -60 }, { 560, -40 }, { 570, 420 }, { 70, 410 } };
    const sl_border_params params = sl_border_defaults();
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();
    sl_image *image = paint(640, 480, page, 0.7, 0.1, 0.8, 0.004);

    (void)state;
    assert_non_null(o);
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    assert_true(o->found);
    assert_true(o->edge[SL_TOP].cut);
    assert_false(o->edge[SL_BOTTOM].cut);
    sl_image_free(image);
    sl_tone_free(tone);
    free(o);
}

/* Finds the outline and compares its corners with `page`; returns the confidence. Frees the image. */
static double check_corners(sl_image *image, const sl_point page[4], const sl_border_params *params)
{
    sl_outline *o = malloc(sizeof *o);
    sl_tone *tone = srgb();
    double confidence;

    assert_non_null(o);
    assert_int_equal(sl_outline_find(o, image, tone, params, NULL), SL_OK);
    assert_true(o->found);
    for (int k = 0; k < 4; k++)
        if (hypot(o->corner[k].x - page[k].x, o->corner[k].y - page[k].y) > 1.5)
            fail_msg("corner %d at %.1f, %.1f for %.1f, %.1f", k, o->corner[k].x, o->corner[k].y,
                     page[k].x, page[k].y);
    confidence = o->confidence;
    sl_tone_free(tone);
    free(o);
    sl_image_free(image);
    return confidence;
}

/* Of the table no more than a strip of some px shows along the top: the page ends in the picture. */
static void a_page_that_fills_the_picture_is_not_cut(void **state)
{
    const sl_border_params params = sl_border_defaults();
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();

    (void)state;
    assert_non_null(o);
    for (int room = 5; room <= 17; room += 4) {
        const sl_point page[4] = { { 80, room }, { 1560, room + 3 }, { 1570, 1100 }, { 70, 1090 } };
        sl_image *image = paint(1640, 1200, page, 0.7, 0.1, 0.8, 0.004);

        assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
        assert_outline("near the frame", o, page, 0.3);
        assert_false(o->edge[SL_TOP].cut);
        sl_image_free(image);
    }
    sl_tone_free(tone);
    free(o);
}

/* ---- patterned tables ------------------------------------------------------------------------ */

/* Broad stripes that run at so many degrees to the page's sides, or checks of such stripes. */
static sl_image *paint_on_cloth(const sl_point page[4], double degrees, bool checks)
{
    sl_image *image = paint(1200, 900, page, 0.45, 0.1, 0.8, 0.01);
    const double a = degrees / 57.29577951308232;

    for (size_t y = 0; y < 900; y++) {
        for (size_t x = 0; x < 1200; x++) {
            const double across = (double)x * cos(a) + (double)y * sin(a);
            const double along = (double)y * cos(a) - (double)x * sin(a);
            const bool light = fmod(across + 2000, 90) < 45;
            const bool other = checks && fmod(along + 2000, 90) < 45;
            const double d = outside(page, (double)x, (double)y);

            if (light != other && d > 0)
                for (size_t c = 0; c < 3; c++)
                    image->data[y * image->stride + 3 * x + c] = d < 1 ? 190 : 215;
        }
    }
    return image;
}

/* The cloth's lines are more, longer and bolder than the page's, and run into its sides. */
static void a_page_on_a_striped_or_checked_cloth_is_found(void **state)
{
    const sl_point page[4] = { { 240, 150 }, { 950, 165 }, { 940, 720 }, { 235, 700 } };
    sl_border_params params = sl_border_defaults();

    (void)state;
    params.page_ratio = 1.28;
    for (int degrees = 2; degrees <= 14; degrees += 4) {
        (void)check_corners(paint_on_cloth(page, degrees, false), page, &params);
        (void)check_corners(paint_on_cloth(page, degrees, true), page, &params);
    }
}

/* ---- what lies under the page and on it ------------------------------------------------------ */

/* A sheet and its linear light. */
typedef struct layer {
    const sl_point *corner;
    double          light;
} layer;

/* Sheets on each other, the first the lowest, on a table; with a blur of 0.8 px. */
static sl_image *paint_layers(size_t width, size_t height, double table, const layer *layers,
                              size_t count, double noise, uint64_t seed)
{
    sl_image *image = NULL;

    assert_int_equal(sl_image_new(&image, width, height, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            double v = table;

            for (size_t k = 0; k < count; k++)
                v += (layers[k].light - v) * 0.5
                     * erfc(outside(layers[k].corner, (double)x, (double)y) / 0.8 / sqrt(2));
            v += noise * (uniform(&seed) + uniform(&seed) - 1);
            for (size_t c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + c] = coded(v);
        }
    }
    return image;
}

static sl_image *paint_on_sheet(const sl_point page[4], const sl_point lower[4])
{
    sl_image *image = NULL;
    uint64_t seed = 7;

    assert_int_equal(sl_image_new(&image, 1300, 1200, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < image->height; y++) {
        for (size_t x = 0; x < image->width; x++) {
            const double d = outside(page, (double)x, (double)y);
            const double e = outside(lower, (double)x, (double)y);
            const double upper = 0.5 * erfc(d / 0.8 / sqrt(2));
            const double under = 0.5 * erfc(e / 0.8 / sqrt(2));
            /* the shadow fades over some px */
            const double shade = 1 - 0.3 * exp(-fmax(d, 0) / 3);
            const double v = 0.7 * upper + (1 - upper) * (0.7 * shade * under + 0.1 * (1 - under))
                             + 0.02 * (uniform(&seed) + uniform(&seed) - 1);

            for (size_t c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + c] = coded(v);
        }
    }
    return image;
}

/*
 * A page on a lower sheet of its own paper, which peeps out on the right and below. The upper
 * sheet's edge is a faint shadow on the lower one, that of the lower one a bold step. Without
 * proportions that would bear it out the page is found and doubted.
 */
static void a_lower_sheet_is_not_the_page(void **state)
{
    const sl_point page[4] = { { 120.3, 90.2 }, { 1110.7, 97.9 }, { 1102.1, 1080.4 },
                               { 113.5, 1074.8 } };
    const sl_point lower[4] = { { 122, 96 }, { 1125.1, 106 }, { 1114.2, 1093 }, { 116, 1091.2 } };
    sl_border_params params = sl_border_defaults();

    (void)state;
    assert_true(check_corners(paint_on_sheet(page, lower), page, &params) == 0);
    params.page_ratio = 1.006;
    assert_true(check_corners(paint_on_sheet(page, lower), page, &params) > 0.04);
}

/*
 * Sheets peep out on the right and below by so much that all of them have the page's proportions too,
 * but for one side of the two alone. Dark marks cover the page's lower edge in ten places.
 */
static void a_covered_edge_is_borne_out_by_the_proportions(void **state)
{
    const sl_point page[4] = { { 120, 90 }, { 1110, 90 }, { 1110, 874 }, { 120, 874 } };
    const sl_point lower[4] = { { 120, 90 }, { 1130, 90 }, { 1130, 890 }, { 120, 890 } };
    sl_border_params params = sl_border_defaults();
    sl_image *image = paint_on_sheet(page, lower);

    (void)state;
    for (size_t i = 0; i < 10; i++)
        for (size_t y = 850; y < 888; y++)
            memset(image->data + y * image->stride + 3 * (140 + 94 * i + 37 * i % 50), 90, 3 * 24);
    params.page_ratio = 990.0 / 784;
    assert_true(check_corners(image, page, &params) > 0.04);
}

/*
 * Sheets of another paper peep out on the left and below, with no shadow on them: plain strips, bolder
 * against the table than against the page. The outline round all of them nearly has the page's
 * proportions; the page has them to a hair.
 */
static void sheets_that_show_as_strips_are_left(void **state)
{
    const sl_point page[4] = { { 120, 90 }, { 1110, 90 }, { 1110, 1074 }, { 120, 1074 } };
    const sl_point lower[4] = { { 111, 90 }, { 1110, 90 }, { 1110, 1082 }, { 111, 1082 } };
    const layer layers[] = { { lower, 0.5 }, { page, 0.7 } };
    sl_border_params params = sl_border_defaults();

    (void)state;
    params.page_ratio = 990.0 / 984;
    assert_true(check_corners(paint_layers(1300, 1200, 0.04, layers, 2, 0.01, 7), page, &params)
                > 0.04);
}

/*
 * Of black sheets the lower one peeps out by 6 px below: the page's edge on it is a faint light line
 * with no shadow. All of them are 0.6 % off the page's proportions, as a misstated size would be.
 */
static void a_faint_line_on_black_paper_is_doubted(void **state)
{
    const sl_point both[4] = { { 120, 90 }, { 1110, 90 }, { 1110, 1080 }, { 120, 1080 } };
    sl_border_params params = sl_border_defaults();

    (void)state;
    params.page_ratio = 990.0 / 984;
    for (int lines = 0; lines < 2; lines++) {
        sl_image *image = paint(1300, 1200, both, 0.03, 0.6, 0.8, 0.002);
        double margin;

        for (size_t y = 1073; y < 1075 && lines == 1; y++)
            for (size_t x = 122; x < 1108; x++)
                for (size_t c = 0; c < 3; c++)
                    image->data[y * image->stride + 3 * x + c] += 5;
        margin = check_corners(image, both, &params);
        assert_true(lines == 1 ? margin == 0 : margin > 0.04);
    }
}

/*
 * A dark line all round, 8 to 12 px inside the sides: a frame printed on a page that has the stated
 * proportions to a hair. Where it nearly has them it may be the gap between a page and the rim of its
 * sleeve.
 */
static void a_line_all_round_is_a_frame_or_a_gap(void **state)
{
    const sl_point whole[4] = { { 120, 90 }, { 1110, 90 }, { 1110, 874 }, { 120, 874 } };
    const sl_point line[4] = { { 128, 98 }, { 1102, 98 }, { 1102, 866 }, { 128, 866 } };
    const sl_point within[4] = { { 132, 102 }, { 1098, 102 }, { 1098, 862 }, { 132, 862 } };
    const layer layers[] = { { whole, 0.45 }, { line, 0.15 }, { within, 0.45 } };
    sl_border_params params = sl_border_defaults();

    (void)state;
    for (int nearly = 0; nearly < 2; nearly++) {
        double margin;

        params.page_ratio = (nearly == 1 ? 1.0045 : 1) * 990 / 784;
        margin = check_corners(paint_layers(1300, 1000, 0.05, layers, 3, 0.01, 7), whole, &params);
        assert_true(nearly == 1 ? margin == 0 : margin > 0.04);
    }
}

/*
 * Three sheets of 8 px each in a pile look out below the page, each in the shadow of the one above;
 * the page has stripes, which end with it. Without a pile the stripes that run along a side are no
 * sheets' ends: they have no shadow, and go on.
 */
static void check_pile(int sheets, bool along)
{
    const sl_point page[4] = { { 120, 90 }, { 1110, 98 }, { 1102, 1080 }, { 112, 1074 } };
    sl_image *image = NULL;
    const sl_border_params params = sl_border_defaults();
    uint64_t seed = 7;

    assert_int_equal(sl_image_new(&image, 1300, 1200, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < image->height; y++) {
        for (size_t x = 0; x < image->width; x++) {
            const bool striped = fmod((double)(along ? y : x), 44) < 20;
            double v = 0.1;

            for (int k = sheets; k >= 0; k--) {
                const double d = outside(page, (double)x, (double)y - 8.0 * k);
                const double here = 0.5 * erfc(d / 0.8 / sqrt(2));
                const double paper = k > 0 ? 0.68 : striped ? 0.5 : 0.75;

                v = here * paper + (1 - here) * v * (1 - 0.4 * exp(-fmax(d, 0) / 3));
            }
            v += 0.02 * (uniform(&seed) + uniform(&seed) - 1);
            for (size_t c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + c] = coded(v);
        }
    }
    check_corners(image, page, &params);
}

static void the_sheet_on_top_of_a_pile_is_the_page(void **state)
{
    (void)state;
    check_pile(1, false);
    check_pile(3, false);
}

static void stripes_are_no_sheets(void **state)
{
    (void)state;
    check_pile(0, false);
    check_pile(0, true);
}

/* A print on a page on a table; linear light of the table, the page and the print, and its noise. */
static sl_image *paint_print(size_t width, size_t height, const sl_point page[4],
                             const sl_point print[4], const double light[3], double noise,
                             uint64_t seed)
{
    const layer layers[] = { { page, light[1] }, { print, light[2] } };

    return paint_layers(width, height, light[0], layers, 2, noise, seed);
}

/*
 * A print glued into a corner of its page is the better rectangle of the two, and has the page's
 * proportions too; stated, they do not hide that the page's sides go on.
 */
static void a_print_glued_into_the_corner_is_not_the_page(void **state)
{
    const sl_point page[4] = { { 120, 90 }, { 1120, 90 }, { 1120, 1090 }, { 120, 1090 } };
    const sl_point print[4] = { { 120, 90 }, { 770, 90 }, { 770, 740 }, { 120, 740 } };
    static const double light[3] = { 0.06, 0.25, 0.85 };
    sl_image *image;
    sl_border_params params = sl_border_defaults();

    (void)state;
    params.page_ratio = 1;
    image = paint_print(1300, 1200, page, print, light, 0.02, 9);
    check_corners(image, page, &params);
}

/* ---- a page's own shadow --------------------------------------------------------------------- */

/* What a profile across a side holds before the camera sees it: d px outward of the page's edge. */
typedef double seen_at(double d, double page, double table);

/* Beside an edge that stands off the table: nearly black at its foot, light some px further out;
   the shadow of a lamp with a width falls off like the integral of a bell. */
static double in_shadow(double d, double page, double table)
{
    if (d < 0)
        return page;
    return table * (0.15 + 0.85 * 0.5 * erfc(-(d - 2.5) / 1.7 / sqrt(2)));
}

/* A camera that moved by 6 px across the side while the shutter was open. */
static double moved(double d, double page, double table)
{
    return page + (table - page) * fmin(fmax(d / 6 + 0.5, 0), 1);
}

/*
 * A page whose lower side (and upper one, if `both`) is seen in a way of its own. The camera's blur
 * is integrated numerically. page, table: linear red, green, blue.
 */
static sl_image *paint_side(const sl_point q[4], const double page[3], const double table[3],
                            seen_at *seen, bool both, double blur)
{
    enum { TAPS = 12, PER_PX = 8, REACH = 40 };
    static double profile[3][2 * REACH * PER_PX];
    const double sigma = sqrt(blur * blur + 1.0 / 12);
    sl_image *image = NULL;

    for (int i = 0; i < 2 * REACH * PER_PX; i++) {
        for (int c = 0; c < 3; c++) {
            double sum = 0;
            double weight = 0;

            for (int k = -TAPS * PER_PX; k <= TAPS * PER_PX; k++) {
                const double u = (double)k / PER_PX / sigma;
                const double d = (double)(i - k) / PER_PX - REACH;

                sum += exp(-0.5 * u * u) * seen(d + 0.5 / PER_PX, page[c], table[c]);
                weight += exp(-0.5 * u * u);
            }
            profile[c][i] = sum / weight;
        }
    }
    assert_int_equal(sl_image_new(&image, 900, 900, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < image->height; y++) {
        for (size_t x = 0; x < image->width; x++) {
            double side[4];
            double other = -1e30;
            int own = 2;

            for (int k = 0; k < 4; k++) {
                const sl_point two[4] = { q[k], q[(k + 1) % 4], q[k], q[(k + 1) % 4] };

                side[k] = ((two[1].y - two[0].y) * ((double)x - two[0].x)
                           - (two[1].x - two[0].x) * ((double)y - two[0].y))
                          / hypot(two[1].x - two[0].x, two[1].y - two[0].y);
            }
            if (both && side[0] > side[2])
                own = 0;
            for (int k = 0; k < 4; k++)
                if (k != own)
                    other = fmax(other, side[k]);
            for (int c = 0; c < 3; c++) {
                const double i = fmin(fmax((side[own] + REACH) * PER_PX, 0),
                                      2 * REACH * PER_PX - 1);
                const double share = 0.5 * erfc(other / sigma / sqrt(2));
                const double v = share * profile[c][(size_t)i] + (1 - share) * table[c];

                image->data[y * image->stride + 3 * x + (size_t)c] = coded(v);
            }
        }
    }
    return image;
}

static void assert_side_found(const char *name, const double page[3], const double table[3],
                              seen_at *seen, bool both, double within)
{
    const sl_point q[4] = { { 150.2, 160.7 }, { 748.6, 152.3 }, { 756.1, 741.4 },
                            { 143.9, 733.8 } };
    const sl_border_params params = sl_border_defaults();
    sl_image *image = paint_side(q, page, table, seen, both, 0.7);
    sl_outline *o = malloc(sizeof *o);
    sl_tone *tone = srgb();

    assert_non_null(o);
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    assert_true(o->found);
    for (int k = 0; k < 4; k++)
        if (hypot(o->corner[k].x - q[k].x, o->corner[k].y - q[k].y) > within)
            fail_msg("%s: corner %d at %.2f, %.2f for %.2f, %.2f", name, k, o->corner[k].x,
                     o->corner[k].y, q[k].x, q[k].y);
    free(o);
    sl_tone_free(tone);
    sl_image_free(image);
}

static void an_edge_in_its_own_shadow_is_found(void **state)
{
    static const double black[3] = { 0.03, 0.03, 0.03 };
    static const double blue[3] = { 0.06, 0.10, 0.22 };
    static const double grey[3] = { 0.5, 0.5, 0.5 };

    (void)state;
    assert_side_found("black", black, grey, in_shadow, false, 0.6);
    assert_side_found("blue", blue, grey, in_shadow, false, 0.6);
    assert_side_found("blue, two sides", blue, grey, in_shadow, true, 0.6);
}

/* Motion blur is no shadow: the edge lies in the middle of it. */
static void an_edge_that_moved_is_not_taken_for_a_shadow(void **state)
{
    static const double white[3] = { 0.8, 0.8, 0.8 };
    static const double blue[3] = { 0.06, 0.10, 0.22 };
    static const double grey[3] = { 0.5, 0.5, 0.5 };
    static const double dark[3] = { 0.1, 0.1, 0.1 };

    (void)state;
    assert_side_found("white", white, dark, moved, true, 0.4);
    assert_side_found("blue", blue, grey, moved, true, 0.6);
}

/* ---- outlines that are wrong ----------------------------------------------------------------- */

enum { BED_WIDTH = 560, BED_HEIGHT = 460 };

/* A rectangle in axes that are turned by a few degrees about the picture's middle. */
static void turned_sheet(sl_point q[4], double left, double top, double right, double bottom)
{
    static const double turn = 0.05;
    const double x[4] = { left, right, right, left };
    const double y[4] = { top, top, bottom, bottom };

    for (int k = 0; k < 4; k++)
        q[k] = (sl_point){ BED_WIDTH / 2.0 + cos(turn) * x[k] - sin(turn) * y[k],
                           BED_HEIGHT / 2.0 + sin(turn) * x[k] + cos(turn) * y[k] };
}

/* Distance out of a sheet whose corners are rounded by `radius` px. */
static double outside_rounded(const sl_point q[4], double x, double y, double radius)
{
    const sl_point along = { q[1].x - q[0].x, q[1].y - q[0].y };
    const double length = hypot(along.x, along.y);
    const double height = hypot(q[3].x - q[0].x, q[3].y - q[0].y);
    const double mx = x - (q[0].x + q[2].x) / 2;
    const double my = y - (q[0].y + q[2].y) / 2;
    const double u = fabs(mx * along.x + my * along.y) / length - length / 2 + radius;
    const double v = fabs(my * along.x - mx * along.y) / length - height / 2 + radius;

    return hypot(fmax(u, 0), fmax(v, 0)) + fmin(fmax(u, v), 0) - radius;
}

/* Sheets of one paper on a dark table, the last on top, their own edges on each other not seen. */
static sl_image *paint_pile(sl_point sheet[][4], size_t sheets, double radius)
{
    sl_image *image = NULL;

    assert_int_equal(sl_image_new(&image, BED_WIDTH, BED_HEIGHT, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < BED_HEIGHT; y++) {
        for (size_t x = 0; x < BED_WIDTH; x++) {
            double v = 0.08;

            for (size_t k = 0; k < sheets; k++) {
                const double d = outside_rounded(sheet[k], (double)x, (double)y, radius);
                const double share = 0.5 * erfc(d / 0.9 / sqrt(2));

                v = 0.6 * share + v * (1 - share);
            }
            for (size_t c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + c] = coded(v);
        }
    }
    return image;
}

static void a_pile_shows_in_the_corners(void **state)
{
    static const double still[4] = { 0 };
    static const double wavy[4] = { 5, 5, 5, 5 };
    const sl_border_params params = sl_border_defaults();
    sl_point sheet[2][4];
    sl_point outermost[4];
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();
    sl_image *pile;
    sl_image *page;
    sl_image *rounded;
    sl_image *large;         /* the arc is longer than what is looked at of a corner */
    sl_error err = { 0 };

    (void)state;
    assert_non_null(o);
    turned_sheet(sheet[0], -186, -145, 174, 135); /* the lower one, up and to the left */
    turned_sheet(sheet[1], -180, -140, 180, 140);
    turned_sheet(outermost, -186, -145, 180, 140);
    pile = paint_pile(sheet, 2, 0);
    page = paint_pile(&sheet[1], 1, 0);
    rounded = paint_pile(&sheet[1], 1, 20);
    large = paint_pile(&sheet[1], 1, 70);
    assert_true(sl_corner_is_notched(pile, outermost, still));
    assert_false(sl_corner_is_notched(pile, outermost, wavy));
    assert_false(sl_corner_is_notched(page, sheet[1], still));
    assert_false(sl_corner_is_notched(rounded, sheet[1], still));
    assert_false(sl_corner_is_notched(large, sheet[1], still));
    /* nobody can see where the page ends: found, and never without a doubt */
    assert_int_equal(sl_outline_find(o, pile, tone, &params, &err), SL_OK);
    assert_true(!o->found || o->confidence == 0);
    assert_int_equal(sl_outline_find(o, page, tone, &params, &err), SL_OK);
    assert_true(o->found && o->confidence > 0.2);
    sl_image_free(large);
    sl_image_free(rounded);
    sl_image_free(page);
    sl_image_free(pile);
    sl_tone_free(tone);
    free(o);
}

/* A line printed all round at one distance is part of the page. */
/* A print of its page's proportions alone on it, and two of the page's sides all but at the frame:
   the print is the better rectangle, and the page a larger one that fits as well. */
static void a_print_of_the_pages_proportions_is_doubted(void **state)
{
    const sl_point page[4] = { { 4, 4 }, { 1140, 4 }, { 1140, 856 }, { 4, 856 } };
    const sl_point print[4] = { { 420, 160 }, { 1020, 160 }, { 1020, 610 }, { 420, 610 } };
    static const double light[3] = { 0.03, 0.12, 0.7 };
    sl_image *image;
    sl_border_params params = sl_border_defaults();
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();

    (void)state;
    assert_non_null(o);
    params.page_ratio = 4.0 / 3;
    image = paint_print(1200, 906, page, print, light, 0.004, 5);
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    assert_true(o->found);
    if (o->corner[0].x > 100 && o->confidence >= 0.01)
        fail_msg("a print is taken for the page with a margin of %.2f", o->confidence);
    sl_image_free(image);
    sl_tone_free(tone);
    free(o);
}

/*
 * A page with two prints on a board. Three sides of the board and one of the page make a rectangle
 * that is 0.8 % off the page's proportions, larger than the page and nearly as good.
 */
static void sides_of_a_board_and_a_page_are_no_page(void **state)
{
    const sl_point page[4] = { { 300, 200 }, { 900, 200 }, { 900, 650 }, { 300, 650 } };
    const sl_point board[4] = { { 150, 120 }, { 1000, 120 }, { 1000, 678 }, { 150, 678 } };
    const sl_point print[2][4] = {
        { { 360, 260 }, { 560, 260 }, { 560, 410 }, { 360, 410 } },
        { { 620, 420 }, { 760, 420 }, { 760, 600 }, { 620, 600 } },
    };
    const layer layers[] = { { board, 0.3 }, { page, 0.7 }, { print[0], 0.1 }, { print[1], 0.1 } };
    sl_border_params params = sl_border_defaults();

    (void)state;
    params.page_ratio = 4.0 / 3;
    assert_true(check_corners(paint_layers(1200, 900, 0.06, layers, 4, 0.01, 5), page, &params)
                > 0.02);
}

/* Two facing pages that are taken for one are longer than a page is, unless that is said. */
static void what_is_longer_than_a_page_is_doubted(void **state)
{
    const sl_point two[4] = { { 60, 240 }, { 1140, 236 }, { 1142, 656 }, { 62, 660 } };
    sl_border_params params = sl_border_defaults();

    (void)state;
    assert_true(check_corners(paint(1200, 900, two, 0.6, 0.1, 0.8, 0.01), two, &params) == 0);
    params.page_ratio = 1080.0 / 420;
    assert_true(check_corners(paint(1200, 900, two, 0.6, 0.1, 0.8, 0.01), two, &params) > 0.2);
}

/* A sheet on a picture of no camera's shape; a print's white border runs round it if asked. */
static sl_image *paint_scan(const sl_point sheet[4], bool print)
{
    enum { BORDER = 28 };
    sl_image *image = paint(1199, 899, sheet, 0.6, 0.1, 0.8, 0.01);
    const size_t left = (size_t)sheet[0].x + BORDER;
    const size_t low = (size_t)sheet[2].y - BORDER;

    for (size_t y = (size_t)sheet[0].y + BORDER; y < low && print; y++)
        memset(image->data + y * image->stride + 3 * left, (int)(50 + y / 8),
               3 * ((size_t)sheet[2].x - BORDER - left));
    return image;
}

/* On a picture that was cropped to its own proportions a sheet may be a print on the page, and so may
   a small one on any that was scanned: one with a white border is doubted; a bare one, whose paper
   goes on further in, is a page. */
static void a_print_on_a_cropped_picture_is_doubted(void **state)
{
    const sl_point sheet[4] = { { 120, 90 }, { 1080, 90 }, { 1080, 810 }, { 120, 810 } };
    const sl_point small[4] = { { 300, 250 }, { 820, 250 }, { 820, 690 }, { 300, 690 } };
    sl_border_params params = sl_border_defaults();

    (void)state;
    assert_true(check_corners(paint_scan(small, false), small, &params) > 0.2);
    assert_true(check_corners(paint_scan(small, true), small, &params) == 0);
    params.page_ratio = 4.0 / 3;
    assert_true(check_corners(paint_scan(sheet, false), sheet, &params) > 0.2);
    assert_true(check_corners(paint_scan(sheet, true), sheet, &params) == 0);
}

/*
 * Stripes that end at the page's edges. Below the bottom edge the white table lies in the page's
 * shadow and has a stripe's grey: it is the table all the same. A stripe's blue there is paper.
 */
static void a_shaded_table_is_no_paper(void **state)
{
    static const unsigned char shade[3] = { 130, 130, 130 };
    static const unsigned char blue[3] = { 90, 120, 170 };
    static const bool on_sheet[4] = { false };
    const sl_point q[4] = { { 100, 80 }, { 700, 80 }, { 700, 520 }, { 100, 520 } };
    sl_course course[4] = { 0 };
    sl_image *image = NULL;

    (void)state;
    assert_int_equal(sl_image_new(&image, 800, 600, 3, 8, NULL), SL_OK);
    for (int i = 0; i < 4; i++)
        course[i] = (sl_course){ .a = q[i], .b = q[(i + 1) % 4] };
    for (int round = 0; round < 2; round++) {
        for (size_t y = 0; y < image->height; y++) {
            for (size_t x = 0; x < image->width; x++) {
                unsigned char *at = image->data + y * image->stride + 3 * x;
                const bool page = x >= 100 && x < 700 && y >= 80 && y < 520;

                memset(at, 220, 3);
                if (page && x / 30 % 2 == 0)
                    memcpy(at, x / 30 % 4 == 0 ? shade : blue, 3);
                else if (page)
                    memset(at, 180, 3);
                else if (y >= 520 && y < 540)
                    memcpy(at, round == 0 ? shade : blue, 3);
            }
        }
        assert_int_equal(sl_paper_goes_on(image, course, on_sheet), round == 1);
    }
    sl_image_free(image);
}

static void a_printed_frame_is_on_the_page(void **state)
{
    const sl_point page[4] = { { 120.3, 90.2 }, { 1110.7, 97.9 }, { 1102.1, 1080.4 },
                               { 113.5, 1074.8 } };
    sl_image *image = paint(1300, 1200, page, 0.7, 0.1, 0.8, 0.02);
    sl_outline *o = malloc(sizeof *o);
    sl_tone *tone = srgb();
    const sl_border_params params = sl_border_defaults();

    (void)state;
    assert_non_null(o);
    for (size_t y = 0; y < image->height; y++)
        for (size_t x = 0; x < image->width; x++)
            if (fabs(outside(page, (double)x, (double)y) + 15) < 1.2)
                memset(image->data + y * image->stride + 3 * x, 120, 3);
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    assert_outline("frame", o, page, 0.3);
    sl_tone_free(tone);
    free(o);
    sl_image_free(image);
}

static void corners_by_hand_are_refined_or_kept(void **state)
{
    const sl_point page[4] = { { 90, 70 }, { 550, 82 }, { 541, 400 }, { 83, 388 } };
    sl_border_params params = sl_border_defaults();
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();
    sl_image *image = paint(640, 480, page, 0.7, 0.1, 0.8, 0.004);

    (void)state;
    assert_non_null(o);
    params.has_corners = true;
    for (int k = 0; k < 4; k++) {
        /* any start, and anticlockwise: a person clicks as she likes */
        const sl_point p = page[(5 - k) % 4];

        params.corners[k] = (sl_point){ p.x + 3, p.y - 2 };
    }
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    assert_true(o->by_hand);
    assert_outline("refined", o, page, 0.6);

    params.exact = true;
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    for (int k = 0; k < 4; k++)
        assert_true(hypot(o->corner[k].x - page[k].x - 3, o->corner[k].y - page[k].y + 2) < 1e-9);

    params.corners[0] = params.corners[1];
    o->found = false;
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_ERR_DEGENERATE);
    assert_false(o->found);
    sl_image_free(image);
    sl_tone_free(tone);
    free(o);
}

/* A model's outline: the page's, moved. */
static void predict(sl_point predicted[4][SL_PREDICTED], const sl_point page[4], double dx,
                    double dy)
{
    for (int i = 0; i < 4; i++)
        for (int k = 0; k < SL_PREDICTED; k++) {
            const double t = (double)k / (SL_PREDICTED - 1);

            predicted[i][k] = (sl_point){ page[i].x + t * (page[(i + 1) % 4].x - page[i].x) + dx,
                                          page[i].y + t * (page[(i + 1) % 4].y - page[i].y) + dy };
        }
}

/* Every other point of the left edge has settled 6 px inside, as on a print glued there. */
static void a_predicted_outline_is_followed(void **state)
{
    const sl_point page[4] = { { 90, 70 }, { 550, 70 }, { 550, 400 }, { 90, 400 } };
    const sl_border_params params = sl_border_defaults();
    sl_point predicted[4][SL_PREDICTED];
    sl_outline *o = calloc(2, sizeof *o);
    sl_outline *stayed = o + 1;
    sl_tone *tone = srgb();
    sl_image *image = paint(640, 480, page, 0.7, 0.4, 0.8, 0.004);

    (void)state;
    assert_non_null(o);
    assert_int_equal(sl_outline_follow(o, stayed, image, tone,
                                       (const sl_point(*)[SL_PREDICTED])predicted, NULL),
                     SL_ERR_ARG);
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    for (size_t k = 0; k < o->edge[SL_LEFT].count; k++)
        o->edge[SL_LEFT].point[k].at.x += k % 2 == 0 ? 6 : 0;
    predict(predicted, page, 1, -0.7);
    assert_int_equal(sl_outline_follow(o, stayed, image, tone,
                                       (const sl_point(*)[SL_PREDICTED])predicted, NULL),
                     SL_OK);
    assert_false(stayed->found);
    for (int i = 0; i < 4; i++) {
        assert_true(o->edge[i].support > 0.95);
        for (size_t k = 0; k < o->edge[i].count; k++) {
            const double d = outside(page, o->edge[i].point[k].at.x, o->edge[i].point[k].at.y);

            if (fabs(d) > 0.5)
                fail_msg("edge %d, point %zu lies %+.2f px off", i, k, d);
        }
    }
    sl_image_free(image);
    sl_tone_free(tone);
    free(o);
}

/* A lower sheet of the same paper peeps out by 2 px, and the side was on the page's own edge: when
   that is known it stays there. */
static void a_side_that_strays_has_its_old_place_kept(void **state)
{
    const sl_point page[4] = { { 90, 70 }, { 550, 70 }, { 550, 400 }, { 90, 400 } };
    const sl_point both[4] = { { 90, 70 }, { 550, 70 }, { 550, 402 }, { 90, 402 } };
    const sl_border_params params = sl_border_defaults();
    sl_point predicted[4][SL_PREDICTED];
    sl_outline *o = calloc(2, sizeof *o);
    sl_outline *stayed = o + 1;
    sl_tone *tone = srgb();
    sl_image *image = paint(640, 480, page, 0.6, 0.2, 0.8, 0.004);
    sl_image *on_sheet = paint(640, 480, both, 0.6, 0.2, 0.8, 0.004);

    (void)state;
    assert_non_null(o);
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    predict(predicted, page, 0, 0);
    assert_int_equal(sl_outline_follow(o, stayed, on_sheet, tone,
                                       (const sl_point(*)[SL_PREDICTED])predicted, NULL),
                     SL_OK);
    assert_true(stayed->found);
    for (size_t k = 0; k < o->edge[SL_BOTTOM].count; k++)
        assert_true(o->edge[SL_BOTTOM].point[k].at.y > 401.5);
    for (size_t k = 0; k < stayed->edge[SL_BOTTOM].count; k++)
        assert_true(fabs(stayed->edge[SL_BOTTOM].point[k].at.y - 400) < 0.3);
    assert_memory_equal(&o->edge[SL_TOP], &stayed->edge[SL_TOP], sizeof o->edge[SL_TOP]);

    o->edge[SL_BOTTOM] = stayed->edge[SL_BOTTOM];
    o->edge[SL_BOTTOM].on_sheet = true;
    assert_int_equal(sl_outline_follow(o, stayed, on_sheet, tone,
                                       (const sl_point(*)[SL_PREDICTED])predicted, NULL),
                     SL_OK);
    for (size_t k = 0; k < o->edge[SL_BOTTOM].count; k++)
        assert_true(fabs(o->edge[SL_BOTTOM].point[k].at.y - 400) < 0.3);
    sl_image_free(on_sheet);
    sl_image_free(image);
    sl_tone_free(tone);
    free(o);
}

static void frame_is_the_outer_side_of_the_last_px(void **state)
{
    sl_outline *o = calloc(1, sizeof *o);
    const sl_point want[4] = { { -0.5, -0.5 }, { 99.5, -0.5 }, { 99.5, 49.5 }, { -0.5, 49.5 } };

    (void)state;
    assert_non_null(o);
    sl_outline_frame(o, 100, 50);
    assert_outline("frame", o, want, 1e-12);
    free(o);
}

static void tiny_pictures_are_refused(void **state)
{
    const sl_border_params params = sl_border_defaults();
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = srgb();
    sl_image *image = NULL;
    sl_error err = { 0 };

    (void)state;
    assert_non_null(o);
    assert_int_equal(sl_image_new(&image, 15, 400, 1, 16, NULL), SL_OK);
    assert_int_equal(sl_outline_find(o, image, tone, &params, &err), SL_ERR_ARG);
    assert_non_null(strstr(err.detail, "15 x 400"));
    sl_image_free(image);
    sl_tone_free(tone);
    free(o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(step_fit_returns_what_was_made),
        cmocka_unit_test(step_fit_refuses_what_is_no_step),
        cmocka_unit_test(edges_are_found_without_bias),
        cmocka_unit_test(pages_are_found),
        cmocka_unit_test(four_quarter_turns_find_the_same_page),
        cmocka_unit_test(nothing_is_found_where_nothing_is),
        cmocka_unit_test(a_page_cut_by_the_frame_says_so),
        cmocka_unit_test(a_page_that_fills_the_picture_is_not_cut),
        cmocka_unit_test(a_page_on_a_striped_or_checked_cloth_is_found),
        cmocka_unit_test(a_lower_sheet_is_not_the_page),
        cmocka_unit_test(a_covered_edge_is_borne_out_by_the_proportions),
        cmocka_unit_test(sheets_that_show_as_strips_are_left),
        cmocka_unit_test(a_faint_line_on_black_paper_is_doubted),
        cmocka_unit_test(a_line_all_round_is_a_frame_or_a_gap),
        cmocka_unit_test(the_sheet_on_top_of_a_pile_is_the_page),
        cmocka_unit_test(stripes_are_no_sheets),
        cmocka_unit_test(a_print_glued_into_the_corner_is_not_the_page),
        cmocka_unit_test(an_edge_in_its_own_shadow_is_found),
        cmocka_unit_test(an_edge_that_moved_is_not_taken_for_a_shadow),
        cmocka_unit_test(a_pile_shows_in_the_corners),
        cmocka_unit_test(a_print_of_the_pages_proportions_is_doubted),
        cmocka_unit_test(sides_of_a_board_and_a_page_are_no_page),
        cmocka_unit_test(what_is_longer_than_a_page_is_doubted),
        cmocka_unit_test(a_print_on_a_cropped_picture_is_doubted),
        cmocka_unit_test(a_shaded_table_is_no_paper),
        cmocka_unit_test(a_printed_frame_is_on_the_page),
        cmocka_unit_test(corners_by_hand_are_refined_or_kept),
        cmocka_unit_test(a_predicted_outline_is_followed),
        cmocka_unit_test(a_side_that_strays_has_its_old_place_kept),
        cmocka_unit_test(frame_is_the_outer_side_of_the_last_px),
        cmocka_unit_test(tiny_pictures_are_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
