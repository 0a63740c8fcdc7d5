/*
 * Encode: the published bytes of density, the order of a file's parts, equal bytes for any
 * portions, and what happens when the disk is full.
 */
#include "support/encoded.h"

#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <unistd.h>

#define COUNT(a) (sizeof(a) / sizeof *(a))

static const char SHA[] = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef";

static sl_page_info page_info(double ppi)
{
    return (sl_page_info){ .ppi = ppi, .date = "2024:05:06 07:08:09", .make = "Ash & Elm",
                           .model = "Copy 2", .shot_name = "page 001.jpg", .shot_sha256 = SHA,
                           .native_ppi = 226.4, .interpolated = true };
}

/* ---- JPEG's segments ------------------------------------------------------------------------- */

/* The n-th segment (from 0) with marker FF xx before the scan; its length with the marker. */
static const unsigned char *segment(const blob *b, unsigned marker, size_t n, size_t *length)
{
    for (size_t at = 2; at + 4 <= b->size && b->data[at] == 0xff && b->data[at + 1] != 0xda;) {
        const size_t size = 2 + (size_t)b->data[at + 2] * 256 + b->data[at + 3];

        if (b->data[at + 1] == marker && n-- == 0) {
            *length = size;
            return b->data + at;
        }
        at += size;
    }
    return NULL;
}

/*
 * ITU-T T.871 (JFIF 1.02), 10.1: FF E0, length 16, "JFIF", version 1.02, units 1 (per inch),
 * both densities, no thumbnail. Units 0 with 1:1 says only that pixels are square.
 */
static const struct { double ppi; unsigned char bytes[18]; } app0[] = {
    { 300, { 0xff, 0xe0, 0, 0x10, 'J', 'F', 'I', 'F', 0, 1, 2, 1, 0x01, 0x2c, 0x01, 0x2c } },
    { 600, { 0xff, 0xe0, 0, 0x10, 'J', 'F', 'I', 'F', 0, 1, 2, 1, 0x02, 0x58, 0x02, 0x58 } },
    { 72, { 0xff, 0xe0, 0, 0x10, 'J', 'F', 'I', 'F', 0, 1, 2, 1, 0, 72, 0, 72 } },
    { 0, { 0xff, 0xe0, 0, 0x10, 'J', 'F', 'I', 'F', 0, 1, 2, 0, 0, 1, 0, 1 } },
};

static void jfif_comes_first_with_the_published_bytes(void **state)
{
    const sl_encode_params p = page_params(SL_FORMAT_JPEG, 40, 30, 3, 8);

    (void)state;
    for (size_t i = 0; i < COUNT(app0); i++) {
        const sl_page_info info = page_info(app0[i].ppi);
        blob b = encoded(&p, &info, 7, 0);

        assert_memory_equal(b.data, "\xff\xd8", 2);
        if (memcmp(b.data + 2, app0[i].bytes, sizeof app0[i].bytes) != 0)
            fail_msg("%g ppi: other bytes", app0[i].ppi);
        free(b.data);
    }
}

static void exif_then_xmp_then_icc_follow_jfif(void **state)
{
    static const unsigned char order[] = { 0xe0, 0xe1, 0xe1, 0xe2 };
    const sl_encode_params p = page_params(SL_FORMAT_JPEG, 40, 30, 3, 8);
    const sl_page_info info = page_info(300);
    blob b = encoded(&p, &info, 7, 0);
    size_t at = 2;
    size_t length;

    (void)state;
    for (size_t i = 0; i < sizeof order; i++) {
        assert_int_equal(b.data[at], 0xff);
        assert_int_equal(b.data[at + 1], order[i]);
        at += 2 + (size_t)b.data[at + 2] * 256 + b.data[at + 3];
    }
    assert_memory_equal(segment(&b, 0xe1, 0, &length) + 4, "Exif\0\0MM\0\x2a\0\0\0\x08", 14);
    assert_memory_equal(segment(&b, 0xe1, 1, &length) + 4, "http://ns.adobe.com/xap/1.0/", 29);
    assert_memory_equal(segment(&b, 0xe2, 0, &length) + 4, "ICC_PROFILE\0\1\1", 14);
    free(b.data);
}

/* ISO 10918-1 frame header: every component sampled 1 x 1. */
static void colour_is_kept_at_full_resolution(void **state)
{
    const sl_encode_params p = page_params(SL_FORMAT_JPEG, 40, 30, 3, 8);
    const sl_page_info info = page_info(300);
    blob b = encoded(&p, &info, 7, 0);
    size_t length;
    const unsigned char *sof = segment(&b, 0xc0, 0, &length);

    (void)state;
    assert_non_null(sof);
    assert_int_equal(sof[9], 3);
    for (size_t c = 0; c < 3; c++)
        assert_int_equal(sof[11 + 3 * c], 0x11);
    free(b.data);
}

/* ICC.1:2010, B.4: "ICC_PROFILE", number from 1, count; at most 65519 bytes of it in a marker. */
static void a_long_profile_is_split_and_whole(void **state)
{
    enum { SIZE = 150001 };
    const sl_encode_params p = page_params(SL_FORMAT_JPEG, 40, 30, 3, 8);
    sl_page_info info = page_info(300);
    unsigned char *icc = malloc(SIZE);
    unsigned char *joined = malloc(SIZE);
    size_t done = 0;
    blob b;

    (void)state;
    assert_non_null(icc);
    assert_non_null(joined);
    for (size_t i = 0; i < SIZE; i++)
        icc[i] = (unsigned char)(i * 7 + i / 251);
    info.icc = icc;
    info.icc_size = SIZE;
    b = encoded(&p, &info, 7, 0);
    for (size_t i = 0; i < 3; i++) {
        size_t length;
        const unsigned char *s = segment(&b, 0xe2, i, &length);

        assert_non_null(s);
        assert_memory_equal(s + 4, "ICC_PROFILE", 12);
        assert_int_equal(s[16], i + 1);
        assert_int_equal(s[17], 3);
        assert_true(done + length - 18 <= SIZE);
        memcpy(joined + done, s + 18, length - 18);
        done += length - 18;
    }
    assert_int_equal(done, SIZE);
    assert_memory_equal(joined, icc, SIZE);
    free(b.data);
    free(joined);
    free(icc);
}

/* ---- PNG's chunks ---------------------------------------------------------------------------- */

/* The chunk of a name with length, name, data and CRC; NULL when there is none before IDAT. */
static const unsigned char *chunk(const blob *b, const char *name)
{
    size_t at = 8;

    while (at + 12 <= b->size) {
        const unsigned char *p = b->data + at;

        if (memcmp(p + 4, name, 4) == 0)
            return p;
        if (memcmp(p + 4, "IDAT", 4) == 0)
            return NULL;
        at += 12 + ((size_t)p[0] << 24 | (size_t)p[1] << 16 | (size_t)p[2] << 8 | p[3]);
    }
    return NULL;
}

/*
 * W3C PNG (3rd ed.), 11.3.4.3: px per unit in x and y, unit 1 is the metre; 1 in = 0.0254 m.
 * 300 / 0.0254 = 11811.02, 600 / 0.0254 = 23622.05. The last four bytes are the CRC of annex D.
 */
static const struct { double ppi; unsigned char bytes[21]; } phys[] = {
    { 300, { 0, 0, 0, 9, 'p', 'H', 'Y', 's', 0, 0, 0x2e, 0x23, 0, 0, 0x2e, 0x23, 1, 0x78, 0xa5,
             0x3f, 0x76 } },
    { 600, { 0, 0, 0, 9, 'p', 'H', 'Y', 's', 0, 0, 0x5c, 0x46, 0, 0, 0x5c, 0x46, 1, 0x14, 0x94,
             0x43, 0x41 } },
};

static void phys_has_the_published_bytes_or_is_absent(void **state)
{
    const sl_encode_params p = page_params(SL_FORMAT_PNG, 40, 30, 3, 8);
    const sl_page_info none = page_info(0);
    blob b = encoded(&p, &none, 7, 0);

    (void)state;
    assert_null(chunk(&b, "pHYs"));
    free(b.data);
    for (size_t i = 0; i < COUNT(phys); i++) {
        const sl_page_info info = page_info(phys[i].ppi);
        const unsigned char *c;

        b = encoded(&p, &info, 7, 0);
        c = chunk(&b, "pHYs");
        assert_non_null(c);
        if (memcmp(c, phys[i].bytes, sizeof phys[i].bytes) != 0)
            fail_msg("%g ppi: other bytes", phys[i].ppi);
        free(b.data);
    }
}

/* W3C PNG (3rd ed.), 11.3.2.5: sRGB and iCCP should not both appear. */
static void a_png_says_its_colours_once(void **state)
{
    static const char faulty[] = "a profile that libpng would leave out";
    const sl_encode_params p = page_params(SL_FORMAT_PNG, 40, 30, 3, 8);
    sl_page_info info = page_info(300);
    blob b = encoded(&p, &info, 7, 0);

    (void)state;
    assert_non_null(chunk(&b, "sRGB"));
    assert_null(chunk(&b, "iCCP"));
    assert_non_null(chunk(&b, "eXIf"));
    assert_non_null(chunk(&b, "iTXt"));
    free(b.data);
    info.icc = faulty;
    info.icc_size = sizeof faulty;
    b = encoded(&p, &info, 7, 0);
    assert_null(chunk(&b, "sRGB"));
    assert_non_null(chunk(&b, "iCCP"));
    assert_memory_equal(chunk(&b, "iCCP") + 8, "ICC profile\0", 13);
    free(b.data);
}

/* ---- equal bytes ----------------------------------------------------------------------------- */

/* Sizes that fill no strip, block or filter row; the last has several strips and portions. */
static const struct { size_t width; size_t height; } shapes[] = {
    { 1, 1 }, { 1, 37 }, { 37, 1 }, { 33, 21 }, { 700, 701 },
};

static const sl_format formats[] = { SL_FORMAT_TIFF, SL_FORMAT_PNG, SL_FORMAT_JPEG };

static void portions_and_padding_do_not_show(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(shapes); i++)
        for (unsigned kind = 0; kind < 3 * 2 * 2 * 3; kind++) {
            const sl_format format = formats[kind % 3];
            const sl_page_info info = page_info(300);
            sl_encode_params p = page_params(format, shapes[i].width, shapes[i].height,
                                             kind / 3 % 2 == 0 ? 3 : 1, kind / 6 % 2 == 0 ? 8 : 16);
            static const size_t portions[] = { 1, 13, 1000 };
            blob first;

            p.compression = (sl_compression)(kind / 12);
            if ((format == SL_FORMAT_JPEG && p.bits == 16)
                || (format != SL_FORMAT_TIFF && p.compression != SL_DEFLATE))
                continue;
            first = encoded(&p, &info, 16, 0);
            for (size_t k = 0; k < COUNT(portions); k++) {
                blob other = encoded(&p, &info, portions[k], 2 * k);

                if (other.size != first.size || memcmp(other.data, first.data, first.size) != 0)
                    fail_msg("format %d, %zu x %zu, %u x %u bits, compression %d: other bytes in "
                             "portions of %zu", (int)format, p.width, p.height, p.channels, p.bits,
                             (int)p.compression, portions[k]);
                free(other.data);
            }
            free(first.data);
        }
}

/* ---- text that is not tame ------------------------------------------------------------------- */

static const struct { const char *name; const char *written; } names[] = {
    { "plain.jpg", "plain.jpg" },
    { "<a> & \"b\".jpg", "&lt;a&gt; &amp; &quot;b&quot;.jpg" },
    { "gr\xc3\xbc\xc3\x9f" "e \xf0\x9f\x93\xb7.jpg",
      "gr\xc3\xbc\xc3\x9f" "e \xf0\x9f\x93\xb7.jpg" },
    { "latin\xe4.jpg", "latin%E4.jpg" },                 /* not UTF-8 */
    { "cut\xe2\x82", "cut%E2%82" },
    { "over\xc0\xaf.jpg", "over%C0%AF.jpg" },            /* an overlong slash: RFC 3629, 10 */
    { "half\xed\xa0\x80.jpg", "half%ED%A0%80.jpg" },     /* a surrogate: RFC 3629, 3 */
    { "high\xf4\x90\x80\x80", "high%F4%90%80%80" },      /* above U+10FFFF */
    { "non\xef\xbf\xbf", "non%EF%BF%BF" },               /* no XML character: XML 1.0, 2.2 */
    { "tab\tnew\nline\x7f", "tab%09new%0Aline%7F" },
    { "100%.jpg", "100%.jpg" },
    { "]]>", "]]&gt;" },
};

static void any_name_of_a_shot_is_written(void **state)
{
    const sl_encode_params p = page_params(SL_FORMAT_TIFF, 4, 3, 1, 8);

    (void)state;
    for (size_t i = 0; i < COUNT(names); i++) {
        sl_page_info info = page_info(300);
        char element[200];
        char attribute[200];
        blob b;

        info.shot_name = names[i].name;
        b = encoded(&p, &info, 7, 0);
        snprintf(element, sizeof element, "<stRef:filePath>%s</stRef:filePath>", names[i].written);
        snprintf(attribute, sizeof attribute, "dc:source=\"%s\"", names[i].written);
        if (find_bytes(&b, element, strlen(element)) == NULL
            || find_bytes(&b, attribute, strlen(attribute)) == NULL)
            fail_msg("'%s' is not written as '%s'", names[i].name, names[i].written);
        free(b.data);
    }
}

/* ---- refusals -------------------------------------------------------------------------------- */

static const struct { const char *name; sl_encode_params p; sl_status want; } refusals[] = {
    { "no width", { SL_FORMAT_PNG, 0, 9, 3, 8, 95, SL_DEFLATE }, SL_ERR_ARG },
    { "no height", { SL_FORMAT_PNG, 9, 0, 3, 8, 95, SL_DEFLATE }, SL_ERR_ARG },
    { "alpha", { SL_FORMAT_PNG, 9, 9, 4, 8, 95, SL_DEFLATE }, SL_ERR_ARG },
    { "12 bits", { SL_FORMAT_TIFF, 9, 9, 3, 12, 95, SL_DEFLATE }, SL_ERR_ARG },
    { "16 bits", { SL_FORMAT_JPEG, 9, 9, 3, 16, 95, SL_DEFLATE }, SL_ERR_ARG },
    { "quality 0", { SL_FORMAT_JPEG, 9, 9, 3, 8, 0, SL_DEFLATE }, SL_ERR_ARG },
    { "quality 101", { SL_FORMAT_JPEG, 9, 9, 3, 8, 101, SL_DEFLATE }, SL_ERR_ARG },
    { "wide JPEG", { SL_FORMAT_JPEG, 65501, 9, 3, 8, 95, SL_DEFLATE }, SL_ERR_LIMIT },
    { "high JPEG", { SL_FORMAT_JPEG, 9, 65501, 3, 8, 95, SL_DEFLATE }, SL_ERR_LIMIT },
    { "wide PNG", { SL_FORMAT_PNG, 1000001, 9, 3, 8, 95, SL_DEFLATE }, SL_ERR_LIMIT },
    { "wide TIFF", { SL_FORMAT_TIFF, (size_t)1 << 32, 9, 3, 8, 95, SL_DEFLATE }, SL_ERR_LIMIT },
    { "compression", { SL_FORMAT_TIFF, 9, 9, 3, 8, 95, (sl_compression)3 }, SL_ERR_ARG },
    { "HEIF", { SL_FORMAT_HEIF, 9, 9, 3, 8, 95, SL_DEFLATE }, SL_ERR_UNSUPPORTED },
};

static void what_a_format_cannot_hold_is_refused(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(refusals); i++) {
        const sl_page_info info = page_info(300);
        FILE *file = tmpfile();
        sl_error err = { SL_OK, NULL, "" };
        sl_writer *writer = NULL;
        sl_status st;

        assert_non_null(file);
        st = sl_writer_new(&writer, file, &refusals[i].p, &info, &err);
        if (st != refusals[i].want || err.status != st || err.detail[0] == '\0' || writer != NULL)
            fail_msg("%s: status %d, '%s'", refusals[i].name, (int)st, err.detail);
        assert_int_equal(sl_writer_new(&writer, file, &refusals[i].p, &info, NULL), st);
        fclose(file);
    }
}

static void a_density_or_profile_that_no_file_can_hold_is_refused(void **state)
{
    static const double bad[] = { -1, 65535, 1e300, (double)INFINITY, (double)NAN };
    const sl_encode_params p = page_params(SL_FORMAT_TIFF, 9, 9, 3, 8);
    sl_page_info info = page_info(300);
    sl_writer *writer = NULL;
    FILE *file = tmpfile();

    (void)state;
    assert_non_null(file);
    for (size_t i = 0; i < COUNT(bad); i++) {
        info.ppi = bad[i];
        assert_int_equal(sl_writer_new(&writer, file, &p, &info, NULL), SL_ERR_ARG);
    }
    info = page_info(300);
    info.icc = "";
    info.icc_size = (size_t)255 * 65519 + 1;
    assert_int_equal(sl_writer_new(&writer, file, &p, &info, NULL), SL_ERR_LIMIT);
    assert_null(writer);
    fclose(file);
}

static void rows_are_counted(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(formats); i++) {
        const sl_encode_params p = page_params(formats[i], 33, 21, 3, 8);
        const sl_page_info info = page_info(300);
        unsigned char *rows = page_rows(&p, 0);
        FILE *file = tmpfile();
        sl_writer *writer = NULL;

        assert_non_null(file);
        assert_int_equal(sl_writer_new(&writer, file, &p, &info, NULL), SL_OK);
        assert_int_equal(sl_writer_rows(writer, rows, 22, row_bytes(&p), NULL), SL_ERR_ARG);
        assert_int_equal(sl_writer_rows(writer, rows, 20, row_bytes(&p), NULL), SL_OK);
        assert_int_equal(sl_writer_finish(writer, NULL), SL_ERR_ARG);
        assert_int_equal(sl_writer_rows(writer, rows, 2, row_bytes(&p), NULL), SL_ERR_ARG);
        assert_int_equal(sl_writer_rows(writer, rows, 0, row_bytes(&p), NULL), SL_OK);
        assert_int_equal(sl_writer_rows(writer, rows, 1, row_bytes(&p), NULL), SL_OK);
        assert_int_equal(sl_writer_finish(writer, NULL), SL_OK);
        assert_int_equal(sl_writer_finish(writer, NULL), SL_ERR_ARG);
        sl_writer_free(writer);
        fclose(file);
        free(rows);
    }
    sl_writer_free(NULL);
}

/* A page given up half-way: nothing to see here but a leak, which the sanitizers would tell. */
static void a_writer_may_be_freed_at_any_time(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(formats); i++)
        for (size_t given = 0; given < 500; given += 83) {
            const sl_encode_params p = page_params(formats[i], 300, 500, 3, 8);
            const sl_page_info info = page_info(300);
            unsigned char *rows = page_rows(&p, 0);
            FILE *file = tmpfile();
            sl_writer *writer = NULL;

            assert_non_null(file);
            assert_int_equal(sl_writer_new(&writer, file, &p, &info, NULL), SL_OK);
            assert_int_equal(sl_writer_rows(writer, rows, given, row_bytes(&p), NULL), SL_OK);
            sl_writer_free(writer);
            fclose(file);
            free(rows);
        }
}

/*
 * TIFF 6.0 begins "II", 42; BigTIFF (libtiff's design note) "II", 43. Only the head of such a file
 * is written here. LZW may make a file half as large again.
 */
static void tiff_becomes_big_before_it_is_too_large(void **state)
{
    static const struct big { size_t height; sl_compression compression; int version; } cases[] = {
        { 41000, SL_DEFLATE, 42 },        { 43000, SL_DEFLATE, 43 },
        { 27000, SL_LZW, 42 },            { 29000, SL_LZW, 43 },
        { 41000, SL_NO_COMPRESSION, 42 }, { 43000, SL_NO_COMPRESSION, 43 },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        sl_encode_params p = page_params(SL_FORMAT_TIFF, 100000, cases[i].height, 1, 8);
        const sl_page_info info = page_info(300);
        FILE *file = tmpfile();
        sl_writer *writer = NULL;
        unsigned char head[4] = { 0 };

        assert_non_null(file);
        p.compression = cases[i].compression;
        assert_int_equal(sl_writer_new(&writer, file, &p, &info, NULL), SL_OK);
        rewind(file);
        assert_int_equal(fread(head, 1, sizeof head, file), sizeof head);
        if (memcmp(head, "II", 2) != 0 || head[2] != cases[i].version || head[3] != 0)
            fail_msg("%zu rows, compression %d: begins %02x %02x %02x %02x", cases[i].height,
                     (int)p.compression, head[0], head[1], head[2], head[3]);
        sl_writer_free(writer);
        fclose(file);
    }
}

/* ---- disks that are full, files that are closed ---------------------------------------------- */

static void assert_cannot_write(const char *name, FILE *file, const sl_encode_params *p,
                                sl_status want)
{
    const sl_page_info info = page_info(300);
    sl_error err = { SL_OK, NULL, "" };
    const sl_status st = write_page(file, p, &info, 16, 0, &err);

    if (st != want || err.status != want || err.detail[0] == '\0')
        fail_msg("%s, format %d, compression %d: status %d, '%s'", name, (int)p->format,
                 (int)p->compression, (int)st, err.detail);
    assert_int_equal(write_page(file, p, &info, 16, 0, NULL) != SL_OK, 1);
}

/* Every format, small (all fails at the last flush) and large (fails among the rows). */
static const sl_encode_params full_cases[] = {
    { SL_FORMAT_TIFF, 20, 20, 3, 8, 95, SL_DEFLATE },
    { SL_FORMAT_TIFF, 900, 900, 3, 16, 95, SL_NO_COMPRESSION },
    { SL_FORMAT_TIFF, 900, 900, 1, 8, 95, SL_LZW },
    { SL_FORMAT_PNG, 20, 20, 3, 8, 95, SL_DEFLATE },
    { SL_FORMAT_PNG, 900, 900, 3, 16, 95, SL_DEFLATE },
    { SL_FORMAT_JPEG, 20, 20, 3, 8, 95, SL_DEFLATE },
    { SL_FORMAT_JPEG, 900, 900, 3, 8, 100, SL_DEFLATE },
};

/* /dev/full (Linux): every write fails with ENOSPC. */
static void a_full_disk_is_told_as_such(void **state)
{
    (void)state;
    if (access("/dev/full", W_OK) != 0) {
        printf("missing: /dev/full\n");
        skip();
    }
    for (size_t i = 0; i < COUNT(full_cases); i++) {
        FILE *file = fopen("/dev/full", "w+b");

        assert_non_null(file);
        assert_cannot_write("/dev/full", file, &full_cases[i], SL_ERR_SPACE);
        fclose(file);
    }
}

/* A limit in the middle of the file: what went well before must not hide what did not. */
static void a_disk_that_fills_up_on_the_way_is_told(void **state)
{
    static const rlim_t limits[] = { 1, 1000, 5000, 70000 };
    struct rlimit old;

    (void)state;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &old), 0);
    (void)signal(SIGXFSZ, SIG_IGN);
    for (size_t i = 0; i < COUNT(full_cases); i++)
        for (size_t k = 0; k < COUNT(limits); k++) {
            const struct rlimit small = { limits[k], old.rlim_max };
            const sl_page_info info = page_info(300);
            blob whole = encoded(&full_cases[i], &info, 16, 0);
            const bool fits = whole.size <= limits[k];
            sl_error err = { SL_OK, NULL, "" };
            FILE *file = tmpfile();
            sl_status st;

            free(whole.data);
            assert_non_null(file);
            assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
            st = write_page(file, &full_cases[i], &info, 16, 0, &err);
            fclose(file);
            assert_int_equal(setrlimit(RLIMIT_FSIZE, &old), 0);
            if (st != (fits ? SL_OK : SL_ERR_SPACE))
                fail_msg("case %zu, limit %lu: status %d, '%s'", i, (unsigned long)limits[k],
                         (int)st, err.detail);
        }
    (void)signal(SIGXFSZ, SIG_DFL);
}

/* A descriptor closed under the file, and a file opened for reading only: EBADF. */
static void a_file_that_takes_no_bytes_is_an_io_error(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(full_cases); i++) {
        FILE *file = tmpfile();
        const int spare = open("/dev/null", O_RDONLY);

        assert_non_null(file);
        assert_true(spare >= 0);
        assert_int_equal(dup2(spare, fileno(file)), fileno(file));
        assert_cannot_write("read-only descriptor", file, &full_cases[i], SL_ERR_IO);
        close(spare);
        fclose(file);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(jfif_comes_first_with_the_published_bytes),
        cmocka_unit_test(exif_then_xmp_then_icc_follow_jfif),
        cmocka_unit_test(colour_is_kept_at_full_resolution),
        cmocka_unit_test(a_long_profile_is_split_and_whole),
        cmocka_unit_test(phys_has_the_published_bytes_or_is_absent),
        cmocka_unit_test(a_png_says_its_colours_once),
        cmocka_unit_test(portions_and_padding_do_not_show),
        cmocka_unit_test(any_name_of_a_shot_is_written),
        cmocka_unit_test(what_a_format_cannot_hold_is_refused),
        cmocka_unit_test(a_density_or_profile_that_no_file_can_hold_is_refused),
        cmocka_unit_test(rows_are_counted),
        cmocka_unit_test(a_writer_may_be_freed_at_any_time),
        cmocka_unit_test(tiff_becomes_big_before_it_is_too_large),
        cmocka_unit_test(a_full_disk_is_told_as_such),
        cmocka_unit_test(a_disk_that_fills_up_on_the_way_is_told),
        cmocka_unit_test(a_file_that_takes_no_bytes_is_an_io_error),
    };

    return cmocka_run_group_tests_name("encode", tests, NULL, NULL);
}
