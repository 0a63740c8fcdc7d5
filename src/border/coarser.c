/*
 * A coarser copy of the small copy, for what is plain only from afar: teeth along a page's sides,
 * checks and grain are finer than the page, and melt away in it.
 */
#include "border/search.h"

#include <stdlib.h>
#include <string.h>

#include "base/error.h"

/* Sums of rows of samples, column by column: plain loops that compilers turn into vector code. */
static void add_row(float *restrict sum, const float *restrict row, size_t samples)
{
    for (size_t x = 0; x < samples; x++)
        sum[x] += row[x];
}

/* One channel of the picture: each px the mean of factor x factor of the small copy.
   sum  scratch, of a row of the small copy */
static void average(const sl_image *image, size_t channel, float *sum, const sl_small *small,
                    size_t factor)
{
    const float scale = 257.0f / (float)(factor * factor);
    const float *row = small->plane[channel];

    for (size_t y = 0; y < image->height; y++) {
        uint16_t *const to = (uint16_t *)(void *)(image->data + y * image->stride);

        memcpy(sum, row, small->width * sizeof *sum);
        row += small->width;
        for (size_t k = 1; k < factor; k++, row += small->width)
            add_row(sum, row, small->width);
        for (size_t x = 0; x < image->width; x++) {
            float px = 0;

            for (size_t k = 0; k < factor; k++)
                px += sum[x * factor + k];
            to[3 * x + channel] = (uint16_t)(px * scale + 0.5f);
        }
    }
}

sl_status sl_small_coarser(sl_small **out, const sl_small *small, size_t factor, sl_error *err)
{
    sl_image image = { .width = small->width / factor, .height = small->height / factor,
                       .channels = 3, .bits = 16 };
    float *sum = malloc(small->width * sizeof *sum);
    sl_status st = SL_OK;

    *out = NULL;
    image.stride = image.width * 3 * sizeof(uint16_t);
    image.data = malloc(image.height * image.stride + 1);
    if (image.data == NULL || sum == NULL) {
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    } else if (image.width >= 16 && image.height >= 16) {
        for (size_t c = 0; c < 3; c++)
            average(&image, c, sum, small, factor);
        st = sl_small_new(out, &image, err);
    }
    free(image.data);
    free(sum);
    return st;
}
