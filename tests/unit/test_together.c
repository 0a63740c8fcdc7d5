/* What the pages together tell, from journal lines made by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "album/amend.h"
#include "album/faults.h"

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_page_unlike_the_rest_is_looked_at),
        cmocka_unit_test(pages_of_all_shapes_are_no_fault),
        cmocka_unit_test(a_wrong_size_is_said_once),
        cmocka_unit_test(reasons_are_gravest_first),
        cmocka_unit_test(what_most_pages_have_in_common_is_said_once),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
