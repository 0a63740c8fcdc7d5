#include "decode/orient.h"

#include <string.h>

#include "base/error.h"

sl_status sl_upright_new(sl_upright *to, sl_image **image, size_t width, size_t height,
                         unsigned channels, unsigned bits, unsigned orientation,
                         sl_error *err)
{
    /*
     * TIFF 6.0, p. 36: where the stored row 0 and column 0 are seen. An upright coordinate
     * either follows a stored one or runs against it; from 5 on, x and y change places.
     */
    static const struct { bool swap, against_x, against_y; } kinds[9] = {
        { false, false, false },                                 /* 0: not used */
        { false, false, false }, { false, true, false },         /* 1 as is, 2 mirrored */
        { false, true, true }, { false, false, true },           /* 3 half turn, 4 flipped */
        { true, false, false }, { true, false, true },           /* 5 transposed, 6 turned right */
        { true, true, true }, { true, true, false }              /* 7 transverse, 8 turned left */
    };
    ptrdiff_t across;        /* bytes from an upright column to the next */
    ptrdiff_t down;
    sl_status st;

    if (orientation < 1 || orientation > 8)
        return sl_fail(err, SL_ERR_ARG, "decode", "orientation %u", orientation);
    const bool swap = kinds[orientation].swap;

    st = sl_image_new(image, swap ? height : width, swap ? width : height, channels, bits, err);
    if (st != SL_OK)
        return st;
    across = (ptrdiff_t)(channels * (bits / 8));
    down = (ptrdiff_t)(*image)->stride;
    to->pixel = (size_t)across;
    to->per_x = swap ? down : across;
    to->per_y = swap ? across : down;
    to->origin = (*image)->data;
    if (kinds[orientation].against_x) {
        to->origin += (ptrdiff_t)(width - 1) * to->per_x;
        to->per_x = -to->per_x;
    }
    if (kinds[orientation].against_y) {
        to->origin += (ptrdiff_t)(height - 1) * to->per_y;
        to->per_y = -to->per_y;
    }
    return SL_OK;
}

/* Copies of a size known to the compiler; n > 0. */
#define COPY_RUN(bytes)                                                                        \
    for (size_t i = 0; i < n; i++)                                                             \
        memcpy(to + (ptrdiff_t)i * to_step, from + i * from_step, bytes)

static void copy_run(unsigned char *to, ptrdiff_t to_step, const unsigned char *from,
                     size_t from_step, size_t n, size_t pixel)
{
    switch (pixel) {
    case 1:
        COPY_RUN(1);
        break;
    case 2:
        COPY_RUN(2);
        break;
    case 3:
        COPY_RUN(3);
        break;
    case 4:
        COPY_RUN(4);
        break;
    case 6:
        COPY_RUN(6);
        break;
    default:
        COPY_RUN(8);
        break;
    }
}

void sl_upright_block(const sl_upright *to, size_t x, size_t y, size_t width, size_t height,
                      const void *pixels, size_t stride)
{
    const unsigned char *from = pixels;
    unsigned char *corner = to->origin + (ptrdiff_t)x * to->per_x + (ptrdiff_t)y * to->per_y;
    const ptrdiff_t pixel = (ptrdiff_t)to->pixel;

    if (to->per_x == pixel) {
        for (size_t row = 0; row < height; row++)
            memcpy(corner + (ptrdiff_t)row * to->per_y, from + row * stride,
                   width * to->pixel);
    } else if (to->per_x == -pixel) {
        for (size_t row = 0; row < height; row++)
            copy_run(corner + (ptrdiff_t)row * to->per_y, to->per_x, from + row * stride,
                     to->pixel, width, to->pixel);
    } else {
        /* Stored columns are upright rows: run along what is contiguous there. */
        for (size_t column = 0; column < width; column++)
            copy_run(corner + (ptrdiff_t)column * to->per_x, to->per_y,
                     from + column * to->pixel, stride, height, to->pixel);
    }
}

void sl_upright_spread(const sl_upright *to, size_t x, size_t y, size_t step, size_t count,
                       const void *pixels)
{
    copy_run(to->origin + (ptrdiff_t)x * to->per_x + (ptrdiff_t)y * to->per_y,
             to->per_x * (ptrdiff_t)step, pixels, to->pixel, count, to->pixel);
}
