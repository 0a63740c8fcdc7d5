/* A page's rows, band after band, from one resampling into as many writers as are wanted. */
#ifndef SL_ALBUM_BANDS_H
#define SL_ALBUM_BANDS_H

#include "base/pool.h"
#include "squareleaf.h"

/* Where rows go, and what becomes of them before. */
typedef struct sl_sink {
    sl_writer *writer;
    sl_colour *colour;       /* to sRGB; NULL: as resampled */
    size_t     skip;         /* px of margin that this sink leaves out on each side */
    size_t     width;        /* px that it takes */
    size_t     height;
    unsigned   bits;         /* those resampled, or 8 */
} sl_sink;

typedef struct sl_bands_params {
    size_t   width;          /* of what is resampled, px */
    size_t   height;
    unsigned channels;
    unsigned bits;
} sl_bands_params;

enum { SL_SINKS_MOST = 4 };

/*
 * Bands are resampled and encoded at the same time, by all threads of the pool that are free; each
 * sink gets its rows in order, and one thread at a time. The bytes do not depend on the threads.
 * pool  or NULL
 * stop  or NULL: set to other than 0 to end with SL_ERR_CANCELLED
 */
sl_status sl_bands_write(const sl_resampler *resampler, const sl_sink *sinks, size_t count,
                         const sl_bands_params *params, sl_pool *pool, const volatile int *stop,
                         sl_error *err);

#endif
