/*
 * PNG by libpng: pHYs, sRGB or iCCP (never both), eXIf, XMP as iTXt.
 *
 * The profile's chunk is written by hand: png_set_iCCP() drops, with a mere warning, a profile
 * that it finds a fault in, and the page would lose what its shot said of its colours.
 */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include <png.h>
#include <zlib.h>

#include "base/error.h"
#include "encode/encode.h"

/*
 * zlib level, with libpng's adaptive filters. Measured on three photographs of 6 Mpx: level 4 is
 * 0 to 6 % larger than level 6 in 37 to 50 % of its time; level 3 saves a sixth more time for 6 %.
 */
enum { LEVEL = 4 };

typedef struct png_state {
    png_structp png;
    png_infop   info;
    FILE       *file;
    sl_error   *err;
    sl_status   status;
    sl_bytes    exif;        /* here, for libpng's errors jump past their owner */
    sl_bytes    xmp;
    sl_bytes    iccp;
} png_state;

static void leave(png_structp png, png_const_charp message)
{
    png_state *s = png_get_error_ptr(png);

    if (ferror(s->file))
        s->status = sl_fail_errno(s->err, errno != 0 ? errno : EIO, "encode", "the PNG file");
    else
        s->status = sl_fail(s->err, sl_library_status(message), "encode", "PNG: %s", message);
    png_longjmp(png, 1);
}

static void quiet(png_structp png, png_const_charp message)
{
    (void)png;
    (void)message;
}

static void put(png_structp png, png_bytep data, size_t size)
{
    png_state *s = png_get_io_ptr(png);

    errno = 0;
    if (fwrite(data, 1, size, s->file) != size)
        png_error(png, "write error");
}

static void flush(png_structp png)
{
    (void)png; /* the writer flushes once, at the end */
}

static sl_status rows(void *state, const void *data, size_t count, size_t stride, sl_error *err)
{
    png_state *s = state;

    s->err = err;
    if (setjmp(png_jmpbuf(s->png)) != 0)
        return s->status;
    for (size_t y = 0; y < count; y++)
        png_write_row(s->png, (png_const_bytep)data + y * stride);
    return SL_OK;
}

static sl_status finish(void *state, sl_error *err)
{
    png_state *s = state;

    s->err = err;
    if (setjmp(png_jmpbuf(s->png)) != 0)
        return s->status;
    png_write_end(s->png, NULL);
    return SL_OK;
}

static void free_state(void *state)
{
    png_state *s = state;

    if (s->png != NULL)
        png_destroy_write_struct(&s->png, &s->info);
    sl_bytes_free(&s->iccp);
    sl_bytes_free(&s->xmp);
    sl_bytes_free(&s->exif);
    free(s);
}

/* PNG (3rd ed.) 11.3.2.3: a name, its end, method 0, the profile as a zlib stream. */
static void put_iccp(sl_bytes *out, const sl_page_info *info)
{
    static const char head[] = "ICC profile\0";
    uLongf size = compressBound((uLong)info->icc_size);
    unsigned char *packed = malloc(size);

    if (packed == NULL
        || compress2(packed, &size, info->icc, (uLong)info->icc_size, Z_BEST_COMPRESSION) != Z_OK)
        out->failed = true;
    else {
        sl_bytes_add(out, head, sizeof head);
        sl_bytes_add(out, packed, size);
    }
    free(packed);
}

static void describe(png_state *s, const sl_page_info *info)
{
    static char key[] = "XML:com.adobe.xmp";
    static char none[] = "";
    png_text text = { .compression = PNG_ITXT_COMPRESSION_NONE, .key = key, .lang = none,
                      .lang_key = none, .text = (png_charp)s->xmp.data,
                      .itxt_length = s->xmp.size };

    if (info->ppi > 0) {
        /* 1 in = 0.0254 m exactly; 300 ppi becomes 11811 px/m */
        const png_uint_32 per_metre = (png_uint_32)(info->ppi / 0.0254 + 0.5);

        png_set_pHYs(s->png, s->info, per_metre, per_metre, PNG_RESOLUTION_METER);
    }
    if (!sl_icc_carried(info))
        png_set_sRGB(s->png, s->info, PNG_sRGB_INTENT_PERCEPTUAL);
    png_set_eXIf_1(s->png, s->info, (png_uint_32)s->exif.size, s->exif.data);
    png_set_text(s->png, s->info, &text, 1);
}

static sl_status write_head(png_state *s, const sl_encode_params *params,
                            const sl_page_info *info)
{
    static const png_byte iccp[] = "iCCP";
    const union {
        uint16_t      word;
        unsigned char byte[2];
    } order = { 1 };

    if (setjmp(png_jmpbuf(s->png)) != 0)
        return s->status;
    png_set_write_fn(s->png, s, put, flush);
    png_set_compression_level(s->png, LEVEL);
    png_set_IHDR(s->png, s->info, (png_uint_32)params->width, (png_uint_32)params->height,
                 (int)params->bits,
                 params->channels == 1 ? PNG_COLOR_TYPE_GRAY : PNG_COLOR_TYPE_RGB,
                 PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    describe(s, info);
    png_write_info_before_PLTE(s->png, s->info); /* up to where iCCP belongs */
    if (s->iccp.size > 0)
        png_write_chunk(s->png, iccp, s->iccp.data, s->iccp.size);
    png_write_info(s->png, s->info);
    if (params->bits == 16 && order.byte[0] == 1)
        png_set_swap(s->png); /* PNG is big-endian */
    return SL_OK;
}

static sl_status start(png_state *s, const sl_encode_params *params, const sl_page_info *info,
                       sl_error *err)
{
    sl_exif_write(&s->exif, params, info);
    sl_xmp_write(&s->xmp, info);
    sl_bytes_add(&s->xmp, "", 1);
    if (sl_icc_carried(info))
        put_iccp(&s->iccp, info);
    if (s->exif.failed || s->xmp.failed || s->iccp.failed)
        return sl_fail(err, SL_ERR_NOMEM, "encode", "out of memory");
    s->xmp.size--;           /* libpng wants the text ended; the end is no part of it */
    s->err = err;
    return write_head(s, params, info);
}

sl_status sl_png_writer_new(sl_writer *writer, const sl_encode_params *params,
                            const sl_page_info *info, sl_error *err)
{
    static const sl_writer_kind kind = { rows, finish, free_state };
    png_state *s;

    if (params->width > PNG_USER_WIDTH_MAX || params->height > PNG_USER_HEIGHT_MAX)
        return sl_fail(err, SL_ERR_LIMIT, "encode", "%zu x %zu px are too many for PNG",
                       params->width, params->height);
    s = calloc(1, sizeof *s);
    if (s == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "encode", "out of memory");
    writer->kind = &kind;
    writer->state = s;
    s->file = writer->file;
    s->png = png_create_write_struct(PNG_LIBPNG_VER_STRING, s, leave, quiet);
    if (s->png != NULL)
        s->info = png_create_info_struct(s->png);
    if (s->png == NULL || s->info == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "encode", "out of memory");
    return start(s, params, info, err);
}
