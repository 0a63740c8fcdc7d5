/* What the pages together tell, from journal lines made by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "album/amend.h"
#include "album/consensus.h"
#include "album/faults.h"
#include "album/place.h"
#include "album/likeness.h"
#include "album/twins.h"

/* A good page of measured height over width; `mm` its size in this direction, 0 for none. */
static json_t *page_line(int number, double aspect, double width_mm, double height_mm)
{
    char name[32];

    (void)snprintf(name, sizeof name, "page-%04d", number);
    return json_pack("{s:s, s:s, s:s, s:{s:s, s:[], s:[[i,i]], s:f, s:f, s:f, s:o}}", "page", name,
                     "shot", "s.jpg", "outcome", "pass", "report", "verdict", "pass", "reasons",
                     "corners", 1, 1, "aspect", aspect, "aspect_sigma", 0.0004, "brightest", 0.8,
                     "page_mm",
                     width_mm > 0 ? json_pack("[f, f]", width_mm, height_mm) : json_null());
}

static const char *outcome(const json_t *lines, size_t i)
{
    return json_string_value(json_object_get(json_array_get(lines, i), "outcome"));
}

static const char *text_of(const json_t *faults, size_t i)
{
    return json_string_value(json_object_get(json_array_get(faults, i), "text"));
}

static void a_page_unlike_the_rest_is_looked_at(void **state)
{
    /* both ways about, and with a size: 210 x 297 mm measures 1.414 */
    static const double aspect[] = { 1.4140, 1 / 1.4145, 1.4148, 1.4138, 1.4225, 1.4143 };
    json_t *lines = json_array();
    json_t *faults = json_array();
    sl_settings s = sl_settings_defaults();

    (void)state;
    s.page_mm[0] = 210;
    s.page_mm[1] = 297;
    for (int i = 0; i < 6; i++)
        json_array_append_new(lines, page_line(i + 1, aspect[i], i == 1 ? 297 : 210,
                                               i == 1 ? 210 : 297));
    sl_fault_size(faults, lines, &s);
    assert_int_equal(json_array_size(faults), 0);
    for (size_t i = 0; i < 6; i++)
        assert_string_equal(outcome(lines, i), i == 4 ? "look" : "pass");
    assert_non_null(sl_line_reason(json_array_get(lines, 4), SL_CODE_SIZE_DIFFERS));
    json_decref(faults);
    json_decref(lines);
}

static void pages_of_all_shapes_are_no_fault(void **state)
{
    static const double aspect[] = { 1.1, 1.2, 1.31, 0.9, 1.41, 1.0 };
    json_t *lines = json_array();
    json_t *faults = json_array();
    sl_settings s = sl_settings_defaults();

    (void)state;
    s.page_mm[0] = s.page_mm[1] = 304.8;
    for (int i = 0; i < 6; i++)
        json_array_append_new(lines, page_line(i + 1, aspect[i], 0, 0));
    sl_fault_size(faults, lines, &s);
    assert_int_equal(json_array_size(faults), 0);
    for (size_t i = 0; i < 6; i++)
        assert_string_equal(outcome(lines, i), "pass");
    json_decref(faults);
    json_decref(lines);
}

/* Design, section 7: 12 x 12 in was said, everything measures 1.021 to 1. */
static void a_wrong_size_is_said_once(void **state)
{
    json_t *lines = json_array();
    json_t *kept = json_array();
    json_t *faults = json_array();
    sl_settings s = sl_settings_defaults();

    (void)state;
    s.page_mm[0] = s.page_mm[1] = 304.8;
    for (int i = 0; i < 48; i++)
        json_array_append_new(lines, page_line(i + 1, i == 7 ? 1.0 : i == 30 ? 0.9 : 1.021, 304.8,
                                               304.8));
    for (size_t i = 0; i < 48; i++)
        if (i != 7)
            sl_amend_add(lines, i, SL_CODE_SIZE_DIFFERS, 2.1, 1.5, "%", SL_LOOK, "differs");
    json_array_extend(kept, lines);
    sl_fault_size(faults, lines, &s);
    assert_int_equal(json_array_size(faults), 1);
    assert_string_equal(text_of(faults, 0),
                        "You said 12 x 12 in, which is 1.000 to 1; 46 of 48 pages measure 1.021 to "
                        "1. Measure a leaf with a ruler and run again, e.g. --page-size "
                        "311x305mm.");
    for (size_t i = 0; i < 48; i++) {
        assert_string_equal(outcome(lines, i), i == 7 || i == 30 ? "look" : "pass");
        /* what was there before is untouched: it is the journal's */
        assert_string_equal(outcome(kept, i), i == 7 ? "pass" : "look");
    }
    json_decref(faults);
    json_decref(kept);
    json_decref(lines);
}

static void reasons_are_gravest_first(void **state)
{
    json_t *lines = json_array();
    const json_t *reasons;

    (void)state;
    json_array_append_new(lines, page_line(1, 1, 0, 0));
    sl_amend_add(lines, 0, SL_CODE_MORE_IMAGES, 1, 1, "", SL_PASS, "remark");
    sl_amend_add(lines, 0, SL_CODE_SOFT, 3, 2, "px", SL_LOOK, "look");
    sl_amend_add(lines, 0, SL_CODE_CUT, 1, 0, "", SL_RESHOOT, "reshoot %d", 1);
    assert_string_equal(outcome(lines, 0), "reshoot");
    reasons = json_object_get(json_object_get(json_array_get(lines, 0), "report"), "reasons");
    assert_string_equal(json_string_value(json_object_get(json_array_get(reasons, 0), "text")),
                        "reshoot 1");
    assert_string_equal(json_string_value(json_object_get(json_array_get(reasons, 2), "text")),
                        "remark");
    sl_amend_excuse(lines, 0, SL_CODE_CUT); /* a reshoot stays one */
    assert_string_equal(outcome(lines, 0), "reshoot");
    json_decref(lines);
}

/* Two pages are no album; of three two thirds count. */
static void what_most_pages_have_in_common_is_said_once(void **state)
{
    (void)state;
    for (int pages = 2; pages <= 6; pages++) {
        json_t *lines = json_array();
        json_t *faults = json_array();
        const int soft = pages == 6 ? 4 : pages;

        for (int i = 0; i < pages; i++)
            json_array_append_new(lines, page_line(i + 1, 1, 0, 0));
        for (int i = 0; i < soft; i++)
            sl_amend_add(lines, (size_t)i, SL_CODE_SOFT, i == 1 ? 4.9 : 2.4, 2, "px", SL_LOOK,
                         "soft");
        sl_fault_light(faults, lines);
        assert_int_equal(json_array_size(faults), pages >= 3);
        assert_string_equal(outcome(lines, 0), pages >= 3 ? "pass" : "look");
        assert_string_equal(outcome(lines, 1), "look"); /* much worse than the others */
        json_decref(faults);
        json_decref(lines);
    }
}

static double noise(unsigned *state)
{
    *state = *state * 1664525u + 1013904223u; /* Numerical Recipes, 2nd ed., section 7.1 */
    return (double)(*state >> 8) / (1 << 24) - 0.5;
}

/* ---- place ----------------------------------------------------------------------------------- */

static json_t *page_at(int number, double x, double y, double side)
{
    json_t *line = page_line(number, 1, 0, 0);
    json_t *report = json_object_get(line, "report");

    json_object_set_new(report, "width", json_integer(4000));
    json_object_set_new(report, "height", json_integer(3000));
    json_object_set_new(report, "corners",
                        json_pack("[[f,f],[f,f],[f,f],[f,f]]", x, y, x + side, y, x + side,
                                  y + side, x, y + side));
    return line;
}

/* A frame of the page's own proportions, printed on it; a page that was pushed aside. */
static void a_page_unlike_its_neighbours_is_looked_at(void **state)
{
    unsigned seed = 5;

    (void)state;
    for (int hand = 0; hand < 2; hand++) {
        json_t *lines = json_array();

        for (int i = 0; i < 30; i++) {
            const double away = (hand ? 400 : 20) * noise(&seed);
            const double side = (i == 12 ? 2200 : 2600) * (1 + (hand ? 0.3 : 0.004) * noise(&seed));

            json_array_append_new(lines, page_at(i + 1, (i == 12 ? 800 : 600) + away
                                                            + (i == 20 ? 500 : 0),
                                                 i == 12 ? 400 : 200, side));
        }
        sl_consensus_doubt(lines, 0.04);
        for (size_t i = 0; i < 30; i++)
            assert_string_equal(outcome(lines, i),
                                !hand && (i == 12 || i == 20) ? "look" : "pass");
        json_decref(lines);
    }
}

/* The camera is set up anew, nearer, half way through the album. */
static void a_new_set_up_is_no_doubt(void **state)
{
    json_t *lines = json_array();

    (void)state;
    for (int i = 0; i < 40; i++)
        json_array_append_new(lines, page_at(i + 1, i < 20 ? 600 : 500, 200, i < 20 ? 2400 : 2600));
    sl_consensus_doubt(lines, 0.04);
    for (size_t i = 0; i < 40; i++)
        assert_string_equal(outcome(lines, i), "pass");
    json_decref(lines);
}

static void set_page(sl_page *page, sl_shot *shot, sl_outline *outline, unsigned tag, double shift)
{
    const bool across = tag >= 5;
    const double w = across ? 3000 : 4000;
    const double h = across ? 4000 : 3000;
    const sl_point stored[4] = { { 700 + shift, 200 }, { 3300 + shift, 210 },
                                 { 3290 + shift, 2810 }, { 690 + shift, 2800 } };

    *page = (sl_page){ .shot = shot, .outline = outline,
                       .optics = { .width = (size_t)w, .height = (size_t)h } };
    shot->exif.orientation = tag;
    shot->format = SL_FORMAT_JPEG;
    outline->found = true;
    for (size_t k = 0; k < 4; k++) /* Exif, tag 274: how the stored picture is to be turned */
        outline->corner[k] = tag == 6   ? (sl_point){ w - 1 - stored[k].y, stored[k].x }
                             : tag == 8 ? (sl_point){ stored[k].y, h - 1 - stored[k].x }
                             : tag == 3 ? (sl_point){ w - 1 - stored[k].x, h - 1 - stored[k].y }
                                        : stored[k];
}

static void a_place_is_that_of_most_pages_as_stored(void **state)
{
    static const unsigned tag[6] = { 6, 6, 1, 6, 8, 3 };
    static sl_shot shot[6];
    static sl_outline outline[6];
    static sl_page page[6];
    sl_page *list[6];
    sl_place place;
    sl_place again;
    json_t *json;

    (void)state;
    for (size_t i = 0; i < 6; i++) {
        set_page(&page[i], &shot[i], &outline[i], tag[i], i == 5 ? 500 : 4.0 * (double)i);
        list[i] = &page[i];
    }
    sl_place_find(&place, list, 6);
    assert_true(place.known);
    assert_int_equal(place.pages, 5);
    assert_int_equal(place.orientation, 6);
    assert_int_equal(place.width, 4000);
    assert_true(fabs(place.corner[0].x - 708) < 1e-9 && fabs(place.corner[2].y - 2810) < 1e-9);
    for (size_t i = 0; i < 6; i++) /* the last lies elsewhere: its camera was turned */
        assert_int_equal(sl_place_wrong_way_up(&place, &page[i]), i == 2 || i == 4);
    json = sl_place_write(&place);
    sl_place_read(&again, json);
    assert_true(again.known && again.orientation == 6 && again.height == 3000);
    assert_true(fabs(again.corner[3].x - place.corner[3].x) < 1e-12);
    json_decref(json);
    sl_place_find(&place, list, 2);
    assert_false(place.known);
    for (size_t i = 0; i < 6; i++)
        set_page(&page[i], &shot[i], &outline[i], 1, 600.0 * (double)i);
    sl_place_find(&place, list, 6);
    assert_false(place.known);
}

/* ---- two shots of one page ------------------------------------------------------------------- */

static const char letters[] = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz+";

/* Pictures in a row of frames: `frames` the layout, `seed` what is in it, `grain` the shot. */
static void draw_likeness(sl_likeness out, unsigned seed, bool frames, double contrast,
                          unsigned grain)
{
    enum { N = SL_LIKENESS_SIDE };
    unsigned state = seed * 2654435761u + 1;
    double knot[12][12];

    for (int k = 0; k < 144; k++)
        knot[k / 12][k % 12] = 40 * contrast * noise(&state);
    for (int k = 0; k < N * N; k++) {
        const int x = k % N;
        const int y = k / N;
        const bool border = frames && (x % 16 == 1 || x % 16 == 14 || y % 24 == 1 || y % 24 == 22);
        const double v = 31 + (border ? 25 : knot[y / 4][x / 4]) + 4 * noise(&grain);

        out[k] = letters[(int)fmin(fmax(v + 0.5, 0), 62)];
    }
    out[N * N] = '\0';
}

static void turn_half(sl_likeness text)
{
    for (int k = 0; k < SL_LIKENESS_CELLS / 2; k++) {
        const char swap = text[k];

        text[k] = text[SL_LIKENESS_CELLS - 1 - k];
        text[SL_LIKENESS_CELLS - 1 - k] = swap;
    }
}

static json_t *page_with(int number, const char *likeness, const char *sha256)
{
    json_t *line = page_line(number, 1, 0, 0);

    json_object_set_new(line, "likeness", json_string(likeness));
    json_object_set_new(line, "sha256", json_string(sha256));
    return line;
}

static const char *same_page(const json_t *lines, size_t i)
{
    return json_string_value(json_object_get(sl_line_reason(json_array_get(lines, i),
                                                            SL_CODE_SAME_PAGE), "text"));
}

static void one_page_twice_is_found_whichever_way_up(void **state)
{
    json_t *lines = json_array();
    sl_likeness text;
    char sha[16];

    (void)state;
    for (int i = 0; i < 40; i++) {
        draw_likeness(text, i == 30 ? 4u : (unsigned)i, false, 1, 900u + (unsigned)i);
        if (i == 30)
            turn_half(text);
        (void)snprintf(sha, sizeof sha, "sha%d", i);
        json_array_append_new(lines, page_with(i + 1, text, sha));
    }
    sl_twins_find(lines, "/nowhere", 0.9, NULL, NULL);
    for (size_t i = 0; i < 40; i++)
        assert_string_equal(outcome(lines, i), i == 4 || i == 30 ? "look" : "pass");
    assert_non_null(strstr(same_page(lines, 4), "page 31 (s.jpg)"));
    assert_non_null(strstr(same_page(lines, 30), "page 5 (s.jpg)"));
    json_decref(lines);
}

static void blank_pages_and_layouts_are_not_one_page(void **state)
{
    json_t *lines = json_array();
    sl_likeness text;
    char sha[16];

    (void)state;
    for (int i = 0; i < 12; i++) {
        /* blank ones, faintly printed ones, then one layout with other pictures */
        draw_likeness(text, i < 8 ? 1u : (unsigned)i, i >= 8, i < 4 ? 0 : i < 8 ? 0.15 : 1,
                      900u + (unsigned)i);
        (void)snprintf(sha, sizeof sha, "sha%d", i);
        json_array_append_new(lines, page_with(i + 1, text, sha));
    }
    sl_twins_find(lines, "/nowhere", 0.9, NULL, NULL);
    for (size_t i = 0; i < 12; i++)
        assert_string_equal(outcome(lines, i), "pass");
    json_decref(lines);
}

static void what_the_album_has_in_common_makes_no_twins(void **state)
{
    json_t *lines = json_array();
    sl_likeness text;
    char sha[16];

    (void)state;
    for (int i = 0; i < 8; i++) {
        draw_likeness(text, 3, false, 1, 900u + (unsigned)i); /* a printed paper */
        (void)snprintf(sha, sizeof sha, "sha%d", i);
        json_array_append_new(lines, page_with(i + 1, text, sha));
    }
    sl_twins_find(lines, "/nowhere", 0.9, NULL, NULL);
    for (size_t i = 0; i < 8; i++)
        assert_string_equal(outcome(lines, i), "pass");
    json_decref(lines);
}

static void a_good_shot_replaces_a_bad_one(void **state)
{
    json_t *lines = json_array();
    sl_likeness text;

    (void)state;
    draw_likeness(text, 1, true, 1, 1);
    json_array_append_new(lines, page_with(1, text, "a"));
    json_array_append_new(lines, page_with(2, text, "b"));
    json_array_append_new(lines, page_with(3, "too short", "b"));
    sl_amend_add(lines, 1, SL_CODE_SOFT, 6, 2, "px", SL_RESHOOT, "not sharp");
    sl_twins_find(lines, "/nowhere", 0.9, NULL, NULL);
    assert_string_equal(outcome(lines, 0), "look");
    assert_string_equal(outcome(lines, 1), "reshoot");
    assert_non_null(strstr(same_page(lines, 0), "this one can take its place"));
    assert_non_null(strstr(same_page(lines, 1), "page 3 (s.jpg)")); /* the same file comes first */
    assert_non_null(strstr(same_page(lines, 2), "This is the same file as page 2 (s.jpg)"));
    assert_string_equal(json_string_value(json_object_get(json_array_get(lines, 1),
                                                          "replacement")), "page-0003");
    json_decref(lines);
}

/* Every cell of a picture in its own place: what is dark in the shot is dark in the likeness. */
static void a_likeness_is_of_the_flat_page(void **state)
{
    enum { W = 400, H = 300 };
    sl_shot shot = { 0 };
    sl_page page = { 0 };
    sl_likeness text;
    unsigned char level[SL_LIKENESS_CELLS];
    unsigned char *px;

    (void)state;
    assert_int_equal(sl_image_new(&shot.image, W, H, 3, 8, NULL), SL_OK);
    memset(shot.image->data, 160, shot.image->stride * H);
    px = shot.image->data;
    for (size_t y = 120; y < 160; y++) /* the page is 200 px wide, its top left at 100, 50 */
        memset(px + y * shot.image->stride + 3 * 140, 60, 3 * 40);
    page.shot = &shot;
    page.rectified.map = (sl_page_map){ .page = { 1, 1 }, .focal_px = 1000, .stretch = 1,
                                        .translation = { -0.0, 0.0, 5 },
                                        .centre = { 200, 150 } };
    {
        const sl_point a = sl_page_map_point(&page.rectified.map, 0, 0);
        const sl_point b = sl_page_map_point(&page.rectified.map, 1, 1);

        assert_true(fabs(a.x - 100) < 1e-9 && fabs(a.y - 50) < 1e-9);
        assert_true(fabs(b.x - 300) < 1e-9 && fabs(b.y - 250) < 1e-9);
    }
    sl_likeness_take(text, &page);
    assert_true(sl_likeness_read(level, text));
    /* 0.3 by 0.45 of the page, less the inset */
    assert_true(level[(int)((0.45 - 0.02) / 0.96 * 48) * 48 + (int)((0.3 - 0.02) / 0.96 * 48)]
                < 25);
    assert_int_equal(level[0], 31);
    assert_int_equal(level[SL_LIKENESS_CELLS - 1], 31);
    page.rectified.map.centre[0] = 60; /* half of it outside the picture */
    sl_likeness_take(text, &page);
    assert_true(sl_likeness_read(level, text));
    assert_int_equal(level[0], SL_LIKENESS_NONE);
    assert_int_equal(level[SL_LIKENESS_CELLS - 1], 31);
    assert_false(sl_likeness_read(level, "0"));
    assert_false(sl_likeness_read(level, NULL));
    text[7] = '!';
    assert_false(sl_likeness_read(level, text));
    sl_image_free(shot.image);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_page_unlike_the_rest_is_looked_at),
        cmocka_unit_test(pages_of_all_shapes_are_no_fault),
        cmocka_unit_test(a_wrong_size_is_said_once),
        cmocka_unit_test(reasons_are_gravest_first),
        cmocka_unit_test(what_most_pages_have_in_common_is_said_once),
        cmocka_unit_test(a_page_unlike_its_neighbours_is_looked_at),
        cmocka_unit_test(a_new_set_up_is_no_doubt),
        cmocka_unit_test(a_place_is_that_of_most_pages_as_stored),
        cmocka_unit_test(one_page_twice_is_found_whichever_way_up),
        cmocka_unit_test(blank_pages_and_layouts_are_not_one_page),
        cmocka_unit_test(what_the_album_has_in_common_makes_no_twins),
        cmocka_unit_test(a_good_shot_replaces_a_bad_one),
        cmocka_unit_test(a_likeness_is_of_the_flat_page),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
