/*
 * TIFF 6.0 by libtiff: strips, Deflate or LZW with the horizontal predictor, or none. Classic
 * TIFF up to 4 GB of samples, BigTIFF beyond.
 */
#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>

#include <tiffio.h>

#include "base/error.h"
#include "base/size.h"
#include "encode/encode.h"

enum {
    STRIP_BYTES = 512 * 1024, /* enough for the compressor, little enough for a reader's memory */
    /*
     * Measured through libtiff 4.5 with libdeflate (Debian's), predictor on, two pages of 12 Mpx;
     * CPU time and size beside level 4: level 1 0.5 and 1.09 to 1.13, level 2 0.77 and 1.02 to
     * 1.06, level 5 1.35 to 1.5 and 0.985, level 6 3.7 to 4.3 and 0.92 to 0.95. With zlib alone
     * level 4 is 4 to 8 % larger than level 6 in a third of its time.
     */
    DEFLATE_LEVEL = 4
};

/*
 * Bytes of samples from which BigTIFF is written: classic TIFF ends at 4 GiB, and 90 MB are left
 * for profile and directories. What cannot be compressed grows: Deflate by 5 bytes in 16 kB,
 * LZW, with codes of up to 12 bits for a byte, by half (TIFF 6.0, section 13).
 */
static const size_t CLASSIC_MOST = 4200000000u;
static const size_t CLASSIC_MOST_LZW = 2800000000u;

typedef struct tiff_state {
    TIFF          *tiff;
    FILE          *file;
    sl_error      *err;
    size_t         row_bytes;
    size_t         rows_per_strip;
    size_t         strip;    /* number of the next one */
    size_t         filled;   /* rows in `buffer` */
    unsigned char *buffer;   /* one strip; libtiff's predictor works in place */
    int            errnum;   /* errno of the first write that failed; 0 */
} tiff_state;

/* ---- a FILE for libtiff ---------------------------------------------------------------------- */

static tmsize_t get(thandle_t handle, void *data, tmsize_t size)
{
    return (tmsize_t)fread(data, 1, (size_t)size, ((tiff_state *)handle)->file);
}

static void note_errno(tiff_state *s)
{
    if (s->errnum == 0)
        s->errnum = errno != 0 ? errno : EIO;
}

static tmsize_t put(thandle_t handle, void *data, tmsize_t size)
{
    tiff_state *s = (tiff_state *)handle;
    size_t n;

    errno = 0;
    n = fwrite(data, 1, (size_t)size, s->file);
    if (n != (size_t)size)
        note_errno(s);
    return (tmsize_t)n;
}

static toff_t seek(thandle_t handle, toff_t offset, int whence)
{
    tiff_state *s = (tiff_state *)handle;

    errno = 0;
    if (fseeko(s->file, (off_t)offset, whence) != 0) {
        note_errno(s);       /* stdio writes what it still holds before it seeks */
        return (toff_t)-1;
    }
    return (toff_t)ftello(s->file);
}

static int keep_open(thandle_t handle)
{
    (void)handle;
    return 0;
}

static toff_t size_of(thandle_t handle)
{
    FILE *file = ((tiff_state *)handle)->file;
    const off_t here = ftello(file);
    off_t end;

    if (fseeko(file, 0, SEEK_END) != 0)
        return 0;
    end = ftello(file);
    (void)fseeko(file, here, SEEK_SET);
    return (toff_t)end;
}

/* ---- errors ---------------------------------------------------------------------------------- */

static int take_error(TIFF *tiff, void *user, const char *module, const char *format, va_list args)
{
    tiff_state *s = user;
    char message[160];

    (void)tiff;
    (void)module;
    if (s->err != NULL && s->err->status == SL_OK) {
        (void)vsnprintf(message, sizeof message, format, args);
        (void)sl_fail(s->err, sl_library_status(message), "encode", "TIFF: %s", message);
    }
    return 1;
}

static int ignore(TIFF *tiff, void *user, const char *module, const char *format, va_list args)
{
    (void)tiff;
    (void)user;
    (void)module;
    (void)format;
    (void)args;
    return 1;
}

/* The disk's word before libtiff's. */
static sl_status failed(tiff_state *s, sl_error *err)
{
    if (s->errnum != 0)
        return sl_fail_errno(err, s->errnum, "encode", "the TIFF file");
    if (err != NULL && err->status != SL_OK)
        return err->status;
    return sl_fail(err, SL_ERR_IO, "encode", "the TIFF file could not be written");
}

/* ---- writing --------------------------------------------------------------------------------- */

static sl_status write_strip(tiff_state *s, sl_error *err)
{
    const tmsize_t size = (tmsize_t)(s->filled * s->row_bytes);

    if (TIFFWriteEncodedStrip(s->tiff, (uint32_t)s->strip, s->buffer, size) != size)
        return failed(s, err);
    s->strip++;
    s->filled = 0;
    return SL_OK;
}

static void begin_errors(tiff_state *s, sl_error *err)
{
    s->err = err;
    if (err != NULL)
        *err = (sl_error){ SL_OK, NULL, "" };
}

static sl_status rows(void *state, const void *data, size_t count, size_t stride, sl_error *err)
{
    tiff_state *s = state;

    begin_errors(s, err);
    for (size_t y = 0; y < count; y++) {
        memcpy(s->buffer + s->filled * s->row_bytes, (const unsigned char *)data + y * stride,
               s->row_bytes);
        if (++s->filled == s->rows_per_strip) {
            const sl_status st = write_strip(s, err);

            if (st != SL_OK)
                return st;
        }
    }
    return SL_OK;
}

static sl_status finish(void *state, sl_error *err)
{
    tiff_state *s = state;

    begin_errors(s, err);
    if (s->filled > 0) {
        const sl_status st = write_strip(s, err);

        if (st != SL_OK)
            return st;
    }
    if (!TIFFFlush(s->tiff))
        return failed(s, err);
    return SL_OK;
}

static void free_state(void *state)
{
    tiff_state *s = state;

    s->err = NULL;
    if (s->tiff != NULL)
        TIFFCleanup(s->tiff); /* flushes what a file that was given up still has */
    free(s->buffer);
    free(s);
}

/*
 * Exif's own directory: what the main one has no tag for. It goes first, so that the main one,
 * which points to it, is written once.
 */
static bool write_exif(TIFF *t, const sl_page_info *info, uint64_t *offset)
{
    char original[20];
    const int colour_space = sl_icc_carried(info) ? 0xffff : 1;
    const bool ok = TIFFCreateEXIFDirectory(t) == 0
                    && TIFFSetField(t, EXIFTAG_EXIFVERSION, "0232")
                    && TIFFSetField(t, EXIFTAG_FLASHPIXVERSION, "0100")
                    && TIFFSetField(t, EXIFTAG_COLORSPACE, colour_space)
                    && (!sl_original_date(original, info)
                        || TIFFSetField(t, EXIFTAG_DATETIMEORIGINAL, original))
                    && (!sl_said(info->date)
                        || TIFFSetField(t, EXIFTAG_DATETIMEDIGITIZED, info->date))
                    && TIFFWriteCustomDirectory(t, offset);

    TIFFFreeDirectory(t);    /* TIFFCreateDirectory() would forget its values, not free them */
    return ok && TIFFCreateDirectory(t) == 0;
}

static bool set_tags(tiff_state *s, const sl_encode_params *params, const sl_page_info *info)
{
    static const uint16_t scheme[] = { [SL_DEFLATE] = COMPRESSION_ADOBE_DEFLATE,
                                       [SL_LZW] = COMPRESSION_LZW,
                                       [SL_NO_COMPRESSION] = COMPRESSION_NONE };
    TIFF *t = s->tiff;
    sl_bytes xmp = { NULL, 0, 0, false };
    sl_bytes icc = { NULL, 0, 0, false };
    sl_bytes words = { NULL, 0, 0, false };
    uint64_t exif = 0;
    bool ok;

    sl_xmp_write(&xmp, info);
    sl_icc_write(&icc, params, info);
    sl_description(&words, info);
    if (xmp.failed || icc.failed || words.failed)
        (void)sl_fail(s->err, SL_ERR_NOMEM, "encode", "out of memory");
    ok = !xmp.failed && !icc.failed && !words.failed && write_exif(t, info, &exif)
         && TIFFSetField(t, TIFFTAG_IMAGEWIDTH, (uint32_t)params->width)
         && TIFFSetField(t, TIFFTAG_IMAGELENGTH, (uint32_t)params->height)
         && TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, params->bits)
         && TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, params->channels)
         && TIFFSetField(t, TIFFTAG_PHOTOMETRIC,
                         params->channels == 1 ? PHOTOMETRIC_MINISBLACK : PHOTOMETRIC_RGB)
         && TIFFSetField(t, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG)
         && TIFFSetField(t, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT)
         && TIFFSetField(t, TIFFTAG_COMPRESSION, scheme[params->compression])
         && TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, (uint32_t)s->rows_per_strip)
         && TIFFSetField(t, TIFFTAG_RESOLUTIONUNIT, info->ppi > 0 ? RESUNIT_INCH : RESUNIT_NONE)
         && TIFFSetField(t, TIFFTAG_XRESOLUTION, info->ppi > 0 ? info->ppi : 1.0)
         && TIFFSetField(t, TIFFTAG_YRESOLUTION, info->ppi > 0 ? info->ppi : 1.0)
         && TIFFSetField(t, TIFFTAG_SOFTWARE, SL_SOFTWARE)
         && TIFFSetField(t, TIFFTAG_XMLPACKET, (uint32_t)xmp.size, xmp.data)
         && TIFFSetField(t, TIFFTAG_ICCPROFILE, (uint32_t)icc.size, icc.data)
         && TIFFSetField(t, TIFFTAG_EXIFIFD, exif);
    if (params->compression != SL_NO_COMPRESSION)
        ok = ok && TIFFSetField(t, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
    if (params->compression == SL_DEFLATE)
        ok = ok && TIFFSetField(t, TIFFTAG_ZIPQUALITY, DEFLATE_LEVEL);
    if (sl_said(info->make))
        ok = ok && TIFFSetField(t, TIFFTAG_MAKE, info->make);
    if (sl_said(info->model))
        ok = ok && TIFFSetField(t, TIFFTAG_MODEL, info->model);
    if (sl_said(info->date))
        ok = ok && TIFFSetField(t, TIFFTAG_DATETIME, info->date);
    if (words.size > 0)
        ok = ok && TIFFSetField(t, TIFFTAG_IMAGEDESCRIPTION, (const char *)words.data);
    sl_bytes_free(&words);
    sl_bytes_free(&icc);
    sl_bytes_free(&xmp);
    return ok;
}

sl_status sl_tiff_writer_new(sl_writer *writer, const sl_encode_params *params,
                             const sl_page_info *info, sl_error *err)
{
    static const sl_writer_kind kind = { rows, finish, free_state };
    TIFFOpenOptions *options = NULL;
    tiff_state *s;
    size_t total;
    bool big;

    if (params->compression != SL_DEFLATE && params->compression != SL_LZW
        && params->compression != SL_NO_COMPRESSION)
        return sl_fail(err, SL_ERR_ARG, "encode", "there is no TIFF compression %d",
                       (int)params->compression);
    if (params->width > UINT32_MAX || params->height > UINT32_MAX)
        return sl_fail(err, SL_ERR_LIMIT, "encode", "%zu x %zu px are too many for TIFF",
                       params->width, params->height);
    s = calloc(1, sizeof *s);
    if (s == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "encode", "out of memory");
    writer->kind = &kind;
    writer->state = s;
    s->file = writer->file;
    if (!sl_size_mul(&s->row_bytes, params->width, (size_t)params->channels * (params->bits / 8))
        || !sl_size_mul(&total, s->row_bytes, params->height))
        return sl_fail(err, SL_ERR_LIMIT, "encode", "%zu x %zu px do not fit in memory",
                       params->width, params->height);
    s->rows_per_strip = STRIP_BYTES / s->row_bytes > 0 ? STRIP_BYTES / s->row_bytes : 1;
    if (s->rows_per_strip > params->height)
        s->rows_per_strip = params->height;
    s->buffer = malloc(s->rows_per_strip * s->row_bytes);
    big = total > (params->compression == SL_LZW ? CLASSIC_MOST_LZW : CLASSIC_MOST);
    options = TIFFOpenOptionsAlloc();
    if (s->buffer == NULL || options == NULL) {
        if (options != NULL)
            TIFFOpenOptionsFree(options);
        return sl_fail(err, SL_ERR_NOMEM, "encode", "out of memory");
    }
    TIFFOpenOptionsSetErrorHandlerExtR(options, take_error, s);
    TIFFOpenOptionsSetWarningHandlerExtR(options, ignore, s);
    begin_errors(s, err);
    /* little-endian whatever the machine: the same bytes everywhere */
    s->tiff = TIFFClientOpenExt("page", big ? "w8l" : "wl", s, get, put, seek, keep_open, size_of,
                                NULL, NULL, options);
    TIFFOpenOptionsFree(options);
    if (s->tiff == NULL || !set_tags(s, params, info))
        return failed(s, err);
    return SL_OK;
}
