/*
 * HEIF files made by libheif's own encoder, decoded: samples without loss, orientation once,
 * tags, colours by numbers, damage. In a build without libheif: that the program says so.
 */
#include "support/pictures.h"

#include "squareleaf.h"

#if !defined(SL_HEIF)

static void a_build_without_libheif_says_what_to_do(void **state)
{
    sl_shot *shot = NULL;
    sl_error err = { 0 };

    (void)state;
    assert_int_equal(sl_shot_decode(&shot, "\0\0\0\x18" "ftypheic\0\0\0\0", 16, NULL, &err),
                     SL_ERR_UNSUPPORTED);
    assert_non_null(strstr(err.detail, "convert it to JPEG"));
    assert_non_null(strstr(err.detail, "libheif"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_build_without_libheif_says_what_to_do),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}

#else

#include <libheif/heif.h>

/* x265 and libheif's encoder leak; the decoder's leaks show in inputs.sh, where none encodes. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libx265\nleak:libheif\n";
}

/* ---- making files ---------------------------------------------------------------------------- */

typedef struct heif_options {
    unsigned width;
    unsigned height;
    unsigned bits;           /* 8, 10 or 12 */
    int      alpha;
    unsigned orientation;    /* as irot and imir; 0: none */
    unsigned images;         /* beside the first */
    int      primaries;      /* of nclx, with transfer; 0: as libheif has it */
    int      transfer;
    bytes    icc;
    bytes    exif;           /* with its "Exif\0\0" */
} heif_options;

static void good(struct heif_error e)
{
    if (e.code != heif_error_Ok)
        fail_msg("libheif: %s", e.message);
}

static struct heif_error take(struct heif_context *context, const void *data, size_t size,
                              void *to)
{
    static const struct heif_error fine = { heif_error_Ok, heif_suberror_Unspecified, "" };

    (void)context;
    bytes_append(to, data, size);
    return fine;
}

static struct heif_image *draw(const heif_options *o)
{
    static const enum heif_channel plane[4] = { heif_channel_R, heif_channel_G, heif_channel_B,
                                                heif_channel_Alpha };
    struct heif_image *image = NULL;

    good(heif_image_create((int)o->width, (int)o->height, heif_colorspace_RGB, heif_chroma_444,
                           &image));
    for (unsigned c = 0; c < (o->alpha ? 4u : 3u); c++) {
        int stride;
        uint8_t *to;

        good(heif_image_add_plane(image, plane[c], (int)o->width, (int)o->height,
                                  (int)o->bits));
        to = heif_image_get_plane(image, plane[c], &stride);
        for (unsigned y = 0; y < o->height; y++)
            for (unsigned x = 0; x < o->width; x++) {
                const uint16_t v = (uint16_t)sample_at(x, y, c, o->bits);

                if (o->bits == 8)
                    to[y * (unsigned)stride + x] = (uint8_t)v;
                else
                    memcpy(to + y * (unsigned)stride + 2 * x, &v, 2);
            }
    }
    return image;
}

/* Without loss: RGB planes as they are (matrix 0), no subsampling. */
static bytes make_heif(const heif_options *o)
{
    struct heif_context *context = heif_context_alloc();
    struct heif_encoder *encoder = NULL;

    if (heif_context_get_encoder_for_format(context, heif_compression_HEVC, &encoder).code
        != heif_error_Ok) {
        printf("libheif with a HEVC encoder");
        skip();
    }

    struct heif_encoding_options *options = heif_encoding_options_alloc();
    struct heif_color_profile_nclx *nclx = heif_nclx_color_profile_alloc();
    struct heif_image_handle *handle = NULL;
    struct heif_image *image = draw(o);
    struct heif_writer writer = { 1, take };
    bytes file = { NULL, 0 };

    good(heif_encoder_set_lossless(encoder, 1));
    good(heif_encoder_set_parameter(encoder, "chroma", "444"));
    nclx->matrix_coefficients = heif_matrix_coefficients_RGB_GBR;
    nclx->full_range_flag = 1;
    if (o->primaries != 0) {
        good(heif_nclx_color_profile_set_color_primaries(nclx, (uint16_t)o->primaries));
        good(heif_nclx_color_profile_set_transfer_characteristics(nclx,
                                                                  (uint16_t)o->transfer));
    }
    good(heif_image_set_nclx_color_profile(image, nclx));
    options->output_nclx_profile = nclx;
    options->macOS_compatibility_workaround_no_nclx_profile = 0;
    if (o->orientation != 0)
        options->image_orientation = (enum heif_orientation)o->orientation;
    if (o->icc.size > 0) {
        good(heif_image_set_raw_color_profile(image, "prof", o->icc.data, o->icc.size));
        options->save_two_colr_boxes_when_ICC_and_nclx_available = 1;
    }
    good(heif_context_encode_image(context, image, encoder, options, &handle));
    if (o->exif.size > 6)
        good(heif_context_add_exif_metadata(context, handle, o->exif.data + 6,
                                            (int)o->exif.size - 6));
    for (unsigned i = 0; i < o->images; i++)
        good(heif_context_encode_image(context, image, encoder, options, NULL));
    good(heif_context_write(context, &writer, &file));
    heif_image_handle_release(handle);
    heif_image_release(image);
    heif_nclx_color_profile_free(nclx);
    heif_encoding_options_free(options);
    heif_encoder_release(encoder);
    heif_context_free(context);
    return file;
}

static sl_shot *decode(const char *name, bytes file)
{
    sl_shot *shot = NULL;
    sl_error err = { 0 };

    if (sl_shot_decode(&shot, file.data, file.size, NULL, &err) != SL_OK)
        fail_msg("%s: %s", name, err.detail);
    return shot;
}

static unsigned value_at(const sl_image *image, size_t x, size_t y, unsigned c)
{
    const unsigned char *row = image->data + y * image->stride;
    uint16_t wide;

    if (image->bits == 8)
        return row[3 * x + c];
    memcpy(&wide, row + 2 * (3 * x + c), 2);
    return wide;
}

/* ---- tests ----------------------------------------------------------------------------------- */

static void samples_arrive_as_written(void **state)
{
    static const struct { unsigned bits; int alpha; } kinds[] = { { 8, 0 }, { 10, 0 }, { 12, 0 },
                                                                  { 8, 1 }, { 10, 1 } };

    (void)state;
    for (size_t i = 0; i < COUNT(kinds); i++) {
        const unsigned max = (1u << kinds[i].bits) - 1;
        const unsigned full = kinds[i].bits == 8 ? 255 : 65535;
        const heif_options o = { .width = 67, .height = 66, .bits = kinds[i].bits,
                                 .alpha = kinds[i].alpha };
        bytes file = make_heif(&o);
        sl_shot *shot = decode("samples", file);

        assert_int_equal(shot->format, SL_FORMAT_HEIF);
        assert_int_equal(shot->images, 1);
        assert_int_equal(shot->image->width, 67);
        assert_int_equal(shot->image->height, 66);
        assert_int_equal(shot->image->channels, 3);
        assert_int_equal(shot->image->bits, full == 255 ? 8 : 16);
        assert_null(shot->icc);
        for (unsigned y = 0; y < 66; y++)
            for (unsigned x = 0; x < 67; x++)
                for (unsigned c = 0; c < 3; c++) {
                    const double a = kinds[i].alpha
                                         ? (double)sample_at(x, y, 3, kinds[i].bits) / max : 1;
                    const double v = (double)sample_at(x, y, c, kinds[i].bits) / max;
                    const double want = (v * a + 1 - a) * full;
                    const double got = value_at(shot->image, x, y, c);

                    /* mixed with white at the file's own depth, so half a step of that */
                    if (got < want - 0.51 * full / max || got > want + 0.51 * full / max
                        || (!kinds[i].alpha && (unsigned)got != (unsigned)(want + 0.5)))
                        fail_msg("%u bits, alpha %d: (%u,%u,%u) is %.0f, not %.2f", kinds[i].bits,
                                 kinds[i].alpha, x, y, c, got, want);
                }
        sl_shot_free(shot);
        free(file.data);
    }
}

/* The file's own rotation, and not the Exif tag that says the same again: 23008-12, annex A. */
static void orientation_is_applied_once(void **state)
{
    enum { W = 66, H = 68 };
    /* upright (x,y) shows stored (x,y) as below: TIFF 6.0, p. 36 */
    static const struct { int swap, from_right, from_bottom; } kind[9] = {
        { 0, 0, 0 }, { 0, 0, 0 }, { 0, 1, 0 }, { 0, 1, 1 }, { 0, 0, 1 },
        { 1, 0, 0 }, { 1, 0, 1 }, { 1, 1, 1 }, { 1, 1, 0 }
    };

    (void)state;
    for (unsigned orientation = 1; orientation <= 8; orientation++) {
        const exif_tags tags = { .orientation = orientation, .focal = { 4, 1 }, .zoom = { 1, 1 },
                                 .focal_35mm = 26, .make = "Maker",
                                 .date = "2021:07:31 23:59:58" };
        heif_options o = { .width = W, .height = H, .bits = 8, .orientation = orientation,
                           .exif = make_exif(&tags) };
        bytes file = make_heif(&o);
        sl_shot *shot = decode("turned", file);
        const bool swap = kind[orientation].swap;

        assert_int_equal(shot->image->width, swap ? H : W);
        assert_int_equal(shot->image->height, swap ? W : H);
        assert_int_equal(shot->exif.orientation, orientation);
        assert_string_equal(shot->exif.make, "Maker");
        assert_string_equal(shot->exif.date, "2021:07:31 23:59:58");
        assert_true(shot->exif.focal_35mm > 25.9 && shot->exif.focal_35mm < 26.1);
        for (unsigned y = 0; y < shot->image->height; y++)
            for (unsigned x = 0; x < shot->image->width; x++) {
                const unsigned along = swap ? y : x;
                const unsigned down = swap ? x : y;
                const unsigned sx = kind[orientation].from_right ? W - 1 - along : along;
                const unsigned sy = kind[orientation].from_bottom ? H - 1 - down : down;

                if (value_at(shot->image, x, y, 1) != sample_at(sx, sy, 1, 8))
                    fail_msg("orientation %u: (%u,%u)", orientation, x, y);
            }
        sl_shot_free(shot);
        free(file.data);
        free(o.exif.data);
    }
}

static void several_images_are_counted(void **state)
{
    const heif_options o = { .width = 64, .height = 64, .bits = 8, .images = 2 };
    bytes file = make_heif(&o);
    sl_shot *shot = decode("three", file);

    (void)state;
    assert_int_equal(shot->images, 3);
    sl_shot_free(shot);
    free(file.data);
}

/* A profile's colour signature and, in UTF-16, its name. */
static bool is_named(const sl_shot *shot, const char *name)
{
    unsigned char wide[64];
    const size_t n = strlen(name);

    for (size_t i = 0; i < n; i++) {
        wide[2 * i] = 0;
        wide[2 * i + 1] = (unsigned char)name[i];
    }
    for (size_t at = 0; shot->icc != NULL && at + 2 * n <= shot->icc_size; at++)
        if (memcmp(shot->icc + at, wide, 2 * n) == 0)
            return true;
    return false;
}

/* Numbers of ITU-T H.273, tables 2 and 3. */
static void colours_by_numbers_become_a_profile(void **state)
{
    enum { BT709 = 1, P3 = 12, BT2020 = 9, SRGB = 13, GAMMA22 = 4, VIDEO = 1, PQ = 16, HLG = 18 };
    static const struct { int primaries, transfer; const char *name; } kinds[] = {
        { BT709, SRGB, NULL }, { BT709, VIDEO, NULL }, { P3, SRGB, "Display P3" },
        { BT2020, SRGB, "numbers" }, { BT709, GAMMA22, "numbers" }, { P3, GAMMA22, "numbers" },
        { P3, PQ, "HDR" }, { BT2020, HLG, "HDR" },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(kinds); i++) {
        const heif_options o = { .width = 64, .height = 64, .bits = 8,
                                 .primaries = kinds[i].primaries, .transfer = kinds[i].transfer };
        bytes file = make_heif(&o);
        sl_shot *shot = NULL;
        sl_error err = { 0 };
        const sl_status st = sl_shot_decode(&shot, file.data, file.size, NULL, &err);

        if (kinds[i].transfer == PQ || kinds[i].transfer == HLG) {
            assert_int_equal(st, SL_ERR_UNSUPPORTED);
            assert_non_null(strstr(err.detail, kinds[i].name));
        } else {
            if (st != SL_OK)
                fail_msg("%d/%d: %s", kinds[i].primaries, kinds[i].transfer, err.detail);
            if (kinds[i].name == NULL ? shot->icc != NULL : !is_named(shot, kinds[i].name))
                fail_msg("%d/%d: profile of %zu bytes, expected %s", kinds[i].primaries,
                         kinds[i].transfer, shot->icc_size, kinds[i].name);
        }
        sl_shot_free(shot);
        free(file.data);
    }
}

static void an_embedded_profile_wins_over_numbers(void **state)
{
    const heif_options p3 = { .width = 64, .height = 64, .bits = 8, .primaries = 12,
                              .transfer = 13 };
    bytes file = make_heif(&p3);
    sl_shot *by_numbers = decode("by numbers", file);
    const heif_options both = { .width = 64, .height = 64, .bits = 8, .primaries = 9,
                                .transfer = 13,
                                .icc = { by_numbers->icc, by_numbers->icc_size } };
    bytes second = make_heif(&both);
    sl_shot *shot = decode("with a profile", second);

    (void)state;
    assert_int_equal(shot->icc_size, by_numbers->icc_size);
    assert_memory_equal(shot->icc, by_numbers->icc, shot->icc_size);
    sl_shot_free(shot);
    sl_shot_free(by_numbers);
    free(second.data);
    free(file.data);
}

static void limits_come_before_pixels(void **state)
{
    const heif_options o = { .width = 128, .height = 96, .bits = 8 };
    static const size_t small[][2] = { { 128 * 96 - 1, 100000000 }, { 100, 100000000 },
                                       { 1000000, 60000 } }; /* px, bytes */
    bytes file = make_heif(&o);

    (void)state;
    for (size_t i = 0; i < COUNT(small); i++) {
        sl_shot *shot = NULL;
        sl_error err = { 0 };
        sl_decode_params limits = sl_decode_defaults();

        limits.max_pixels = small[i][0];
        limits.max_memory = small[i][1];
        if (sl_shot_decode(&shot, file.data, file.size, &limits, &err) != SL_ERR_LIMIT)
            fail_msg("limit %zu: status %d, %s", i, (int)err.status, err.detail);
        assert_non_null(strstr(err.detail, "raise the limit"));
    }
    free(file.data);
}

/* Cut short: an error that says what to do, or the intact picture; never half a one. */
static void cut_at_every_byte(void **state)
{
    const heif_options o = { .width = 64, .height = 64, .bits = 8, .orientation = 6 };
    bytes file = make_heif(&o);
    sl_shot *whole = decode("whole", file);

    (void)state;
    for (size_t size = 0; size < file.size; size += size < 1000 || size + 64 > file.size ? 1 : 61) {
        unsigned char *copy = malloc(size + 1);
        sl_shot *shot = NULL;
        sl_error err = { 0 };
        sl_status st;

        memcpy(copy, file.data, size);
        st = sl_shot_decode(&shot, copy, size, NULL, &err);
        if (st == SL_OK)
            assert_memory_equal(shot->image->data, whole->image->data,
                                shot->image->stride * shot->image->height);
        else if (strstr(err.detail, "copy it again") == NULL
                 && strstr(err.detail, "convert") == NULL)
            fail_msg("cut at %zu: status %d, '%s'", size, (int)st, err.detail);
        sl_shot_free(shot);
        free(copy);
    }
    sl_shot_free(whole);
    free(file.data);
}

/* Every byte of the boxes set to extremes: nothing may crash, hang, leak or pass the limits. */
static void every_header_byte_changed(void **state)
{
    const sl_decode_params limits = { 1000000, 30000000, 50, 0 };
    const heif_options o = { .width = 64, .height = 64, .bits = 8, .orientation = 6,
                             .images = 1 };
    bytes file = make_heif(&o);
    const size_t most = file.size < 900 ? file.size : 900;

    (void)state;
    for (size_t at = 0; at < most; at++) {
        const unsigned char old = file.data[at];
        const unsigned char values[] = { 0, 0x7F, 0xFF, (unsigned char)(old + 1) };

        for (size_t v = 0; v < COUNT(values); v++) {
            sl_shot *shot = NULL;
            sl_error err = { 0 };

            file.data[at] = values[v];
            if (sl_shot_decode(&shot, file.data, file.size, &limits, &err) == SL_OK)
                assert_true(shot->image->width * shot->image->height <= 1000000);
            else if (err.detail[0] == '\0' || err.status == SL_ERR_ARG)
                fail_msg("byte %zu = %u: status %d, '%s'", at, values[v], (int)err.status,
                         err.detail);
            sl_shot_free(shot);
        }
        file.data[at] = old;
    }
    free(file.data);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(samples_arrive_as_written),
        cmocka_unit_test(orientation_is_applied_once),
        cmocka_unit_test(several_images_are_counted),
        cmocka_unit_test(colours_by_numbers_become_a_profile),
        cmocka_unit_test(an_embedded_profile_wins_over_numbers),
        cmocka_unit_test(limits_come_before_pixels),
        cmocka_unit_test(cut_at_every_byte),
        cmocka_unit_test(every_header_byte_changed),
    };

    (void)heif_init(NULL);   /* or its encoders are not there */
    return cmocka_run_group_tests(tests, NULL, NULL);
}

#endif
