/* What the writers of the three formats share. */
#ifndef SL_ENCODE_ENCODE_H
#define SL_ENCODE_ENCODE_H

#include "base/bytes.h"
#include "squareleaf.h"

#define SL_SOFTWARE "squareleaf " SL_VERSION

/* NULL and "" leave an entry out. */
static inline bool sl_said(const char *text)
{
    return text != NULL && text[0] != '\0';
}

/*
 * Exif 2.32 (CIPA DC-008) as a TIFF structure, big-endian, without a leading "Exif\0\0": density,
 * date, make, model, software, orientation 1, colour space, pixel dimensions.
 * In a JPEG file the density is the whole number that JFIF holds, so that the two agree.
 */
void sl_exif_write(sl_bytes *out, const sl_encode_params *params, const sl_page_info *info);

/* What of a date in words is a date for programs. */
typedef struct sl_when {
    char iso[11];            /* "1934-07-02", "1934-07", "1934", or "" */
    bool exact;              /* the words say that and no more; else "about" */
} sl_when;

/* text may be NULL: no date. */
sl_when sl_when_read(const char *text);

/* Caption, with the date where that is in words; ends in a NUL. Nothing where nothing was said. */
void sl_description(sl_bytes *out, const sl_page_info *info);

/*
 * "1934:07:02 00:00:00" where the page's day is known. The hour is not; zeros are common practice
 * (CIPA DC-008 would have blanks there, which few programs read).
 */
bool sl_original_date(char to[20], const sl_page_info *info);

/* The shot's profile unchanged; where it has none, sRGB (of a grey page: its curve). */
void sl_icc_write(sl_bytes *out, const sl_encode_params *params, const sl_page_info *info);
bool sl_icc_carried(const sl_page_info *info); /* does the shot have one? */

/*
 * XMP packet (ISO 16684-1), UTF-8, read-only: the shot it comes from, native and written ppi, and
 * what a person wrote, in Dublin Core's and IPTC's words (IPTC Photo Metadata Standard 2022.1).
 */
void sl_xmp_write(sl_bytes *out, const sl_page_info *info);

/* What a library's message is about, where it has no code for it: memory, or a fault of ours. */
sl_status sl_library_status(const char *message);

/*
 * One writer: rows go in from the top; `finish` completes the file, `free` may come at any time.
 * Each format's state is its own.
 */
typedef struct sl_writer_kind {
    sl_status (*rows)(void *state, const void *rows, size_t count, size_t stride, sl_error *err);
    sl_status (*finish)(void *state, sl_error *err);
    void (*free)(void *state);
} sl_writer_kind;

struct sl_writer {
    const sl_writer_kind *kind;
    void                 *state;
    FILE                 *file;
    size_t                height;
    size_t                done;   /* rows */
    bool                  broken; /* an error came up: only sl_writer_free() may follow */
};

sl_status sl_jpeg_writer_new(sl_writer *writer, const sl_encode_params *params,
                             const sl_page_info *info, sl_error *err);
sl_status sl_png_writer_new(sl_writer *writer, const sl_encode_params *params,
                            const sl_page_info *info, sl_error *err);
sl_status sl_tiff_writer_new(sl_writer *writer, const sl_encode_params *params,
                             const sl_page_info *info, sl_error *err);

#endif
