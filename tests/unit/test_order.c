/* The order of shots, and settings that come back from their report. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "album/folder.h"
#include "album/report.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

static int sign(int x)
{
    return (x > 0) - (x < 0);
}

/* Each name before all that follow it. */
static const char *const in_order[] = {
    "", "0.jpg", "01.jpg", "1.jpg", "2.jpg", "10.jpg", "a.jpg", "IMG_9.jpg", "IMG_009a.jpg",
    "IMG_10.jpg", "img_10a.jpg", "IMG_99999999999999999999998.jpg",
    "IMG_99999999999999999999999.jpg", "IMG_100000000000000000000000.jpg", "page-0012.tif",
    "page-0012a.tif", "page-0013.tif", "shot", "shot2-1.jpg", "shot2-10.jpg", "shot02-11.jpg",
    "shot10.jpg", "\xE9.jpg",
};

static void names_in_natural_order(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(in_order); i++) {
        for (size_t k = 0; k < COUNT(in_order); k++) {
            const int want = (i > k) - (i < k);
            const int got = sign(sl_natural_order(in_order[i], in_order[k]));

            if (got != want)
                fail_msg("'%s' and '%s': %d, not %d", in_order[i], in_order[k], got, want);
        }
    }
}

/* A sort needs a total order: two names are equal only when they are the same. */
static void no_two_names_are_equal(void **state)
{
    static const char *const alike[] = { "a1", "A1", "a01", "A01", "a001", "a1 ", "a 1" };

    (void)state;
    for (size_t i = 0; i < COUNT(alike); i++)
        for (size_t k = 0; k < COUNT(alike); k++) {
            const int order = sign(sl_natural_order(alike[i], alike[k]));

            if ((order == 0) != (i == k) || order != -sign(sl_natural_order(alike[k], alike[i])))
                fail_msg("'%s' and '%s'", alike[i], alike[k]);
        }
}

/* A shot's ending is no part of its name: a file manager's "(1)" and a word behind come after. */
static void endings_come_last(void **state)
{
    static const char *const shots[] = { "leaf-1.JPG", "leaf-1.jpg", "leaf-1 (1).jpg",
                                         "leaf-1--back.jpg", "leaf-1-b.jpg", "leaf-2.jpg",
                                         "leaf-2-forgotten.jpg", "leaf-10.jpg", "leaf.10.jpg" };

    (void)state;
    for (size_t i = 0; i < COUNT(shots); i++)
        for (size_t k = 0; k < COUNT(shots); k++)
            if (sign(sl_shot_order(shots[i], shots[k])) != (i > k) - (i < k))
                fail_msg("'%s' and '%s'", shots[i], shots[k]);
}

static const char *name_of(const char *name, json_t **keep)
{
    json_decref(*keep);
    *keep = sl_report_name(name);
    return json_string_value(*keep);
}

static void names_that_json_can_hold(void **state)
{
    json_t *keep = NULL;

    (void)state;
    assert_string_equal(name_of("shot 1.jpg", &keep), "shot 1.jpg");
    assert_string_equal(name_of("caf\xC3\xA9.jpg", &keep), "caf\xC3\xA9.jpg");
    assert_string_equal(name_of("caf\xE9.jpg", &keep), "caf\\xE9.jpg");
    assert_string_equal(name_of("caf\\xE9.jpg", &keep), "caf\\\\xE9.jpg");
    assert_string_equal(name_of("a\x1B[31m\n\x7F", &keep), "a\\x1B[31m\\x0A\\x7F");
    assert_string_equal(name_of("\xC3\xA9\xFF", &keep), "\\xC3\\xA9\\xFF");
    assert_string_equal(name_of("50%.jpg", &keep), "50%.jpg");
    json_decref(keep);
}

/* The same text from settings and from what a later run reads of them. */
static void expect_round_trip(const sl_settings *settings)
{
    sl_settings back = sl_settings_defaults();
    json_t *first = sl_report_settings(settings);
    json_t *second;
    char *a;
    char *b;

    sl_report_read_settings(&back, first);
    second = sl_report_settings(&back);
    a = sl_report_text(first, 0);
    b = sl_report_text(second, 0);
    assert_non_null(a);
    assert_string_equal(a, b);
    free(a);
    free(b);
    json_decref(first);
    json_decref(second);
}

static void settings_come_back(void **state)
{
    sl_settings s = sl_settings_defaults();

    (void)state;
    expect_round_trip(&s);
    s.page_mm[0] = 215.9;
    s.page_mm[1] = 279.4;
    s.ppi = 400.5;
    s.no_upsample = true;
    s.min_ppi = 150;
    s.margin_mm = 6.35;
    s.turn_deg = 270;
    s.has_corners = true;
    s.exact = true;
    s.corners[2] = (sl_point){ 3000.25, -1.5 };
    s.master = SL_FORMAT_UNKNOWN;
    s.access = SL_FORMAT_UNKNOWN;
    s.quality = 80;
    s.bits = 16;
    s.compression = SL_NO_COMPRESSION;
    s.limit[SL_CODE_SOFT] *= 2;
    expect_round_trip(&s);
    s.whole_frame = true;
    s.master = SL_FORMAT_PNG;
    s.compression = SL_LZW;
    s.bits = 8;
    expect_round_trip(&s);
}

/* What does not fit is left as it was: a journal may be of another version, or edited. */
static void odd_settings_are_left_out(void **state)
{
    static const char text[] =
        "{\"page_mm\": [1, -2], \"ppi\": 1e9, \"turn\": 45, \"bits\": 12, \"quality\": \"x\","
        " \"master\": \"heif\", \"access\": \"tiff\", \"compress\": 3, \"corners\": [[1, 2]],"
        " \"margin_mm\": null, \"limits\": {\"soft\": -1}}";
    const sl_settings defaults = sl_settings_defaults();
    sl_settings s = defaults;
    json_t *from = json_loads(text, 0, NULL);

    (void)state;
    assert_non_null(from);
    sl_report_read_settings(&s, from);
    assert_memory_equal(&s, &defaults, sizeof s);
    sl_report_read_settings(&s, NULL);
    assert_memory_equal(&s, &defaults, sizeof s);
    json_decref(from);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_in_natural_order),
        cmocka_unit_test(endings_come_last),
        cmocka_unit_test(no_two_names_are_equal),
        cmocka_unit_test(names_that_json_can_hold),
        cmocka_unit_test(settings_come_back),
        cmocka_unit_test(odd_settings_are_left_out),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
