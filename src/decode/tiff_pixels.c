/*
 * A TIFF's pixels. Strips or tiles ("units") of plain samples are read whole, their rows
 * unpacked into 16-bit samples, made grey or RGB, and put in their upright place; so 16 bits
 * stay 16. Rare kinds (YCbCr that is not JPEG, L*a*b*, LogLuv, old-style JPEG) go through
 * libtiff's own conversion to 8-bit RGB.
 */
#include "decode/tiff.h"

#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/inks.h"
#include "decode/alpha.h"
#include "decode/orient.h"

enum {
    SAMPLES_MAX = 16,        /* a pixel of more is scientific data, not a photograph */
    USED_MAX = 5             /* CMYK and alpha */
};

typedef struct layout {
    uint32_t width;
    uint32_t height;
    uint16_t bits;           /* of a sample, 1..16 */
    uint16_t samples;        /* of a pixel, as stored */
    uint16_t photometric;
    uint16_t alpha_kind;     /* EXTRASAMPLE_ASSOCALPHA, EXTRASAMPLE_UNASSALPHA, or 0: none */
    bool     planar;         /* each sample has its own units */
    bool     tiled;
    uint32_t unit_width;
    uint32_t unit_height;
    size_t   row_bytes;      /* of a unit's row, one plane's where planar */
    unsigned used;           /* samples of a pixel that matter */
    uint16_t use[USED_MAX];  /* which: colours first, then alpha */
    unsigned channels;       /* of the image */
    unsigned image_bits;
    uint16_t *map[3];        /* palette; libtiff's */
    bool     map_is_8bit;
} layout;

/* ---- what the tags say ----------------------------------------------------------------------- */

static sl_status unsupported(sl_error *err, const char *what)
{
    return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                   "%s in a TIFF: save it as 8 or 16-bit RGB first", what);
}

/* The first extra sample that is an opacity; others are data that no picture shows. */
static void find_alpha(layout *in, TIFF *tif, unsigned colours)
{
    uint16_t count = 0;
    uint16_t *kinds = NULL;

    if (!TIFFGetField(tif, TIFFTAG_EXTRASAMPLES, &count, &kinds))
        return;
    for (unsigned i = 0; i < count && colours + i < in->samples; i++)
        if (kinds[i] == EXTRASAMPLE_ASSOCALPHA || kinds[i] == EXTRASAMPLE_UNASSALPHA) {
            in->alpha_kind = kinds[i];
            in->use[in->used++] = (uint16_t)(colours + i);
            return;
        }
}

/* Old writers put 8-bit values into the 16-bit palette: then none is above 255. */
static bool palette_is_8bit(const layout *in)
{
    for (unsigned c = 0; c < 3; c++)
        for (unsigned i = 0; i < 1u << in->bits; i++)
            if (in->map[c][i] > 255)
                return false;
    return true;
}

/* Samples that this file handles itself. */
static bool is_plain(const layout *in, uint16_t compression)
{
    if (compression == COMPRESSION_OJPEG)
        return false;
    switch (in->photometric) {
    case PHOTOMETRIC_MINISWHITE:
    case PHOTOMETRIC_MINISBLACK:
    case PHOTOMETRIC_PALETTE:
    case PHOTOMETRIC_RGB:
    case PHOTOMETRIC_SEPARATED:
        return true;
    default:
        return false;
    }
}

/* Then the inks are kept: the profile knows better what they look like. */
static bool has_ink_profile(TIFF *tif)
{
    uint32_t size = 0;
    void *icc = NULL;

    return TIFFGetField(tif, TIFFTAG_ICCPROFILE, &size, &icc)
           && sl_decode_icc_is(icc, size, "CMYK");
}

static sl_status read_colours(layout *in, TIFF *tif, sl_error *err)
{
    unsigned colours = 1;
    uint16_t ink_set = INKSET_CMYK;

    in->channels = 1;
    in->image_bits = in->bits <= 8 ? 8 : 16;
    if (in->photometric == PHOTOMETRIC_PALETTE) {
        if (in->bits > 8
            || !TIFFGetField(tif, TIFFTAG_COLORMAP, &in->map[0], &in->map[1], &in->map[2]))
            return unsupported(err, "a palette of more than 256 colours, or none");
        in->map_is_8bit = palette_is_8bit(in);
        in->channels = 3;
    } else if (in->photometric == PHOTOMETRIC_RGB) {
        colours = 3;
        in->channels = 3;
    } else if (in->photometric == PHOTOMETRIC_SEPARATED) {
        (void)TIFFGetFieldDefaulted(tif, TIFFTAG_INKSET, &ink_set);
        if (ink_set != INKSET_CMYK)
            return unsupported(err, "inks other than CMYK");
        colours = 4;
        in->channels = has_ink_profile(tif) ? 4 : 3;
    }
    if (in->samples < colours)
        return sl_decode_damaged(err, "TIFF", "fewer samples than its colours need");
    for (in->used = 0; in->used < colours; in->used++)
        in->use[in->used] = (uint16_t)in->used;
    find_alpha(in, tif, colours);
    return SL_OK;
}

/*
 * Sizes of rows and units from the tags, against libtiff's own: where they differ, the tags
 * contradict each other.
 */
static sl_status read_units(layout *in, TIFF *tif, const sl_decode_job *job, sl_error *err)
{
    size_t across;
    size_t down;
    size_t padded;
    uint64_t theirs;

    in->tiled = TIFFIsTiled(tif) != 0;
    if (in->tiled) {
        if (!TIFFGetField(tif, TIFFTAG_TILEWIDTH, &in->unit_width)
            || !TIFFGetField(tif, TIFFTAG_TILELENGTH, &in->unit_height))
            return sl_decode_damaged(err, "TIFF", "tiles of no size");
        theirs = TIFFTileRowSize64(tif);
    } else {
        in->unit_width = in->width;
        (void)TIFFGetFieldDefaulted(tif, TIFFTAG_ROWSPERSTRIP, &in->unit_height);
        if (in->unit_height > in->height)
            in->unit_height = in->height;
        theirs = TIFFScanlineSize64(tif);
    }
    if (in->unit_width == 0 || in->unit_height == 0)
        return sl_decode_damaged(err, "TIFF", "strips or tiles of no size");

    const uint64_t row_bits = (uint64_t)in->unit_width * in->bits
                              * (in->planar ? 1u : in->samples);

    if (theirs != (row_bits + 7) / 8)
        return sl_decode_damaged(err, "TIFF", "sizes in its tags that contradict each other");
    in->row_bytes = (size_t)theirs;

    /* A few pixels in a huge tile, or many in tiles that are mostly padding. */
    if (!in->tiled)
        return SL_OK;
    across = 1 + (in->width - 1) / (size_t)in->unit_width;
    down = 1 + (in->height - 1) / (size_t)in->unit_height;
    padded = sl_decode_mul(sl_decode_mul(across, in->unit_width),
                           sl_decode_mul(down, in->unit_height));
    if (padded > job->limits.max_pixels)
        return sl_fail(err, SL_ERR_LIMIT, "decode",
                       "tiles of %u x %u px hold %.1f million px, the limit is %.1f million: save "
                       "the picture anew, or raise the limit", in->unit_width, in->unit_height,
                       (double)padded / 1e6, (double)job->limits.max_pixels / 1e6);
    return SL_OK;
}

static sl_status read_layout(layout *in, bool *plain, TIFF *tif, const sl_decode_job *job,
                             sl_error *err)
{
    uint16_t compression = COMPRESSION_NONE;
    uint16_t planar = PLANARCONFIG_CONTIG;
    uint16_t format = SAMPLEFORMAT_UINT;
    sl_status st;

    *in = (layout){ .bits = 1 };
    (void)TIFFGetField(tif, TIFFTAG_IMAGEWIDTH, &in->width);
    (void)TIFFGetField(tif, TIFFTAG_IMAGELENGTH, &in->height);
    (void)TIFFGetFieldDefaulted(tif, TIFFTAG_BITSPERSAMPLE, &in->bits);
    (void)TIFFGetFieldDefaulted(tif, TIFFTAG_SAMPLESPERPIXEL, &in->samples);
    (void)TIFFGetFieldDefaulted(tif, TIFFTAG_COMPRESSION, &compression);
    (void)TIFFGetFieldDefaulted(tif, TIFFTAG_PLANARCONFIG, &planar);
    (void)TIFFGetFieldDefaulted(tif, TIFFTAG_SAMPLEFORMAT, &format);
    if (!TIFFGetField(tif, TIFFTAG_PHOTOMETRIC, &in->photometric))
        in->photometric = in->samples >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK;
    in->planar = planar == PLANARCONFIG_SEPARATE && in->samples > 1;

    if (in->width == 0 || in->height == 0 || in->samples == 0)
        return sl_decode_damaged(err, "TIFF", "a picture of no size");
    st = sl_decode_budget(job, in->width, in->height, 1, 8, 0, err);
    if (st != SL_OK)
        return st;
    if (!TIFFIsCODECConfigured(compression))
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "a TIFF of compression %u: save it with LZW, Deflate or none first",
                       compression);
    if (in->samples > SAMPLES_MAX)
        return unsupported(err, "more than 16 samples a pixel");
    /* JPEG's YCbCr becomes RGB in its own decoder, as in a JPEG file. */
    if (compression == COMPRESSION_JPEG && in->photometric == PHOTOMETRIC_YCBCR && !in->planar
        && in->bits == 8 && TIFFSetField(tif, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB))
        in->photometric = PHOTOMETRIC_RGB;

    *plain = is_plain(in, compression);
    if (!*plain)
        return SL_OK;
    if (format != SAMPLEFORMAT_UINT && format != SAMPLEFORMAT_VOID)
        return unsupported(err, "signed, complex or floating-point samples");
    if (in->bits < 1 || in->bits > 16)
        return unsupported(err, "samples of more than 16 bits");
    st = read_colours(in, tif, err);
    if (st != SL_OK)
        return st;
    return read_units(in, tif, job, err);
}

/* ---- plain samples --------------------------------------------------------------------------- */

/* Sample `index` of a row that was packed most significant bit first. */
static unsigned packed_sample(const unsigned char *row, size_t index, unsigned bits)
{
    size_t at = index * bits;
    unsigned value = 0;

    for (unsigned left = bits; left > 0;) {
        const unsigned room = 8 - (unsigned)(at % 8);
        const unsigned take = left < room ? left : room;

        value = value << take | ((unsigned)row[at / 8] >> (room - take) & ((1u << take) - 1u));
        at += take;
        left -= take;
    }
    return value;
}

/* `count` samples, every step-th from `first` on, to every used-th place of `to`. */
static void unpack(uint16_t *to, unsigned used, const unsigned char *row, size_t first,
                   size_t step, size_t count, unsigned bits)
{
    if (bits == 8) {
        for (size_t x = 0; x < count; x++)
            to[x * used] = row[first + x * step];
    } else if (bits == 16) {
        for (size_t x = 0; x < count; x++)
            memcpy(&to[x * used], row + 2 * (first + x * step), 2);
    } else {
        for (size_t x = 0; x < count; x++)
            to[x * used] = (uint16_t)packed_sample(row, first + x * step, bits);
    }
}

/* One pixel's used samples, 0 .. 2^bits - 1, as 1, 3 or 4 values of the same range. */
static void pixel_colours(unsigned value[4], const layout *in, const uint16_t *used)
{
    const unsigned max = (1u << in->bits) - 1u;

    if (in->photometric == PHOTOMETRIC_SEPARATED && in->channels == 3) {
        for (unsigned c = 0; c < 3; c++)
            value[c] = sl_from_inks(used[c], used[3], max);
    } else if (in->photometric == PHOTOMETRIC_MINISWHITE) {
        value[0] = max - used[0];
    } else {
        for (unsigned c = 0; c < in->channels; c++)
            value[c] = used[c];
    }
}

/* A row of used samples to a row of the image's pixels. */
static void make_row(unsigned char *to, const layout *in, const uint16_t *from, size_t count)
{
    const unsigned max = (1u << in->bits) - 1u;
    const unsigned image_max = in->image_bits == 8 ? 255 : 65535;
    const bool palette = in->photometric == PHOTOMETRIC_PALETTE;

    for (size_t x = 0; x < count; x++, from += in->used) {
        const unsigned alpha = in->alpha_kind != 0 ? from[in->used - 1] : max;
        unsigned value[4] = { 0, 0, 0, 0 };

        if (palette)
            for (unsigned c = 0; c < 3; c++)
                value[c] = in->map_is_8bit ? in->map[c][from[0]] : in->map[c][from[0]] >> 8;
        else
            pixel_colours(value, in, from);
        for (unsigned c = 0; c < in->channels; c++) {
            unsigned v = value[c];
            /* A palette's colours are of the image's range already. */
            const unsigned range = palette ? 255 : max;
            const unsigned opaque = palette ? (alpha * 255 + max / 2) / max : alpha;

            if (in->channels == 4 && in->alpha_kind != 0) /* white is no ink */
                v = in->alpha_kind == EXTRASAMPLE_UNASSALPHA ? v * opaque / range : v;
            else if (in->alpha_kind == EXTRASAMPLE_UNASSALPHA)
                v = sl_over_white(v, opaque, range);
            else if (in->alpha_kind == EXTRASAMPLE_ASSOCALPHA)
                v = v + (range - opaque) < range ? v + (range - opaque) : range;
            if (range != image_max)
                v = (v * image_max + range / 2) / range;
            if (in->image_bits == 8) {
                *to++ = (unsigned char)v;
            } else {
                const uint16_t wide = (uint16_t)v;

                memcpy(to, &wide, 2);
                to += 2;
            }
        }
    }
}

/* Work space for one unit: its planes as stored, a row of samples, a band of pixels. */
typedef struct space {
    unsigned char *planes;
    size_t         plane_bytes;
    uint16_t      *samples;
    unsigned char *band;
} space;

static void free_space(space *work)
{
    free(work->band);
    free(work->samples);
    free(work->planes);
}

/* Reads the unit at stored (x,y): `rows` rows of each plane that is used. */
static sl_status read_unit(space *work, const layout *in, sl_tiff *file, uint32_t x, uint32_t y,
                           size_t rows, sl_error *err)
{
    const unsigned planes = in->planar ? in->used : 1;
    const tmsize_t want = (tmsize_t)(in->row_bytes * rows);

    for (unsigned p = 0; p < planes; p++) {
        const uint16_t sample = in->planar ? in->use[p] : 0;
        unsigned char *to = work->planes + p * work->plane_bytes;
        tmsize_t got;

        if (in->tiled)
            got = TIFFReadEncodedTile(file->tif, TIFFComputeTile(file->tif, x, y, 0, sample),
                                      to, want);
        else
            got = TIFFReadEncodedStrip(file->tif, TIFFComputeStrip(file->tif, y, sample), to,
                                       want);
        if (got != want || file->damaged)
            return sl_tiff_damaged(file, "its data ends too early", err);
    }
    return SL_OK;
}

/* Samples that are the image's pixels as they lie there. */
static bool is_ready(const layout *in)
{
    return !in->planar && in->bits == in->image_bits && in->samples == in->channels
           && in->alpha_kind == 0
           && (in->photometric == PHOTOMETRIC_RGB || in->photometric == PHOTOMETRIC_MINISBLACK);
}

static void place_unit(const space *work, const layout *in, const sl_upright *to, size_t x,
                       size_t y, size_t width, size_t height)
{
    const size_t pixel = in->channels * (in->image_bits / 8);

    if (is_ready(in)) {
        for (size_t row = 0; row < height; row += SL_BAND_ROWS) {
            const size_t rows = height - row < SL_BAND_ROWS ? height - row : SL_BAND_ROWS;

            sl_upright_block(to, x, y + row, width, rows, work->planes + row * in->row_bytes,
                             in->row_bytes);
        }
        return;
    }
    for (size_t row = 0; row < height; row += SL_BAND_ROWS) {
        const size_t rows = height - row < SL_BAND_ROWS ? height - row : SL_BAND_ROWS;

        for (size_t i = 0; i < rows; i++) {
            for (unsigned u = 0; u < in->used; u++) {
                const unsigned char *from = work->planes + (row + i) * in->row_bytes
                                            + (in->planar ? u * work->plane_bytes : 0);

                unpack(work->samples + u, in->used, from, in->planar ? 0 : in->use[u],
                       in->planar ? 1 : in->samples, width, in->bits);
            }
            make_row(work->band + i * width * pixel, in, work->samples, width);
        }
        sl_upright_block(to, x, y + row, width, rows, work->band, width * pixel);
    }
}

static sl_status read_plain(sl_shot *shot, const layout *in, sl_tiff *file, sl_error *err)
{
    const size_t planes = in->planar ? in->used : 1;
    const size_t unit = sl_decode_mul(in->row_bytes, in->unit_height);
    const size_t line = sl_decode_mul(in->unit_width, in->used * sizeof(uint16_t));
    const size_t band = sl_decode_mul(in->unit_width,
                                      SL_BAND_ROWS * in->channels * (in->image_bits / 8));
    space work = { NULL, unit, NULL, NULL };
    sl_upright to;
    sl_status st;

    /* The unit may be there once more inside libtiff, as read or as a codec's state. */
    st = sl_decode_budget(file->job, in->width, in->height, in->channels, in->image_bits,
                          sl_decode_add(sl_decode_mul(unit, planes + 1),
                                        sl_decode_add(line, band)), err);
    if (st != SL_OK)
        return st;
    st = sl_upright_new(&to, &shot->image, in->width, in->height, in->channels, in->image_bits,
                        sl_decode_way_up(shot, file->job), err);
    if (st != SL_OK)
        return st;
    work.planes = malloc(unit * planes);
    work.samples = malloc(line);
    work.band = malloc(band);
    if (work.planes == NULL || work.samples == NULL || work.band == NULL) {
        st = sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
        goto done;
    }
    for (size_t y = 0; y < in->height; y += in->unit_height) {
        const size_t height = in->height - y < in->unit_height ? in->height - y
                                                               : in->unit_height;

        for (size_t x = 0; x < in->width; x += in->unit_width) {
            const size_t width = in->width - x < in->unit_width ? in->width - x
                                                                : in->unit_width;

            st = read_unit(&work, in, file, (uint32_t)x, (uint32_t)y,
                           in->tiled ? in->unit_height : height, err);
            if (st != SL_OK)
                goto done;
            place_unit(&work, in, &to, x, y, width, height);
        }
    }
done:
    free_space(&work);
    return st;
}

/* ---- the rare kinds -------------------------------------------------------------------------- */

/* Rows of a unit: what libtiff's conversion decodes at once, however few are asked for. */
static size_t unit_rows(const layout *in, TIFF *tif)
{
    uint32_t rows = 0;

    if (TIFFIsTiled(tif))
        (void)TIFFGetField(tif, TIFFTAG_TILELENGTH, &rows);
    else
        (void)TIFFGetFieldDefaulted(tif, TIFFTAG_ROWSPERSTRIP, &rows);
    return rows == 0 || rows > in->height ? in->height : rows;
}

/* libtiff's pixels have their alpha multiplied in. */
static void place_raster(unsigned char *band, const sl_upright *to, const layout *in, size_t y,
                         size_t rows, const uint32_t *raster)
{
    for (size_t i = 0; i < rows * in->width; i++) {
        const unsigned white = 255u - TIFFGetA(raster[i]);
        const unsigned value[3] = { TIFFGetR(raster[i]) + white, TIFFGetG(raster[i]) + white,
                                    TIFFGetB(raster[i]) + white };

        for (unsigned c = 0; c < 3; c++)
            band[3 * i + c] = (unsigned char)(value[c] < 255 ? value[c] : 255);
    }
    sl_upright_block(to, 0, y, in->width, rows, band, 3 * (size_t)in->width);
}

static sl_status read_converted(sl_shot *shot, const layout *in, sl_tiff *file, sl_error *err)
{
    const size_t rows_most = unit_rows(in, file->tif);
    const size_t band_pixels = sl_decode_mul(in->width, rows_most);
    TIFFRGBAImage image;
    uint32_t *raster = NULL;
    unsigned char *band = NULL;
    char reason[1024] = "";
    bool begun = false;
    sl_upright to;
    sl_status st;

    /* Raster and band; libtiff's own buffer of a unit, at most 8 bytes a pixel. */
    st = sl_decode_budget(file->job, in->width, in->height, 3, 8,
                          sl_decode_mul(band_pixels, 4 + 3 + 8), err);
    if (st != SL_OK)
        return st;
    begun = TIFFRGBAImageOK(file->tif, reason)
            && TIFFRGBAImageBegin(&image, file->tif, 1, reason);
    if (!begun)
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "a TIFF of a rare kind (%.100s): save it as 8 or 16-bit RGB first",
                       reason);
    st = sl_upright_new(&to, &shot->image, in->width, in->height, 3, 8, sl_decode_way_up(shot, file->job),
                        err);
    if (st != SL_OK)
        goto done;
    raster = malloc(band_pixels * sizeof *raster);
    band = malloc(band_pixels * 3);
    if (raster == NULL || band == NULL) {
        st = sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
        goto done;
    }
    /* As stored: the turning is ours, and once. */
    image.orientation = ORIENTATION_TOPLEFT;
    image.req_orientation = ORIENTATION_TOPLEFT;
    for (size_t y = 0; y < in->height; y += rows_most) {
        const size_t rows = in->height - y < rows_most ? in->height - y : rows_most;

        image.row_offset = (int)y;
        if (!TIFFRGBAImageGet(&image, raster, in->width, (uint32_t)rows) || file->damaged) {
            st = sl_tiff_damaged(file, "its data ends too early", err);
            goto done;
        }
        place_raster(band, &to, in, y, rows, raster);
    }
done:
    free(band);
    free(raster);
    TIFFRGBAImageEnd(&image);
    return st;
}

sl_status sl_tiff_pixels(sl_shot *shot, sl_tiff *in, sl_error *err)
{
    layout page;
    bool plain = false;
    sl_status st = read_layout(&page, &plain, in->tif, in->job, err);

    if (st != SL_OK)
        return st;
    return plain ? read_plain(shot, &page, in, err) : read_converted(shot, &page, in, err);
}
