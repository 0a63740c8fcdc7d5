/* What pages are called: patterns, tame characters, states of one page; rectos and versos. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "album/naming.h"
#include "album/order.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

static void characters_are_tame(void **state)
{
    static const struct { const char *text; const char *want; } texts[] = {
        { "page-0001", "page-0001" },
        { "IMG_0042", "img_0042" },
        { "Grandmother's  album (1957)", "grandmother-s-album-1957" },
        { "Mu\xC3\xB1oz \xC3\x85ngstr\xC3\xB6m", "munoz-angstrom" },        /* n~, A ring, o dots */
        { "stra\xC3\x9F" "e \xC5\x92uvre", "strasse-oeuvre" },               /* sharp s, OE */
        { "\xC5\x81" "\xC3\xB3" "d\xC5\xBA", "lodz" },
        { "cafe\xCC\x81", "cafe" },                                        /* e, combining acute */
        { "\xD0\xB4\xD0\xBE\xD0\xBC 7", "7" },                             /* no Latin letters */
        { "caf\xE9 1", "caf-1" },                                          /* no UTF-8 */
        { "..//a\nb\x1B[31m", "a-b-31m" },
        { "--a--_--b--", "a-b" },
        { "", "" },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(texts); i++) {
        char out[80];

        (void)sl_name_tame(out, sizeof out, texts[i].text, strlen(texts[i].text));
        if (strcmp(out, texts[i].want) != 0)
            fail_msg("'%s': '%s', not '%s'", texts[i].text, out, texts[i].want);
    }
}

static void states_are_told_by_two_dashes(void **state)
{
    static const struct { const char *shot; size_t stem; const char *state; } shots[] = {
        { "p012.jpg", 4, "" },
        { "p012--flap-open.jpg", 4, "flap-open" },
        { "p012--flap--open.jpg", 10, "open" },
        { "p012-flap.jpg", 9, "" },
        { "IMG--0001.jpg", 9, "" },      /* a number is no state */
        { "--open.jpg", 6, "" },         /* nor is there a page without a name */
        { "p--.jpg", 3, "" },
        { "a--b", 1, "b" },
        { ".jpg", 4, "" },
        { "", 0, "" },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(shots); i++) {
        const sl_shot_parts p = sl_shot_parts_of(shots[i].shot);

        if (p.stem_length != shots[i].stem || p.state_length != strlen(shots[i].state)
            || memcmp(p.state, shots[i].state, p.state_length) != 0)
            fail_msg("'%s': stem %zu, state %zu", shots[i].shot, p.stem_length, p.state_length);
    }
    assert_true(sl_shot_same_page("p1--a.jpg", "p1--b.tif"));
    assert_true(sl_shot_same_page("p1.jpg", "p1--b.jpg"));
    assert_false(sl_shot_same_page("p1.jpg", "p1.tif"));
    assert_false(sl_shot_same_page("p1--a.jpg", "p10--a.jpg"));
}

static void patterns_are_filled(void **state)
{
    static const struct { const char *pattern, *label, *shot, *want; } names[] = {
        { SL_NAME_PATTERN, "0012", "x.jpg", "page-0012" },
        { SL_NAME_PATTERN, "0012a", "x--Flap Open.jpg", "page-0012a-flap-open" },
        { "{state}_{page}", "0001", "x.jpg", "0001" },
        { "{album}-{page}", "10000", "x.jpg", "10000" },
        { "{shot}", "0001", "IMG 7.JPG", "img-7" },
        { "Leaf {page}, {shot}", "0001", "a.b.jpg", "leaf-0001-a-b" },
        { "\xC3\x84lbum{page}", "0001", "x.jpg", "album0001" },
        { "{page}abcdefghijklmnopqrstuvwx", "0001", "x", "0001abcdefghijklmnopqrstuvwx" },
    };
    char out[SL_NAME_MOST + 1];
    sl_error err;

    (void)state;
    for (size_t i = 0; i < COUNT(names); i++) {
        if (sl_name_fill(out, names[i].pattern, names[i].label, names[i].shot, &err) != SL_OK)
            fail_msg("%s: %s", names[i].pattern, err.detail);
        assert_string_equal(out, names[i].want);
        assert_true(strlen(out) + 4 <= 32);
    }
    assert_int_equal(sl_name_fill(out, "{page}abcdefghijklmnopqrstuvwxy", "0001", "x", &err),
                     SL_ERR_ARG);
    assert_non_null(strstr(err.detail, "33 characters"));
    assert_int_equal(sl_name_fill(out, "{shot}", "0001", "\xD0\xB4.jpg", &err), SL_ERR_ARG);
    assert_int_equal(sl_name_check("{page}", NULL), SL_OK);
    assert_int_equal(sl_name_check("{shot}-{state}", NULL), SL_OK);
    assert_int_equal(sl_name_check("page", &err), SL_ERR_ARG);
    assert_int_equal(sl_name_check("{pagw}", &err), SL_ERR_ARG);
    assert_int_equal(sl_name_check("{page", &err), SL_ERR_ARG);
}

/* ---- order ----------------------------------------------------------------------------------- */

enum { SHOTS_MOST = 12 };

static sl_folder folder_of(sl_entry entry[SHOTS_MOST], const char *const *name,
                           const char *const *date)
{
    size_t n = 0;

    memset(entry, 0, SHOTS_MOST * sizeof *entry);
    for (; name[n] != NULL; n++) {
        entry[n].name = (char *)name[n];
        entry[n].is_shot = true;
        if (date != NULL)
            (void)snprintf(entry[n].date, sizeof entry[n].date, "2026:03:14 %s:00", date[n]);
    }
    return (sl_folder){ entry, n, n };
}

static void check_order(const sl_folder *folder, const char *want)
{
    char got[200] = "";

    for (size_t i = 0; i < folder->shots; i++)
        (void)snprintf(got + strlen(got), sizeof got - strlen(got), "%s ", folder->entry[i].name);
    assert_string_equal(got, want);
}

static void rectos_and_versos_alternate(void **state)
{
    static const char *const even[] = { "a", "b", "c", "d", "e", "f", NULL };
    static const char *const odd[] = { "a", "b", "c", "d", "e", NULL };
    static const char *const flaps[] = { "a", "b--flap", "b--open", "c", "d", NULL };
    sl_entry entry[SHOTS_MOST];
    char text[400];
    sl_folder f = folder_of(entry, even, NULL);

    (void)state;
    assert_false(sl_order_doubt(text, sizeof text, &f, SL_ORDER_RECTOS_VERSOS));
    assert_int_equal(sl_order_shots(&f, SL_ORDER_RECTOS_VERSOS, false, NULL), SL_OK);
    check_order(&f, "a d b e c f ");
    f = folder_of(entry, even, NULL);
    assert_int_equal(sl_order_shots(&f, SL_ORDER_RECTOS_VERSOS, true, NULL), SL_OK);
    check_order(&f, "a f b e c d ");
    f = folder_of(entry, odd, NULL);
    assert_true(sl_order_doubt(text, sizeof text, &f, SL_ORDER_RECTOS_VERSOS));
    assert_non_null(strstr(text, "3 right-hand and 2 left-hand"));
    assert_int_equal(sl_order_shots(&f, SL_ORDER_RECTOS_VERSOS, false, NULL), SL_OK);
    check_order(&f, "a d b e c ");
    f = folder_of(entry, odd, NULL);
    assert_int_equal(sl_order_shots(&f, SL_ORDER_RECTOS_VERSOS, true, NULL), SL_OK);
    check_order(&f, "a e b d c ");
    f = folder_of(entry, flaps, NULL);
    assert_false(sl_order_doubt(text, sizeof text, &f, SL_ORDER_RECTOS_VERSOS));
    assert_int_equal(sl_order_shots(&f, SL_ORDER_RECTOS_VERSOS, false, NULL), SL_OK);
    check_order(&f, "a c b--flap b--open d ");
}

static void doubts_name_two_shots(void **state)
{
    static const char *const wrap[] = { "IMG_0001.jpg", "IMG_0002.jpg", "IMG_9998.jpg",
                                        "IMG_9999.jpg", NULL };
    static const char *const wrap_dates[] = { "10:03", "10:04", "10:01", "10:02" };
    static const char *const names[] = { "a.jpg", "b.jpg", "c.jpg", "d.jpg", NULL };
    static const char *const retaken[] = { "10:01", "11:00", "10:03", "10:04" };
    static const char *const right[] = { "10:01", "10:02", "10:02", "10:04" };
    sl_entry entry[SHOTS_MOST];
    char text[400];
    sl_folder f = folder_of(entry, wrap, wrap_dates);

    (void)state;
    assert_true(sl_order_doubt(text, sizeof text, &f, SL_ORDER_NAME));
    assert_non_null(strstr(text, "counter began again"));
    assert_non_null(strstr(text, "IMG_0002.jpg comes before IMG_9998.jpg"));
    assert_non_null(strstr(text, "--order time"));
    assert_int_equal(sl_order_shots(&f, SL_ORDER_TIME, false, NULL), SL_OK);
    check_order(&f, "IMG_9998.jpg IMG_9999.jpg IMG_0001.jpg IMG_0002.jpg ");
    f = folder_of(entry, names, retaken);
    assert_true(sl_order_doubt(text, sizeof text, &f, SL_ORDER_NAME));
    assert_non_null(strstr(text, "disagree in 1 place: by name b.jpg comes before c.jpg"));
    f = folder_of(entry, names, right);
    assert_false(sl_order_doubt(text, sizeof text, &f, SL_ORDER_NAME));
    f = folder_of(entry, names, NULL);
    assert_false(sl_order_doubt(text, sizeof text, &f, SL_ORDER_NAME));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(characters_are_tame),
        cmocka_unit_test(states_are_told_by_two_dashes),
        cmocka_unit_test(patterns_are_filled),
        cmocka_unit_test(rectos_and_versos_alternate),
        cmocka_unit_test(doubts_name_two_shots),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
