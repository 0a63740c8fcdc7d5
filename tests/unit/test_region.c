/*
 * The region off the table, on pictures whose colours and corners are known because they are made
 * here. The pictures' colours are invented; what is asserted is geometry.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "border/region.h"

enum { WIDTH = 1000, HEIGHT = 750 };

typedef unsigned char colour[3];

static const colour red = { 150, 42, 46 };
static const colour white = { 214, 210, 198 };
static const colour cream = { 222, 216, 196 };
static const colour teal = { 166, 186, 172 };
static const colour grey = { 120, 122, 118 };

/* Signed distance outside the page, px: < 0 inside. */
static double outside(const sl_point q[4], double x, double y)
{
    double most = -INFINITY;

    for (int k = 0; k < 4; k++) {
        const sl_point a = q[k];
        const sl_point b = q[(k + 1) % 4];

        most = fmax(most, ((b.y - a.y) * (x - a.x) - (b.x - a.x) * (y - a.y))
                              / hypot(b.x - a.x, b.y - a.y));
    }
    return most;
}

/* Checks of red and white, turned by a sixth of a right angle. */
static const unsigned char *checks(double x, double y)
{
    const double across = 0.966 * x + 0.259 * y + 4000;
    const double along = 0.966 * y - 0.259 * x + 4000;

    return (fmod(across, 84) < 42) != (fmod(along, 84) < 42) ? red : white;
}

static const unsigned char *stripes(double x)
{
    return fmod(x, 44) < 22 ? cream : teal;
}

/* A striped page on chequered cloth, or a plain one on grey, lit as `light` says. */
static sl_image *paint(const sl_point page[4], bool patterned, double (*light)(double x, double y))
{
    sl_image *image = NULL;

    assert_int_equal(sl_image_new(&image, WIDTH, HEIGHT, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < HEIGHT; y++) {
        for (size_t x = 0; x < WIDTH; x++) {
            const double d = outside(page, (double)x, (double)y);
            const unsigned char *const in = patterned ? stripes((double)x - page[0].x) : cream;
            const unsigned char *const out = patterned ? checks((double)x, (double)y) : grey;
            const double share = fmin(fmax(0.5 - d, 0), 1);
            const double lit = d > 0 && light != NULL ? light((double)x, (double)y) : 1;

            for (size_t c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + c]
                    = (unsigned char)(share * in[c] + (1 - share) * lit * out[c] + 0.5);
        }
    }
    return image;
}

static sl_small *small_of(const sl_image *image)
{
    sl_small *small = NULL;

    assert_int_equal(sl_small_new(&small, image, NULL), SL_OK);
    return small;
}

static const sl_point page[4] = { { 210, 140 }, { 795, 120 }, { 815, 610 }, { 195, 625 } };

static double shadow(double x, double y)
{
    (void)y;
    return x > 790 && x < 850 ? 0.7 : 1;
}

/* The page's colours are off the table, the table's are not, nor are they in the page's shadow. */
static void colours_of_the_table_are_told(void **state)
{
    static const size_t table[2] = { 60, 300 };
    static const size_t shaded[2] = { 830, 300 };
    static const size_t paper[2] = { 500, 400 };
    sl_image *image = paint(page, false, shadow);
    sl_small *small = small_of(image);

    (void)state;
    assert_int_equal(small->factor, 1);
    assert_true(small->off_table[table[1] * WIDTH + table[0]] < 0.05f);
    assert_true(small->off_table[shaded[1] * WIDTH + shaded[0]] < 0.2f);
    assert_true(small->off_table[paper[1] * WIDTH + paper[0]] > 0.95f);
    sl_small_free(small);
    sl_image_free(image);
}

/* The white of the cloth is nearly the page's, and both have longer and bolder lines than the
   page's outline. */
static void a_striped_page_on_checks_is_parted_from_them(void **state)
{
    sl_image *image = paint(page, true, NULL);
    sl_small *small = small_of(image);
    sl_point corner[4];
    double nearest = INFINITY;
    bool found = false;

    (void)state;
    assert_int_equal(sl_region_quad(&found, corner, small, NULL), SL_OK);
    assert_true(found);
    for (int turn = 0; turn < 4; turn++) {
        double most = 0;

        for (int k = 0; k < 4; k++)
            most = fmax(most, hypot(corner[(k + turn) % 4].x - page[k].x,
                                    corner[(k + turn) % 4].y - page[k].y));
        nearest = fmin(nearest, most);
    }
    if (nearest > 8)
        fail_msg("a corner is %.1f px off", nearest);
    sl_small_free(small);
    sl_image_free(image);
}

/* Where the picture is all one table, and where it is all page, nothing is parted. */
static void one_surface_is_not_parted(void **state)
{
    static const sl_point nowhere[4] = { { -90, -90 }, { -80, -90 }, { -80, -80 }, { -90, -80 } };
    static const sl_point all[4] = { { -90, -90 }, { 1090, -90 }, { 1090, 840 }, { -90, 840 } };
    const sl_point *const seen[2] = { nowhere, all };

    (void)state;
    for (int k = 0; k < 2; k++) {
        sl_image *image = paint(seen[k], k == 1, NULL);
        sl_small *small = small_of(image);
        sl_point corner[4];
        bool found = true;

        assert_int_equal(sl_region_quad(&found, corner, small, NULL), SL_OK);
        assert_false(found);
        sl_small_free(small);
        sl_image_free(image);
    }
}

/* ---- the outline ----------------------------------------------------------------------------- */

/* A dark print on the page: a bolder rectangle than the page, and of its proportions. */
static void glue_print(sl_image *image)
{
    for (size_t y = 250; y < 520; y++)
        for (size_t x = 340; x < 670; x++)
            for (size_t c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + c]
                    = (unsigned char)(40 + (x * 7 + y * 3) % 24);
}

/* Asserts that the outline found on a picture is the page's; frees the picture. */
static void assert_page_found(sl_image *image, const sl_point want[4], double ratio)
{
    sl_border_params params = sl_border_defaults();
    sl_outline *o = malloc(sizeof *o);
    sl_tone *tone = NULL;

    assert_non_null(o);
    assert_int_equal(sl_tone_new(&tone, NULL, 0, NULL), SL_OK);
    params.page_ratio = ratio;
    assert_int_equal(sl_outline_find(o, image, tone, &params, NULL), SL_OK);
    assert_true(o->found);
    for (int k = 0; k < 4; k++)
        if (hypot(o->corner[k].x - want[k].x, o->corner[k].y - want[k].y) > 2)
            fail_msg("corner %d at %.1f, %.1f for %.1f, %.1f", k, o->corner[k].x, o->corner[k].y,
                     want[k].x, want[k].y);
    sl_tone_free(tone);
    sl_image_free(image);
    free(o);
}

static void a_striped_page_on_checks_is_found(void **state)
{
    sl_image *image = paint(page, true, NULL);

    (void)state;
    glue_print(image);
    assert_page_found(image, page, 1.235);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(colours_of_the_table_are_told),
        cmocka_unit_test(a_striped_page_on_checks_is_parted_from_them),
        cmocka_unit_test(one_surface_is_not_parted),
        cmocka_unit_test(a_striped_page_on_checks_is_found),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
