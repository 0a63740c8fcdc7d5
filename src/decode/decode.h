/* What the readers of the single formats share: the job, the limits, the words for damage. */
#ifndef SL_DECODE_DECODE_H
#define SL_DECODE_DECODE_H

#include "squareleaf.h"

/* One file in memory, and what reading it may cost. */
typedef struct sl_decode_job {
    const unsigned char *bytes;
    size_t               size;
    sl_decode_params     limits;
    bool                 tags_only; /* the shot gets no image; HEIF's reader alone knows it */
} sl_decode_job;

/*
 * Each reader fills image, exif, icc and images of a zeroed shot. What it has put there stays
 * on failure too: the caller frees the shot either way.
 */
sl_status sl_decode_jpeg(sl_shot *shot, const sl_decode_job *job, sl_error *err);
sl_status sl_decode_png(sl_shot *shot, const sl_decode_job *job, sl_error *err);
sl_status sl_decode_tiff(sl_shot *shot, const sl_decode_job *job, sl_error *err);
#if defined(SL_HEIF)         /* built with libheif */
sl_status sl_decode_heif(sl_shot *shot, const sl_decode_job *job, sl_error *err);
#endif

/* The orientation that the picture is turned by: the caller's, else its tag's. */
unsigned sl_decode_way_up(const sl_shot *shot, const sl_decode_job *job);

/*
 * Whether a frame of width x height may be made, `extra` bytes of the decoder's own beside it.
 * SL_ERR_LIMIT names figure and limit. To be asked before anything that large is allocated.
 */
sl_status sl_decode_budget(const sl_decode_job *job, size_t width, size_t height,
                           unsigned channels, unsigned bits, size_t extra, sl_error *err);

/* a + b, and a * b, that stop at SIZE_MAX: for sums that only meet a limit. */
size_t sl_decode_add(size_t a, size_t b);
size_t sl_decode_mul(size_t a, size_t b);

/* SL_ERR_FORMAT with the library's reason and the way out. */
sl_status sl_decode_damaged(sl_error *err, const char *format, const char *reason);

/*
 * Is it a profile for samples of that space ("GRAY", "RGB ", "CMYK"), as far as its header says?
 * ICC.1:2022, 7.2: size at 0, data colour space at 16, 'acsp' at 36.
 */
bool sl_decode_icc_is(const void *icc, size_t size, const char space[4]);

/*
 * Takes a copy of an embedded profile, once the shot has its image. A profile that is no
 * profile, or is for another kind of samples than the image's, is left out.
 */
sl_status sl_decode_keep_icc(sl_shot *shot, const void *icc, size_t size, sl_error *err);

#endif
