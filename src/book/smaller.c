#include "book/smaller.h"

#include <errno.h>
#include <stdlib.h>

#include "base/error.h"

enum { BAND = 32 };          /* rows resampled at once */

typedef struct shrink {
    double x;                /* px of the image for each px of the result */
    double y;
} shrink;

static sl_point shrink_px(const void *ctx, double column, double row)
{
    const shrink *s = ctx;

    return (sl_point){ (column + 0.5) * s->x - 0.5, (row + 0.5) * s->y - 0.5 };
}

static sl_status write_rows(sl_writer *writer, const sl_resampler *resampler, const size_t px[2],
                            unsigned channels, sl_error *err)
{
    const size_t stride = px[0] * channels;
    unsigned char *rows = malloc(BAND * stride);
    sl_status st = SL_OK;

    if (rows == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "book", "out of memory");
    for (size_t first = 0; first < px[1] && st == SL_OK; first += BAND) {
        const size_t count = px[1] - first < BAND ? px[1] - first : BAND;

        st = sl_resampler_rows(resampler, first, count, rows, stride, err);
        if (st == SL_OK)
            st = sl_writer_rows(writer, rows, count, stride, err);
    }
    free(rows);
    return st == SL_OK ? sl_writer_finish(writer, err) : st;
}

static sl_status read_back(void **data, size_t *size, FILE *file, sl_error *err)
{
    long end;
    void *bytes;

    errno = 0;
    if (fseek(file, 0, SEEK_END) != 0 || (end = ftell(file)) <= 0)
        return sl_fail_errno(err, errno != 0 ? errno : EIO, "book", "a temporary file");
    rewind(file);
    bytes = malloc((size_t)end);
    if (bytes == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "book", "out of memory");
    if (fread(bytes, 1, (size_t)end, file) != (size_t)end) {
        free(bytes);
        return sl_fail_errno(err, errno != 0 ? errno : EIO, "book", "a temporary file");
    }
    *data = bytes;
    *size = (size_t)end;
    return SL_OK;
}

sl_status sl_smaller(void **jpeg, size_t *size, const void *from, size_t from_size,
                     const size_t px[2], double ppi, int quality, sl_error *err)
{
    const sl_decode_params decode = sl_decode_defaults();
    const sl_resample_params params = { px[0], px[1], 8, 0 };
    sl_shot *shot = NULL;
    sl_tone *tone = NULL;
    sl_resampler *resampler = NULL;
    sl_writer *writer = NULL;
    FILE *file = NULL;
    shrink map;
    sl_status st;

    st = sl_shot_decode(&shot, from, from_size, &decode, err);
    if (st != SL_OK)
        goto done;
    st = sl_tone_new(&tone, shot->icc, shot->icc_size, err);
    if (st != SL_OK)
        goto done;
    map = (shrink){ (double)shot->image->width / (double)px[0],
                    (double)shot->image->height / (double)px[1] };
    st = sl_resampler_new(&resampler, shot->image, tone, shrink_px, &map, &params, err);
    if (st != SL_OK)
        goto done;
    file = tmpfile();
    if (file == NULL) {
        st = sl_fail_errno(err, errno, "book", "a temporary file");
        goto done;
    }
    st = sl_writer_new(&writer, file,
                       &(sl_encode_params){ .format = SL_FORMAT_JPEG,
                                            .width = px[0],
                                            .height = px[1],
                                            .channels = shot->image->channels,
                                            .bits = 8,
                                            .quality = quality },
                       &(sl_page_info){ .ppi = ppi, .icc = shot->icc, .icc_size = shot->icc_size },
                       err);
    if (st == SL_OK)
        st = write_rows(writer, resampler, px, shot->image->channels, err);
    if (st == SL_OK)
        st = read_back(jpeg, size, file, err);
done:
    sl_writer_free(writer);
    if (file != NULL)
        (void)fclose(file);
    sl_resampler_free(resampler);
    sl_tone_free(tone);
    sl_shot_free(shot);
    return st;
}
