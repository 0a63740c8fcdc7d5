/*
 * The ICC profile of a page: the shot's own, byte for byte, or sRGB where the shot has none.
 *
 * A TIFF file has no other word that readers agree on for "this is sRGB", and guidelines ask for
 * an embedded profile (FADGI 2016), so a small one is built here: matrix and curve after
 * ICC.1:2010 (version 4.3), all of it constants, without a date of making. A grey page gets the
 * same curve between black and D50.
 */
#include <string.h>

#include "encode/encode.h"

enum { HEADER = 128, TAGS_MOST = 10 };

/* Four characters as a number: the standard's signatures. */
#define SIGN(a, b, c, d) \
    ((uint32_t)(a) << 24 | (uint32_t)(b) << 16 | (uint32_t)(c) << 8 | (uint32_t)(d))

typedef struct tag {
    uint32_t        sign;
    const sl_bytes *data;
} tag;

/* D50 as the standard's header has it, s15Fixed16 (ICC.1:2010, 7.2.16). */
static const uint32_t D50[3] = { 0xf6d6, 0x10000, 0xd32d };

/*
 * sRGB's primaries (IEC 61966-2-1: .64 .33, .30 .60, .15 .06; D65 at .3127 .3290) as X, Y, Z
 * adapted to D50 by the linearised Bradford transform (ICC.1:2010, annex E), rounded to
 * s15Fixed16. They add up to D50, but for one part in 65536 of a rounding.
 */
static const uint32_t PRIMARY[3][3] = {
    { 0x6fa0, 0x38f5, 0x0390 },
    { 0x6297, 0xb787, 0x18d9 },
    { 0x249f, 0x0f84, 0xb6c3 },
};

/* The same adaptation, D65 to D50, row-major. */
static const uint32_t ADAPTATION[9] = { 0x10c42,    0x005de, 0xfffff325, 0x00793, 0x0fd90,
                                        0xfffffba1, 0xfffffda2, 0x003dc, 0x0c06e };

/* g, a, b, c, d of Y = (aX + b)^g for X >= d, else cX: 2.4, 1/1.055, .055/1.055, 1/12.92, .04045 */
static const uint32_t CURVE[5] = { 0x26666, 0xf2a7, 0x0d59, 0x13d0, 0x0a5b };

static void put_numbers(sl_bytes *out, uint32_t sign, const uint32_t *v, size_t count)
{
    sl_bytes_be32(out, sign);
    sl_bytes_be32(out, 0);
    for (size_t i = 0; i < count; i++)
        sl_bytes_be32(out, v[i]);
}

static void put_curve(sl_bytes *out)
{
    enum { FUNCTION = 3 };   /* ICC.1:2010, table 65 */

    sl_bytes_be32(out, SIGN('p', 'a', 'r', 'a'));
    sl_bytes_be32(out, 0);
    sl_bytes_be16(out, FUNCTION);
    sl_bytes_be16(out, 0);
    for (size_t i = 0; i < sizeof CURVE / sizeof *CURVE; i++)
        sl_bytes_be32(out, CURVE[i]);
}

/* ASCII as one localised text; padded, as every element begins at a multiple of four. */
static void put_text(sl_bytes *out, const char *text)
{
    enum { RECORD = 12, TEXT_AT = 28 };
    const size_t length = strlen(text);

    sl_bytes_be32(out, SIGN('m', 'l', 'u', 'c'));
    sl_bytes_be32(out, 0);
    sl_bytes_be32(out, 1);
    sl_bytes_be32(out, RECORD);
    sl_bytes_be32(out, SIGN('e', 'n', 'U', 'S'));
    sl_bytes_be32(out, (uint32_t)(2 * length));
    sl_bytes_be32(out, TEXT_AT);
    for (size_t i = 0; i < length; i++)
        sl_bytes_be16(out, (unsigned char)text[i]);
    if (length % 2 != 0)
        sl_bytes_be16(out, 0);
}

static void put_header(sl_bytes *out, uint32_t size, uint32_t space)
{
    static const unsigned char date[12] = { 0x07, 0xd0, 0, 1, 0, 1 }; /* always 2000-01-01 */
    static const unsigned char none[44] = { 0 };

    sl_bytes_be32(out, size);
    sl_bytes_be32(out, 0);
    sl_bytes_be32(out, 0x04300000); /* version 4.3 */
    sl_bytes_be32(out, SIGN('m', 'n', 't', 'r'));
    sl_bytes_be32(out, space);
    sl_bytes_be32(out, SIGN('X', 'Y', 'Z', ' '));
    sl_bytes_add(out, date, sizeof date);
    sl_bytes_be32(out, SIGN('a', 'c', 's', 'p'));
    sl_bytes_add(out, none, 28); /* platform, flags, device, attributes, perceptual intent */
    for (size_t i = 0; i < 3; i++)
        sl_bytes_be32(out, D50[i]);
    sl_bytes_add(out, none, 4);  /* creator */
    sl_bytes_add(out, none, 44); /* no identifier; reserved */
}

/* Header, tag table, and each element once, though several tags may share it. */
static void put_profile(sl_bytes *out, uint32_t space, const tag *tags, uint32_t count)
{
    uint32_t offset[TAGS_MOST];
    uint32_t end = HEADER + 4 + 12 * count;

    for (uint32_t i = 0; i < count; i++) {
        if (i > 0 && tags[i].data == tags[i - 1].data) {
            offset[i] = offset[i - 1];
            continue;
        }
        offset[i] = end;
        end += (uint32_t)tags[i].data->size;
    }
    put_header(out, end, space);
    sl_bytes_be32(out, count);
    for (uint32_t i = 0; i < count; i++) {
        sl_bytes_be32(out, tags[i].sign);
        sl_bytes_be32(out, offset[i]);
        sl_bytes_be32(out, (uint32_t)tags[i].data->size);
    }
    for (uint32_t i = 0; i < count; i++) {
        if (i == 0 || tags[i].data != tags[i - 1].data)
            sl_bytes_add(out, tags[i].data->data, tags[i].data->size);
        out->failed = out->failed || tags[i].data->failed;
    }
}

static void put_srgb(sl_bytes *out, bool grey)
{
    enum { NAME, RIGHTS, WHITE, ADAPTED, TRC, RED, GREEN, BLUE, ELEMENTS };
    sl_bytes e[ELEMENTS] = { { NULL, 0, 0, false } };
    const tag colour[] = {
        { SIGN('d', 'e', 's', 'c'), &e[NAME] },    { SIGN('c', 'p', 'r', 't'), &e[RIGHTS] },
        { SIGN('w', 't', 'p', 't'), &e[WHITE] },   { SIGN('c', 'h', 'a', 'd'), &e[ADAPTED] },
        { SIGN('r', 'X', 'Y', 'Z'), &e[RED] },     { SIGN('g', 'X', 'Y', 'Z'), &e[GREEN] },
        { SIGN('b', 'X', 'Y', 'Z'), &e[BLUE] },    { SIGN('r', 'T', 'R', 'C'), &e[TRC] },
        { SIGN('g', 'T', 'R', 'C'), &e[TRC] },     { SIGN('b', 'T', 'R', 'C'), &e[TRC] },
    };
    const tag gray[] = {
        { SIGN('d', 'e', 's', 'c'), &e[NAME] },    { SIGN('c', 'p', 'r', 't'), &e[RIGHTS] },
        { SIGN('w', 't', 'p', 't'), &e[WHITE] },   { SIGN('c', 'h', 'a', 'd'), &e[ADAPTED] },
        { SIGN('k', 'T', 'R', 'C'), &e[TRC] },
    };

    put_text(&e[NAME], grey ? "sRGB curve, grey" : "sRGB");
    put_text(&e[RIGHTS], "No rights reserved");
    put_numbers(&e[WHITE], SIGN('X', 'Y', 'Z', ' '), D50, 3);
    put_numbers(&e[ADAPTED], SIGN('s', 'f', '3', '2'), ADAPTATION, 9);
    put_curve(&e[TRC]);
    for (size_t i = 0; i < 3; i++)
        put_numbers(&e[RED + i], SIGN('X', 'Y', 'Z', ' '), PRIMARY[i], 3);
    if (grey)
        put_profile(out, SIGN('G', 'R', 'A', 'Y'), gray, sizeof gray / sizeof *gray);
    else
        put_profile(out, SIGN('R', 'G', 'B', ' '), colour, sizeof colour / sizeof *colour);
    for (size_t i = 0; i < ELEMENTS; i++)
        sl_bytes_free(&e[i]);
}

bool sl_icc_carried(const sl_page_info *info)
{
    return info->icc != NULL && info->icc_size > 0;
}

void sl_icc_write(sl_bytes *out, const sl_encode_params *params, const sl_page_info *info)
{
    if (sl_icc_carried(info))
        sl_bytes_add(out, info->icc, info->icc_size);
    else
        put_srgb(out, params->channels == 1);
}
