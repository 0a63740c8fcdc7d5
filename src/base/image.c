#include "squareleaf.h"

#include <stdlib.h>

#include "base/error.h"
#include "base/large.h"
#include "base/size.h"

sl_status sl_image_new(sl_image **out, size_t width, size_t height, unsigned channels,
                       unsigned bits, sl_error *err)
{
    sl_image *image;
    size_t stride;
    size_t size;

    if (width == 0 || height == 0 || (channels != 1 && channels != 3 && channels != 4)
        || (bits != 8 && bits != 16))
        return sl_fail(err, SL_ERR_ARG, "image", "%zu x %zu px, %u channels of %u bits",
                       width, height, channels, bits);
    if (!sl_size_mul(&stride, width, (size_t)channels * (bits / 8))
        || !sl_size_mul(&size, stride, height))
        return sl_fail(err, SL_ERR_LIMIT, "image", "%zu x %zu px do not fit in memory", width,
                       height);
    image = malloc(sizeof *image);
    if (image == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "image", "out of memory");
    *image = (sl_image){ width, height, channels, bits, stride, sl_large_new(size, 1) };
    if (image->data == NULL) {
        free(image);
        return sl_fail(err, SL_ERR_NOMEM, "image", "no memory for %zu x %zu px (%zu MB)", width,
                       height, size / 1000000);
    }
    *out = image;
    return SL_OK;
}

void sl_image_free(sl_image *image)
{
    if (image != NULL) {
        free(image->data);
        free(image);
    }
}
