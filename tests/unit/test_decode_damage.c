/*
 * Damaged and hostile files: cut short at every byte, every byte changed, bits flipped. Each
 * ends in an error that says what to do, or in the intact picture; never in half a picture.
 */
#include "support/pictures.h"

#include "decode/exif.h"
#include "squareleaf.h"

/* ---- the files ------------------------------------------------------------------------------- */

typedef struct sample_file {
    const char *name;
    bytes       file;
} sample_file;

enum { FILES = 11 };

static void make_files(sample_file to[FILES])
{
    const exif_tags tags = { .orientation = 6, .make = "Maker", .model = "Model",
                             .date = "2021:07:31 23:59:58", .focal = { 50, 1 },
                             .zoom = { 1, 1 }, .focal_35mm = 50 };
    bytes exif = make_exif(&tags);
    const jpeg_options jpeg = { .width = 19, .height = 17, .channels = 3, .exif = exif };
    jpeg_options scans = jpeg;
    jpeg_options restarts = jpeg;
    const png_options png = { .width = 9, .height = 7, .kind = PNG_COLOR_TYPE_RGB, .bits = 8,
                              .exif = exif };
    png_options woven = png;
    png_options palette = png;
    const tiff_options tiff = { .width = 13, .height = 11, .bits = 8, .samples = 3,
                                .photometric = PHOTOMETRIC_RGB,
                                .compression = COMPRESSION_NONE };
    tiff_options tiles = tiff;
    tiff_options planes = tiff;
    tiff_options coded = tiff;
    tiff_options fax = tiff;
    tiff_options big = tiff;
    size_t n = 0;

    scans.progressive = 1;
    restarts.restart_rows = 1;
    woven.interlaced = 1;
    woven.kind = PNG_COLOR_TYPE_GRAY_ALPHA;
    woven.bits = 16;
    palette.kind = PNG_COLOR_TYPE_PALETTE;
    palette.bits = 2;
    palette.transparent = 1;
    tiles.tile = 16;
    tiles.compression = COMPRESSION_LZW;
    planes.planar = 1;
    planes.bits = 16;
    planes.compression = COMPRESSION_PACKBITS;
    coded.compression = COMPRESSION_ADOBE_DEFLATE;
    coded.with_exif = 1;
    coded.pages = 1;
    fax.bits = 1;
    fax.samples = 1;
    fax.photometric = PHOTOMETRIC_MINISWHITE;
    fax.compression = COMPRESSION_CCITTFAX4;
    big.mode = "wb8";
    big.photometric = PHOTOMETRIC_CIELAB;

    to[n++] = (sample_file){ "JPEG", make_jpeg(&jpeg) };
    to[n++] = (sample_file){ "progressive JPEG", make_jpeg(&scans) };
    to[n++] = (sample_file){ "JPEG with restarts", make_jpeg(&restarts) };
    to[n++] = (sample_file){ "PNG", make_png(&png) };
    to[n++] = (sample_file){ "interlaced PNG", make_png(&woven) };
    to[n++] = (sample_file){ "palette PNG", make_png(&palette) };
    to[n++] = (sample_file){ "TIFF tiles, LZW", make_tiff(&tiles) };
    to[n++] = (sample_file){ "TIFF planes, PackBits", make_tiff(&planes) };
    to[n++] = (sample_file){ "TIFF with tags and pages, Deflate", make_tiff(&coded) };
    to[n++] = (sample_file){ "TIFF fax", make_tiff(&fax) };
    to[n++] = (sample_file){ "BigTIFF L*a*b*", make_tiff(&big) };
    assert_int_equal(n, FILES);
    free(exif.data);
}

static void free_files(sample_file files[FILES])
{
    for (size_t i = 0; i < FILES; i++)
        free(files[i].file.data);
}

static bool same_pixels(const sl_shot *a, const sl_shot *b)
{
    const sl_image *x = a->image;
    const sl_image *y = b->image;

    return x->width == y->width && x->height == y->height && x->stride == y->stride
           && memcmp(x->data, y->data, x->stride * x->height) == 0;
}

/* Decodes a copy that is as long as it says, so that a sanitizer sees a byte too many. */
static sl_status decode_copy(sl_shot **shot, const unsigned char *data, size_t size,
                             const sl_decode_params *params, sl_error *err)
{
    unsigned char *copy = malloc(size > 0 ? size : 1);
    sl_status st;

    assert_non_null(copy);
    memcpy(copy, data, size);
    *shot = NULL;
    st = sl_shot_decode(shot, copy, size, params, err);
    assert_true((st == SL_OK) == (*shot != NULL));
    free(copy);
    return st;
}

/* ---- damage ---------------------------------------------------------------------------------- */

static void cut_at_every_byte(void **state)
{
    sample_file files[FILES];

    (void)state;
    make_files(files);
    for (size_t i = 0; i < FILES; i++) {
        const bytes file = files[i].file;
        sl_shot *whole;
        sl_shot *shot;
        sl_error err = { 0 };

        if (decode_copy(&whole, file.data, file.size, NULL, &err) != SL_OK)
            fail_msg("%s: %s", files[i].name, err.detail);
        for (size_t size = 0; size < file.size; size++) {
            const sl_status st = decode_copy(&shot, file.data, size, NULL, &err);

            if (st == SL_OK) {
                if (!same_pixels(shot, whole))
                    fail_msg("%s cut at %zu of %zu bytes: another picture", files[i].name,
                             size, file.size);
            } else if (st != SL_ERR_FORMAT || strstr(err.detail, "copy it again") == NULL) {
                fail_msg("%s cut at %zu: status %d, '%s'", files[i].name, size, (int)st,
                         err.detail);
            }
            sl_shot_free(shot);
        }
        sl_shot_free(whole);
    }
    free_files(files);
}

/*
 * Every byte, so every header field, set to its extremes and neighbours. The picture may then
 * be another one; it must be one within the limits, and nothing may crash, hang or leak.
 */
static void every_byte_changed(void **state)
{
    const sl_decode_params limits = { .max_pixels = 1000000, .max_memory = 30000000,
                                      .max_scans = 50 };
    sample_file files[FILES];

    (void)state;
    make_files(files);
    for (size_t i = 0; i < FILES; i++) {
        bytes file = files[i].file;

        for (size_t at = 0; at < file.size; at++) {
            const unsigned char old = file.data[at];
            const unsigned char values[] = { 0, 1, 0x7F, 0x80, 0xFF, (unsigned char)(old + 1),
                                             (unsigned char)(old - 1),
                                             (unsigned char)(old ^ 0x10) };

            for (size_t v = 0; v < COUNT(values); v++) {
                sl_shot *shot;
                sl_error err = { 0 };

                file.data[at] = values[v];
                if (decode_copy(&shot, file.data, file.size, &limits, &err) == SL_OK) {
                    assert_true(shot->image->width * shot->image->height <= 1000000);
                    assert_true(shot->exif.orientation >= 1 && shot->exif.orientation <= 8);
                } else if (err.detail[0] == '\0' || err.status == SL_ERR_ARG) {
                    fail_msg("%s, byte %zu = %u: status %d, '%s'", files[i].name, at, values[v],
                             (int)err.status, err.detail);
                }
                sl_shot_free(shot);
            }
            file.data[at] = old;
        }
    }
    free_files(files);
}

/* PNG carries a check sum for every byte: no change at all can go by. */
static void no_changed_png_passes(void **state)
{
    const png_options o = { .width = 9, .height = 7, .kind = PNG_COLOR_TYPE_RGB, .bits = 8 };
    bytes file = make_png(&o);

    (void)state;
    for (size_t at = 0; at < file.size; at++)
        for (unsigned bit = 0; bit < 8; bit++) {
            sl_shot *shot;

            file.data[at] ^= (unsigned char)(1u << bit);
            if (decode_copy(&shot, file.data, file.size, NULL, NULL) == SL_OK)
                fail_msg("bit %u of byte %zu changed", bit, at);
            file.data[at] ^= (unsigned char)(1u << bit);
        }
    free(file.data);
}

/* ---- what libjpeg only warns of -------------------------------------------------------------- */

/* Offset of the first marker `code` at or after `from`. */
static size_t find_marker(bytes file, unsigned char code, size_t from)
{
    for (size_t at = from; at + 1 < file.size; at++)
        if (file.data[at] == 0xFF && file.data[at + 1] == code)
            return at;
    fail_msg("no marker %02X", code);
    return 0;
}

static void bytes_before_a_marker(void **state)
{
    static const unsigned char junk[64] = { 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15,
                                            16, 17, 18, 19, 20 };
    static const unsigned char zeros[64];
    static const struct { const char *name; unsigned char marker; bool zero; size_t count;
                          sl_status want; } cases[] = {
        { "padding before the end", 0xD9, false, 3, SL_OK },
        { "left-over data before the end", 0xD9, false, 20, SL_ERR_FORMAT },
        { "zeros before the end", 0xD9, true, 64, SL_OK },
        { "left-over data before a restart", 0xD1, false, 20, SL_ERR_FORMAT },
        { "junk before a table", 0xC4, false, 20, SL_OK },
    };
    const jpeg_options o = { .width = 40, .height = 64, .channels = 3, .restart_rows = 1 };
    bytes whole = make_jpeg(&o);
    sl_shot *want;

    (void)state;
    assert_int_equal(decode_copy(&want, whole.data, whole.size, NULL, NULL), SL_OK);
    for (size_t i = 0; i < COUNT(cases); i++) {
        bytes file = { NULL, 0 };
        sl_shot *shot;
        sl_error err = { 0 };
        sl_status st;

        bytes_append(&file, whole.data, whole.size);
        bytes_insert(&file, find_marker(file, cases[i].marker, 20),
                     cases[i].zero ? zeros : junk, cases[i].count);
        st = decode_copy(&shot, file.data, file.size, NULL, &err);
        if (st != cases[i].want)
            fail_msg("%s: status %d, %s", cases[i].name, (int)st, err.detail);
        if (st == SL_OK)
            assert_true(same_pixels(shot, want));
        sl_shot_free(shot);
        free(file.data);
    }
    sl_shot_free(want);
    free(whole.data);
}

/* A row of blocks lost in the middle: the rest would be shifted or grey. */
static void lost_restart_interval(void **state)
{
    const jpeg_options o = { .width = 40, .height = 64, .channels = 3, .restart_rows = 1 };
    bytes file = make_jpeg(&o);
    const size_t from = find_marker(file, 0xD0, 20);
    const size_t to = find_marker(file, 0xD1, 20);
    sl_shot *shot;

    (void)state;
    memmove(file.data + from, file.data + to, file.size - to);
    file.size -= to - from;
    assert_int_equal(decode_copy(&shot, file.data, file.size, NULL, NULL), SL_ERR_FORMAT);
    free(file.data);
}

/* ---- hostile TIFFs --------------------------------------------------------------------------- */

/* The value field of the first IFD's entry `tag`, little end first. */
static size_t find_tag(bytes file, unsigned tag)
{
    const size_t ifd = (size_t)file.data[4] | (size_t)file.data[5] << 8
                       | (size_t)file.data[6] << 16;
    const size_t count = (size_t)file.data[ifd] | (size_t)file.data[ifd + 1] << 8;

    for (size_t i = 0; i < count; i++) {
        const size_t at = ifd + 2 + 12 * i;

        if (((unsigned)file.data[at] | (unsigned)file.data[at + 1] << 8) == tag)
            return at + 8;
    }
    fail_msg("no tag %u", tag);
    return 0;
}

static void put32(bytes file, size_t at, uint32_t value)
{
    for (unsigned i = 0; i < 4; i++)
        file.data[at + i] = (unsigned char)(value >> 8 * i);
}

/* Data that ends early in a file that is whole: some codecs fill in, and only warn. */
static void tiff_data_cut_short(void **state)
{
    static const struct { const char *name; unsigned codec, bits; } codecs[] = {
        { "none", COMPRESSION_NONE, 8 }, { "LZW", COMPRESSION_LZW, 8 },
        { "Deflate", COMPRESSION_ADOBE_DEFLATE, 8 }, { "PackBits", COMPRESSION_PACKBITS, 8 },
        { "JPEG", COMPRESSION_JPEG, 8 }, { "fax 3", COMPRESSION_CCITTFAX3, 1 },
        { "fax 4", COMPRESSION_CCITTFAX4, 1 },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(codecs); i++) {
        const tiff_options o = { .width = 32, .height = 32, .bits = codecs[i].bits, .samples = 1,
                                 .tile = 32, .photometric = PHOTOMETRIC_MINISBLACK,
                                 .compression = codecs[i].codec };
        bytes file = make_tiff(&o);
        const size_t at = find_tag(file, TIFFTAG_TILEBYTECOUNTS);
        const unsigned whole = (unsigned)file.data[at] | (unsigned)file.data[at + 1] << 8;
        unsigned refused = 0;
        sl_shot *want;
        sl_shot *shot;
        sl_error err = { 0 };

        assert_int_equal(decode_copy(&want, file.data, file.size, NULL, NULL), SL_OK);
        for (unsigned size = 1; size < whole; size++) {
            put32(file, at, size);
            if (decode_copy(&shot, file.data, file.size, NULL, &err) == SL_OK) {
                if (!same_pixels(shot, want))
                    fail_msg("%s: %u of %u bytes: another picture", codecs[i].name, size,
                             whole);
            } else {
                assert_int_equal(err.status, SL_ERR_FORMAT);
                refused++;
            }
            sl_shot_free(shot);
        }
        if (refused * 10 < whole * 8)
            fail_msg("%s: %u of %u refused", codecs[i].name, refused, whole);
        sl_shot_free(want);
        free(file.data);
    }
}

static void tiff_fields_at_their_extremes(void **state)
{
    static const unsigned tags[] = { TIFFTAG_IMAGEWIDTH, TIFFTAG_IMAGELENGTH,
                                     TIFFTAG_BITSPERSAMPLE, TIFFTAG_SAMPLESPERPIXEL,
                                     TIFFTAG_COMPRESSION, TIFFTAG_PHOTOMETRIC,
                                     TIFFTAG_PLANARCONFIG, TIFFTAG_TILEWIDTH,
                                     TIFFTAG_TILELENGTH, TIFFTAG_TILEOFFSETS,
                                     TIFFTAG_TILEBYTECOUNTS };
    static const uint32_t values[] = { 0, 1, 2, 3, 5, 7, 15, 17, 31, 64, 255, 32767, 32768, 65520,
                                       65535, 0x7FFFFFFF, 0x80000000, 0xFFFFFFF0, 0xFFFFFFFF };
    const tiff_options o = { .width = 16, .height = 16, .bits = 8, .samples = 1, .tile = 16,
                             .photometric = PHOTOMETRIC_MINISBLACK,
                             .compression = COMPRESSION_LZW };
    const sl_decode_params limits = { .max_pixels = 4000000, .max_memory = 50000000,
                                      .max_scans = 50 };
    bytes file = make_tiff(&o);

    (void)state;
    for (size_t t = 0; t < COUNT(tags); t++)
        for (size_t v = 0; v < COUNT(values); v++) {
            const size_t at = find_tag(file, tags[t]);
            unsigned char old[6];
            sl_shot *shot;
            sl_error err = { 0 };

            /* As LONG, whatever type it was. */
            memcpy(old, file.data + at - 6, 2);
            memcpy(old + 2, file.data + at, 4);
            file.data[at - 6] = 4;
            put32(file, at, values[v]);
            if (decode_copy(&shot, file.data, file.size, &limits, &err) == SL_ERR_ARG)
                fail_msg("tag %u = %u: %s", tags[t], values[v], err.detail);
            if (shot != NULL)
                assert_true(shot->image->width * shot->image->height <= limits.max_pixels);
            sl_shot_free(shot);
            memcpy(file.data + at - 6, old, 2);
            memcpy(file.data + at, old + 2, 4);
        }
    free(file.data);
}

static void tiff_pages_in_a_circle(void **state)
{
    const tiff_options o = { .width = 6, .height = 6, .bits = 8, .samples = 1,
                             .photometric = PHOTOMETRIC_MINISBLACK,
                             .compression = COMPRESSION_NONE };
    bytes file = make_tiff(&o);
    const size_t ifd = (size_t)file.data[4] | (size_t)file.data[5] << 8;
    const size_t count = file.data[ifd];
    sl_shot *shot;

    (void)state;
    put32(file, ifd + 2 + 12 * count, (uint32_t)ifd);    /* the next page is this one */
    assert_int_equal(decode_copy(&shot, file.data, file.size, NULL, NULL), SL_OK);
    /* The broken chain counts as one page more, so that someone looks. */
    assert_int_equal(shot->images, 2);
    sl_shot_free(shot);
    free(file.data);
}

static void tiff_tile_far_larger_than_its_picture(void **state)
{
    const tiff_options o = { .width = 16, .height = 16, .bits = 8, .samples = 1, .tile = 16,
                             .photometric = PHOTOMETRIC_MINISBLACK,
                             .compression = COMPRESSION_LZW };
    bytes file = make_tiff(&o);
    sl_shot *shot;
    sl_error err = { 0 };

    (void)state;
    for (int i = 0; i < 2; i++) {
        const size_t at = find_tag(file, i ? TIFFTAG_TILELENGTH : TIFFTAG_TILEWIDTH);

        file.data[at - 6] = 4;
        put32(file, at, 1u << 20);
    }
    assert_int_equal(decode_copy(&shot, file.data, file.size, NULL, &err), SL_ERR_LIMIT);
    assert_non_null(strstr(err.detail, "1048576 x 1048576"));
    free(file.data);
}

static void camera_raw_in_a_tiff_is_named(void **state)
{
    const tiff_options o = { .width = 16, .height = 16, .bits = 16, .samples = 1,
                             .photometric = PHOTOMETRIC_MINISBLACK,
                             .compression = COMPRESSION_NONE };
    bytes file = make_tiff(&o);
    sl_shot *shot;
    sl_error err = { 0 };

    (void)state;
    put32(file, find_tag(file, TIFFTAG_PHOTOMETRIC), 32803);    /* colour filter array, TIFF/EP */
    assert_int_equal(decode_copy(&shot, file.data, file.size, NULL, &err), SL_ERR_UNSUPPORTED);
    assert_non_null(strstr(err.detail, "16-bit TIFF"));
    free(file.data);
}

/* ---- tags ------------------------------------------------------------------------------------ */

static void exif_blocks_cut_and_changed(void **state)
{
    const exif_tags tags = { .orientation = 6, .make = "Maker", .model = "Model",
                             .date = "2021:07:31 23:59:58", .focal = { 50, 1 },
                             .zoom = { 1, 1 } };
    bytes block = make_exif(&tags);

    (void)state;
    for (size_t size = 0; size <= block.size; size++) {
        sl_exif exif = { .orientation = 1 };
        unsigned char *copy = malloc(size + 1);

        memcpy(copy, block.data, size);
        sl_exif_read(&exif, copy, size);
        assert_true(exif.orientation == 1 || exif.orientation == 6);
        free(copy);
    }
    for (size_t at = 0; at < block.size; at++)
        for (unsigned value = 0; value < 256; value += 15) {
            const unsigned char old = block.data[at];
            sl_exif exif = { .orientation = 1 };

            block.data[at] = (unsigned char)value;
            sl_exif_read(&exif, block.data, block.size);
            assert_true(exif.orientation >= 1 && exif.orientation <= 8);
            assert_true(exif.focal_mm >= 0.0 && exif.focal_mm < 1e5);
            assert_true(memchr(exif.make, 0, sizeof exif.make) != NULL);
            assert_true(memchr(exif.model, 0, sizeof exif.model) != NULL);
            assert_true(exif.date[0] == 0 || strlen(exif.date) == 19);
            block.data[at] = old;
        }
    free(block.data);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cut_at_every_byte),
        cmocka_unit_test(every_byte_changed),
        cmocka_unit_test(no_changed_png_passes),
        cmocka_unit_test(bytes_before_a_marker),
        cmocka_unit_test(lost_restart_interval),
        cmocka_unit_test(tiff_data_cut_short),
        cmocka_unit_test(tiff_fields_at_their_extremes),
        cmocka_unit_test(tiff_pages_in_a_circle),
        cmocka_unit_test(tiff_tile_far_larger_than_its_picture),
        cmocka_unit_test(camera_raw_in_a_tiff_is_named),
        cmocka_unit_test(exif_blocks_cut_and_changed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
