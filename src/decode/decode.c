/*
 * A file becomes an upright shot: which reader, within which limits, and what every reader
 * needs. The readers know one foreign library each; this file knows none.
 */
#include "decode/decode.h"

#include <stdlib.h>
#include <string.h>

#include "base/error.h"

static bool starts(const unsigned char *bytes, size_t size, size_t at, const char *magic,
                   size_t length)
{
    return size >= at && size - at >= length && memcmp(bytes + at, magic, length) == 0;
}

#define STARTS(at, magic) starts(bytes, size, at, magic, sizeof(magic) - 1)

/* Major brands of ISO/IEC 23008-12 (HEIF), and AVIF's, which is the same container. */
static bool is_heif(const unsigned char *bytes, size_t size)
{
    static const char brands[][5] = { "heic", "heix", "heim", "heis", "hevc", "hevx", "hevm",
                                      "hevs", "mif1", "mif2", "msf1", "avif", "avis" };

    if (!STARTS(4, "ftyp"))
        return false;
    for (size_t i = 0; i < sizeof brands / sizeof brands[0]; i++)
        if (starts(bytes, size, 8, brands[i], 4))
            return true;
    return false;
}

sl_format sl_format_sniff(const void *data, size_t size)
{
    const unsigned char *bytes = data;

    if (bytes == NULL)
        return SL_FORMAT_UNKNOWN;
    if (STARTS(0, "\xFF\xD8\xFF"))
        return SL_FORMAT_JPEG;
    if (STARTS(0, "\x89PNG\r\n\x1A\n"))
        return SL_FORMAT_PNG;
    /* Version 42, and 43 for BigTIFF, in both byte orders. */
    if (STARTS(0, "II*\0") || STARTS(0, "MM\0*") || STARTS(0, "II+\0") || STARTS(0, "MM\0+"))
        return SL_FORMAT_TIFF;
    return is_heif(bytes, size) ? SL_FORMAT_HEIF : SL_FORMAT_UNKNOWN;
}

/*
 * Raw files that their first bytes give away: signatures from the raw formats' common
 * descriptions (common practice; there is no standard). Others are told by their TIFF tags.
 */
static bool is_camera_raw(const unsigned char *bytes, size_t size)
{
    return STARTS(4, "ftypcrx ") || (STARTS(0, "II*\0") && STARTS(8, "CR"))
           || STARTS(0, "IIU\0") || STARTS(0, "IIRO") || STARTS(0, "IIRS")
           || STARTS(0, "MMOR") || STARTS(0, "FUJIFILMCCD-RAW");
}

sl_decode_params sl_decode_defaults(void)
{
    return (sl_decode_params){
        .max_pixels = 250000000,  /* the largest medium-format backs have 151 million */
        .max_memory = (size_t)2000000000,
        .max_scans = 500          /* a photograph has about ten; LJT-01-004 has thousands */
    };
}

size_t sl_decode_add(size_t a, size_t b)
{
    return a > SIZE_MAX - b ? SIZE_MAX : a + b;
}

size_t sl_decode_mul(size_t a, size_t b)
{
    return b != 0 && a > SIZE_MAX / b ? SIZE_MAX : a * b;
}

sl_status sl_decode_budget(const sl_decode_job *job, size_t width, size_t height,
                           unsigned channels, unsigned bits, size_t extra, sl_error *err)
{
    const size_t pixels = sl_decode_mul(width, height);
    const size_t frame = sl_decode_mul(pixels, (size_t)channels * (bits / 8));
    const size_t need = sl_decode_add(frame, extra);

    if (pixels > job->limits.max_pixels)
        return sl_fail(err, SL_ERR_LIMIT, "decode",
                       "%zu x %zu px are %.1f million, the limit is %.1f million: save the "
                       "picture smaller, or raise the limit", width, height,
                       (double)pixels / 1e6, (double)job->limits.max_pixels / 1e6);
    if (need > job->limits.max_memory)
        return sl_fail(err, SL_ERR_LIMIT, "decode",
                       "%zu x %zu px need %.1f MB to decode, the limit is %.1f MB: save the "
                       "picture smaller, or raise the limit", width, height,
                       (double)need / 1e6, (double)job->limits.max_memory / 1e6);
    return SL_OK;
}

unsigned sl_decode_way_up(const sl_shot *shot, const sl_decode_job *job)
{
    return job->limits.orientation != 0 ? job->limits.orientation : shot->exif.orientation;
}

sl_status sl_decode_damaged(sl_error *err, const char *format, const char *reason)
{
    return sl_fail(err, SL_ERR_FORMAT, "decode",
                   "the %s file is damaged or cut short (%.110s): copy it again from the camera "
                   "or card", format, reason);
}

bool sl_decode_icc_is(const void *icc, size_t size, const char space[4])
{
    enum { HEADER = 128 };
    const unsigned char *bytes = icc;
    size_t stated;

    if (bytes == NULL || size < HEADER || memcmp(bytes + 36, "acsp", 4) != 0
        || memcmp(bytes + 16, space, 4) != 0)
        return false;
    stated = (size_t)bytes[0] << 24 | (size_t)bytes[1] << 16 | (size_t)bytes[2] << 8 | bytes[3];
    return stated >= HEADER && stated <= size;
}

sl_status sl_decode_keep_icc(sl_shot *shot, const void *icc, size_t size, sl_error *err)
{
    const unsigned channels = shot->image->channels;

    if (!sl_decode_icc_is(icc, size, channels == 1 ? "GRAY" : channels == 3 ? "RGB " : "CMYK"))
        return SL_OK;
    shot->icc = malloc(size);
    if (shot->icc == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "decode", "no memory for a profile of %zu bytes",
                       size);
    memcpy(shot->icc, icc, size);
    shot->icc_size = size;
    return SL_OK;
}

static sl_status read_by_format(sl_shot *shot, const sl_decode_job *job, sl_error *err)
{
    if (is_camera_raw(job->bytes, job->size))
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "this is a camera raw file: convert it to 16-bit TIFF first");
    shot->format = sl_format_sniff(job->bytes, job->size);
    switch (shot->format) {
    case SL_FORMAT_JPEG:
        return sl_decode_jpeg(shot, job, err);
    case SL_FORMAT_PNG:
        return sl_decode_png(shot, job, err);
    case SL_FORMAT_TIFF:
        return sl_decode_tiff(shot, job, err);
    case SL_FORMAT_HEIF:
#if defined(SL_HEIF)
        return sl_decode_heif(shot, job, err);
#else
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "a HEIC picture, and this squareleaf was built without libheif: convert "
                       "it to JPEG, set the phone to write JPEG, or build with libheif-dev "
                       "installed (make HEIF=yes)");
#endif
    case SL_FORMAT_UNKNOWN:
        break;
    }
    return sl_fail(err, SL_ERR_FORMAT, "decode",
                   "no JPEG, PNG, TIFF or HEIC signature: if this is a photograph, the file is damaged; "
                   "copy it again from the camera or card");
}

sl_status sl_shot_decode(sl_shot **out, const void *bytes, size_t size,
                         const sl_decode_params *params, sl_error *err)
{
    sl_decode_job job = { bytes, size, params != NULL ? *params : sl_decode_defaults(), false };
    sl_shot *shot = NULL;
    sl_status st;

    if (out == NULL || (bytes == NULL && size > 0))
        return sl_fail(err, SL_ERR_ARG, "decode", "no file or no place for the shot");
    if (size == 0)
        return sl_fail(err, SL_ERR_FORMAT, "decode",
                       "the file is empty: copy it again from the camera or card");
    /* A file's tags can fill at most its own size; a larger file cannot keep within the limit. */
    if (size > job.limits.max_memory)
        return sl_fail(err, SL_ERR_LIMIT, "decode",
                       "the file has %.1f MB, the limit is %.1f MB: save the picture smaller, or "
                       "raise the limit", (double)size / 1e6,
                       (double)job.limits.max_memory / 1e6);
    shot = calloc(1, sizeof *shot);
    if (shot == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
    shot->exif.orientation = 1;
    shot->images = 1;

    st = read_by_format(shot, &job, err);
    if (st != SL_OK)
        goto done;
    *out = shot;
    shot = NULL;             /* the caller's now */
done:
    sl_shot_free(shot);
    return st;
}

void sl_shot_free(sl_shot *shot)
{
    if (shot != NULL) {
        sl_image_free(shot->image);
        free(shot->icc);
        free(shot);
    }
}
