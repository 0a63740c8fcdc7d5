/* Corrections as they are read: what holds, what is refused, and what a page's key makes of them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "album/correct.h"
#include "album/corrections.h"

#define A "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"
#define B "bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb"
#define C "cccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc"
#define HEAD "{\"schema\": 1, \"kind\": \"squareleaf corrections\", \"shots\": {\"" A "\": {"
#define TAIL "}}}"

static const char key[65] = B;

static sl_corrections read_entry(const char *fields)
{
    sl_corrections c = { .path = NULL };
    char text[4096];
    const int n = snprintf(text, sizeof text, HEAD "%s" TAIL, fields);

    assert_int_equal(sl_corrections_parse(&c, text, (size_t)n, "test", NULL), SL_OK);
    return c;
}

static void whole_entry_is_read(void **state)
{
    sl_corrections c = read_entry(
        "\"shot\": \"leaf-3.jpg\", \"page\": \"page-0003\", \"size\": [400, 300],"
        "\"corners\": [[10, 20], [12, 220], [310, 230], [300, 15]], \"exact\": true, \"turn\": 270,"
        "\"page_size\": \"8x10in\", \"replaces\": \"" B "\", \"caption\": \"The mill\\nat noon\","
        "\"date\": \"1934\", \"place\": \"Orrenvale\", \"people\": \"Ada; Nils\","
        "\"word\": {\"says\": \"accepted\", \"who\": \"Ada\", \"when\": \"\", \"outline\": \"" C "\"},"
        "\"checks\": [{\"who\": \"\", \"when\": \"\", \"result\": \"bad\"}], \"later\": 5");
    const sl_correction *e = sl_corrections_of(&c, A);

    (void)state;
    assert_int_equal(c.refusals, 0);
    assert_non_null(e);
    assert_null(sl_corrections_of(&c, B));
    assert_true(e->has_corners && e->exact && e->has_turn && !e->leave_out);
    assert_int_equal(e->turn_deg, 270);
    assert_true(e->corner[1].x > 11.9 && e->corner[1].x < 12.1 && e->corner[1].y > 219.9);
    assert_true(e->page_mm[0] > 203.19 && e->page_mm[0] < 203.21 && e->page_mm[1] > 253.99);
    assert_string_equal(e->replaces, B);
    assert_string_equal(e->words.caption, "The mill\nat noon");
    assert_string_equal(e->words.people, "Ada; Nils");
    assert_int_equal(e->word, SL_WORD_ACCEPTED);
    assert_string_equal(e->word_outline, C);
    sl_corrections_clear(&c);
}

static void each_bad_field_is_refused_alone(void **state)
{
    static const struct { const char *field; const char *value; } bad[] = {
        { "corners", "[[0,0],[100,0],[100,100]]" },
        { "corners", "[[0,0],[100,100],[100,0],[0,100]]" },      /* crossed */
        { "corners", "[[0,0],[100,0],[10,10],[0,100]]" },        /* a dent */
        { "corners", "[[0,0],[100,0],[100,100],[0,\"x\"]]" },
        { "corners", "[[0,0],[1,0],[1,1],[0,1]]" },              /* a speck */
        { "corners", "7" },
        { "exact", "1" }, { "turn", "45" }, { "turn", "90.0" }, { "turn", "-90" },
        { "page_size", "\"8 by 10\"" }, { "page_size", "8" }, { "leave_out", "\"true\"" },
        { "replaces", "\"leaf-2.jpg\"" }, { "replaces", "\"" A "\"" },
        { "caption", "[]" }, { "date", "\"\\u0007\"" }, { "people", "5" },
        { "word", "\"accepted\"" }, { "word", "{\"says\": \"accepted\"}" },
        { "word", "{\"says\": \"fine\", \"outline\": \"" C "\"}" },
        { "checks", "{}" }, { "checks", "[{\"result\": \"so-so\"}]" },
    };

    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char fields[1000];
        sl_corrections c;
        const sl_correction *e;

        (void)snprintf(fields, sizeof fields, "\"page\": \"page-0007\", \"place\": \"kept\", \"%s\": %s",
                       bad[i].field, bad[i].value);
        c = read_entry(fields);
        e = sl_corrections_of(&c, A);
        if (c.refusals != 1 || strcmp(c.refusal[0].field, bad[i].field) != 0
            || strcmp(c.refusal[0].page, "page-0007") != 0)
            fail_msg("%s %s: %zu refusals", bad[i].field, bad[i].value, c.refusals);
        assert_string_equal(e->words.place, "kept");
        assert_null(json_object_get(e->json, bad[i].field));
        sl_corrections_clear(&c);
    }
}

/* For what touches its pixels or its name; its words have a part of their own in the key. */
static void key_changes_with_what_touches_the_page(void **state)
{
    static const struct { const char *fields; bool touches; } cases[] = {
        { "\"shot\": \"leaf-3.jpg\"", false },
        { "\"word\": {\"says\": \"refused\", \"outline\": \"" C "\"}", false },
        { "\"checks\": [{\"result\": \"good\"}]", false },
        { "\"caption\": \"\", \"leave_out\": false", false },
        { "\"caption\": \"x\"", false }, { "\"turn\": 0", true }, { "\"turn\": 90", true },
        { "\"corners\": [[0,0],[100,0],[100,100],[0,100]]", true },
        { "\"page_size\": \"a4\"", true }, { "\"leave_out\": true", true },
    };
    char seen[sizeof cases / sizeof *cases][65];

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        sl_corrections c = read_entry(cases[i].fields);

        assert_int_equal(sl_correction_key(seen[i], key, sl_corrections_of(&c, A), NULL), SL_OK);
        if ((strcmp(seen[i], key) != 0) != cases[i].touches)
            fail_msg("%s", cases[i].fields);
        for (size_t k = 0; k < i && cases[i].touches; k++)
            if (strcmp(seen[i], seen[k]) == 0)
                fail_msg("%s and %s have one key", cases[i].fields, cases[k].fields);
        sl_corrections_clear(&c);
    }
    assert_int_equal(sl_correction_key(seen[0], key, NULL, NULL), SL_OK);
    assert_string_equal(seen[0], key);
}

static void word_stands_for_its_outline_only(void **state)
{
    json_t *report = json_loads("{\"corners\": [[1.5, 2], [3, 4], [5, 6], [7, 8]]}", 0, NULL);
    json_t *other = json_loads("{\"corners\": [[1.5, 2], [3, 4], [5, 6], [7, 8.1]]}", 0, NULL);
    char outline[65];
    char fields[300];
    sl_corrections c;

    (void)state;
    sl_correction_outline_key(outline, report);
    (void)snprintf(fields, sizeof fields, "\"word\": {\"says\": \"refused\", \"outline\": \"%s\"}",
                   outline);
    c = read_entry(fields);
    assert_true(sl_correction_word_stands(sl_corrections_of(&c, A), report));
    assert_false(sl_correction_word_stands(sl_corrections_of(&c, A), other));
    assert_false(sl_correction_word_stands(NULL, report));
    sl_corrections_clear(&c);
    json_decref(other);
    json_decref(report);
}

static void order_keeps_who_is_not_listed_behind_who_it_followed(void **state)
{
    static const char text[] = "{\"schema\": 1, \"kind\": \"squareleaf corrections\", \"shots\": {},"
                               " \"order\": [\"" C "\", \"" A "\"]}";
    static const char *const sha256[] = { "x", A, "y", "", C, NULL };
    static const size_t want[] = { 0, 4, 5, 1, 2, 3 };
    size_t index[6];
    sl_corrections c = { .path = NULL };

    (void)state;
    assert_int_equal(sl_corrections_parse(&c, text, strlen(text), "test", NULL), SL_OK);
    assert_int_equal(sl_correct_order(index, sha256, 6, &c, NULL), SL_OK);
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(index[i], want[i]);
    sl_corrections_clear(&c);
}

/* Every beginning of a file, and every file with one byte changed: an error or corrections. */
static void damaged_files_are_told(void **state)
{
    static const char whole[] = HEAD "\"turn\": 90, \"caption\": \"x\\u00e4\", \"corners\": "
                                     "[[0,0],[100,0],[100,100],[0,100]]" TAIL;
    char text[sizeof whole];

    (void)state;
    for (size_t n = 0; n < sizeof whole; n++) {
        for (int damage = 0; damage < 2; damage++) {
            sl_corrections c = { .path = NULL };
            sl_error err = { SL_OK, NULL, "" };
            sl_status st;

            memcpy(text, whole, sizeof whole);
            if (damage)
                text[n] = (char)(text[n] ^ 0x15);
            st = sl_corrections_parse(&c, text, damage ? sizeof whole - 1 : n, "test", &err);
            if (st != SL_OK)
                assert_true(st == SL_ERR_ARG && err.detail[0] != '\0');
            else if (!damage)
                assert_int_equal(n, sizeof whole - 1);
            sl_corrections_clear(&c);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whole_entry_is_read),
        cmocka_unit_test(each_bad_field_is_refused_alone),
        cmocka_unit_test(key_changes_with_what_touches_the_page),
        cmocka_unit_test(word_stands_for_its_outline_only),
        cmocka_unit_test(order_keeps_who_is_not_listed_behind_who_it_followed),
        cmocka_unit_test(damaged_files_are_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
