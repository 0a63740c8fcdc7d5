/*
 * Exif written by hand: two small directories in a fixed order. The order of tags, big-endian
 * values and offsets are those of TIFF 6.0, section 2; tags and types those of CIPA DC-008.
 */
#include <string.h>

#include "encode/encode.h"

enum { SHORT = 3, LONG = 4, RATIONAL = 5, ASCII = 2, UNDEFINED = 7, ENTRIES_MOST = 10 };

typedef struct entry {
    unsigned    tag;
    unsigned    type;
    uint32_t    count;
    uint32_t    value;       /* SHORT, LONG; a rational's numerator */
    const char *text;        /* ASCII and UNDEFINED */
} entry;

static void put16(sl_bytes *out, unsigned v)
{
    const unsigned char b[2] = { (unsigned char)(v >> 8), (unsigned char)v };

    sl_bytes_add(out, b, sizeof b);
}

static void put32(sl_bytes *out, uint32_t v)
{
    put16(out, v >> 16);
    put16(out, v & 0xffff);
}

static entry text_entry(unsigned tag, const char *text)
{
    return (entry){ tag, ASCII, (uint32_t)strlen(text) + 1, 0, text };
}

static entry number_entry(unsigned tag, unsigned type, uint32_t value)
{
    return (entry){ tag, type, 1, value, NULL };
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

    put16(out, count);
    for (unsigned i = 0; i < count; i++) {
        put16(out, e[i].tag);
        put16(out, e[i].type);
        put32(out, e[i].count);
        if (outside_bytes(&e[i]) > 0) {
            put32(out, at);
            at += outside_bytes(&e[i]);
        } else if (e[i].text != NULL) {
            char four[4] = { 0 };

            memcpy(four, e[i].text, e[i].count);
            sl_bytes_add(out, four, sizeof four);
        } else if (e[i].type == SHORT) {
            put16(out, e[i].value);
            put16(out, 0);
        } else {
            put32(out, e[i].value);
        }
    }
    put32(out, 0);           /* no further directory */
    for (unsigned i = 0; i < count; i++) {
        if (outside_bytes(&e[i]) == 0)
            continue;
        if (e[i].type == RATIONAL) {
            put32(out, e[i].value);
            put32(out, 1);
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

static bool said(const char *text)
{
    return text != NULL && text[0] != '\0';
}

void sl_exif_write(sl_bytes *out, const sl_encode_params *params, const sl_page_info *info)
{
    static const unsigned char head[8] = { 'M', 'M', 0, 42, 0, 0, 0, 8 };
    const uint32_t ppi = info->ppi > 0 ? (uint32_t)(info->ppi + 0.5) : 1;
    const bool srgb = info->icc == NULL || info->icc_size == 0;
    entry main_entry[ENTRIES_MOST];
    entry exif_entry[ENTRIES_MOST];
    unsigned n = 0;
    unsigned m = 0;

    /* ascending tags, as TIFF 6.0 demands */
    if (said(info->make))
        main_entry[n++] = text_entry(0x010f, info->make);
    if (said(info->model))
        main_entry[n++] = text_entry(0x0110, info->model);
    main_entry[n++] = number_entry(0x0112, SHORT, 1);             /* Orientation: upright */
    main_entry[n++] = number_entry(0x011a, RATIONAL, ppi);        /* XResolution */
    main_entry[n++] = number_entry(0x011b, RATIONAL, ppi);        /* YResolution */
    main_entry[n++] = number_entry(0x0128, SHORT, info->ppi > 0 ? 2 : 1); /* inch, or none */
    main_entry[n++] = text_entry(0x0131, SL_SOFTWARE);
    main_entry[n++] = number_entry(0x8769, LONG, 0);              /* ExifIFD, below */

    exif_entry[m++] = (entry){ 0x9000, UNDEFINED, 4, 0, "0232" }; /* ExifVersion */
    if (said(info->date))
        exif_entry[m++] = text_entry(0x9004, info->date);         /* DateTimeDigitized */
    exif_entry[m++] = number_entry(0xa001, SHORT, srgb ? 1 : 0xffff);
    exif_entry[m++] = number_entry(0xa002, LONG, (uint32_t)params->width);
    exif_entry[m++] = number_entry(0xa003, LONG, (uint32_t)params->height);

    main_entry[n - 1].value = (uint32_t)sizeof head + directory_bytes(main_entry, n);
    sl_bytes_add(out, head, sizeof head);
    put_directory(out, main_entry, n);
    put_directory(out, exif_entry, m);
}
