/* What book and bag are made of: names as text, sums, manifests, where a page stands on a sheet. */
#include <stdlib.h>
#include <string.h>

#include "support/near.h"

#include "bag/manifest.h"
#include "base/sums.h"
#include "base/text.h"
#include "book/layout.h"
#include "book/pdf.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

/* ---- names ----------------------------------------------------------------------------------- */

/* RFC 3629, sections 3 and 10; Unicode 15, table 3-7. */
static const struct { const char *text; bool is_utf8; } texts[] = {
    { "", true },
    { "plain", true },
    { "\xc3\xa9", true },              /* U+00E9 */
    { "\xe5\x86\x99\xe7\x9c\x9f", true },
    { "\xf0\x9f\x93\xb7", true },      /* U+1F4F7 */
    { "\xf4\x8f\xbf\xbf", true },      /* U+10FFFF, the last */
    { "\xf4\x90\x80\x80", false },     /* beyond it */
    { "\xc0\xaf", false },             /* overlong */
    { "\xe0\x80\xaf", false },
    { "\xf0\x80\x80\xaf", false },
    { "\xed\xa0\x80", false },         /* a surrogate */
    { "\xe9", false },
    { "\xe5\x86", false },             /* cut */
    { "\x80", false },
    { "\xff", false },
};

static void utf8_is_what_the_rfc_says(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(texts); i++)
        if (sl_text_is_utf8(texts[i].text) != texts[i].is_utf8)
            fail_msg("text %zu", i);
}

static void a_shown_name_leads_back(void **state)
{
    static const char *const names[] = { "a.jpg", "two\nlines", "back\\slash", "\\x0A", "\x7f\x01",
                                         "latin\xe9", "gr\xc3\xb6\xc3\x9f" "e", "\\", "\\\\x41" };

    (void)state;
    for (size_t i = 0; i < COUNT(names); i++) {
        char *shown = sl_text_shown(names[i]);
        char *name = sl_text_name(shown);

        assert_true(sl_text_is_utf8(shown));
        for (const char *c = shown; *c != '\0'; c++)
            assert_true((unsigned char)*c >= 0x20 && *c != 0x7f);
        assert_string_equal(name, names[i]);
        for (size_t k = 0; k < i; k++) {
            char *other = sl_text_shown(names[k]);

            assert_string_not_equal(other, shown);
            free(other);
        }
        free(shown);
        free(name);
    }
}

/* ---- sums ------------------------------------------------------------------------------------ */

/* "abc": FIPS 180-4's examples (NIST, SHA256.pdf and SHA512.pdf); in pieces and whole. */
static void both_sums_have_the_published_digest(void **state)
{
    static const char want_256[] =
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    static const char want_512[] =
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
        "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f";
    char sha256[SL_SHA256_HEX];
    char sha512[SL_SHA512_HEX];
    sl_sums *sums = NULL;

    (void)state;
    assert_int_equal(sl_sums_new(&sums, NULL), SL_OK);
    for (size_t piece = 1; piece <= 3; piece += 2) {
        for (size_t at = 0; at < 3; at += piece)
            sl_sums_add(sums, "abc" + at, piece);
        sl_sums_take(sums, sha256, sha512);
        assert_string_equal(sha256, want_256);
        assert_string_equal(sha512, want_512);
    }
    sl_sums_free(sums);
}

/* ---- manifests ------------------------------------------------------------------------------- */

static void count_fault(void *ctx, const char *why)
{
    (void)why;
    ++*(int *)ctx;
}

static void a_manifest_leads_back(void **state)
{
    static const char *const paths[] = { "data/a", "data/50%", "data/%0A", "data/two\nlines\r",
                                         "data/ b", "data/..c" };
    static const char sum[] = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    sl_manifest manifest = { NULL, 0, { false, false } };
    char *text = NULL;
    size_t size = 0;
    FILE *file = open_memstream(&text, &size);
    int faults = 0;

    (void)state;
    for (size_t i = 0; i < COUNT(paths); i++)
        sl_manifest_put(file, sum, paths[i]);
    (void)fclose(file);
    assert_int_equal(sl_manifest_read(&manifest, text, size, SL_SUM_256, count_fault, &faults,
                                      NULL), SL_OK);
    assert_int_equal(faults, 0);
    assert_int_equal(manifest.count, COUNT(paths));
    for (size_t i = 0; i < COUNT(paths); i++) {
        const sl_listed *line = sl_manifest_find(&manifest, paths[i]);

        if (line == NULL || strcmp(line->sum[SL_SUM_256], sum) != 0)
            fail_msg("%s", paths[i]);
    }
    sl_manifest_clear(&manifest);
    free(text);
}

/* RFC 8493, 2.1.3 and 5.1. Each line has one fault. */
static void lines_without_sense_are_told_of(void **state)
{
#define A_SUM "BA7816BF8F01CFEA414140DE5DAE2223B00361A396177A9CB410FF61F20015AD"
    static const char text[] = A_SUM "  data/good\r\n"
                               A_SUM "\t*data/binary\r"
                               A_SUM "  /etc/passwd\n"
                               A_SUM "  data/../../out\n"
                               A_SUM "  ~root\n"
                               A_SUM "  data/good\n"
                               A_SUM "\n"
                               "abc  data/short\n"
                               "no sum at all\n"
                               "\n"
                               A_SUM "0  data/long\n";
    sl_manifest manifest = { NULL, 0, { false, false } };
    int faults = 0;

    (void)state;
    assert_int_equal(sl_manifest_read(&manifest, text, strlen(text), SL_SUM_256, count_fault,
                                      &faults, NULL), SL_OK);
    assert_int_equal(faults, 8);
    assert_int_equal(manifest.count, 2);
    assert_non_null(sl_manifest_find(&manifest, "data/good"));
    assert_non_null(sl_manifest_find(&manifest, "data/binary"));
    assert_int_equal(sl_manifest_find(&manifest, "data/good")->sum[SL_SUM_256][0], 'b');
    sl_manifest_clear(&manifest);
}

/* ---- sheets ---------------------------------------------------------------------------------- */

static void a_page_keeps_its_size_on_its_own_sheet(void **state)
{
    static const double square[2] = { 304.8, 304.8 };
    const sl_layout l = sl_layout_of(square, SL_PAPER_OWN, 0);
    const sl_layout with = sl_layout_of(square, SL_PAPER_OWN, 30);

    (void)state;
    assert_near("width", l.width, 864, 1e-9);
    assert_near("height", l.height, 864, 1e-9);
    assert_near("page", with.page.height, 864, 1e-9);
    assert_true(with.height > 864 + 30);
    assert_true(with.words.y >= 864 && with.words.y + 30 <= with.height);
}

/* Inside the margins, in its own proportions, nothing over anything else, never enlarged. */
static void a_page_fits_on_paper(void **state)
{
    static const double pages[][2] = { { 304.8, 304.8 }, { 210, 297 }, { 400, 150 }, { 50, 90 },
                                       { 600, 20 } };

    (void)state;
    for (size_t i = 0; i < COUNT(pages); i++)
        for (int paper = SL_PAPER_A4; paper <= SL_PAPER_LETTER; paper++)
            for (int words = 0; words <= 200; words += 100) {
                const sl_layout l = sl_layout_of(pages[i], (sl_paper)paper, words);

                assert_true(l.scale > 0 && l.scale <= 1);
                assert_near("width", l.page.width, pages[i][0] / 25.4 * 72 * l.scale, 1e-9);
                assert_near("height", l.page.height, pages[i][1] / 25.4 * 72 * l.scale, 1e-9);
                assert_true(l.page.x > 28 && l.page.x + l.page.width < l.width - 28);
                assert_true(l.page.y > 28);
                assert_true(l.page.y + l.page.height <= l.words.y);
                assert_true(words == 0 || l.words.y + words <= l.note.y + 1e-9);
                assert_true(l.note.y + l.note.height < l.height - 28);
                assert_true((l.width > l.height) == (pages[i][0] > pages[i][1]));
            }
}

/* ITU-T T.81, B.2.2: FF C0, length, precision, lines, samples per line, components. */
static void a_jpeg_tells_its_size(void **state)
{
    static const unsigned char rgb[] = { 0xff, 0xd8, 0xff, 0xe0, 0, 4, 1, 2, 0xff, 0xc2, 0, 17, 8,
                                         0x0e, 0x10, 0x0a, 0x8c, 3 };
    static const unsigned char cmyk[] = { 0xff, 0xd8, 0xff, 0xc0, 0, 20, 8, 0, 9, 0, 9, 4 };
    size_t px[2] = { 0, 0 };

    (void)state;
    assert_true(sl_pdf_jpeg_size(px, rgb, sizeof rgb));
    assert_int_equal(px[0], 2700);
    assert_int_equal(px[1], 3600);
    assert_false(sl_pdf_jpeg_size(px, cmyk, sizeof cmyk));
    for (size_t n = 0; n < sizeof rgb; n++) {
        void *cut = malloc(n + 1);  /* for the sanitizer: nothing is read behind it */

        memcpy(cut, rgb, n);
        assert_false(sl_pdf_jpeg_size(px, cut, n));
        free(cut);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(utf8_is_what_the_rfc_says),
        cmocka_unit_test(a_shown_name_leads_back),
        cmocka_unit_test(both_sums_have_the_published_digest),
        cmocka_unit_test(a_manifest_leads_back),
        cmocka_unit_test(lines_without_sense_are_told_of),
        cmocka_unit_test(a_page_keeps_its_size_on_its_own_sheet),
        cmocka_unit_test(a_page_fits_on_paper),
        cmocka_unit_test(a_jpeg_tells_its_size),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
