/* The two halves of the TIFF reader: tiff.c knows files and pages, tiff_pixels.c samples. */
#ifndef SL_DECODE_TIFF_H
#define SL_DECODE_TIFF_H

#include <tiffio.h>

#include "decode/decode.h"

/* The file in memory, and what libtiff said about it. */
typedef struct sl_tiff {
    TIFF                *tif;
    const sl_decode_job *job;
    uint64_t             at;          /* of the next byte to read */
    char                 reason[112]; /* libtiff's last complaint, "" when none */
    bool                 over_limit;  /* it asked for more memory than it may have */
    bool                 damaged;     /* it was about the picture's data */
    bool                 strict;      /* the picture is being read: no complaint is harmless */
} sl_tiff;

/* SL_ERR_FORMAT with libtiff's last complaint, or with `fallback` when it made none. */
sl_status sl_tiff_damaged(const sl_tiff *in, const char *fallback, sl_error *err);

/*
 * The current directory's picture into shot->image, upright by shot->exif.orientation.
 */
sl_status sl_tiff_pixels(sl_shot *shot, sl_tiff *in, sl_error *err);

#endif
