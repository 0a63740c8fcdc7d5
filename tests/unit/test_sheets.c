/*
 * A page on a board, a print on a page, and a side put where the stated proportions have it. The
 * pictures are painted here, so that the truth is exact; what a projection does to a rectangle is
 * the pinhole camera's (Hartley and Zisserman, Multiple View Geometry, 2nd ed., section 6.1).
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "border/shape.h"
#include "border/sheets.h"
#include "border/twin.h"
#include "squareleaf.h"
#include "support/painted.h"

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

/* A rectangle parallel to the picture, its turn about its centre, and its light. */
typedef struct sheet {
    double left, top, right, bottom;
    double turn;                       /* radians */
    double light[3];
} sheet;

/* Share of the px that a sheet covers, as a camera with a blur of 0.8 px sees it. */
static double cover(const sheet *s, double x, double y)
{
    const double cx = (s->left + s->right) / 2;
    const double cy = (s->top + s->bottom) / 2;
    const double u = cos(s->turn) * (x - cx) + sin(s->turn) * (y - cy);
    const double v = -sin(s->turn) * (x - cx) + cos(s->turn) * (y - cy);
    const double d = fmax(fabs(u) - (s->right - s->left) / 2, fabs(v) - (s->bottom - s->top) / 2);

    return 0.5 * erfc(d / 0.8 / sqrt(2));
}

/* Sheets on each other, the first the lowest, on a dark table. */
static sl_image *paint(const sheet *s, size_t count)
{
    sl_image *image = NULL;
    uint64_t seed = 3;

    assert_int_equal(sl_image_new(&image, 1400, 1200, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < image->height; y++) {
        for (size_t x = 0; x < image->width; x++) {
            double v[3] = { 0.10, 0.11, 0.12 };
            const double noise = 0.008 * (uniform(&seed) + uniform(&seed) - 1);

            for (size_t k = 0; k < count; k++) {
                const double on = cover(s + k, (double)x, (double)y);

                for (size_t c = 0; c < 3; c++)
                    v[c] += on * (s[k].light[c] - v[c]);
            }
            for (size_t c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + c] = coded(v[c] + noise);
        }
    }
    return image;
}

/* The outline's confidence; `left` out: where its left side is, px. */
static double confidence(double *left, const sheet *s, size_t count, double page_ratio)
{
    sl_border_params params = sl_border_defaults();
    sl_image *image = paint(s, count);
    sl_outline *o = calloc(1, sizeof *o);
    sl_tone *tone = NULL;
    double c;

    assert_non_null(o);
    params.page_ratio = page_ratio;
    assert_int_equal(sl_tone_new(&tone, NULL, 0, NULL), SL_OK);
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    assert_true(o->found);
    c = o->confidence;
    *left = (o->corner[0].x + o->corner[3].x) / 2;
    free(o);
    sl_tone_free(tone);
    sl_image_free(image);
    return c;
}

/*
 * A board and a page on it, of the same proportions but for 0.4 %: with prints on the inner one it
 * may be the page, and is doubted. A single print on a page, of its proportions too, with a white
 * border and a picture in two halves: the same rectangles, and nothing to wonder about.
 */
static void prints_tell_a_page_from_a_print(void **state)
{
    const sheet board[] = {
        { 150, 100, 1250, 1100, 0, { 0.55, 0.55, 0.50 } },
        { 300, 230, 1104, 964, 0.02, { 0.60, 0.46, 0.40 } },
        { 370, 300, 640, 500, 0.01, { 0.15, 0.20, 0.25 } },
        { 740, 560, 1010, 860, -0.02, { 0.20, 0.15, 0.10 } },
    };
    const sheet print[] = {
        { 150, 100, 1250, 1100, 0, { 0.55, 0.55, 0.50 } },
        { 300, 230, 1104, 964, 0.02, { 0.85, 0.85, 0.82 } },
        { 325, 255, 1079, 600, 0.02, { 0.30, 0.40, 0.55 } },
        { 325, 600, 1079, 939, 0.02, { 0.15, 0.25, 0.10 } },
    };
    double left;

    (void)state;
    assert_true(confidence(&left, board, COUNT(board), 1.1) == 0);
    assert_true(confidence(&left, board, 2, 1.1) == 0); /* a bare page on the board */
    assert_true(confidence(&left, print, COUNT(print), 1.1) > 0);
    assert_true(fabs(left - 149.5) < 0.7);
}

/* Pages of one paper side by side: as large they are two pages; half as long the second is a note,
   and one that leaves the picture a facing page. */
static void a_second_page_is_told_by_its_paper(void **state)
{
    static const struct { sheet other; bool twin; } cases[] = {
        { { 760, 160, 1320, 940, 0.05, { 0.5, 0.36, 0.2 } }, true },
        { { 760, 160, 1320, 400, 0.05, { 0.5, 0.36, 0.2 } }, false },
        { { 900, 160, 1460, 940, 0, { 0.5, 0.36, 0.2 } }, false },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        const sheet both[] = { { 80, 120, 640, 900, 0, { 0.5, 0.36, 0.2 } }, cases[i].other };
        sl_image *image = paint(both, 2);
        sl_small *small = NULL;
        sl_quad page = { .colour = { 188, 162, 124 } };

        assert_int_equal(sl_small_new(&small, image, NULL), SL_OK);
        page.corner[0] = sl_shot_to_small(small, (sl_point){ 80, 120 });
        page.corner[1] = sl_shot_to_small(small, (sl_point){ 640, 120 });
        page.corner[2] = sl_shot_to_small(small, (sl_point){ 640, 900 });
        page.corner[3] = sl_shot_to_small(small, (sl_point){ 80, 900 });
        page.area = 560.0 * 780 / (1400 * 1200);
        assert_int_equal(sl_has_twin(&page, small), cases[i].twin);
        sl_small_free(small);
        sl_image_free(image);
    }
}

/* Where a pinhole camera sees a point of the page's plane, mm from the page's centre. */
static sl_point seen(double x, double y)
{
    const double tilt = 0.3;
    const double turn = 0.1;
    const double u = cos(turn) * x - sin(turn) * y;
    const double v = sin(turn) * x + cos(turn) * y;
    const double depth = 600 + sin(tilt) * v;

    return (sl_point){ 1000 + 1500 * u / depth, 750 + 1500 * cos(tilt) * v / depth };
}

/* Each side of a tilted page in turn is 9 px off, out or in: the proportions put it back. */
static void proportions_put_a_side_where_it_belongs(void **state)
{
    sl_border_params params = sl_border_defaults();
    sl_image shot = { .width = 2000, .height = 1500 };
    const sl_point true_corner[4] = { seen(-150, -105), seen(150, -105), seen(150, 105),
                                      seen(-150, 105) };

    (void)state;
    params.page_ratio = 300.0 / 210;
    params.focal_px = 1500;
    for (int side = 0; side < 4; side++) {
        for (int way = -1; way <= 1; way += 2) {
            const int ends[2] = { side, (side + 1) % 4 };
            sl_outline o = { .found = false };
            sl_point corner[4];

            memcpy(corner, true_corner, sizeof corner);
            for (int e = 0; e < 2; e++) {
                const sl_point c = corner[ends[e]];
                const sl_point from = true_corner[(ends[e] + (e == 0 ? 3 : 1)) % 4];
                const double length = hypot(c.x - from.x, c.y - from.y);

                corner[ends[e]].x += way * 9 * (c.x - from.x) / length;
                corner[ends[e]].y += way * 9 * (c.y - from.y) / length;
            }
            memcpy(o.corner, corner, sizeof corner);
            assert_true(sl_off_shape(&o, &shot, &params) > 0.005);
            assert_false(sl_shape_side(corner, side, 4, &shot, &params)); /* too far */
            assert_true(sl_shape_side(corner, side, 20, &shot, &params));
            for (int k = 0; k < 4; k++)
                if (hypot(corner[k].x - true_corner[k].x, corner[k].y - true_corner[k].y) > 0.3)
                    fail_msg("side %d, corner %d: %.2f, %.2f off", side, k,
                             corner[k].x - true_corner[k].x, corner[k].y - true_corner[k].y);
        }
    }
    params.page_ratio = 0;
    {
        sl_point corner[4];

        memcpy(corner, true_corner, sizeof corner);
        assert_false(sl_shape_side(corner, 0, 20, &shot, &params)); /* nothing is stated */
    }
}

/* Checks that go on to the picture's frame are a page's that it was cropped to; they end with a page
   on a plain table, and a white page on a white table has none. */
static void a_pattern_is_followed_to_the_frame(void **state)
{
    static const struct {
        bool checks;         /* within the outline ... */
        bool outside;        /* ... and beyond it */
    } pictures[] = { { true, true }, { true, false }, { false, false } };

    (void)state;
    for (size_t k = 0; k < COUNT(pictures); k++) {
        sl_image *image = NULL;
        sl_small *small = NULL;
        sl_quad quad = { .area = 0.93 };

        assert_int_equal(sl_image_new(&image, 1200, 900, 3, 8, NULL), SL_OK);
        for (size_t y = 0; y < 900; y++) {
            for (size_t x = 0; x < 1200; x++) {
                const bool in = x >= 22 && x < 1178 && y >= 22 && y < 878;
                const bool red = (x / 40 + y / 40) % 2 == 0;
                unsigned char *at = image->data + y * image->stride + 3 * x;

                memset(at, 225, 3);
                if (red && (in ? pictures[k].checks : pictures[k].outside))
                    at[1] = at[2] = 120;
            }
        }
        assert_int_equal(sl_small_new(&small, image, NULL), SL_OK);
        quad.corner[0] = sl_shot_to_small(small, (sl_point){ 22, 22 });
        quad.corner[1] = sl_shot_to_small(small, (sl_point){ 1178, 22 });
        quad.corner[2] = sl_shot_to_small(small, (sl_point){ 1178, 878 });
        quad.corner[3] = sl_shot_to_small(small, (sl_point){ 22, 878 });
        assert_int_equal(sl_pattern_reaches_frame(&quad, small), pictures[k].outside);
        sl_small_free(small);
        sl_image_free(image);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(prints_tell_a_page_from_a_print),
        cmocka_unit_test(a_second_page_is_told_by_its_paper),
        cmocka_unit_test(proportions_put_a_side_where_it_belongs),
        cmocka_unit_test(a_pattern_is_followed_to_the_frame),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
