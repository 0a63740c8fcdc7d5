/* What files say of their pictures, decoded: Exif tags, dates and colour profiles. */
#include "support/pictures.h"

#include "decode/exif.h"
#include "squareleaf.h"

static sl_shot *decode(const char *name, bytes file)
{
    sl_shot *shot = NULL;
    sl_error err = { 0 };

    if (sl_shot_decode(&shot, file.data, file.size, NULL, &err) != SL_OK)
        fail_msg("%s: %s", name, err.detail);
    return shot;
}

/* ---- tags ------------------------------------------------------------------------------------ */

static void check_tags(const char *name, const sl_exif *got)
{
    if (got->focal_mm != 35.5 || got->digital_zoom != 1.25 || got->focal_35mm != 53.0
        || got->pixel_x != 6000 || got->pixel_y != 4000)
        fail_msg("%s: focal %g, zoom %g, 35 mm %g, %zu x %zu", name, got->focal_mm,
                 got->digital_zoom, got->focal_35mm, got->pixel_x, got->pixel_y);
    assert_string_equal(got->date, "2021:07:31 23:59:58");
    assert_string_equal(got->make, "Makerof things");
    assert_string_equal(got->model, "Model 1");
}

static void tags_are_read_from_every_format(void **state)
{
    const exif_tags tags = { .orientation = 1, .make = "Maker\tof things ", .model = "Model 1",
                             .date = "2021:07:31 23:59:58", .focal = { 71, 2 },
                             .zoom = { 5, 4 }, .focal_35mm = 53, .pixel_x = 6000,
                             .pixel_y = 4000 };

    (void)state;
    for (int big = 0; big < 2; big++) {
        exif_tags these = tags;
        bytes exif;
        bytes files[3];

        these.big_endian = big;
        exif = make_exif(&these);
        files[0] = make_jpeg(&(jpeg_options){ .width = 9, .height = 9, .channels = 1,
                                              .exif = exif });
        files[1] = make_png(&(png_options){ .width = 9, .height = 9, .bits = 8, .exif = exif });
        files[2] = make_tiff(&(tiff_options){ .width = 9, .height = 9, .bits = 8, .samples = 1,
                                              .photometric = PHOTOMETRIC_MINISBLACK,
                                              .compression = COMPRESSION_NONE, .with_exif = 1,
                                              .mode = big ? "wb" : "wl" });
        for (size_t i = 0; i < 3; i++) {
            static const char *const names[] = { "JPEG", "PNG", "TIFF" };
            sl_shot *shot = decode(names[i], files[i]);

            check_tags(names[i], &shot->exif);
            sl_shot_free(shot);
            free(files[i].data);
        }
        free(exif.data);
    }
}

/* Every length of a file's head, fewer of the rest, and the whole. */
static size_t next_size(size_t size, size_t all)
{
    if (size >= all)
        return size + 1;
    size = size == all / 2 || size < 600 ? size + 1 : size + 97;
    return size > all ? all : size < all / 2 && size + 97 > all / 2 ? all / 2 : size;
}

/* The date without the picture: from whole files, and of what is left of cut ones no crash. */
static void date_needs_no_picture(void **state)
{
    const exif_tags tags = { .orientation = 1, .date = "2021:07:31 23:59:58" };

    (void)state;
    for (int kind = 0; kind < 6; kind++) {
        exif_tags these = tags;
        bytes exif;
        bytes file;
        char date[20];

        these.big_endian = kind % 2;
        exif = make_exif(&these);
        if (kind < 2)
            file = make_jpeg(&(jpeg_options){ .width = 90, .height = 90, .channels = 3,
                                              .exif = exif });
        else if (kind < 4)
            file = make_png(&(png_options){ .width = 90, .height = 90, .bits = 8,
                                            .exif = exif, .exif_last = kind % 2 });
        else
            file = make_tiff(&(tiff_options){ .width = 9, .height = 9, .bits = 8, .samples = 1,
                                              .photometric = PHOTOMETRIC_MINISBLACK,
                                              .compression = COMPRESSION_NONE, .with_exif = 1,
                                              .mode = kind % 2 ? "wb" : "wl" });
        for (size_t size = 0; size <= file.size; size = next_size(size, file.size)) {
            FILE *f = tmpfile();

            assert_non_null(f);
            assert_int_equal(fwrite(file.data, 1, size, f), size);
            sl_shot_date(date, f);
            (void)fclose(f);
            if (date[0] != '\0' && strcmp(date, tags.date) != 0)
                fail_msg("kind %d, %zu of %zu bytes: '%s'", kind, size, file.size, date);
            /* a JPEG's tags are at its head: half of the file is enough */
            if (kind < 2 && size == file.size / 2)
                assert_string_equal(date, tags.date);
        }
        if (strcmp(date, tags.date) != 0)
            fail_msg("kind %d: '%s'", kind, date);
        free(exif.data);
        free(file.data);
    }
}

static void lying_tags_are_left_out(void **state)
{
    const exif_tags tags = { .orientation = 9, .make = "\x01\x7F  \n", .model = "",
                             .date = "    :  :     :  :  ", .focal = { 35, 0 },
                             .zoom = { 0, 0 } };
    bytes block = make_exif(&tags);
    sl_exif exif = { .orientation = 1 };
    sl_exif before;

    (void)state;
    sl_exif_read(&exif, block.data, block.size);
    assert_int_equal(exif.orientation, 1);
    assert_true(exif.focal_mm == 0.0 && exif.digital_zoom == 0.0 && exif.focal_35mm == 0.0);
    assert_string_equal(exif.date, "");
    assert_string_equal(exif.make, "");
    assert_string_equal(exif.model, "");

    sl_exif_date(exif.date, "0000:00:00 00:00:00", 19);
    assert_string_equal(exif.date, "");
    sl_exif_date(exif.date, "2021:07:31", 10);
    assert_string_equal(exif.date, "");
    before = exif;
    sl_exif_number(&exif.focal_mm, 0.0 / (double)exif.pixel_x);  /* not a number */
    sl_exif_number(&exif.focal_mm, -1.0);
    sl_exif_number(&exif.focal_mm, 1e9);
    assert_true(exif.focal_mm == before.focal_mm);
    free(block.data);
}

static void long_text_is_cut_whole(void **state)
{
    char text[8];

    (void)state;
    sl_exif_text(text, sizeof text, "abcdefghij", 10);
    assert_string_equal(text, "abcdefg");
    sl_exif_text(text, sizeof text, "ab\0cd", 5);
    assert_string_equal(text, "ab");
    sl_exif_text(text, sizeof text, " a b ", 5);
    assert_string_equal(text, "a b");
    sl_exif_text(text, sizeof text, "", 0);
    assert_string_equal(text, "");
}

/* ---- profiles -------------------------------------------------------------------------------- */

/*
 * What the header of a profile must hold by ICC.1:2022 7.2 and libpng's checks; the body is a
 * single tag whose data is never looked at here.
 */
static bytes make_profile(const char *space, size_t size)
{
    bytes p = { calloc(size, 1), size };
    static const unsigned char d50[] = { 0, 0, 0xF6, 0xD6, 0, 1, 0, 0, 0, 0, 0xD3, 0x2D };

    assert_non_null(p.data);
    for (unsigned i = 0; i < 4; i++)
        p.data[i] = (unsigned char)(size >> 8 * (3 - i));
    p.data[8] = 2;
    memcpy(p.data + 12, "mntr", 4);
    memcpy(p.data + 16, space, 4);
    memcpy(p.data + 20, "XYZ ", 4);
    memcpy(p.data + 36, "acsp", 4);
    memcpy(p.data + 68, d50, sizeof d50);
    p.data[131] = 1;                         /* tags */
    memcpy(p.data + 132, "desc", 4);
    p.data[139] = 144;                       /* offset */
    p.data[143] = 4;                         /* size */
    for (size_t i = 148; i < size; i++)
        p.data[i] = (unsigned char)(i * 31 + (i >> 8));
    return p;
}

static void profiles_are_kept_whole(void **state)
{
    /* 150,000 bytes are three APP2 segments. */
    static const struct { const char *space; size_t size; int grey; bool kept; } cases[] = {
        { "RGB ", 400, 0, true }, { "RGB ", 150000, 0, true }, { "GRAY", 400, 1, true },
        { "GRAY", 400, 0, false }, { "RGB ", 400, 1, false }, { "CMYK", 400, 0, false },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        bytes p = make_profile(cases[i].space, cases[i].size);
        bytes files[3];

        files[0] = make_jpeg(&(jpeg_options){ .width = 4, .height = 4,
                                              .channels = cases[i].grey ? 1 : 3, .icc = p.data,
                                              .icc_size = (unsigned)p.size });
        files[1] = make_tiff(&(tiff_options){ .width = 4, .height = 4, .bits = 8,
                                              .samples = cases[i].grey ? 1 : 3,
                                              .photometric = cases[i].grey
                                                  ? PHOTOMETRIC_MINISBLACK : PHOTOMETRIC_RGB,
                                              .compression = COMPRESSION_NONE, .icc = p.data,
                                              .icc_size = (unsigned)p.size });
        /* libpng would not write the misfits. */
        files[2] = make_png(&(png_options){ .width = 4, .height = 4, .bits = 8,
                                            .kind = cases[i].grey ? PNG_COLOR_TYPE_GRAY
                                                                  : PNG_COLOR_TYPE_RGB,
                                            .icc = p.data,
                                            .icc_size = cases[i].kept ? (unsigned)p.size : 0 });
        for (size_t f = 0; f < 3; f++) {
            sl_shot *shot = decode("profile", files[f]);

            if (cases[i].kept) {
                if (shot->icc_size != p.size)
                    fail_msg("file %zu: %zu bytes of profile, expected %zu", f, shot->icc_size,
                             p.size);
                assert_memory_equal(shot->icc, p.data, p.size);
            } else {
                assert_null(shot->icc);
                assert_int_equal(shot->icc_size, 0);
            }
            sl_shot_free(shot);
            free(files[f].data);
        }
        free(p.data);
    }
}

/* Offset of the n-th APP2 of a JPEG; the file has one. */
static size_t find_app2(bytes file, unsigned n)
{
    size_t at = 2;

    for (;;) {
        const size_t length = (size_t)file.data[at + 2] << 8 | file.data[at + 3];

        assert_int_equal(file.data[at], 0xFF);
        if (file.data[at + 1] == 0xE2 && n-- == 0)
            return at;
        at += 2 + length;
        assert_true(at + 4 < file.size);
    }
}

/* ICC.1:2022 B.4: chunks count from 1 and all give the same total; they may come in any order. */
static void jpeg_profile_chunks(void **state)
{
    static const struct { const char *name; int chunk; int field; unsigned char value; bool kept; }
        cases[] = {
        { "as written", -1, 0, 0, true },
        { "first and second exchanged", -2, 0, 0, true },
        { "number 0", 0, 0, 0, false },
        { "number twice", 1, 0, 1, false },
        { "number above the total", 2, 0, 9, false },
        { "totals differ", 1, 1, 2, false },
        { "total 0", 0, 1, 0, false },
    };
    bytes p = make_profile("RGB ", 150000);
    const jpeg_options o = { .width = 4, .height = 4, .channels = 3, .icc = p.data,
                             .icc_size = (unsigned)p.size };
    enum { CHUNK = 2 + 65535, NUMBER = 16 };     /* marker and segment; sequence number's place */

    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        bytes file = make_jpeg(&o);
        sl_shot *shot;

        if (cases[i].chunk >= 0) {
            file.data[find_app2(file, (unsigned)cases[i].chunk) + NUMBER
                      + (size_t)cases[i].field] = cases[i].value;
        } else if (cases[i].chunk == -2) {
            unsigned char *first = file.data + find_app2(file, 0);
            unsigned char *copy = malloc(CHUNK);

            assert_ptr_equal(first + CHUNK, file.data + find_app2(file, 1));
            memcpy(copy, first, CHUNK);
            memcpy(first, first + CHUNK, CHUNK);
            memcpy(first + CHUNK, copy, CHUNK);
            free(copy);
        }
        shot = decode(cases[i].name, file);
        if ((shot->icc != NULL) != cases[i].kept)
            fail_msg("%s: profile of %zu bytes", cases[i].name, shot->icc_size);
        if (cases[i].kept)
            assert_memory_equal(shot->icc, p.data, p.size);
        sl_shot_free(shot);
        free(file.data);
    }
    free(p.data);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tags_are_read_from_every_format),
        cmocka_unit_test(date_needs_no_picture),
        cmocka_unit_test(lying_tags_are_left_out),
        cmocka_unit_test(long_text_is_cut_whole),
        cmocka_unit_test(profiles_are_kept_whole),
        cmocka_unit_test(jpeg_profile_chunks),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
