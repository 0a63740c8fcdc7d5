/*
 * TIFF 6.0 and BigTIFF by libtiff, over the file in memory: which page is the picture, its tags,
 * and what libtiff complains about. Its messages go to this handle's own functions; nothing is
 * printed, and no handler of the whole process is touched.
 */
#include "decode/tiff.h"

#include <stdarg.h>
#include <string.h>

#include "base/error.h"
#include "decode/exif.h"

/*
 * Pages are counted up to here. Each costs its tags, so a file that lists one page a million
 * times must not hold us.
 */
enum { PAGES_MAX = 100, THUMBNAIL_SIDE = 512 };

/* Tags and values that tiff.h lacks or hides: TIFF/EP (ISO 12234-2), makers' own codes. */
enum {
    COMPRESSION_ARW = 32767, COMPRESSION_NIKON = 34713, COMPRESSION_PENTAX_RAW = 65535,
    PHOTOMETRIC_COLOUR_FILTER = 32803, PHOTOMETRIC_LINEAR = 34892
};

/* ---- the file in memory ---------------------------------------------------------------------- */

static tmsize_t mem_read(thandle_t handle, void *to, tmsize_t count)
{
    sl_tiff *in = handle;
    const uint64_t size = in->job->size;
    const uint64_t left = in->at < size ? size - in->at : 0;
    const uint64_t n = count < 0 ? 0 : (uint64_t)count < left ? (uint64_t)count : left;

    if (n > 0)
        memcpy(to, in->job->bytes + in->at, (size_t)n);
    in->at += n;
    return (tmsize_t)n;
}

static tmsize_t mem_write(thandle_t handle, void *from, tmsize_t count)
{
    (void)handle;
    (void)from;
    (void)count;
    return 0;
}

static toff_t mem_seek(thandle_t handle, toff_t offset, int whence)
{
    sl_tiff *in = handle;

    if (whence == SEEK_SET)
        in->at = offset;
    else if (whence == SEEK_CUR)
        in->at += offset;
    else
        in->at = in->job->size + offset;
    return in->at;
}

static int mem_close(thandle_t handle)
{
    (void)handle;
    return 0;
}

static toff_t mem_size(thandle_t handle)
{
    return ((const sl_tiff *)handle)->job->size;
}

static int mem_map(thandle_t handle, void **base, toff_t *size)
{
    const sl_tiff *in = handle;
    /* libtiff's type lacks the const; a file opened for reading is never written to. */
    union { const void *from; void *to; } address = { in->job->bytes };

    *base = address.to;
    *size = in->job->size;
    return 1;
}

static void mem_unmap(thandle_t handle, void *base, toff_t size)
{
    (void)handle;
    (void)base;
    (void)size;
}

/* ---- complaints ------------------------------------------------------------------------------ */

/* The last complaint is the fatal one: those before it were about tags that were left out. */
static void keep_reason(sl_tiff *in, const char *format, va_list args)
{
    (void)vsnprintf(in->reason, sizeof in->reason, format, args);
    if (strstr(in->reason, "limit defined in open options") != NULL)
        in->over_limit = true;
}

static int on_error(TIFF *tif, void *data, const char *module, const char *format, va_list args)
{
    sl_tiff *in = data;

    (void)tif;
    (void)module;
    keep_reason(in, format, args);
    if (in->strict)
        in->damaged = true;
    return 1;
}

/*
 * Most warnings are about odd tags. But the fax and JPEG codecs only warn when data is missing
 * or garbled, and fill in; a page must not be made of that.
 */
static int on_warning(TIFF *tif, void *data, const char *module, const char *format,
                      va_list args)
{
    sl_tiff *in = data;

    (void)tif;
    if (in->strict && module != NULL
        && (strncmp(module, "Fax", 3) == 0 || strcmp(module, "JPEGLib") == 0
            || strcmp(module, "LibJpeg") == 0)) {
        keep_reason(in, format, args);
        in->damaged = true;
    }
    return 1;
}

sl_status sl_tiff_damaged(const sl_tiff *in, const char *fallback, sl_error *err)
{
    if (in->over_limit)
        return sl_fail(err, SL_ERR_LIMIT, "decode",
                       "the TIFF needs more memory than the limit of %.1f MB: raise it, or save "
                       "the picture anew", (double)in->job->limits.max_memory / 1e6);
    return sl_decode_damaged(err, "TIFF", in->reason[0] != '\0' ? in->reason : fallback);
}

static sl_status open_file(sl_tiff *in, const char *mode, sl_error *err)
{
    const size_t most = in->job->limits.max_memory;
    TIFFOpenOptions *options = TIFFOpenOptionsAlloc();

    if (options == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
    TIFFOpenOptionsSetMaxSingleMemAlloc(
        options, most > (size_t)PTRDIFF_MAX ? (tmsize_t)PTRDIFF_MAX : (tmsize_t)most);
    TIFFOpenOptionsSetErrorHandlerExtR(options, on_error, in);
    TIFFOpenOptionsSetWarningHandlerExtR(options, on_warning, in);
    in->at = 0;
    in->tif = TIFFClientOpenExt("shot", mode, in, mem_read, mem_write, mem_seek, mem_close,
                                mem_size, mem_map, mem_unmap, options);
    TIFFOpenOptionsFree(options);
    return in->tif != NULL ? SL_OK : sl_tiff_damaged(in, "no directory", err);
}

/* ---- pages ----------------------------------------------------------------------------------- */

/* A page of its own: not the reduced copy of another page, nor a transparency mask. */
static bool is_full_image(TIFF *tif, uint32_t *width, uint32_t *height)
{
    uint32_t kind = 0;
    uint16_t old_kind = 0;

    *width = 0;
    *height = 0;
    (void)TIFFGetField(tif, TIFFTAG_SUBFILETYPE, &kind);
    if (TIFFGetField(tif, TIFFTAG_OSUBFILETYPE, &old_kind)
        && old_kind == OFILETYPE_REDUCEDIMAGE)
        return false;
    (void)TIFFGetField(tif, TIFFTAG_IMAGEWIDTH, width);
    (void)TIFFGetField(tif, TIFFTAG_IMAGELENGTH, height);
    return (kind & (FILETYPE_REDUCEDIMAGE | FILETYPE_MASK)) == 0 && *width > 0 && *height > 0;
}

/*
 * Heuristic: cameras put an unmarked thumbnail behind the picture, as Exif asks for in a
 * JPEG's tags (there of 160 x 120 px). A page of at most THUMBNAIL_SIDE px, no more than half
 * as wide and high as the first and of the same shape within 3 %, is taken for one.
 */
static bool is_thumbnail(uint32_t width, uint32_t height, uint32_t of_width, uint32_t of_height)
{
    const double shape = (double)width * of_height / ((double)height * of_width);

    return width <= THUMBNAIL_SIDE && height <= THUMBNAIL_SIDE && width <= of_width / 2
           && height <= of_height / 2 && shape > 0.97 && shape < 1.03;
}

static bool is_camera_raw(TIFF *tif)
{
    uint16_t compression = COMPRESSION_NONE;
    uint16_t photometric = PHOTOMETRIC_MINISBLACK;
    void *version = NULL;

    (void)TIFFGetField(tif, TIFFTAG_COMPRESSION, &compression);
    (void)TIFFGetField(tif, TIFFTAG_PHOTOMETRIC, &photometric);
    return TIFFGetField(tif, TIFFTAG_DNGVERSION, &version) || compression == COMPRESSION_ARW
           || compression == COMPRESSION_NIKON || compression == COMPRESSION_PENTAX_RAW
           || photometric == PHOTOMETRIC_COLOUR_FILTER || photometric == PHOTOMETRIC_LINEAR;
}

/*
 * Counts the pages and finds the first. A chain of pages that breaks counts as one more: better
 * a needless look than a page nobody hears of.
 */
static sl_status find_page(tdir_t *first, size_t *images, sl_tiff *in, sl_error *err)
{
    uint32_t first_width = 0;
    uint32_t first_height = 0;
    uint32_t width;
    uint32_t height;
    uint16_t count = 0;
    void *offsets = NULL;
    bool inner = false;      /* a directory has others inside it */

    *images = 0;
    for (tdir_t page = 0; page < PAGES_MAX; page++) {
        if (page > 0 && !TIFFReadDirectory(in->tif)) {
            if (!TIFFLastDirectory(in->tif))
                ++*images;
            break;
        }
        inner = inner || TIFFGetField(in->tif, TIFFTAG_SUBIFD, &count, &offsets);
        if (!is_full_image(in->tif, &width, &height))
            continue;
        if (first_width == 0) {
            if (is_camera_raw(in->tif))
                return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                               "this is a camera raw file: convert it to 16-bit TIFF first");
            *first = page;
            first_width = width;
            first_height = height;
        } else if (is_thumbnail(width, height, first_width, first_height)) {
            continue;
        }
        ++*images;
    }
    if (first_width > 0)
        return SL_OK;
    if (inner)
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "this TIFF shows only a preview, the picture itself is camera raw: "
                       "convert it to 16-bit TIFF first");
    return sl_tiff_damaged(in, "it holds no picture", err);
}

/*
 * Opens the file at its picture. Pages are counted through a handle of its own that leaves
 * their lists of strips unread (mode D), as those may be long. Pixels are not read through it:
 * there, libtiff 4.5 lets a list of a wrong type pass for a list.
 */
static sl_status open_page(sl_shot *shot, sl_tiff *in, sl_error *err)
{
    tdir_t first = 0;
    sl_status st = open_file(in, "rD", err);

    if (st != SL_OK)
        return st;
    st = find_page(&first, &shot->images, in, err);
    TIFFClose(in->tif);
    in->tif = NULL;
    if (st != SL_OK)
        return st;
    in->reason[0] = '\0';    /* what was said of other pages */
    st = open_file(in, "r", err);
    if (st == SL_OK && first > 0 && !TIFFSetDirectory(in->tif, first)) {
        TIFFClose(in->tif);
        in->tif = NULL;
        st = sl_tiff_damaged(in, "its directory cannot be read twice", err);
    }
    return st;
}

/* ---- tags ------------------------------------------------------------------------------------ */

static void read_text(char *to, size_t capacity, TIFF *tif, uint32_t tag)
{
    const char *text = NULL;

    if (TIFFGetField(tif, tag, &text) && text != NULL)
        sl_exif_text(to, capacity, text, strlen(text));
}

static void read_own_tags(sl_exif *exif, TIFF *tif)
{
    uint16_t orientation = 0;

    if (TIFFGetField(tif, TIFFTAG_ORIENTATION, &orientation) && orientation >= 1
        && orientation <= 8)
        exif->orientation = orientation;
    read_text(exif->make, sizeof exif->make, tif, TIFFTAG_MAKE);
    read_text(exif->model, sizeof exif->model, tif, TIFFTAG_MODEL);
}

/* A fraction comes as float or double: libtiff has changed its mind over versions. */
static void read_number(double *to, TIFF *tif, uint32_t tag)
{
    const TIFFField *field = TIFFFieldWithTag(tif, tag);
    union { float single; double full; } value = { .full = 0.0 };

    if (field == NULL || TIFFFieldPassCount(field))
        return;
    if (TIFFFieldSetGetSize(field) == (int)sizeof(double)) {
        if (TIFFGetField(tif, tag, &value.full))
            sl_exif_number(to, value.full);
    } else if (TIFFFieldSetGetSize(field) == (int)sizeof(float)) {
        if (TIFFGetField(tif, tag, &value.single))
            sl_exif_number(to, (double)value.single);
    }
}

/* The Exif directory; it takes the place of the page's, so it comes last. */
static void read_exif(sl_exif *exif, TIFF *tif)
{
    toff_t offset = 0;
    const char *date = NULL;
    uint16_t focal_35mm = 0;
    uint32_t size = 0;

    if (!TIFFGetField(tif, TIFFTAG_EXIFIFD, &offset) || !TIFFReadEXIFDirectory(tif, offset))
        return;
    if (TIFFGetField(tif, EXIFTAG_DATETIMEORIGINAL, &date) && date != NULL)
        sl_exif_date(exif->date, date, strlen(date));
    read_number(&exif->focal_mm, tif, EXIFTAG_FOCALLENGTH);
    read_number(&exif->digital_zoom, tif, EXIFTAG_DIGITALZOOMRATIO);
    if (TIFFGetField(tif, EXIFTAG_FOCALLENGTHIN35MMFILM, &focal_35mm))
        sl_exif_number(&exif->focal_35mm, (double)focal_35mm);
    if (TIFFGetField(tif, EXIFTAG_PIXELXDIMENSION, &size))
        exif->pixel_x = size;
    if (TIFFGetField(tif, EXIFTAG_PIXELYDIMENSION, &size))
        exif->pixel_y = size;
}

sl_status sl_decode_tiff(sl_shot *shot, const sl_decode_job *job, sl_error *err)
{
    sl_tiff in = { .job = job };
    uint32_t icc_size = 0;
    void *icc = NULL;
    sl_status st;

    st = open_page(shot, &in, err);
    if (st != SL_OK)
        return st;
    read_own_tags(&shot->exif, in.tif);
    in.strict = true;
    st = sl_tiff_pixels(shot, &in, err);
    if (st != SL_OK)
        goto done;
    if (in.damaged) {
        st = sl_tiff_damaged(&in, "its data is incomplete", err);
        goto done;
    }
    in.strict = false;
    if (TIFFGetField(in.tif, TIFFTAG_ICCPROFILE, &icc_size, &icc)) {
        st = sl_decode_keep_icc(shot, icc, icc_size, err);
        if (st != SL_OK)
            goto done;
    }
    read_exif(&shot->exif, in.tif);
done:
    TIFFClose(in.tif);
    return st;
}
