/*
 * HEIF (ISO/IEC 23008-12), what phones write, and AVIF in the same container, by libheif. Its
 * decoding gives the pixels that other programs on it see: rotated, mirrored and cut as the
 * file's own properties say. So the Exif orientation, which says the same once more, is read
 * but not applied: 23008-12, annex A, has it so.
 *
 * On some damaged files libde265, below libheif, prints a line of its own to standard error; it
 * has no handler to take it.
 *
 * A file that has no ICC profile may name its colours by numbers (nclx, ITU-T H.273): a profile
 * is made of these, so that later stages know one kind of description only.
 */
#include "decode/decode.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/icc.h"
#include "decode/alpha.h"
#include "decode/exif.h"
#include "decode/heif_calls.h"

typedef struct reader {
    sl_heif_calls             call;
    const sl_decode_job      *job;
    sl_shot                  *shot;
    struct heif_context      *context;
    struct heif_image_handle *handle;
    struct heif_image        *image;
    struct heif_decoding_options *options;
} reader;

/* ---- what libheif says ----------------------------------------------------------------------- */

static sl_status refused(struct heif_error why, const sl_decode_job *job, sl_error *err)
{
    const char *reason = why.message != NULL ? why.message : "";

    switch (why.code) {
    case heif_error_Memory_allocation_error:
        if (why.subcode == heif_suberror_Security_limit_exceeded)
            return sl_fail(err, SL_ERR_LIMIT, "decode",
                           "the HEIF picture is larger than the limit of %.1f million px (%.90s): "
                           "save it smaller, or raise the limit",
                           (double)job->limits.max_pixels / 1e6, reason);
        return sl_fail(err, SL_ERR_NOMEM, "decode", "no memory to decode the HEIF file");
    case heif_error_Unsupported_filetype:
    case heif_error_Unsupported_feature:
    case heif_error_Plugin_loading_error:
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "a HEIF file of a kind that libheif does not read here (%.110s): convert "
                       "it to JPEG or TIFF first", reason);
    default:
        return sl_decode_damaged(err, "HEIF", reason);
    }
}

/* ---- tags ------------------------------------------------------------------------------------ */

/*
 * An Exif item is a number of bytes to pass over, big-endian, then those, then a TIFF structure;
 * what is passed over is "Exif\0\0" or nothing (23008-12, A.2.1).
 */
static sl_status read_exif(const reader *in, sl_error *err)
{
    enum { LENGTH = 4, HEAD = 6 };
    static const char head[HEAD] = { 'E', 'x', 'i', 'f', 0, 0 };
    heif_item_id id;
    unsigned char *item;
    size_t size;

    if (in->call.image_handle_get_list_of_metadata_block_IDs(in->handle, "Exif", &id, 1) != 1)
        return SL_OK;
    size = in->call.image_handle_get_metadata_size(in->handle, id);
    if (size <= LENGTH || size > in->job->size)
        return SL_OK;
    item = malloc(HEAD + size);
    if (item == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
    if (in->call.image_handle_get_metadata(in->handle, id, item + HEAD).code == heif_error_Ok) {
        const unsigned char *n = item + HEAD;
        const size_t skip = (size_t)n[0] << 24 | (size_t)n[1] << 16 | (size_t)n[2] << 8 | n[3];

        if (skip < size - LENGTH) {
            unsigned char *block = item + LENGTH + skip; /* HEAD bytes before the structure */

            memcpy(block, head, HEAD);
            sl_exif_read(&in->shot->exif, block, HEAD + size - LENGTH - skip);
        }
    }
    free(item);
    return SL_OK;
}

/*
 * Transfer characteristics of H.273, table 3, as a profile's curve. Stills with the curve of a
 * video camera (1, 6, 14, 15) are meant to be seen as sRGB (common practice). -1: for displays
 * brighter than paper; there is no page in such a picture until it is mapped down.
 */
static double gamma_of(enum heif_transfer_characteristics curve)
{
    switch (curve) {
    case heif_transfer_characteristic_ITU_R_BT_470_6_System_M:
        return 2.2;
    case heif_transfer_characteristic_ITU_R_BT_470_6_System_B_G:
        return 2.8;
    case heif_transfer_characteristic_linear:
        return 1.0;
    case heif_transfer_characteristic_ITU_R_BT_2100_0_PQ:
    case heif_transfer_characteristic_ITU_R_BT_2100_0_HLG:
        return -1.0;
    default:
        return 0.0;
    }
}

static sl_status profile_from_numbers(const reader *in, const struct heif_color_profile_nclx *n,
                                      sl_error *err)
{
    sl_icc_space space = {
        .name = "by the file's numbers",
        .primary = { { (double)n->color_primary_red_x, (double)n->color_primary_red_y },
                     { (double)n->color_primary_green_x, (double)n->color_primary_green_y },
                     { (double)n->color_primary_blue_x, (double)n->color_primary_blue_y } },
        .white = { (double)n->color_primary_white_x, (double)n->color_primary_white_y },
        .gamma = gamma_of(n->transfer_characteristics)
    };
    const bool srgb_curve = space.gamma < 0.5;
    sl_bytes icc = { NULL, 0, 0, false };
    sl_status st = SL_OK;

    if (space.gamma < 0.0)
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "the picture is stored for HDR screens (PQ or HLG): save it as a standard "
                       "picture, JPEG say, first");
    switch (n->color_primaries) {
    case heif_color_primaries_unspecified:
    case heif_color_primaries_ITU_R_BT_709_5:
        if (srgb_curve)
            return SL_OK;    /* what is assumed anyway */
        memcpy(space.primary, sl_icc_srgb.primary, sizeof space.primary);
        memcpy(space.white, sl_icc_srgb.white, sizeof space.white);
        break;
    case heif_color_primaries_SMPTE_EG_432_1:
        memcpy(space.primary, sl_icc_display_p3.primary, sizeof space.primary);
        memcpy(space.white, sl_icc_display_p3.white, sizeof space.white);
        if (srgb_curve)
            space.name = sl_icc_display_p3.name;
        break;
    default:
        break;
    }
    if (sl_icc_build(&icc, &space)) {
        if (icc.failed)
            st = sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
        else
            st = sl_decode_keep_icc(in->shot, icc.data, icc.size, err);
    }
    sl_bytes_free(&icc);
    return st;
}

/* The embedded profile, or one made of nclx; neither: sRGB, as of every other file. */
static sl_status read_profile(const reader *in, sl_error *err)
{
    const size_t size = in->call.image_handle_get_raw_color_profile_size(in->handle);
    struct heif_color_profile_nclx *nclx = NULL;
    void *icc;
    sl_status st = SL_OK;

    if (size > 0 && size <= in->job->size) {
        icc = malloc(size);
        if (icc == NULL)
            return sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
        if (in->call.image_handle_get_raw_color_profile(in->handle, icc).code == heif_error_Ok)
            st = sl_decode_keep_icc(in->shot, icc, size, err);
        free(icc);
    } else if (in->call.image_handle_get_nclx_color_profile(in->handle, &nclx).code
               == heif_error_Ok) {
        st = profile_from_numbers(in, nclx, err);
        in->call.nclx_color_profile_free(nclx);
    }
    return st;
}

/* ---- pixels ---------------------------------------------------------------------------------- */

/* A row of 8-bit samples; `alpha` over white. */
static void copy_row8(unsigned char *to, const unsigned char *from, size_t width, bool alpha,
                      bool premultiplied)
{
    if (!alpha) {
        memcpy(to, from, 3 * width);
        return;
    }
    for (size_t x = 0; x < width; x++, from += 4, to += 3)
        for (size_t c = 0; c < 3; c++) {
            const unsigned v = premultiplied ? from[c] + 255u - from[3]
                                             : sl_over_white(from[c], from[3], 255);

            to[c] = (unsigned char)(v > 255 ? 255 : v);
        }
}

/* 10 or 12 bits, low byte first in the file's row, become the full 16. */
static void copy_row16(unsigned char *to, const unsigned char *from, size_t width, unsigned bits,
                       bool alpha, bool premultiplied)
{
    const unsigned max = (1u << bits) - 1u;
    const unsigned samples = alpha ? 4 : 3;

    for (size_t x = 0; x < width; x++, from += 2 * samples, to += 6)
        for (unsigned c = 0; c < 3; c++) {
            const unsigned a = alpha ? from[6] | (unsigned)from[7] << 8 : max;
            unsigned v = from[2 * c] | (unsigned)from[2 * c + 1] << 8;
            uint16_t wide;

            if (alpha)
                v = premultiplied ? v + max - a : sl_over_white(v, a < max ? a : max, max);
            v = v > max ? max : v;
            wide = (uint16_t)((v * 65535u + max / 2) / max);
            memcpy(to + 2 * c, &wide, 2);
        }
}

static sl_status copy_pixels(const reader *in, unsigned bits, bool alpha, sl_error *err)
{
    const int width = in->call.image_get_width(in->image, heif_channel_interleaved);
    const int height = in->call.image_get_height(in->image, heif_channel_interleaved);
    const int range = in->call.image_get_bits_per_pixel_range(in->image, heif_channel_interleaved);
    const bool premultiplied = in->call.image_handle_is_premultiplied_alpha(in->handle) != 0;
    int stride = 0;
    const unsigned char *from = in->call.image_get_plane_readonly(in->image,
                                                              heif_channel_interleaved, &stride);
    sl_status st;

    if (from == NULL || width <= 0 || height <= 0 || stride <= 0
        || width != in->call.image_handle_get_width(in->handle)
        || height != in->call.image_handle_get_height(in->handle)
        || (bits == 8 ? range != 8 : range < 9 || range > 16))
        return sl_decode_damaged(err, "HEIF", "the picture is not of the size or kind it says");
    st = sl_image_new(&in->shot->image, (size_t)width, (size_t)height, 3, bits, err);
    for (size_t y = 0; st == SL_OK && y < (size_t)height; y++, from += stride) {
        unsigned char *to = in->shot->image->data + y * in->shot->image->stride;

        if (bits == 8)
            copy_row8(to, from, (size_t)width, alpha, premultiplied);
        else
            copy_row16(to, from, (size_t)width, (unsigned)range, alpha, premultiplied);
    }
    return st;
}

static sl_status open_file(reader *in, sl_error *err)
{
    const size_t most = in->job->limits.max_pixels;
    struct heif_error why;

    in->context = in->call.context_alloc();
    in->options = in->call.decoding_options_alloc();
    if (in->context == NULL || in->options == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
    /* libheif's own limit is a side's; 32768 is its default, and no side is longer than an area */
    in->call.context_set_maximum_image_size_limit(in->context, most < 32768 ? (int)most : 32768);
    /* pages are decoded side by side already */
    in->call.context_set_max_decoding_threads(in->context, 0);
    in->options->strict_decoding = 1;
    in->options->ignore_transformations = in->job->limits.orientation == 1;
    why = in->call.context_read_from_memory_without_copy(in->context, in->job->bytes, in->job->size,
                                                     NULL);
    if (why.code == heif_error_Ok)
        why = in->call.context_get_primary_image_handle(in->context, &in->handle);
    return why.code == heif_error_Ok ? SL_OK : refused(why, in->job, err);
}

static sl_status read_all(reader *in, sl_error *err)
{
    struct heif_error why;
    sl_status st = open_file(in, err);

    if (st != SL_OK)
        return st;

    const int width = in->call.image_handle_get_width(in->handle);
    const int height = in->call.image_handle_get_height(in->handle);
    const int images = in->call.context_get_number_of_top_level_images(in->context);
    const unsigned bits = in->call.image_handle_get_luma_bits_per_pixel(in->handle) > 8 ? 16 : 8;
    const bool alpha = in->call.image_handle_has_alpha_channel(in->handle) != 0;
    const enum heif_chroma chroma =
        bits == 8 ? (alpha ? heif_chroma_interleaved_RGBA : heif_chroma_interleaved_RGB)
                  : (alpha ? heif_chroma_interleaved_RRGGBBAA_LE
                           : heif_chroma_interleaved_RRGGBB_LE);

    if (width <= 0 || height <= 0)
        return sl_decode_damaged(err, "HEIF", "a picture of no size");
    /* libheif holds luma, chroma and alpha, perhaps turned, and beside them the mixed samples */
    st = sl_decode_budget(in->job, (size_t)width, (size_t)height, 3, bits,
                          sl_decode_mul(sl_decode_mul((size_t)width, (size_t)height),
                                        (alpha ? 8u : 6u) * (bits / 8)), err);
    if (st != SL_OK)
        return st;
    in->shot->images = images > 1 ? (size_t)images : 1;
    st = read_exif(in, err);
    if (st != SL_OK || in->job->tags_only)
        return st;
    why = in->call.decode_image(in->handle, &in->image, heif_colorspace_RGB, chroma, in->options);
    if (why.code != heif_error_Ok)
        return refused(why, in->job, err);
    if (in->call.image_get_decoding_warnings(in->image, 0, &why, 1) > 0)
        return refused(why, in->job, err);
    st = copy_pixels(in, bits, alpha, err);
    if (st == SL_OK)
        st = read_profile(in, err);
    return st;
}

sl_status sl_decode_heif(sl_shot *shot, const sl_decode_job *job, sl_error *err)
{
    reader in = { .job = job, .shot = shot };
    sl_status st;

    if (!sl_heif_load(&in.call))
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "libheif 1, which reads HEIF files, is not there or too old: install it (on "
                       "Debian: apt-get install libheif1), or convert the file to JPEG or TIFF "
                       "first");
    /* Counted by the library, so that threads may begin and end in any order. */
    if (in.call.init(NULL).code != heif_error_Ok)
        return sl_fail(err, SL_ERR_UNSUPPORTED, "decode",
                       "libheif does not start: convert the file to JPEG or TIFF first");
    st = read_all(&in, err);
    if (in.image != NULL)
        in.call.image_release(in.image);
    if (in.handle != NULL)
        in.call.image_handle_release(in.handle);
    if (in.options != NULL)
        in.call.decoding_options_free(in.options);
    if (in.context != NULL)
        in.call.context_free(in.context);
    in.call.deinit();
    return st;
}
