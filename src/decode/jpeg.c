/*
 * JPEG (ITU-T T.81) by libjpeg-turbo, with its default decoding: accurate integer DCT and
 * smooth chroma upsampling, so that the pixels are those that other programs on it see.
 *
 * Errors leave the library by longjmp to one place, sl_decode_jpeg(). Everything that must
 * survive the jump lives in `reader`, not in locals.
 */
#include "decode/decode.h"

#include <limits.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>
#include <jerror.h>

#include "base/error.h"
#include "base/inks.h"
#include "decode/alpha.h"
#include "decode/exif.h"
#include "decode/orient.h"

typedef struct reader {
    struct jpeg_decompress_struct info;
    struct jpeg_error_mgr         errors;
    struct jpeg_progress_mgr      progress;
    jmp_buf                       escape;
    const sl_decode_job          *job;
    sl_shot                      *shot;
    sl_error                     *err;
    sl_status                     status;   /* what the jump means */
    unsigned char                *band;     /* rows that still have to be turned or mixed */
    JOCTET                       *icc;
    unsigned                      icc_size;
    bool                          keeps_inks; /* CMYK with a profile of its own */
} reader;

/* ---- errors and warnings --------------------------------------------------------------------- */

/* Ends decoding with a status that sl_fail() has already filled in. */
static void give_up(reader *in, sl_status status)
{
    in->status = status;
    longjmp(in->escape, 1);
}

static void damaged(reader *in)
{
    char reason[JMSG_LENGTH_MAX];

    in->errors.format_message((j_common_ptr)&in->info, reason);
    give_up(in, sl_decode_damaged(in->err, "JPEG", reason));
}

static void on_error(j_common_ptr info)
{
    reader *in = info->client_data;
    char reason[JMSG_LENGTH_MAX];

    in->errors.format_message(info, reason);
    switch (in->errors.msg_code) {
    case JERR_OUT_OF_MEMORY:
        give_up(in, sl_fail(in->err, SL_ERR_NOMEM, "decode", "no memory to decode the JPEG"));
        break;
    case JERR_NO_BACKING_STORE:   /* what libjpeg turns to when its memory limit is reached */
        give_up(in, sl_fail(in->err, SL_ERR_LIMIT, "decode",
                            "the JPEG needs more to decode than the limit of %.1f MB: raise "
                            "it", (double)in->job->limits.max_memory / 1e6));
        break;
    case JERR_IMAGE_TOO_BIG:
    case JERR_WIDTH_OVERFLOW:
        give_up(in, sl_fail(in->err, SL_ERR_LIMIT, "decode",
                            "%s: save the picture smaller", reason));
        break;
    case JERR_BAD_PRECISION:
    case JERR_SOF_UNSUPPORTED:
    case JERR_ARITH_NOTIMPL:
    case JERR_CONVERSION_NOTIMPL:
    case JERR_FRACT_SAMPLE_NOTIMPL:
    case JERR_CCIR601_NOTIMPL:
    case JERR_NOTIMPL:
    case JERR_NOT_COMPILED:
        give_up(in, sl_fail(in->err, SL_ERR_UNSUPPORTED, "decode",
                            "%s: convert it to 8-bit baseline JPEG, or to TIFF, first",
                            reason));
        break;
    default:
        damaged(in);
    }
}

/*
 * Bytes that the decoder skipped to reach a marker. Before the picture's data they cost
 * nothing. After it began they mean that the data was longer than the picture: bits were
 * changed and the decoder lost its place (of 300 random bit flips in two photographs, 67
 * showed only like this, all with 15 bytes or more). Up to 3 bytes are let through, padding to
 * a multiple of 4 that real files have, and so are zeros. (Few bytes before a restart marker
 * are reported with those before the next other marker: libjpeg sums them up.)
 */
static bool skipped_is_harmless(const reader *in)
{
    enum { PADDING = 3 };
    const int count = in->errors.msg_parm.i[0];
    const int marker = in->errors.msg_parm.i[1];
    const unsigned char *at = in->info.src->next_input_byte;
    size_t left = (size_t)(at - in->job->bytes);

    if (in->info.input_scan_number == 0)
        return true;
    if (count <= PADDING)
        return true;
    /* Back from behind the marker, over its code and the 0xFFs before it. */
    if (left > 0 && at[-1] == marker) {
        at--;
        left--;
    }
    while (left > 0 && at[-1] == 0xFF) {
        at--;
        left--;
    }
    if (left < (size_t)count)
        return false;
    for (int i = 1; i <= count; i++)
        if (at[-i] != 0)
            return false;
    return true;
}

/*
 * libjpeg goes on after a warning, with grey or garbled blocks. A page must not be made of
 * those, so a warning about the picture's data ends the decoding. (Of 106 photographs and test
 * files seen, no sound one has such a warning.)
 */
static void on_message(j_common_ptr info, int level)
{
    reader *in = info->client_data;

    if (level >= 0)
        return;              /* a trace */
    switch (in->errors.msg_code) {
    case JWRN_ADOBE_XFORM:   /* an unknown transform code: YCbCr or YCCK is taken */
    case JWRN_JFIF_MAJOR:    /* a later JFIF version */
    case JWRN_BOGUS_ICC:     /* no profile then */
        return;
    case JWRN_EXTRANEOUS_DATA:
        if (skipped_is_harmless(in))
            return;
        break;
    default:
        break;
    }
    damaged(in);
}

static void no_output(j_common_ptr info)
{
    (void)info;
}

/* Called often while scans are read, so that a file of thousands cannot hold us for minutes. */
static void on_progress(j_common_ptr info)
{
    reader *in = info->client_data;
    const unsigned limit = in->job->limits.max_scans;

    if (in->info.input_scan_number > 0 && (unsigned)in->info.input_scan_number > limit)
        give_up(in, sl_fail(in->err, SL_ERR_LIMIT, "decode",
                            "the JPEG has more than %u scans, far more than any photograph: "
                            "save it anew, or raise the limit", limit));
}

/* ---- reading --------------------------------------------------------------------------------- */

/* Tags from the first APP1 that holds Exif (XMP is in an APP1 too). */
static void read_exif(const reader *in)
{
    static const unsigned char head[6] = { 'E', 'x', 'i', 'f', 0, 0 };

    for (jpeg_saved_marker_ptr m = in->info.marker_list; m != NULL; m = m->next)
        if (m->marker == JPEG_APP0 + 1 && m->data_length > sizeof head
            && memcmp(m->data, head, sizeof head) == 0) {
            sl_exif_read(&in->shot->exif, m->data, m->data_length);
            return;
        }
}

/* Bytes beside the frame: saved markers, coefficients of all blocks, rows in work. */
static size_t own_bytes(reader *in)
{
    struct jpeg_decompress_struct *info = &in->info;
    size_t sum = 0;

    for (jpeg_saved_marker_ptr m = info->marker_list; m != NULL; m = m->next)
        sum = sl_decode_add(sum, m->data_length);
    if (jpeg_has_multiple_scans(info))
        for (int i = 0; i < info->num_components; i++) {
            const jpeg_component_info *part = &info->comp_info[i];
            /* Whole MCUs are kept: a row and a column of them more than the blocks. */
            const size_t wide = (size_t)part->width_in_blocks + (size_t)part->h_samp_factor;
            const size_t high = (size_t)part->height_in_blocks + (size_t)part->v_samp_factor;

            sum = sl_decode_add(sum, sl_decode_mul(sl_decode_mul(wide, high),
                                                   DCTSIZE2 * sizeof(JCOEF)));
        }
    /* An iMCU row of samples before and after upsampling, and the band. */
    return sl_decode_add(sum, (size_t)info->image_width
                              * (size_t)info->num_components * (4 * 16 + SL_BAND_ROWS));
}

/* CMYK as it was decoded becomes RGB in place. Adobe's files hold 255 minus the ink. */
static void inks_to_rgb(unsigned char *row, size_t width, bool inverted)
{
    const unsigned char flip = inverted ? 0xFF : 0;

    for (size_t x = 0; x < width; x++) {
        const unsigned char *inks = row + 4 * x;
        const unsigned black = inks[3] ^ flip;
        unsigned char rgb[3];

        for (int c = 0; c < 3; c++)
            rgb[c] = (unsigned char)sl_from_inks(inks[c] ^ flip, black, 255);
        memcpy(row + 3 * x, rgb, sizeof rgb);
    }
}

/* The inks themselves, 0 = none. */
static void upright_inks(const reader *in, unsigned char *row, size_t width)
{
    for (size_t i = 0; in->info.saw_Adobe_marker && i < 4 * width; i++)
        row[i] ^= 0xFF;
}

/* `count` rows from the decoder into memory at `to`. */
static void read_rows(reader *in, unsigned char *to, size_t stride, size_t count)
{
    JSAMPROW row[SL_BAND_ROWS];

    for (size_t i = 0; i < count; i++)
        row[i] = to + i * stride;
    for (size_t done = 0; done < count;)
        done += jpeg_read_scanlines(&in->info, row + done, (JDIMENSION)(count - done));
}

static void read_pixels(reader *in, const sl_upright *to)
{
    const size_t width = in->info.output_width;
    const size_t height = in->info.output_height;
    const bool inks = in->info.out_color_space == JCS_CMYK;
    sl_image *image = in->shot->image;
    const size_t stride = width * (size_t)in->info.output_components;
    const bool straight = sl_decode_way_up(in->shot, in->job) == 1 && !inks;

    if (!straight) {
        in->band = malloc(stride * SL_BAND_ROWS);
        if (in->band == NULL)
            give_up(in, sl_fail(in->err, SL_ERR_NOMEM, "decode", "out of memory"));
    }
    for (size_t y = 0; y < height;) {
        const size_t rows = height - y < SL_BAND_ROWS ? height - y : SL_BAND_ROWS;

        if (straight) {
            read_rows(in, image->data + y * image->stride, image->stride, rows);
        } else {
            read_rows(in, in->band, stride, rows);
            for (size_t i = 0; inks && i < rows; i++) {
                if (in->keeps_inks)
                    upright_inks(in, in->band + i * stride, width);
                else
                    inks_to_rgb(in->band + i * stride, width, in->info.saw_Adobe_marker != 0);
            }
            sl_upright_block(to, 0, y, width, rows, in->band, stride);
        }
        y += rows;
    }
}

static void choose_colours(reader *in, unsigned *channels)
{
    struct jpeg_decompress_struct *info = &in->info;

    switch (info->jpeg_color_space) {
    case JCS_GRAYSCALE:
        info->out_color_space = JCS_GRAYSCALE;
        *channels = 1;
        break;
    case JCS_YCbCr:
    case JCS_RGB:
        info->out_color_space = JCS_RGB;
        *channels = 3;
        break;
    case JCS_CMYK:
    case JCS_YCCK:
        info->out_color_space = JCS_CMYK;
        in->keeps_inks = sl_decode_icc_is(in->icc, in->icc_size, "CMYK");
        *channels = in->keeps_inks ? 4 : 3;
        break;
    default:
        give_up(in, sl_fail(in->err, SL_ERR_UNSUPPORTED, "decode",
                            "a JPEG with %d components of unknown meaning: save it as RGB "
                            "first", info->num_components));
    }
}

/* Runs under the guard: any call may leave by longjmp. */
static void read_all(reader *in)
{
    struct jpeg_decompress_struct *info = &in->info;
    const size_t most = in->job->limits.max_memory;
    unsigned channels = 0;
    sl_upright to;
    sl_status st;

    jpeg_create_decompress(info);
    info->client_data = in;
    info->progress = &in->progress;
    info->mem->max_memory_to_use = most > LONG_MAX ? LONG_MAX : (long)most;
    jpeg_mem_src(info, in->job->bytes, (unsigned long)in->job->size);
    jpeg_save_markers(info, JPEG_APP0 + 1, 0xFFFF);
    jpeg_save_markers(info, JPEG_APP0 + 2, 0xFFFF);
    (void)jpeg_read_header(info, TRUE);

    read_exif(in);
    if (!jpeg_read_icc_profile(info, &in->icc, &in->icc_size))
        in->icc_size = 0;
    choose_colours(in, &channels);
    st = sl_decode_budget(in->job, info->image_width, info->image_height, channels, 8,
                          own_bytes(in), in->err);
    if (st != SL_OK)
        give_up(in, st);
    st = sl_upright_new(&to, &in->shot->image, info->image_width, info->image_height, channels,
                        8, sl_decode_way_up(in->shot, in->job), in->err);
    if (st != SL_OK)
        give_up(in, st);
    st = sl_decode_keep_icc(in->shot, in->icc, in->icc_size, in->err);
    if (st != SL_OK)
        give_up(in, st);
    (void)jpeg_start_decompress(info);
    read_pixels(in, &to);
    (void)jpeg_finish_decompress(info);
}

sl_status sl_decode_jpeg(sl_shot *shot, const sl_decode_job *job, sl_error *err)
{
    reader *in = calloc(1, sizeof *in);
    sl_status st;

    if (in == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
    in->job = job;
    in->shot = shot;
    in->err = err;
    in->info.err = jpeg_std_error(&in->errors);
    in->info.client_data = in;
    in->errors.error_exit = on_error;
    in->errors.emit_message = on_message;
    in->errors.output_message = no_output;
    in->progress.progress_monitor = on_progress;

    if (setjmp(in->escape) == 0)
        read_all(in);
    st = in->status;
    jpeg_destroy_decompress(&in->info);
    free(in->icc);
    free(in->band);
    free(in);
    return st;
}
