/*
 * Encode: rows become a page file. Nothing in a file depends on when, where or in what portions
 * it was written.
 */
#include "encode/encode.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

/* JFIF's density has 16 bits (ITU-T T.871); above 65534.5 it would round out of them. */
static const double PPI_MOST = 65534;

/* 255 markers of 65519 bytes: ICC.1:2010, B.4, embedding in JPEG. Profiles of cameras have 3 kB. */
static const size_t ICC_MOST = (size_t)255 * 65519;

sl_status sl_library_status(const char *message)
{
    /* "Out of memory", "Insufficient memory" of libpng; "No space for ..." of libtiff */
    return strstr(message, "memory") != NULL || strstr(message, "No space for") != NULL
               ? SL_ERR_NOMEM
               : SL_ERR_ARG;
}

sl_status sl_writer_new(sl_writer **out, FILE *file, const sl_encode_params *params,
                        const sl_page_info *info, sl_error *err)
{
    sl_writer *writer;
    sl_status st;

    if (params->width == 0 || params->height == 0
        || (params->channels != 1 && params->channels != 3)
        || (params->bits != 8 && params->bits != 16))
        return sl_fail(err, SL_ERR_ARG, "encode", "%zu x %zu px, %u channels of %u bits",
                       params->width, params->height, params->channels, params->bits);
    if (!(info->ppi >= 0 && info->ppi < PPI_MOST))
        return sl_fail(err, SL_ERR_ARG, "encode", "%g ppi is not in 0..%g", info->ppi, PPI_MOST);
    if (info->icc != NULL && info->icc_size > ICC_MOST)
        return sl_fail(err, SL_ERR_LIMIT, "encode", "an ICC profile of %zu bytes, limit %zu",
                       info->icc_size, ICC_MOST);
    writer = calloc(1, sizeof *writer);
    if (writer == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "encode", "out of memory");
    writer->file = file;
    writer->height = params->height;
    switch (params->format) {
    case SL_FORMAT_JPEG:
        st = sl_jpeg_writer_new(writer, params, info, err);
        break;
    case SL_FORMAT_PNG:
        st = sl_png_writer_new(writer, params, info, err);
        break;
    case SL_FORMAT_TIFF:
        st = sl_tiff_writer_new(writer, params, info, err);
        break;
    case SL_FORMAT_HEIF:
    case SL_FORMAT_UNKNOWN:
    default:
        st = sl_fail(err, SL_ERR_UNSUPPORTED, "encode", "pages are written as TIFF, PNG or JPEG");
        break;
    }
    if (st != SL_OK) {
        sl_writer_free(writer);
        return st;
    }
    *out = writer;
    return SL_OK;
}

sl_status sl_writer_rows(sl_writer *writer, const void *rows, size_t count, size_t stride,
                         sl_error *err)
{
    sl_status st;

    if (writer->broken)
        return sl_fail(err, SL_ERR_ARG, "encode", "the file was given up after an error");
    if (count > writer->height - writer->done)
        return sl_fail(err, SL_ERR_ARG, "encode", "%zu rows more than the image has",
                       count - (writer->height - writer->done));
    st = writer->kind->rows(writer->state, rows, count, stride, err);
    if (st == SL_OK)
        writer->done += count;
    else
        writer->broken = true;
    return st;
}

sl_status sl_writer_finish(sl_writer *writer, sl_error *err)
{
    sl_status st;

    if (writer->broken)
        return sl_fail(err, SL_ERR_ARG, "encode", "the file was given up after an error");
    if (writer->done != writer->height)
        return sl_fail(err, SL_ERR_ARG, "encode", "%zu of %zu rows were given", writer->done,
                       writer->height);
    writer->broken = true;   /* finished or failed, nothing more may come */
    st = writer->kind->finish(writer->state, err);
    if (st != SL_OK)
        return st;
    errno = 0;
    if (fflush(writer->file) != 0 || ferror(writer->file))
        return sl_fail_errno(err, errno != 0 ? errno : EIO, "encode", "the page's file");
    return SL_OK;
}

void sl_writer_free(sl_writer *writer)
{
    if (writer != NULL) {
        if (writer->kind != NULL && writer->state != NULL)
            writer->kind->free(writer->state);
        free(writer);
    }
}
