/* Page sizes and lengths as people write them. */
#include "support/near.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof *(a))

static void assert_size(const char *text, double width, double height)
{
    double mm[2] = { -1, -1 };
    sl_error err = { SL_OK, NULL, "" };

    if (sl_page_size_parse(mm, text, &err) != SL_OK)
        fail_msg("'%s': %s", text, err.detail);
    assert_near(text, mm[0], width, 1e-12);
    assert_near(text, mm[1], height, 1e-12);
}

/* ISO 216:2007, tables 1 and 2 (values from memory; they obey the standard's halving rule). */
static const struct { int n; double a[2]; double b[2]; } iso[] = {
    { 0, { 841, 1189 }, { 1000, 1414 } }, { 1, { 594, 841 }, { 707, 1000 } },
    { 2, { 420, 594 }, { 500, 707 } },    { 3, { 297, 420 }, { 353, 500 } },
    { 4, { 210, 297 }, { 250, 353 } },    { 5, { 148, 210 }, { 176, 250 } },
    { 6, { 105, 148 }, { 125, 176 } },    { 7, { 74, 105 }, { 88, 125 } },
    { 8, { 52, 74 }, { 62, 88 } },        { 9, { 37, 52 }, { 44, 62 } },
    { 10, { 26, 37 }, { 31, 44 } },
};

static void iso_sizes_are_those_of_the_table(void **state)
{
    (void)state;
    assert_int_equal(COUNT(iso), 11);
    for (size_t i = 0; i < COUNT(iso); i++) {
        char name[8];

        snprintf(name, sizeof name, "a%d", iso[i].n);
        assert_size(name, iso[i].a[0], iso[i].a[1]);
        snprintf(name, sizeof name, " B%d ", iso[i].n);
        assert_size(name, iso[i].b[0], iso[i].b[1]);
    }
}

/* 1 in = 25.4 mm exactly (International yard and pound agreement, 1959). */
static const struct { const char *text; double mm[2]; } sizes[] = {
    { "12x12in", { 304.8, 304.8 } },
    { "210x297mm", { 210, 297 } },
    { "297x210mm", { 297, 210 } },
    { "8.5x11in", { 215.9, 279.4 } },
    { "8,5x11in", { 215.9, 279.4 } },
    { "8.5X11IN", { 215.9, 279.4 } },
    { "30x30cm", { 300, 300 } },
    { " 12 x 12 in ", { 304.8, 304.8 } },
    { "12inx12in", { 304.8, 304.8 } },
    { "12\"x12\"", { 304.8, 304.8 } },
    { "12 x 12 inches", { 304.8, 304.8 } },
    { "30cm x 300mm", { 300, 300 } },
    { "210*297mm", { 210, 297 } },
    { "210 \xc3\x97 297 mm", { 210, 297 } },
    { ".5x.25in", { 12.7, 6.35 } },
    { "29,70x21,00cm", { 297, 210 } },
    { "1.000x2mm", { 1, 2 } },
    { "letter", { 215.9, 279.4 } },
    { "Letter", { 215.9, 279.4 } },
    { "LEGAL", { 215.9, 355.6 } },
    { "A4", { 210, 297 } },
    { "9999x9999mm", { 9999, 9999 } },
};

static void sizes_are_read_as_people_write_them(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(sizes); i++)
        assert_size(sizes[i].text, sizes[i].mm[0], sizes[i].mm[1]);
}

static const char *const no_sizes[] = {
    "", " ", "12", "12x12", "12in", "x12in", "12xin", "12x12x12in", "12x12furlong", "12x12inn",
    "-12x12in", "12x-12in", "+1x1in", "0x12in", "12x0in", "1e3x12mm", "0x1ax12in", "nanxnanmm",
    "infxinfmm", "10000x10mm", "10x1001cm", "99999999999999999999999x1mm", "1,000x2mm",
    "210,297mm", "1.2.3x4in", "1,2,3x4in", "..x1in", "a", "a11", "a-1", "a44", "a4x", "c4", "b",
    "a 4", "letters", "lett", "a4 letter", "12inx12", "12x12in in", "\xff", "12\xc3x12in",
};

static void what_is_no_size_is_answered_with_an_example(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(no_sizes); i++) {
        double mm[2] = { 7, 7 };
        sl_error err = { SL_OK, NULL, "" };
        const sl_status st = sl_page_size_parse(mm, no_sizes[i], &err);

        if (st != SL_ERR_ARG || mm[0] < 7 || mm[0] > 7 || mm[1] < 7 || mm[1] > 7)
            fail_msg("'%s': status %d, %g x %g mm", no_sizes[i], (int)st, mm[0], mm[1]);
        if (strstr(err.detail, "12x12in") == NULL && strstr(err.detail, "10 m") == NULL)
            fail_msg("'%s' is answered '%s'", no_sizes[i], err.detail);
        assert_int_equal(sl_page_size_parse(mm, no_sizes[i], NULL), SL_ERR_ARG);
    }
}

static void a_digit_string_of_any_length_is_no_trouble(void **state)
{
    char text[2000];
    double mm[2];

    (void)state;
    memset(text, '9', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    memcpy(text, "1.", 2);
    assert_int_equal(sl_page_size_parse(mm, text, NULL), SL_ERR_ARG);
    memcpy(text + sizeof text - 8, "x12.0in", 7);
    assert_int_equal(sl_page_size_parse(mm, text, NULL), SL_ERR_ARG);
    assert_int_equal(sl_length_parse(mm, text, NULL), SL_ERR_ARG);
}

static const struct { const char *text; double mm; } lengths[] = {
    { "5mm", 5 }, { "0.25in", 6.35 }, { "1cm", 10 },   { "0", 0 },       { "0mm", 0 },
    { " 2 MM ", 2 }, { "0,5cm", 5 },  { "1\"", 25.4 }, { "0.1in", 2.54 }, { "0.0", 0 },
};

static const char *const no_lengths[] = {
    "", "5", "mm", "-5mm", "5 m", "5mm5", "5mm mm", "1e1mm", "10000mm", "1,000mm", "0x5mm", "nan",
};

static void lengths_need_a_unit_unless_they_are_nothing(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(lengths); i++) {
        double mm = -1;

        assert_int_equal(sl_length_parse(&mm, lengths[i].text, NULL), SL_OK);
        assert_near(lengths[i].text, mm, lengths[i].mm, 1e-12);
    }
    for (size_t i = 0; i < COUNT(no_lengths); i++) {
        double mm = 7;
        sl_error err = { SL_OK, NULL, "" };

        if (sl_length_parse(&mm, no_lengths[i], &err) != SL_ERR_ARG || mm < 7 || mm > 7)
            fail_msg("'%s' is %g mm", no_lengths[i], mm);
        assert_non_null(strstr(err.detail, "5mm"));
    }
}

/* Systems have few locales or none: POSIX's localedef makes one here. */
static bool make_locale(const char *source, const char *name)
{
    const char *folder = getenv("TMPDIR") != NULL ? getenv("TMPDIR") : "/tmp";
    char command[600];

    (void)snprintf(command, sizeof command,
                   "localedef -i %s -f UTF-8 '%.400s/%s' > '%.100s/localedef.log' 2>&1", source,
                   folder, name, folder);
    return system(command) == 0 && setenv("LOCPATH", folder, 1) == 0
           && setlocale(LC_ALL, name) != NULL;
}

/* A program that sets its user's locale gets the same answers. */
static void the_locale_has_no_say(void **state)
{
    /* a decimal comma; an I that is no capital i */
    static const struct { const char *source; const char *name; } locales[] = {
        { "de_DE", "de_DE.UTF-8" }, { "tr_TR", "tr_TR.UTF-8" },
    };
    size_t tried = 0;

    for (size_t i = 0; i < COUNT(locales); i++) {
        if (setlocale(LC_ALL, locales[i].name) == NULL
            && !make_locale(locales[i].source, locales[i].name))
            continue;
        tried++;
        sizes_are_read_as_people_write_them(state);
        what_is_no_size_is_answered_with_an_example(state);
    }
    (void)setlocale(LC_ALL, "C");
    if (tried == 0) {
        printf("missing: de_DE.UTF-8 or tr_TR.UTF-8, or localedef and the locales package to make them\n");
        skip();
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(iso_sizes_are_those_of_the_table),
        cmocka_unit_test(sizes_are_read_as_people_write_them),
        cmocka_unit_test(what_is_no_size_is_answered_with_an_example),
        cmocka_unit_test(a_digit_string_of_any_length_is_no_trouble),
        cmocka_unit_test(lengths_need_a_unit_unless_they_are_nothing),
        cmocka_unit_test(the_locale_has_no_say),
    };

    return cmocka_run_group_tests_name("units", tests, NULL, NULL);
}
