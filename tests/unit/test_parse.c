/* A journal's lines are read as Jansson reads them (RFC 8259), plain ones and others. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "album/parse.h"

static void as_jansson_reads_it(void **state)
{
    static const char *const texts[] = {
        "{\"page\": \"page-0001\", \"n\": [1, -2, 3.5, 1e-7, -0.0, 123456789012], \"t\": true}\n",
        "{\"a\": {\"b\": {\"c\": [[[]], {}, null, false]}}, \"a\": 2}",
        "{\"caf\xc3\xa9\": \"r\xc3\xa9sum\xc3\xa9\"}", "{\"a\\u0041\": \"\\n\\\"\\\\\"}", "[]", "{}",
        "[1,2 ,3]\n", " {\"a\" : 1 }", "{\"a\": 12345678901234567890}", "[1e400]", "[01]", "[1.]",
        "[.5]", "[+1]", "[0x10]", "[nan]", "[1 2]", "[1,]", "{\"a\" 1}", "{\"a\":}", "{a: 1}",
        "{\"page\": \"page-00", "{\"page\"", "[", "", "\n", "no JSON", "\"word\"", "12", "[1] 2",
        "[\"\xff\"]", "[\"tab\t\"]", "[tru]", "{\"a\": [1, 2}", "[-]", "[1e]",
        "[30.11262862, -0.5, -0, 0.1, 0.30000000000000004, 999999999999999, 0.000000000000001]",
        "[99999999999999.9, 123456789.123456789, 9007199254740993, 1e22, 1.7e-5, 0.0]", "[1..2]",
        "[1.2.3]", "[-.5]", "[00.1]", "[-01]", "[1.5", "[1", "[9223372036854775807]",
        "[\"[{\\\"a\\\": [1, 2]}]\", \"\\\"\", \"\\\"\\\"\"]", "[\"a\\\\\"]",
        "[\"a\\\\\\\"b\"]", "[\"\\\\\", \"\\\\\"]", "{\"a\\\"b\": 1}", "[\"\\\"]", "[\"\\\"", "[\"\x7f\"]",
        "[100000000000000000, -9223372036854775808, 0.1000000000000000055511151231257827]",
    };

    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        char text[200];
        json_t *ours;
        json_t *theirs = json_loads(texts[i], 0, NULL);

        (void)snprintf(text, sizeof text, "%s", texts[i]);
        ours = sl_parse_line(text);
        assert_string_equal(text, texts[i]);
        if (theirs == NULL)
            assert_null(ours);
        else
            assert_true(ours != NULL && json_equal(ours, theirs));
        json_decref(ours);
        json_decref(theirs);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(as_jansson_reads_it) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
