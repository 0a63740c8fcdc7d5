/*
 * Exif written by hand: two small directories in a fixed order. The order of tags, big-endian
 * values and offsets are those of TIFF 6.0, section 2; tags and types those of CIPA DC-008.
 */
#include <math.h>
#include <string.h>

#include "encode/encode.h"

enum { SHORT = 3, LONG = 4, RATIONAL = 5, ASCII = 2, UNDEFINED = 7, ENTRIES_MOST = 12 };

typedef struct entry {
    unsigned    tag;
    unsigned    type;
    uint32_t    count;
    uint32_t    value;       /* SHORT, LONG; a rational's numerator */
    uint32_t    divisor;     /* of a rational */
    const char *text;        /* ASCII and UNDEFINED */
} entry;

static entry text_entry(unsigned tag, const char *text)
{
    return (entry){ tag, ASCII, (uint32_t)strlen(text) + 1, 0, 0, text };
}

static entry bytes_entry(unsigned tag, const char four[4])
{
    return (entry){ tag, UNDEFINED, 4, 0, 0, four };
}

static entry number_entry(unsigned tag, unsigned type, uint32_t value)
{
    return (entry){ tag, type, 1, value, 0, NULL };
}

/* Thousandths of a ppi where it is no whole number. JFIF, beside Exif in a JPEG, can only round. */
static entry density_entry(unsigned tag, double ppi)
{
    const double whole = floor(ppi + 0.5);

    if (!(ppi > 0))
        return (entry){ tag, RATIONAL, 1, 1, 1, NULL };
    if (fabs(ppi - whole) < 0.0005)
        return (entry){ tag, RATIONAL, 1, (uint32_t)whole, 1, NULL };
    return (entry){ tag, RATIONAL, 1, (uint32_t)(ppi * 1000 + 0.5), 1000, NULL };
}

static uint32_t outside_bytes(const entry *e)
{
    const uint32_t size = e->type == RATIONAL ? 8
                          : e->text != NULL   ? e->count
                                              : 0;

    return size > 4 ? size + size % 2 : 0;
}

/* One directory and, behind it, the values that do not fit into it. */
static void put_directory(sl_bytes *out, const entry *e, unsigned count)
{
    uint32_t at = (uint32_t)out->size + 2 + 12 * count + 4;

    sl_bytes_be16(out, count);
    for (unsigned i = 0; i < count; i++) {
        sl_bytes_be16(out, e[i].tag);
        sl_bytes_be16(out, e[i].type);
        sl_bytes_be32(out, e[i].count);
        if (outside_bytes(&e[i]) > 0) {
            sl_bytes_be32(out, at);
            at += outside_bytes(&e[i]);
        } else if (e[i].text != NULL) {
            char four[4] = { 0 };

            memcpy(four, e[i].text, e[i].count);
            sl_bytes_add(out, four, sizeof four);
        } else if (e[i].type == SHORT) {
            sl_bytes_be16(out, e[i].value);
            sl_bytes_be16(out, 0);
        } else {
            sl_bytes_be32(out, e[i].value);
        }
    }
    sl_bytes_be32(out, 0);           /* no further directory */
    for (unsigned i = 0; i < count; i++) {
        if (outside_bytes(&e[i]) == 0)
            continue;
        if (e[i].type == RATIONAL) {
            sl_bytes_be32(out, e[i].value);
            sl_bytes_be32(out, e[i].divisor);
        } else {
            sl_bytes_add(out, e[i].text, e[i].count);
            if (e[i].count % 2 != 0)
                sl_bytes_add(out, "", 1);
        }
    }
}

static uint32_t directory_bytes(const entry *e, unsigned count)
{
    uint32_t size = 2 + 12 * count + 4;

    for (unsigned i = 0; i < count; i++)
        size += outside_bytes(&e[i]);
    return size;
}

void sl_exif_write(sl_bytes *out, const sl_encode_params *params, const sl_page_info *info)
{
    static const unsigned char head[8] = { 'M', 'M', 0, 42, 0, 0, 0, 8 };
    const bool jpeg = params->format == SL_FORMAT_JPEG;
    entry main_entry[ENTRIES_MOST];
    entry exif_entry[ENTRIES_MOST];
    sl_bytes words = { NULL, 0, 0, false };
    char original[20];
    unsigned n = 0;
    unsigned m = 0;

    /* ascending tags, as TIFF 6.0 demands */
    sl_description(&words, info);
    if (words.failed)
        out->failed = true;
    else if (words.size > 0)         /* UTF-8, as is common practice where DC-008 has ASCII */
        main_entry[n++] = text_entry(0x010e, (const char *)words.data); /* ImageDescription */
    if (sl_said(info->make))
        main_entry[n++] = text_entry(0x010f, info->make);
    if (sl_said(info->model))
        main_entry[n++] = text_entry(0x0110, info->model);
    main_entry[n++] = number_entry(0x0112, SHORT, 1);             /* Orientation: upright */
    main_entry[n++] = density_entry(0x011a, info->ppi); /* XResolution */
    main_entry[n++] = density_entry(0x011b, info->ppi); /* YResolution */
    main_entry[n++] = number_entry(0x0128, SHORT, info->ppi > 0 ? 2 : 1); /* inch, or none */
    main_entry[n++] = text_entry(0x0131, SL_SOFTWARE);
    if (jpeg)
        main_entry[n++] = number_entry(0x0213, SHORT, 1);         /* YCbCrPositioning: 4:4:4 */
    main_entry[n++] = number_entry(0x8769, LONG, 0);              /* ExifIFD, below */

    exif_entry[m++] = bytes_entry(0x9000, "0232");                /* ExifVersion */
    /* the page's own day, where somebody knew it; the shot only digitised it: DC-008, notes to
       both tags */
    if (sl_original_date(original, info))
        exif_entry[m++] = text_entry(0x9003, original);           /* DateTimeOriginal */
    if (sl_said(info->date))
        exif_entry[m++] = text_entry(0x9004, info->date);         /* DateTimeDigitized */
    if (jpeg) {              /* ComponentsConfiguration Y Cb Cr or Y; FlashpixVersion */
        exif_entry[m++] = bytes_entry(0x9101, params->channels == 3 ? "\1\2\3" : "\1\0\0");
        exif_entry[m++] = bytes_entry(0xa000, "0100");
    }
    /* ColorSpace: sRGB, or what the ICC profile says */
    exif_entry[m++] = number_entry(0xa001, SHORT, sl_icc_carried(info) ? 0xffff : 1);
    exif_entry[m++] = number_entry(0xa002, LONG, (uint32_t)params->width);
    exif_entry[m++] = number_entry(0xa003, LONG, (uint32_t)params->height);

    main_entry[n - 1].value = (uint32_t)sizeof head + directory_bytes(main_entry, n);
    sl_bytes_add(out, head, sizeof head);
    put_directory(out, main_entry, n);
    put_directory(out, exif_entry, m);
    sl_bytes_free(&words);
}
