/*
 * Files of known content, decoded: every sample is where and what it was when it was written.
 * Tags and profiles are in test_decode_tags.c, damage and hostile bytes in test_decode_damage.c,
 * HEIF is in test_heif.c.
 */
#include "support/pictures.h"

#include <pthread.h>

#include "squareleaf.h"

/* ---- helpers --------------------------------------------------------------------------------- */

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
    const size_t at = x * image->channels + c;
    const unsigned char *row = image->data + y * image->stride;
    uint16_t wide;

    if (image->bits == 8)
        return row[at];
    memcpy(&wide, row + 2 * at, 2);
    return wide;
}

static void assert_same_image(const char *name, const sl_image *got, const sl_image *want)
{
    if (got->width != want->width || got->height != want->height
        || got->channels != want->channels || got->bits != want->bits)
        fail_msg("%s: %zu x %zu px, %u x %u bits; expected %zu x %zu, %u x %u", name, got->width,
                 got->height, got->channels, got->bits, want->width, want->height,
                 want->channels, want->bits);
    for (size_t y = 0; y < got->height; y++)
        for (size_t x = 0; x < got->width; x++)
            for (unsigned c = 0; c < got->channels; c++)
                if (value_at(got, x, y, c) != value_at(want, x, y, c))
                    fail_msg("%s: (%zu,%zu,%u) is %u, expected %u", name, x, y, c,
                             value_at(got, x, y, c), value_at(want, x, y, c));
}

/* v of 0..from, scaled to 0..to and rounded. */
static unsigned scale(unsigned v, unsigned from, unsigned to)
{
    return (unsigned)(((unsigned long long)v * to * 2 + from) / (2ull * from));
}

/* v over white with opacity a, both of 0..max, in floating point. */
static unsigned mixed(unsigned v, unsigned a, unsigned max)
{
    const double opacity = (double)a / max;

    return (unsigned)(v * opacity + max * (1.0 - opacity) + 0.5);
}

/* ---- which format ---------------------------------------------------------------------------- */

static void format_is_told_by_first_bytes(void **state)
{
    /* ITU-T T.81 B.1.1.3, ISO/IEC 15948 5.2, TIFF 6.0 p. 13, ISO/IEC 23008-12. */
    static const struct { const char *name, *head; sl_format want; } heads[] = {
        { "JPEG", "\xFF\xD8\xFF\xE0\0\x10JFIF\0\1\1\0\0", SL_FORMAT_JPEG },
        { "PNG", "\x89PNG\r\n\x1A\n\0\0\0\rIHDR", SL_FORMAT_PNG },
        { "PNG with line ends changed", "\x89PNG\n\x1A\n\0\0\0\rIHDR\0", SL_FORMAT_UNKNOWN },
        { "TIFF, little end first", "II*\0\x08\0\0\0\0\0\0\0\0\0\0\0", SL_FORMAT_TIFF },
        { "TIFF, big end first", "MM\0*\0\0\0\x08\0\0\0\0\0\0\0\0", SL_FORMAT_TIFF },
        { "BigTIFF", "II+\0\x08\0\0\0\x10\0\0\0\0\0\0\0", SL_FORMAT_TIFF },
        { "HEIC", "\0\0\0\x18" "ftypheic\0\0\0\0", SL_FORMAT_HEIF },
        { "HEIF", "\0\0\0\x18" "ftypmif1\0\0\0\0", SL_FORMAT_HEIF },
        { "MP4 film", "\0\0\0\x18" "ftypisom\0\0\0\0", SL_FORMAT_UNKNOWN },
        { "GIF", "GIF89a\1\0\1\0\0\0\0\0\0\0", SL_FORMAT_UNKNOWN },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(heads); i++) {
        if (sl_format_sniff(heads[i].head, 16) != heads[i].want)
            fail_msg("%s", heads[i].name);
        /* Less than a signature is no signature, and nothing behind the end is read. */
        for (size_t size = 0; size < 3; size++) {
            unsigned char *part = malloc(size + 1);

            memcpy(part, heads[i].head, size);
            assert_int_equal(sl_format_sniff(part, size), SL_FORMAT_UNKNOWN);
            free(part);
        }
    }
    assert_int_equal(sl_format_sniff(NULL, 0), SL_FORMAT_UNKNOWN);
}

static void unreadable_kinds_are_named(void **state)
{
    static const struct { const char *head, *says; sl_status want; } files[] = {
        { "\0\0\0\x18" "ftypcrx \0\0\0\0", "16-bit TIFF", SL_ERR_UNSUPPORTED },
        { "II*\0\x10\0\0\0CR\2\0\0\0\0\0", "16-bit TIFF", SL_ERR_UNSUPPORTED },
        { "FUJIFILMCCD-RAW ", "16-bit TIFF", SL_ERR_UNSUPPORTED },
        { "GIF89a\1\0\1\0\0\0\0\0\0\0", "JPEG, PNG, TIFF or HEIC", SL_ERR_FORMAT },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(files); i++) {
        sl_shot *shot = NULL;
        sl_error err = { 0 };

        assert_int_equal(sl_shot_decode(&shot, files[i].head, 16, NULL, &err), files[i].want);
        assert_null(shot);
        assert_string_equal(err.stage, "decode");
        if (strstr(err.detail, files[i].says) == NULL)
            fail_msg("'%s' does not say '%s'", err.detail, files[i].says);
        assert_int_equal(sl_shot_decode(&shot, files[i].head, 16, NULL, NULL), files[i].want);
    }
}

/* ---- orientation ----------------------------------------------------------------------------- */

enum { JPEG_PLAIN, JPEG_GREY, JPEG_INKS, PNG_PLAIN, PNG_WOVEN, PNG_LATE, PNG_ALPHA, PNG_WIDE,
       TIFF_STRIPS, TIFF_TILES, TIFF_PLANES, TIFF_GREY_WIDE, TIFF_CONVERTED, KINDS };

static const char *const kind_names[KINDS] = {
    "JPEG", "JPEG grey", "JPEG CMYK", "PNG", "PNG interlaced", "PNG, eXIf behind the pixels",
    "PNG alpha", "PNG 16 bit", "TIFF strips", "TIFF tiles", "TIFF planes",
    "TIFF 16-bit grey", "TIFF L*a*b*"
};

static bytes make_kind(int kind, unsigned width, unsigned height, unsigned orientation)
{
    const exif_tags tags = { .orientation = orientation, .big_endian = kind % 2,
                             .focal = { 1, 1 }, .zoom = { 1, 1 } };
    bytes exif = { NULL, 0 };
    bytes file;

    if (orientation != 0)
        exif = make_exif(&tags);
    if (kind <= JPEG_INKS) {
        const jpeg_options o = { .width = width, .height = height, .exif = exif,
                                 .channels = kind == JPEG_GREY ? 1 : kind == JPEG_INKS ? 4 : 3 };
        file = make_jpeg(&o);
    } else if (kind <= PNG_WIDE) {
        const png_options o = { .width = width, .height = height, .exif = exif,
                                .bits = kind == PNG_WIDE ? 16 : 8,
                                .kind = kind == PNG_ALPHA ? PNG_COLOR_TYPE_RGBA
                                                          : PNG_COLOR_TYPE_RGB,
                                .interlaced = kind == PNG_WOVEN, .exif_last = kind == PNG_LATE };
        file = make_png(&o);
    } else {
        const tiff_options o = { .width = width, .height = height, .orientation = orientation,
                                 .bits = kind == TIFF_GREY_WIDE ? 16 : 8,
                                 .samples = kind == TIFF_GREY_WIDE ? 1 : 3,
                                 .photometric = kind == TIFF_GREY_WIDE ? PHOTOMETRIC_MINISBLACK
                                                : kind == TIFF_CONVERTED ? PHOTOMETRIC_CIELAB
                                                                         : PHOTOMETRIC_RGB,
                                 .compression = COMPRESSION_LZW, .planar = kind == TIFF_PLANES,
                                 .tile = kind == TIFF_TILES ? 16 : 0 };
        file = make_tiff(&o);
    }
    free(exif.data);
    return file;
}

/*
 * Where a stored pixel is seen, from the words of TIFF 6.0, p. 36: the visual side of the 0th
 * row and of the 0th column. Written apart from the decoder's own table.
 */
static void see(size_t *u, size_t *v, unsigned orientation, size_t x, size_t y, size_t width,
                size_t height)
{
    static const char row_side[] = ".TTBBLRRL";
    static const char column_side[] = ".LRRLTTBB";

    switch (row_side[orientation]) {
    case 'T': *v = y; break;
    case 'B': *v = height - 1 - y; break;
    case 'L': *u = y; break;
    default: *u = height - 1 - y; break;
    }
    switch (column_side[orientation]) {
    case 'L': *u = x; break;
    case 'R': *u = width - 1 - x; break;
    case 'T': *v = x; break;
    default: *v = width - 1 - x; break;
    }
}

static void every_orientation_is_applied_once(void **state)
{
    /* One pixel; single row and column; more than one band of rows and more than one tile. */
    static const unsigned sizes[][2] = { { 1, 1 }, { 7, 1 }, { 1, 7 }, { 37, 270 } };

    (void)state;
    for (int kind = 0; kind < KINDS; kind++)
        for (size_t s = 0; s < COUNT(sizes); s++) {
            const size_t width = sizes[s][0];
            const size_t height = sizes[s][1];
            bytes file = make_kind(kind, sizes[s][0], sizes[s][1], 0);
            sl_shot *stored = decode(kind_names[kind], file);

            free(file.data);
            for (unsigned orientation = 1; orientation <= 8; orientation++) {
                const bool swap = orientation >= 5;
                sl_shot *shot;

                file = make_kind(kind, sizes[s][0], sizes[s][1], orientation);
                shot = decode(kind_names[kind], file);
                assert_int_equal(shot->exif.orientation, orientation);
                assert_int_equal(shot->image->width, swap ? height : width);
                assert_int_equal(shot->image->height, swap ? width : height);
                assert_int_equal(shot->image->channels, stored->image->channels);
                assert_int_equal(shot->image->bits, stored->image->bits);
                for (size_t y = 0; y < height; y++)
                    for (size_t x = 0; x < width; x++)
                        for (unsigned c = 0; c < shot->image->channels; c++) {
                            size_t u = 0;
                            size_t v = 0;

                            see(&u, &v, orientation, x, y, width, height);
                            if (value_at(shot->image, u, v, c)
                                != value_at(stored->image, x, y, c))
                                fail_msg("%s, %zu x %zu, orientation %u: (%zu,%zu)",
                                         kind_names[kind], width, height, orientation, u, v);
                        }
                sl_shot_free(shot);
                free(file.data);
            }
            sl_shot_free(stored);
        }
}

/* ---- PNG ------------------------------------------------------------------------------------- */

/* What (x,y,c) of a file by make_png() must become. */
static unsigned png_want(const png_options *o, size_t x, size_t y, unsigned c)
{
    const unsigned samples = png_samples(o->kind);
    const unsigned bits = (unsigned)o->bits;
    const unsigned stored_max = (1u << bits) - 1u;
    const unsigned max = bits == 16 ? 65535 : 255;
    unsigned char rgb[3];
    unsigned v = sample_at(x, y, c, bits);
    bool clear = o->transparent != 0;

    if (o->kind == PNG_COLOR_TYPE_PALETTE) {
        v = sample_at(x, y, 0, bits);
        png_colour(rgb, v);
        return o->transparent && v < (bits < 4 ? 1u << bits : 4u)
                   ? mixed(rgb[c], (unsigned char)(40 * v), 255) : rgb[c];
    }
    if (samples == 2 || samples == 4)
        return mixed(v, sample_at(x, y, samples - 1, bits), max);
    for (unsigned i = 0; i < samples; i++)
        clear = clear && sample_at(x, y, i, bits) == sample_at(0, 0, i, bits);
    return clear ? max : scale(v, stored_max, max);
}

static void png_samples_arrive_as_written(void **state)
{
    static const struct { int kind; int bits[5]; } kinds[] = {
        { PNG_COLOR_TYPE_GRAY, { 1, 2, 4, 8, 16 } }, { PNG_COLOR_TYPE_RGB, { 8, 16 } },
        { PNG_COLOR_TYPE_PALETTE, { 1, 2, 4, 8 } }, { PNG_COLOR_TYPE_GRAY_ALPHA, { 8, 16 } },
        { PNG_COLOR_TYPE_RGBA, { 8, 16 } }
    };
    static const unsigned sizes[][2] = { { 1, 1 }, { 3, 2 }, { 5, 40 }, { 40, 5 }, { 13, 267 } };

    (void)state;
    for (size_t k = 0; k < COUNT(kinds); k++)
        for (size_t b = 0; b < 5 && kinds[k].bits[b] != 0; b++)
            for (int variant = 0; variant < 4; variant++)
                for (size_t s = 0; s < COUNT(sizes); s++) {
                    const png_options o = { .width = sizes[s][0], .height = sizes[s][1],
                                            .kind = kinds[k].kind, .bits = kinds[k].bits[b],
                                            .interlaced = variant & 1,
                                            .transparent = variant >> 1
                                                && !(kinds[k].kind & PNG_COLOR_MASK_ALPHA) };
                    bytes file = make_png(&o);
                    char name[80];
                    sl_shot *shot;

                    snprintf(name, sizeof name, "PNG kind %d, %d bits, %u x %u, variant %d",
                             o.kind, o.bits, o.width, o.height, variant);
                    shot = decode(name, file);
                    assert_int_equal(shot->format, SL_FORMAT_PNG);
                    assert_int_equal(shot->images, 1);
                    assert_int_equal(shot->image->bits, o.bits == 16 ? 16 : 8);
                    assert_int_equal(shot->image->channels,
                                     o.kind & PNG_COLOR_MASK_COLOR ? 3 : 1);
                    for (size_t y = 0; y < o.height; y++)
                        for (size_t x = 0; x < o.width; x++)
                            for (unsigned c = 0; c < shot->image->channels; c++)
                                if (value_at(shot->image, x, y, c) != png_want(&o, x, y, c))
                                    fail_msg("%s: (%zu,%zu,%u) is %u, expected %u", name, x, y,
                                             c, value_at(shot->image, x, y, c),
                                             png_want(&o, x, y, c));
                    sl_shot_free(shot);
                    free(file.data);
                }
}

/* ---- TIFF ------------------------------------------------------------------------------------ */

/* What (x,y,c) of a file by make_tiff() must become. */
static unsigned tiff_want(const tiff_options *o, size_t x, size_t y, unsigned c)
{
    const unsigned stored_max = (1u << o->bits) - 1u;
    const unsigned max = o->bits > 8 ? 65535 : 255;
    const unsigned alpha = sample_at(x, y, o->samples - 1, o->bits);
    unsigned v = sample_at(x, y, c, o->bits);

    if (o->photometric == PHOTOMETRIC_PALETTE) {
        unsigned char rgb[3];

        png_colour(rgb, sample_at(x, y, 0, o->bits));
        return rgb[c];
    }
    if (o->photometric == PHOTOMETRIC_MINISWHITE)
        v = stored_max - v;
    if (o->photometric == PHOTOMETRIC_SEPARATED)
        v = (unsigned)((double)(stored_max - v) * (stored_max - sample_at(x, y, 3, o->bits))
                       / stored_max + 0.5);
    if (o->has_extra && o->extra == EXTRASAMPLE_UNASSALPHA)
        v = mixed(v, alpha, stored_max);
    else if (o->has_extra && o->extra == EXTRASAMPLE_ASSOCALPHA)
        v = v + stored_max - alpha < stored_max ? v + stored_max - alpha : stored_max;
    return scale(v, stored_max, max);
}

static void check_tiff(const tiff_options *o)
{
    bytes file = make_tiff(o);
    char name[160];
    sl_shot *shot;

    snprintf(name, sizeof name, "TIFF %s photometric %u, %u x %u bits, compression %u, planar %d, "
             "tile %u, extra %d/%u", o->mode != NULL ? o->mode : "wl", o->photometric, o->samples,
             o->bits, o->compression, o->planar, o->tile, o->has_extra, o->extra);
    shot = decode(name, file);
    assert_int_equal(shot->format, SL_FORMAT_TIFF);
    assert_int_equal(shot->images, 1);
    assert_int_equal(shot->image->bits, o->bits > 8 ? 16 : 8);
    for (size_t y = 0; y < o->height; y++)
        for (size_t x = 0; x < o->width; x++)
            for (unsigned c = 0; c < shot->image->channels; c++)
                if (value_at(shot->image, x, y, c) != tiff_want(o, x, y, c))
                    fail_msg("%s: (%zu,%zu,%u) is %u, expected %u", name, x, y, c,
                             value_at(shot->image, x, y, c), tiff_want(o, x, y, c));
    sl_shot_free(shot);
    free(file.data);
}

static void tiff_samples_arrive_as_written(void **state)
{
    static const struct { unsigned photometric, samples, bits[6]; int has_extra;
                          unsigned extra; } kinds[] = {
        { PHOTOMETRIC_MINISBLACK, 1, { 1, 2, 4, 8, 12, 16 }, 0, 0 },
        { PHOTOMETRIC_MINISWHITE, 1, { 1, 4, 8, 16 }, 0, 0 },
        { PHOTOMETRIC_PALETTE, 1, { 1, 2, 4, 8 }, 0, 0 },
        { PHOTOMETRIC_RGB, 3, { 4, 8, 12, 16 }, 0, 0 },
        { PHOTOMETRIC_SEPARATED, 4, { 8, 16 }, 0, 0 },
        { PHOTOMETRIC_RGB, 4, { 8, 16 }, 1, EXTRASAMPLE_UNASSALPHA },
        { PHOTOMETRIC_RGB, 4, { 8, 16 }, 1, EXTRASAMPLE_ASSOCALPHA },
        { PHOTOMETRIC_RGB, 4, { 8, 16 }, 1, EXTRASAMPLE_UNSPECIFIED },
        { PHOTOMETRIC_MINISBLACK, 2, { 8, 16 }, 1, EXTRASAMPLE_UNASSALPHA },
    };
    static const unsigned codecs[] = { COMPRESSION_NONE, COMPRESSION_LZW,
                                       COMPRESSION_ADOBE_DEFLATE, COMPRESSION_PACKBITS };
    static const char *const modes[] = { "wl", "wb", "wl8", "wb8" };

    (void)state;
    for (size_t k = 0; k < COUNT(kinds); k++)
        for (size_t b = 0; b < 6 && kinds[k].bits[b] != 0; b++)
            for (size_t c = 0; c < COUNT(codecs); c++)
                for (unsigned layout = 0; layout < 4; layout++) {
                    const tiff_options o = { .width = 37, .height = 41,
                        .bits = kinds[k].bits[b], .samples = kinds[k].samples,
                        .photometric = kinds[k].photometric, .compression = codecs[c],
                        .has_extra = kinds[k].has_extra, .extra = kinds[k].extra,
                        .planar = (layout & 1) != 0 && kinds[k].samples > 1,
                        .tile = layout & 2 ? 16 : 0, .mode = modes[(c + layout) % 4] };

                    check_tiff(&o);
                }
}

static void tiff_fax_is_exact(void **state)
{
    static const unsigned codecs[] = { COMPRESSION_CCITTFAX3, COMPRESSION_CCITTFAX4 };

    (void)state;
    for (size_t i = 0; i < COUNT(codecs); i++) {
        const tiff_options o = { .width = 61, .height = 23, .bits = 1, .samples = 1,
                                 .photometric = PHOTOMETRIC_MINISWHITE,
                                 .compression = codecs[i] };
        check_tiff(&o);
    }
}

static void tiff_pages_are_counted(void **state)
{
    const struct { const char *name; unsigned pages, subfile; int halved; unsigned width;
                   size_t want; } files[] = {
        { "one page", 0, 0, 0, 40, 1 },
        { "three pages", 2, 0, 0, 40, 3 },
        { "a camera's unmarked thumbnail", 1, 0, 1, 40, 1 },
        { "a second page of half the size, too large for a thumbnail", 1, 0, 1, 1200, 2 },
        { "more than anyone counts", 150, 0, 0, 4, 100 },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(files); i++) {
        const tiff_options o = { .width = files[i].width, .height = files[i].width, .bits = 8,
                                 .samples = 1, .photometric = PHOTOMETRIC_MINISBLACK,
                                 .compression = COMPRESSION_ADOBE_DEFLATE,
                                 .pages = files[i].pages, .halved = files[i].halved };
        bytes file = make_tiff(&o);
        sl_shot *shot = decode(files[i].name, file);

        if (shot->images != files[i].want)
            fail_msg("%s: %zu images, expected %zu", files[i].name, shot->images,
                     files[i].want);
        assert_int_equal(shot->image->width, files[i].width);
        sl_shot_free(shot);
        free(file.data);
    }
}

static void tiff_of_previews_only_is_refused(void **state)
{
    const tiff_options o = { .width = 8, .height = 8, .bits = 8, .samples = 1,
                             .photometric = PHOTOMETRIC_MINISBLACK, .subfile = 1,
                             .compression = COMPRESSION_NONE };
    bytes file = make_tiff(&o);
    sl_shot *shot = NULL;

    (void)state;
    assert_int_equal(sl_shot_decode(&shot, file.data, file.size, NULL, NULL), SL_ERR_FORMAT);
    free(file.data);
}

/* ---- JPEG ------------------------------------------------------------------------------------ */

/*
 * At quality 97 without chroma subsampling every sample is within 8 of what went in: half the
 * largest quantiser (6 at that quality, ITU-T T.81 K.1 scaled), spread by the DCT, and the
 * rounding of YCbCr.
 */
static void jpeg_samples_are_near_what_was_written(void **state)
{
    (void)state;
    for (int channels = 1; channels <= 4; channels += channels == 1 ? 2 : 1)
        for (int progressive = 0; progressive < 2; progressive++)
            for (unsigned restart = 0; restart < 2; restart++) {
                const jpeg_options o = { .width = 67, .height = 45, .channels = channels,
                                         .progressive = progressive, .restart_rows = restart,
                                         .h_sampling = 1, .v_sampling = 1 };
                bytes file = make_jpeg(&o);
                sl_shot *shot = decode("JPEG", file);

                assert_int_equal(shot->format, SL_FORMAT_JPEG);
                assert_int_equal(shot->image->channels, channels == 1 ? 1 : 3);
                for (size_t y = 0; y < o.height; y++)
                    for (size_t x = 0; x < o.width; x++)
                        for (unsigned c = 0; c < shot->image->channels; c++) {
                            unsigned want = smooth_at(x, y, c);
                            const unsigned got = value_at(shot->image, x, y, c);

                            /* Adobe's convention: 255 minus the ink is stored. */
                            if (channels == 4)
                                want = want * smooth_at(x, y, 3) / 255;
                            if (got + 16 < want || want + 16 < got)
                                fail_msg("%d channels, progressive %d: (%zu,%zu,%u) is %u, "
                                         "expected about %u", channels, progressive, x, y, c,
                                         got, want);
                        }
                sl_shot_free(shot);
                free(file.data);
            }
}

/* Scans, restarts and sampling change how a JPEG is stored, baseline or not: same pixels. */
static void jpeg_coding_does_not_change_pixels(void **state)
{
    static const int sampling[][2] = { { 1, 1 }, { 2, 1 }, { 2, 2 }, { 1, 2 }, { 4, 1 } };

    (void)state;
    for (size_t i = 0; i < COUNT(sampling); i++) {
        sl_shot *first = NULL;

        for (int variant = 0; variant < 3; variant++) {
            const jpeg_options o = { .width = 83, .height = 51, .channels = 3,
                                     .progressive = variant == 1, .restart_rows = variant == 2,
                                     .h_sampling = sampling[i][0],
                                     .v_sampling = sampling[i][1] };
            bytes file = make_jpeg(&o);
            sl_shot *shot = decode("JPEG", file);

            if (first == NULL) {
                first = shot;
            } else {
                assert_same_image("JPEG coding", shot->image, first->image);
                sl_shot_free(shot);
            }
            free(file.data);
        }
        sl_shot_free(first);
    }
}

/* ---- limits ---------------------------------------------------------------------------------- */

static void limits_come_before_pixels(void **state)
{
    const jpeg_options jpeg = { .width = 100, .height = 80, .channels = 3, .progressive = 1 };
    const png_options png = { .width = 100, .height = 80, .kind = PNG_COLOR_TYPE_RGB,
                              .bits = 8 };
    const tiff_options tiff = { .width = 100, .height = 80, .bits = 8, .samples = 3,
                                .photometric = PHOTOMETRIC_RGB,
                                .compression = COMPRESSION_LZW };
    bytes files[] = { make_jpeg(&jpeg), make_png(&png), make_tiff(&tiff) };
    const sl_decode_params defaults = sl_decode_defaults();

    (void)state;
    assert_true(defaults.max_pixels > 0 && defaults.max_memory > 0 && defaults.max_scans > 0);
    for (size_t i = 0; i < COUNT(files); i++) {
        sl_shot *shot = NULL;
        sl_error err = { 0 };
        sl_decode_params params = defaults;

        params.max_pixels = 7999;
        assert_int_equal(sl_shot_decode(&shot, files[i].data, files[i].size, &params, &err),
                         SL_ERR_LIMIT);
        assert_non_null(strstr(err.detail, "100 x 80 px"));
        params.max_pixels = 8000;
        assert_int_equal(sl_shot_decode(&shot, files[i].data, files[i].size, &params, &err),
                         SL_OK);
        sl_shot_free(shot);
        shot = NULL;
        /* The frame alone needs 24,000 bytes; no decoder works in less. */
        for (size_t most = 0; most < 24000; most += 997) {
            params.max_memory = most;
            if (sl_shot_decode(&shot, files[i].data, files[i].size, &params, &err)
                != SL_ERR_LIMIT)
                fail_msg("file %zu in %zu bytes: status %d", i, most, (int)err.status);
        }
        assert_null(shot);
    }
    for (size_t i = 0; i < COUNT(files); i++)
        free(files[i].data);
}

static void scans_are_limited(void **state)
{
    /* libjpeg's simple progression of a colour picture has 10 scans. */
    const jpeg_options o = { .width = 64, .height = 64, .channels = 3, .progressive = 1 };
    bytes file = make_jpeg(&o);
    sl_decode_params params = sl_decode_defaults();
    sl_shot *shot = NULL;
    sl_error err = { 0 };

    (void)state;
    params.max_scans = 9;
    assert_int_equal(sl_shot_decode(&shot, file.data, file.size, &params, &err), SL_ERR_LIMIT);
    assert_non_null(strstr(err.detail, "9 scans"));
    params.max_scans = 10;
    assert_int_equal(sl_shot_decode(&shot, file.data, file.size, &params, &err), SL_OK);
    sl_shot_free(shot);
    free(file.data);
}

/* ---- threads --------------------------------------------------------------------------------- */

typedef struct work {
    bytes  good[3];
    bytes  bad[3];
    sl_shot *want[3];
    bool   wrong;
} work;

static void *decode_often(void *data)
{
    work *w = data;

    for (unsigned round = 0; round < 30; round++)
        for (size_t i = 0; i < 3; i++) {
            sl_shot *shot = NULL;
            sl_error err = { 0 };

            if (sl_shot_decode(&shot, w->bad[i].data, w->bad[i].size, NULL, &err)
                != SL_ERR_FORMAT)
                w->wrong = true;
            if (sl_shot_decode(&shot, w->good[i].data, w->good[i].size, NULL, &err) != SL_OK) {
                w->wrong = true;
                continue;
            }
            if (memcmp(shot->image->data, w->want[i]->image->data,
                       shot->image->stride * shot->image->height) != 0)
                w->wrong = true;
            sl_shot_free(shot);
        }
    return NULL;
}

static void threads_do_not_disturb_each_other(void **state)
{
    enum { THREADS = 4 };
    static const int kinds[] = { JPEG_PLAIN, PNG_PLAIN, TIFF_STRIPS };
    pthread_t thread[THREADS];
    work shared = { .wrong = false };
    work each[THREADS];

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        shared.good[i] = make_kind(kinds[i], 61, 47, 6);
        shared.want[i] = decode("threads", shared.good[i]);
        shared.bad[i] = make_kind(kinds[i], 61, 47, 6);
        shared.bad[i].size = shared.bad[i].size * 2 / 3;
    }
    for (size_t t = 0; t < THREADS; t++) {
        each[t] = shared;
        assert_int_equal(pthread_create(&thread[t], NULL, decode_often, &each[t]), 0);
    }
    for (size_t t = 0; t < THREADS; t++) {
        assert_int_equal(pthread_join(thread[t], NULL), 0);
        assert_false(each[t].wrong);
    }
    for (size_t i = 0; i < 3; i++) {
        sl_shot_free(shared.want[i]);
        free(shared.good[i].data);
        free(shared.bad[i].data);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(format_is_told_by_first_bytes),
        cmocka_unit_test(unreadable_kinds_are_named),
        cmocka_unit_test(every_orientation_is_applied_once),
        cmocka_unit_test(png_samples_arrive_as_written),
        cmocka_unit_test(tiff_samples_arrive_as_written),
        cmocka_unit_test(tiff_fax_is_exact),
        cmocka_unit_test(tiff_pages_are_counted),
        cmocka_unit_test(tiff_of_previews_only_is_refused),
        cmocka_unit_test(jpeg_samples_are_near_what_was_written),
        cmocka_unit_test(jpeg_coding_does_not_change_pixels),
        cmocka_unit_test(limits_come_before_pixels),
        cmocka_unit_test(scans_are_limited),
        cmocka_unit_test(threads_do_not_disturb_each_other),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
