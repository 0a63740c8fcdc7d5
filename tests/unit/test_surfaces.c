/*
 * What colours tell of a page's edges, on pictures painted with a known truth: invented colours, in
 * linear light, coded as IEC 61966-2-1 says.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "border/fine.h"
#include "border/goes_on.h"
#include "border/rim.h"
#include "border/surfaces.h"
#include "squareleaf.h"

enum { WIDTH = 760, HEIGHT = 640 };

static const double GREEN[3] = { 0.22, 0.34, 0.24 };
static const double CREAM[3] = { 0.66, 0.60, 0.46 };
static const double GREY[3] = { 0.19, 0.19, 0.19 };
static const double FELT[3] = { 0.05, 0.08, 0.06 };
static const double LINEN[3] = { 0.26, 0.21, 0.11 };

/* The page of all pictures here, and its sides as courses, clockwise from the top-left corner. */
static const sl_point corner[4] = { { 120.3, 90.2 }, { 640.4, 96.1 }, { 633.7, 560.6 },
                                    { 113.9, 553.8 } };

static void true_courses(sl_course course[4])
{
    for (int i = 0; i < 4; i++)
        course[i] = (sl_course){ .a = corner[i], .b = corner[(i + 1) % 4] };
}

/* Px that a place lies outside side i. */
static double outside_side(int i, double x, double y)
{
    const sl_point a = corner[i];
    const sl_point b = corner[(i + 1) % 4];

    return ((b.y - a.y) * (x - a.x) - (b.x - a.x) * (y - a.y)) / hypot(b.x - a.x, b.y - a.y);
}

/* Linear light of one surface at a place; `depth` px inside the nearest side, negative outside. */
typedef void surface(double rgb[3], double x, double y, double depth);

static unsigned char coded(double linear)
{
    const double l = fmin(fmax(linear, 0), 1);

    return (unsigned char)lround(
        255 * (l <= 0.0031308 ? 12.92 * l : 1.055 * pow(l, 1 / 2.4) - 0.055));
}

static sl_image *paint(surface *page, surface *table)
{
    sl_image *image = NULL;

    assert_int_equal(sl_image_new(&image, WIDTH, HEIGHT, 3, 8, NULL), SL_OK);
    for (size_t y = 0; y < HEIGHT; y++) {
        for (size_t x = 0; x < WIDTH; x++) {
            double in[3];
            double out[3];
            double d = -INFINITY;
            double share;

            for (int i = 0; i < 4; i++)
                d = fmax(d, outside_side(i, (double)x, (double)y));
            share = 0.5 * erfc(d / 0.9 / sqrt(2));
            page(in, (double)x, (double)y, -d);
            table(out, (double)x, (double)y, -d);
            for (size_t c = 0; c < 3; c++)
                image->data[y * image->stride + 3 * x + c] =
                    coded(share * in[c] + (1 - share) * out[c]);
        }
    }
    return image;
}

static void set(double rgb[3], const double colour[3], double light)
{
    for (int c = 0; c < 3; c++)
        rgb[c] = light * colour[c];
}

static void plain_grey(double rgb[3], double x, double y, double depth)
{
    (void)x;
    (void)y;
    (void)depth;
    set(rgb, GREY, 1);
}

static void felt(double rgb[3], double x, double y, double depth)
{
    (void)x;
    (void)y;
    (void)depth;
    set(rgb, FELT, 1);
}

/* Cream and green stripes that run down; the first, along the left side, is green. */
static void stripes(double rgb[3], double x, double y, double depth)
{
    const double u = x - corner[0].x - (corner[3].x - corner[0].x) * (y - corner[0].y) / 464;

    (void)depth;
    set(rgb, fmod(u + 406, 40) < 20 ? GREEN : CREAM, 1);
}

/* Threads: lighter and darker than the grey page, but never of its colour. */
static void linen(double rgb[3], double x, double y, double depth)
{
    const double shadow = 1 - 0.5 * exp(depth / 6);

    set(rgb, LINEN, shadow * (1 + 0.45 * sin(0.9 * x) + 0.35 * sin(0.7 * y)));
}

/* The table in the page's broad shadow, which ends 30 px away. */
static void shadowed(double rgb[3], double x, double y, double depth)
{
    (void)x;
    (void)y;
    set(rgb, CREAM, depth > -30 ? 0.45 : 1);
}

static sl_tone *srgb(void)
{
    sl_tone *tone = NULL;

    assert_int_equal(sl_tone_new(&tone, NULL, 0, NULL), SL_OK);
    return tone;
}

/* ---- colours --------------------------------------------------------------------------------- */

static void a_colour_is_told_page_or_table(void **state)
{
    static const bool none_cut[4] = { false, false, false, false };
    const double strange[3] = { 0.7, 0.02, 0.6 };
    sl_image *image = paint(stripes, felt);
    sl_tone *tone = srgb();
    sl_course course[4];
    sl_surfaces *s;
    double shaded[3];

    (void)state;
    true_courses(course);
    s = sl_surfaces_learn(image, tone, course, none_cut);
    assert_non_null(s);
    set(shaded, FELT, 0.4);
    for (int side = 0; side < 4; side++) {
        /* both colours of the stripes, whichever runs along this side */
        assert_true(sl_surfaces_odds(s, side, CREAM) > 1);
        assert_true(sl_surfaces_odds(s, side, GREEN) > 0.3);
        assert_true(sl_surfaces_odds(s, side, FELT) < -1);
        assert_true(sl_surfaces_odds(s, side, shaded) < -1);
        assert_true(fabs(sl_surfaces_odds(s, side, strange)) < 0.1);
    }
    free(s);
    sl_tone_free(tone);
    sl_image_free(image);
}

/* ---- edges ----------------------------------------------------------------------------------- */

/*
 * The edge of side i from a course that starts `off` px outside it: mean and scatter of the points
 * about the truth, px.
 */
static void trace(double *mean, double *spread, sl_image *image, int i, double off, double reach,
                  bool with_colours)
{
    static const bool none_cut[4] = { false, false, false, false };
    sl_edge *edge = calloc(1, sizeof *edge);
    sl_tone *tone = srgb();
    sl_surfaces *s;
    sl_course course[4];
    double sum = 0;
    double square = 0;

    assert_non_null(edge);
    true_courses(course);
    course[i].term[0] = off;
    s = with_colours ? sl_surfaces_learn(image, tone, course, none_cut) : NULL;
    sl_edge_fit(edge, &course[i], image, tone, reach, SL_EDGE_POINTS, s, i);
    assert_true(edge->support > 0.8);
    for (size_t k = 0; k < edge->count; k++) {
        const double d = outside_side(i, edge->point[k].at.x, edge->point[k].at.y);

        sum += d;
        square += d * d;
    }
    *mean = sum / (double)edge->count;
    *spread = sqrt(fmax(square / (double)edge->count - *mean * *mean, 0));
    free(s);
    free(edge);
    sl_tone_free(tone);
    sl_image_free(image);
}

/* The stripe's other end, 14 px inside, is the bolder step of the two. */
static void a_stripe_along_the_edge_is_the_pages(void **state)
{
    enum { LEFT = 3 };
    double mean;
    double spread;

    (void)state;
    trace(&mean, &spread, paint(stripes, felt), LEFT, -3, 16, true);
    assert_true(fabs(mean) < 0.15);
    assert_true(spread < 0.2);
}

/* Its luminance steps up at one thread and down at the next; its colour always one way. */
static void a_grey_page_on_linen_is_traced_by_its_colour(void **state)
{
    double mean;
    double spread;

    (void)state;
    for (int i = 0; i < 4; i++) {
        trace(&mean, &spread, paint(plain_grey, linen), i, 2, 12, true);
        assert_true(fabs(mean) < 0.3);
        assert_true(spread < 0.4);
    }
}

/* From the end of the shadow, further away than the profiles reach. */
static void a_course_along_a_shadows_end_moves_in(void **state)
{
    double mean;
    double spread;

    (void)state;
    trace(&mean, &spread, paint(plain_grey, shadowed), 1, 30, 14, true);
    assert_true(fabs(mean) < 0.15);
    assert_true(spread < 0.1);
    /* and without what the colours tell it stays */
    trace(&mean, &spread, paint(plain_grey, shadowed), 1, 30, 14, false);
    assert_true(mean > 25);
}

/* ---- outlines that are wrong ----------------------------------------------------------------- */

/* A lower sheet peeps out along the bottom. */
static const double STRIP = 7;         /* px of it */

static void on_a_sheet(double rgb[3], double x, double y, double depth)
{
    stripes(rgb, x, y, depth);
    if (outside_side(2, x, y) > -STRIP)
        set(rgb, LINEN, 1.4);
}

/* A table that is as cream as some of the page, but for a dark thing to the right. */
static void cream_table(double rgb[3], double x, double y, double depth)
{
    (void)depth;
    set(rgb, outside_side(1, x, y) > -4 ? FELT : CREAM, 1);
}

/* Felt, but along the right side the stripes go on for 20 px more. */
static void stripes_go_on(double rgb[3], double x, double y, double depth)
{
    set(rgb, outside_side(1, x, y) > 0 && depth > -20 ? CREAM : FELT, 1);
}

static bool goes_on(surface *page, surface *table)
{
    sl_image *image = paint(page, table);
    sl_course course[4];
    bool found;

    true_courses(course);
    found = sl_paper_goes_on(image, course, (bool[4]){ false });
    sl_image_free(image);
    return found;
}

static void all_green(double rgb[3], double x, double y, double depth)
{
    (void)x;
    (void)y;
    set(rgb, depth < 12 ? GREEN : fmod(depth, 40) < 20 ? CREAM : GREEN, 1);
}

static void paper_beyond_a_side_is_told(void **state)
{
    (void)state;
    assert_false(goes_on(stripes, felt));
    assert_true(goes_on(all_green, stripes_go_on));
    /* of one colour there is no change to tell it by */
    assert_false(goes_on(plain_grey, felt));
}

/* Outside two other sides too: there a table has a colour of the page's. */
static void a_table_of_the_papers_colour_is_no_paper(void **state)
{
    (void)state;
    assert_false(goes_on(stripes, cream_table));
}

/* Where a side ends on a lower sheet the same paper lies beyond it. */
static void beside_a_lower_sheet_nothing_is_told(void **state)
{
    const bool on_sheet[4] = { false, true, false, false };
    sl_image *image = paint(all_green, stripes_go_on);
    sl_course course[4];

    (void)state;
    true_courses(course);
    assert_true(sl_paper_goes_on(image, course, (bool[4]){ false }));
    assert_false(sl_paper_goes_on(image, course, on_sheet));
    sl_image_free(image);
}

/* A part of a board, whose fourth side is the page's own. */
static void on_a_board(double rgb[3], double x, double y, double depth)
{
    (void)depth;
    set(rgb, outside_side(2, x, y) > -40 ? GREEN : CREAM, 1);
}

/* ... whose third side is the page's own, too. */
static void on_a_boards_corner(double rgb[3], double x, double y, double depth)
{
    (void)depth;
    set(rgb, outside_side(2, x, y) > -40 || outside_side(1, x, y) > -40 ? GREEN : CREAM, 1);
}

/* The same paper on all sides, twice as bright on one of them. */
static void lit_from_below(double rgb[3], double x, double y, double depth)
{
    (void)depth;
    set(rgb, CREAM, 0.7 + 0.3 * fmin(1, exp(outside_side(2, x, y) / 100)));
}

static void another_paper_along_one_side_or_two_is_told(void **state)
{
    sl_image *board = paint(on_a_board, felt);
    sl_image *two_sides = paint(on_a_boards_corner, felt);
    sl_image *lit = paint(lit_from_below, felt);
    sl_image *striped = paint(stripes, felt);
    sl_course course[4];

    (void)state;
    true_courses(course);
    assert_true(sl_has_odd_paper(board, course));
    assert_true(sl_has_odd_paper(two_sides, course));
    assert_false(sl_has_odd_paper(lit, course));
    assert_false(sl_has_odd_paper(striped, course));
    sl_image_free(striped);
    sl_image_free(lit);
    sl_image_free(two_sides);
    sl_image_free(board);
}

/* Checks in three colours, as woven. */
static void gingham(double rgb[3], double x, double y, double depth)
{
    const bool across = fmod(x + 400, 30) < 15;
    const bool down = fmod(y + 400, 30) < 15;

    (void)depth;
    set(rgb, across && down ? GREEN : CREAM, across == down ? 1 : 0.6);
}

/* ... on another sheet, of which the plain back shows: of a colour that the checks have too. */
static void gingham_on_a_sheet(double rgb[3], double x, double y, double depth)
{
    gingham(rgb, x, y, depth);
    if (outside_side(2, x, y) > -STRIP)
        set(rgb, CREAM, 1);
}

static const double sharp[4] = { 0.9, 0.9, 0.9, 0.9 };

/* The width of the strip along the lower side, px, and none along the others; 0: none at all. */
static double strip_of(const sl_image *shot, const sl_course course[4], const double blur[4])
{
    double depth[4];

    sl_rims_find(depth, shot, course, blur, 30);
    assert_true(depth[0] <= 0 && depth[1] <= 0 && depth[3] <= 0);
    return depth[2];
}

static void a_plain_strip_along_a_pattern_is_told(void **state)
{
    sl_image *page = paint(gingham, felt);
    sl_image *pile = paint(gingham_on_a_sheet, felt);
    sl_course course[4];

    (void)state;
    true_courses(course);
    assert_true(strip_of(page, course, sharp) <= 0);
    assert_true(fabs(strip_of(pile, course, sharp) - STRIP) < 1.5);
    sl_image_free(pile);
    sl_image_free(page);
}

static void a_strip_of_another_sheet_is_told(void **state)
{
    const double unknown[4] = { INFINITY, INFINITY, INFINITY, INFINITY };
    sl_image *page = paint(stripes, felt);
    sl_image *grey = paint(plain_grey, felt);
    sl_image *pile = paint(on_a_sheet, felt);
    sl_course course[4];

    (void)state;
    true_courses(course);
    assert_true(strip_of(page, course, sharp) <= 0);
    assert_true(strip_of(grey, course, sharp) <= 0);
    assert_true(fabs(strip_of(pile, course, sharp) - STRIP) < 1.5);
    /* a blurred edge shows no strip */
    assert_true(strip_of(pile, course, unknown) <= 0);
    sl_image_free(pile);
    sl_image_free(grey);
    sl_image_free(page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_colour_is_told_page_or_table),
        cmocka_unit_test(a_stripe_along_the_edge_is_the_pages),
        cmocka_unit_test(a_grey_page_on_linen_is_traced_by_its_colour),
        cmocka_unit_test(a_course_along_a_shadows_end_moves_in),
        cmocka_unit_test(paper_beyond_a_side_is_told),
        cmocka_unit_test(a_table_of_the_papers_colour_is_no_paper),
        cmocka_unit_test(beside_a_lower_sheet_nothing_is_told),
        cmocka_unit_test(another_paper_along_one_side_or_two_is_told),
        cmocka_unit_test(a_plain_strip_along_a_pattern_is_told),
        cmocka_unit_test(a_strip_of_another_sheet_is_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
