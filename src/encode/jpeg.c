/*
 * JPEG by libjpeg-turbo: 4:4:4, JFIF first, then Exif, XMP and the ICC profile.
 *
 * The exact integer DCT (islow) is the library's default. Huffman tables are the standard's own
 * (ITU-T T.81, annex K): tables made to measure take 4 to 10 % off a file (measured on three
 * photographs at quality 95), but double the encoder's time, and the coefficients of the whole
 * page must wait in memory, 6 bytes a pixel at 4:4:4.
 */
#include <errno.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>
#include <jerror.h>

#include "base/error.h"
#include "encode/encode.h"

enum {
    MARKER_MOST = 65533,     /* payload of one marker segment */
    EXIF_HEAD = 6,           /* "Exif" and two zeros */
    XMP_HEAD = 29,           /* the name space with its terminator */
    ROWS_AT_ONCE = 16
};

typedef struct trap {
    struct jpeg_error_mgr base;
    jmp_buf               jump;
    sl_error             *err;
    FILE                 *file;
    sl_status             status;
} trap;

typedef struct jpeg_state {
    struct jpeg_compress_struct c;
    trap                        trap;
} jpeg_state;

/* libjpeg calls this instead of exit(); what was wrong with the file is in errno. */
static void leave(j_common_ptr c)
{
    trap *t = (trap *)(void *)c->err;
    char message[JMSG_LENGTH_MAX];

    c->err->format_message(c, message);
    if (c->err->msg_code == JERR_FILE_WRITE || ferror(t->file))
        t->status = sl_fail_errno(t->err, errno != 0 ? errno : EIO, "encode", "the JPEG file");
    else
        t->status = sl_fail(t->err,
                            c->err->msg_code == JERR_OUT_OF_MEMORY ? SL_ERR_NOMEM : SL_ERR_ARG,
                            "encode", "JPEG: %s", message);
    longjmp(t->jump, 1);
}

static void quiet(j_common_ptr c)
{
    (void)c;
}

static void write_marker(jpeg_state *s, int marker, const char *head, size_t head_size,
                         const void *data, size_t size)
{
    jpeg_write_m_header(&s->c, marker, (unsigned)(head_size + size));
    for (size_t i = 0; i < head_size; i++)
        jpeg_write_m_byte(&s->c, (unsigned char)head[i]);
    for (size_t i = 0; i < size; i++)
        jpeg_write_m_byte(&s->c, ((const unsigned char *)data)[i]);
}

static sl_status write_markers(jpeg_state *s, const sl_bytes *exif, const sl_bytes *xmp,
                               const sl_bytes *icc)
{
    static const char exif_head[EXIF_HEAD] = "Exif\0";
    static const char xmp_head[XMP_HEAD] = "http://ns.adobe.com/xap/1.0/";

    if (setjmp(s->trap.jump) != 0)
        return s->trap.status;
    write_marker(s, JPEG_APP0 + 1, exif_head, sizeof exif_head, exif->data, exif->size);
    write_marker(s, JPEG_APP0 + 1, xmp_head, sizeof xmp_head, xmp->data, xmp->size);
    jpeg_write_icc_profile(&s->c, icc->data, (unsigned)icc->size);
    return SL_OK;
}

static sl_status write_metadata(jpeg_state *s, const sl_encode_params *params,
                                const sl_page_info *info, sl_error *err)
{
    sl_bytes exif = { NULL, 0, 0, false };
    sl_bytes xmp = { NULL, 0, 0, false };
    sl_bytes icc = { NULL, 0, 0, false };
    sl_status st;

    sl_exif_write(&exif, params, info);
    sl_xmp_write(&xmp, info);
    sl_icc_write(&icc, params, info);
    if (exif.failed || xmp.failed || icc.failed)
        st = sl_fail(err, SL_ERR_NOMEM, "encode", "out of memory");
    else if (exif.size + EXIF_HEAD > MARKER_MOST || xmp.size + XMP_HEAD > MARKER_MOST)
        st = sl_fail(err, SL_ERR_LIMIT, "encode", "the description does not fit into a JPEG file");
    else
        st = write_markers(s, &exif, &xmp, &icc);
    sl_bytes_free(&icc);
    sl_bytes_free(&xmp);
    sl_bytes_free(&exif);
    return st;
}

static sl_status rows(void *state, const void *data, size_t count, size_t stride, sl_error *err)
{
    jpeg_state *s = state;

    s->trap.err = err;
    if (setjmp(s->trap.jump) != 0)
        return s->trap.status;
    for (size_t y = 0; y < count;) {
        JSAMPROW row[ROWS_AT_ONCE];
        unsigned n = 0;

        for (; n < ROWS_AT_ONCE && y + n < count; n++) {
            union {
                const void *from;
                JSAMPROW    to;
            } borrow;        /* libjpeg reads the rows but does not say const */

            borrow.from = (const unsigned char *)data + (y + n) * stride;
            row[n] = borrow.to;
        }
        y += jpeg_write_scanlines(&s->c, row, n);
    }
    return SL_OK;
}

static sl_status finish(void *state, sl_error *err)
{
    jpeg_state *s = state;

    s->trap.err = err;
    if (setjmp(s->trap.jump) != 0)
        return s->trap.status;
    jpeg_finish_compress(&s->c);
    return SL_OK;
}

static void free_state(void *state)
{
    jpeg_state *s = state;

    jpeg_destroy_compress(&s->c); /* also of a struct that is still all zero */
    free(s);
}

static sl_status start(jpeg_state *s, const sl_encode_params *params, const sl_page_info *info,
                       FILE *file, sl_error *err)
{
    s->c.err = jpeg_std_error(&s->trap.base);
    s->trap.base.error_exit = leave;
    s->trap.base.output_message = quiet;
    s->trap.err = err;
    s->trap.file = file;
    if (setjmp(s->trap.jump) != 0)
        return s->trap.status;
    jpeg_create_compress(&s->c);
    jpeg_stdio_dest(&s->c, file);
    s->c.image_width = (JDIMENSION)params->width;
    s->c.image_height = (JDIMENSION)params->height;
    s->c.input_components = (int)params->channels;
    s->c.in_color_space = params->channels == 1 ? JCS_GRAYSCALE : JCS_RGB;
    jpeg_set_defaults(&s->c);
    jpeg_set_quality(&s->c, params->quality, TRUE);
    for (int i = 0; i < s->c.num_components; i++) {
        s->c.comp_info[i].h_samp_factor = 1;
        s->c.comp_info[i].v_samp_factor = 1;
    }
    /* JFIF 1.02 (ITU-T T.871): whole numbers per inch, or units 0 with a 1:1 px shape */
    s->c.write_JFIF_header = TRUE;
    s->c.JFIF_major_version = 1;
    s->c.JFIF_minor_version = 2;
    s->c.density_unit = info->ppi > 0 ? 1 : 0;
    s->c.X_density = s->c.Y_density = (UINT16)(info->ppi > 0 ? info->ppi + 0.5 : 1);
    jpeg_start_compress(&s->c, TRUE);
    return SL_OK;
}

sl_status sl_jpeg_writer_new(sl_writer *writer, const sl_encode_params *params,
                             const sl_page_info *info, sl_error *err)
{
    static const sl_writer_kind kind = { rows, finish, free_state };
    jpeg_state *s;
    sl_status st;

    if (params->bits != 8)
        return sl_fail(err, SL_ERR_ARG, "encode", "JPEG holds 8 bits a sample, not %u",
                       params->bits);
    if (params->width > JPEG_MAX_DIMENSION || params->height > JPEG_MAX_DIMENSION)
        return sl_fail(err, SL_ERR_LIMIT, "encode",
                       "%zu x %zu px: JPEG holds at most %ld px a side; write a TIFF file, or "
                       "fewer ppi",
                       params->width, params->height, JPEG_MAX_DIMENSION);
    if (params->quality < 1 || params->quality > 100)
        return sl_fail(err, SL_ERR_ARG, "encode", "JPEG quality %d is not in 1..100",
                       params->quality);
    s = calloc(1, sizeof *s);
    if (s == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "encode", "out of memory");
    writer->kind = &kind;
    writer->state = s;
    st = start(s, params, info, writer->file, err);
    return st == SL_OK ? write_metadata(s, params, info, err) : st;
}
