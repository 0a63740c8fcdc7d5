/*
 * PNG (ISO/IEC 15948) by libpng. Rows come one by one and go straight to their upright place,
 * those of interlaced files too, so that alpha and orientation need no second frame.
 *
 * gAMA, cHRM and sRGB are left aside: of a file that has no profile sRGB is assumed, and a gAMA
 * of 1/2.2, by far the most common, says nothing else (the PNG specification ranks iCCP first).
 */
#include "decode/decode.h"

#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

#include <png.h>

#include "base/error.h"
#include "decode/alpha.h"
#include "decode/exif.h"
#include "decode/orient.h"

enum { SIGNATURE = 8, CHUNK_HEAD = 8, CHUNK_FRAME = 12 };

typedef struct reader {
    png_structp          png;
    png_infop            info;
    jmp_buf              escape;
    const sl_decode_job *job;
    size_t               at;       /* of the next byte to read */
    sl_shot             *shot;
    sl_error            *err;
    sl_status            status;
    unsigned char       *rows;
} reader;

static void give_up(reader *in, sl_status status)
{
    in->status = status;
    longjmp(in->escape, 1);
}

static PNG_NORETURN void on_error(png_structp png, png_const_charp reason)
{
    reader *in = png_get_error_ptr(png);

    if (strstr(reason, "emory") != NULL)  /* "Out of memory", "insufficient memory" */
        in->status = sl_fail(in->err, SL_ERR_NOMEM, "decode", "no memory to decode the PNG");
    else
        in->status = sl_decode_damaged(in->err, "PNG", reason);
    longjmp(in->escape, 1);
}

static void on_warning(png_structp png, png_const_charp reason)
{
    (void)png;
    (void)reason;
}

static void on_read(png_structp png, png_bytep to, size_t count)
{
    reader *in = png_get_io_ptr(png);

    if (count > in->job->size - in->at)
        png_error(png, "the file ends too early");
    memcpy(to, in->job->bytes + in->at, count);
    in->at += count;
}

/*
 * The eXIf chunk may stand behind the pixels, and those need its orientation: so it is looked
 * up beforehand. Its check sum is libpng's business when it comes by.
 */
static sl_status read_exif(const reader *in)
{
    const unsigned char *bytes = in->job->bytes;
    const size_t size = in->job->size;
    size_t at = SIGNATURE;

    while (size - at >= CHUNK_FRAME) {
        const size_t length = (size_t)png_get_uint_32(bytes + at);
        static const char head[6] = { 'E', 'x', 'i', 'f', 0, 0 };

        if (length > size - at - CHUNK_FRAME)
            break;
        if (memcmp(bytes + at + 4, "eXIf", 4) == 0) {
            const size_t most = length > 65535 ? 65535 : length;
            unsigned char *block = malloc(sizeof head + most);

            if (block == NULL)
                return sl_fail(in->err, SL_ERR_NOMEM, "decode", "out of memory");
            memcpy(block, head, sizeof head);
            memcpy(block + sizeof head, bytes + at + CHUNK_HEAD, most);
            sl_exif_read(&in->shot->exif, block, sizeof head + most);
            free(block);
            break;
        }
        at += CHUNK_FRAME + length;
    }
    return SL_OK;
}

/* Grey or RGB with alpha becomes without, in place. */
static void drop_alpha(unsigned char *row, size_t width, unsigned channels, unsigned bits)
{
    for (size_t x = 0; x < width; x++) {
        if (bits == 8) {
            const unsigned char *from = row + x * (channels + 1);
            unsigned char *to = row + x * channels;
            const unsigned alpha = from[channels];

            for (unsigned c = 0; c < channels; c++)
                to[c] = (unsigned char)sl_over_white(from[c], alpha, 255);
        } else {
            uint16_t value[4];

            memcpy(value, row + x * (channels + 1) * 2, (channels + 1) * 2);
            for (unsigned c = 0; c < channels; c++)
                value[c] = (uint16_t)sl_over_white(value[c], value[channels], 65535);
            memcpy(row + x * channels * 2, value, channels * 2);
        }
    }
}

/* Every kind becomes 8 or 16-bit grey or RGB, in host order, perhaps with alpha. */
static void ask_for_plain_samples(reader *in)
{
    const uint16_t probe = 1;
    unsigned char first;

    memcpy(&first, &probe, 1);
    png_set_expand(in->png);      /* palette, fewer bits than 8, and tRNS */
    if (first == 1)
        png_set_swap(in->png);    /* a little-endian host */
    png_read_update_info(in->png, in->info);
}

/* How many of 0, 1, ... size - 1 the walk start, start + step, ... meets. */
static size_t walk_length(size_t size, int start, int step)
{
    return size <= (size_t)start ? 0 : 1 + (size - 1 - (size_t)start) / (size_t)step;
}

static void read_passes(reader *in, const sl_upright *to, unsigned channels, unsigned bits,
                        bool alpha)
{
    const size_t width = png_get_image_width(in->png, in->info);
    const size_t height = png_get_image_height(in->png, in->info);

    for (int pass = 0; pass < PNG_INTERLACE_ADAM7_PASSES; pass++) {
        const int left = PNG_PASS_START_COL(pass);
        const int top = PNG_PASS_START_ROW(pass);
        const int column_step = PNG_PASS_COL_OFFSET(pass);
        const int row_step = PNG_PASS_ROW_OFFSET(pass);
        const size_t columns = walk_length(width, left, column_step);
        const size_t rows = walk_length(height, top, row_step);

        for (size_t row = 0; columns > 0 && row < rows; row++) {
            png_read_row(in->png, in->rows, NULL);
            if (alpha)
                drop_alpha(in->rows, columns, channels, bits);
            sl_upright_spread(to, (size_t)left, (size_t)top + row * (size_t)row_step,
                              (size_t)column_step, columns, in->rows);
        }
    }
}

static void read_bands(reader *in, const sl_upright *to, unsigned channels, unsigned bits,
                       bool alpha, size_t stride)
{
    const size_t width = png_get_image_width(in->png, in->info);
    const size_t height = png_get_image_height(in->png, in->info);

    for (size_t y = 0; y < height;) {
        const size_t rows = height - y < SL_BAND_ROWS ? height - y : SL_BAND_ROWS;

        for (size_t i = 0; i < rows; i++) {
            png_read_row(in->png, in->rows + i * stride, NULL);
            if (alpha)
                drop_alpha(in->rows + i * stride, width, channels, bits);
        }
        sl_upright_block(to, 0, y, width, rows, in->rows, stride);
        y += rows;
    }
}

static void set_limits(reader *in)
{
    /* Chunks that nobody here needs are passed over (their check sums are not). */
    static const png_byte unused[] = "eXIf\0tEXt\0zTXt\0iTXt\0sPLT\0hIST\0pCAL\0sCAL";
    const size_t most = in->job->limits.max_memory;
    const size_t chunk = 64000000;    /* profiles of a printer's tables reach a few MB */

    png_set_keep_unknown_chunks(in->png, PNG_HANDLE_CHUNK_NEVER, unused,
                                (int)(sizeof unused / 5));
    png_set_chunk_malloc_max(in->png, most < chunk ? most : chunk);
    png_set_chunk_cache_max(in->png, 100);
    /* Sizes are ours to judge, with a sentence that names them. */
    png_set_user_limits(in->png, PNG_UINT_31_MAX, PNG_UINT_31_MAX);
    png_set_crc_action(in->png, PNG_CRC_ERROR_QUIT, PNG_CRC_ERROR_QUIT);
}

/* Runs under the guard: any call may leave by longjmp. */
static void read_all(reader *in)
{
    png_structp png = in->png;
    png_infop info = in->info;
    png_charp name = NULL;
    png_bytep icc = NULL;
    png_uint_32 icc_size = 0;
    int method = 0;
    sl_upright to;
    sl_status st;

    set_limits(in);
    png_set_read_fn(png, in, on_read);
    st = read_exif(in);
    if (st != SL_OK)
        give_up(in, st);
    png_read_info(png, info);

    const size_t width = png_get_image_width(png, info);
    const size_t height = png_get_image_height(png, info);
    const unsigned bits = png_get_bit_depth(png, info) == 16 ? 16 : 8;
    const unsigned channels = (png_get_color_type(png, info) & PNG_COLOR_MASK_COLOR) ? 3 : 1;
    const bool interlaced = png_get_interlace_type(png, info) != PNG_INTERLACE_NONE;
    /* At most four samples a pixel: a band of rows, and libpng's own rows. */
    const size_t row_bytes = sl_decode_mul(width, 4 * (bits / 8));

    st = sl_decode_budget(in->job, width, height, channels, bits,
                          sl_decode_mul(row_bytes, SL_BAND_ROWS + 4), in->err);
    if (st != SL_OK)
        give_up(in, st);
    st = sl_upright_new(&to, &in->shot->image, width, height, channels, bits,
                        sl_decode_way_up(in->shot, in->job), in->err);
    if (st != SL_OK)
        give_up(in, st);
    if (png_get_iCCP(png, info, &name, &method, &icc, &icc_size) != 0) {
        st = sl_decode_keep_icc(in->shot, icc, icc_size, in->err);
        if (st != SL_OK)
            give_up(in, st);
    }

    ask_for_plain_samples(in);
    const size_t stride = png_get_rowbytes(png, info);
    const bool alpha = png_get_channels(png, info) == channels + 1;

    if (png_get_bit_depth(png, info) != bits
        || (!alpha && png_get_channels(png, info) != channels) || stride > row_bytes)
        png_error(png, "samples of an unexpected kind");
    in->rows = malloc(interlaced ? stride : stride * SL_BAND_ROWS);
    if (in->rows == NULL)
        give_up(in, sl_fail(in->err, SL_ERR_NOMEM, "decode", "out of memory"));

    /* While pixels are read nothing is benign; about the tags around them libpng may shrug. */
    png_set_benign_errors(png, 0);
    if (interlaced)
        read_passes(in, &to, channels, bits, alpha);
    else
        read_bands(in, &to, channels, bits, alpha, stride);
    png_set_benign_errors(png, 1);
    png_read_end(png, NULL);
}

sl_status sl_decode_png(sl_shot *shot, const sl_decode_job *job, sl_error *err)
{
    reader *in = calloc(1, sizeof *in);
    sl_status st;

    if (in == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
    in->job = job;
    in->shot = shot;
    in->err = err;
    if (setjmp(in->escape) == 0) {
        in->png = png_create_read_struct(PNG_LIBPNG_VER_STRING, in, on_error, on_warning);
        in->info = in->png != NULL ? png_create_info_struct(in->png) : NULL;
        if (in->info == NULL)
            in->status = sl_fail(err, SL_ERR_NOMEM, "decode", "out of memory");
        else
            read_all(in);
    }
    st = in->status;
    png_destroy_read_struct(&in->png, &in->info, NULL);
    free(in->rows);
    free(in);
    return st;
}
