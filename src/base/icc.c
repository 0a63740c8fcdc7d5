/*
 * A profile for a space that is known by its numbers: matrix and curve after ICC.1:2010 (version
 * 4.3), without a date of making, so that equal spaces are equal bytes.
 */
#include "base/icc.h"

#include <math.h>
#include <string.h>

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

/* g, a, b, c, d of Y = (aX + b)^g for X >= d, else cX: 2.4, 1/1.055, .055/1.055, 1/12.92, .04045 */
static const uint32_t CURVE[5] = { 0x26666, 0xf2a7, 0x0d59, 0x13d0, 0x0a5b };

/* IEC 61966-2-1; SMPTE EG 432-1's primaries with D65 and sRGB's curve: CSS Color 4, 10.9. */
const sl_icc_space sl_icc_srgb = {
    "sRGB", { { 0.64, 0.33 }, { 0.30, 0.60 }, { 0.15, 0.06 } }, { 0.3127, 0.3290 }, 0.0, false
};
const sl_icc_space sl_icc_grey = {
    "sRGB curve, grey", { { 0.64, 0.33 }, { 0.30, 0.60 }, { 0.15, 0.06 } }, { 0.3127, 0.3290 },
    0.0, true
};
const sl_icc_space sl_icc_display_p3 = {
    "Display P3", { { 0.680, 0.320 }, { 0.265, 0.690 }, { 0.150, 0.060 } }, { 0.3127, 0.3290 },
    0.0, false
};

/* ---- numbers --------------------------------------------------------------------------------- */

/* s15Fixed16Number, rounded. */
static uint32_t fixed(double value)
{
    return (uint32_t)(int32_t)lround(value * 65536.0);
}

/* X, Y, Z of a chromaticity with Y = 1. */
static void light_of(double xyz[3], const double xy[2])
{
    xyz[0] = xy[0] / xy[1];
    xyz[1] = 1.0;
    xyz[2] = (1.0 - xy[0] - xy[1]) / xy[1];
}

static void apply(double out[3], const double m[9], const double v[3])
{
    for (size_t i = 0; i < 3; i++)
        out[i] = m[3 * i] * v[0] + m[3 * i + 1] * v[1] + m[3 * i + 2] * v[2];
}

static void multiply(double out[9], const double a[9], const double b[9])
{
    for (size_t i = 0; i < 3; i++)
        for (size_t j = 0; j < 3; j++)
            out[3 * i + j] = a[3 * i] * b[j] + a[3 * i + 1] * b[3 + j] + a[3 * i + 2] * b[6 + j];
}

/* False when the matrix has no inverse worth the name. */
static bool invert(double out[9], const double m[9])
{
    const double c[3] = { m[4] * m[8] - m[5] * m[7], m[5] * m[6] - m[3] * m[8],
                          m[3] * m[7] - m[4] * m[6] };
    const double det = m[0] * c[0] + m[1] * c[1] + m[2] * c[2];

    if (!(fabs(det) > 1e-6))
        return false;
    for (size_t i = 0; i < 3; i++) {
        const size_t j = (i + 1) % 3;
        const size_t k = (i + 2) % 3;

        /* cofactors, transposed */
        for (size_t r = 0; r < 3; r++) {
            const size_t s = (r + 1) % 3;
            const size_t t = (r + 2) % 3;

            out[3 * i + r] = (m[3 * s + j] * m[3 * t + k] - m[3 * s + k] * m[3 * t + j]) / det;
        }
    }
    return true;
}

/*
 * White to D50 by the linearised Bradford transform (ICC.1:2010, annex E), and the primaries'
 * X, Y, Z under D50, in the rows of `primary`. False when the chromaticities span no space.
 */
static bool adapt(double adaptation[9], double primary[9], const sl_icc_space *space)
{
    static const double cone[9] = { 0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367,
                                    0.0389, -0.0685, 1.0296 };
    double light[9];         /* the primaries, Y = 1 each, in columns */
    double inverse[9];
    double white[3];
    double share[3];
    double scale[9] = { 0 };
    double from[3];
    double to[3];
    double d50[3];
    double half[9];

    for (size_t i = 0; i < 3; i++) {
        double xyz[3];

        if (!(space->primary[i][1] > 0.0))
            return false;
        light_of(xyz, space->primary[i]);
        for (size_t k = 0; k < 3; k++)
            light[3 * k + i] = xyz[k];
        d50[i] = D50[i] / 65536.0;
    }
    if (!(space->white[1] > 0.0) || !invert(inverse, light))
        return false;
    light_of(white, space->white);
    apply(share, inverse, white);
    apply(from, cone, white);
    apply(to, cone, d50);
    for (size_t i = 0; i < 3; i++) {
        if (!(share[i] > 0.0) || !(from[i] > 0.0))
            return false;
        scale[4 * i] = to[i] / from[i];
    }
    (void)invert(inverse, cone);
    multiply(half, scale, cone);
    multiply(adaptation, inverse, half);
    for (size_t i = 0; i < 3; i++) {
        const double own[3] = { light[i] * share[i], light[3 + i] * share[i],
                                light[6 + i] * share[i] };

        apply(primary + 3 * i, adaptation, own);
    }
    return true;
}

/* ---- bytes ----------------------------------------------------------------------------------- */

static void put_numbers(sl_bytes *out, uint32_t sign, const uint32_t *v, size_t count)
{
    sl_bytes_be32(out, sign);
    sl_bytes_be32(out, 0);
    for (size_t i = 0; i < count; i++)
        sl_bytes_be32(out, v[i]);
}

/* ICC.1:2010, table 65: function 0 is a plain power, 3 has the linear foot. */
static void put_curve(sl_bytes *out, double gamma)
{
    const bool power = gamma > 0;

    sl_bytes_be32(out, SIGN('p', 'a', 'r', 'a'));
    sl_bytes_be32(out, 0);
    sl_bytes_be16(out, power ? 0 : 3);
    sl_bytes_be16(out, 0);
    if (power)
        sl_bytes_be32(out, fixed(gamma));
    for (size_t i = 0; !power && i < sizeof CURVE / sizeof *CURVE; i++)
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

bool sl_icc_build(sl_bytes *out, const sl_icc_space *space)
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
    double adaptation[9];
    double primary[9];
    uint32_t number[9];

    if (!adapt(adaptation, primary, space))
        return false;
    put_text(&e[NAME], space->name);
    put_text(&e[RIGHTS], "No rights reserved");
    put_numbers(&e[WHITE], SIGN('X', 'Y', 'Z', ' '), D50, 3);
    for (size_t i = 0; i < 9; i++)
        number[i] = fixed(adaptation[i]);
    put_numbers(&e[ADAPTED], SIGN('s', 'f', '3', '2'), number, 9);
    put_curve(&e[TRC], space->gamma);
    for (size_t i = 0; i < 9; i++)
        number[i] = fixed(primary[i]);
    for (size_t i = 0; i < 3; i++)
        put_numbers(&e[RED + i], SIGN('X', 'Y', 'Z', ' '), number + 3 * i, 3);
    if (space->grey)
        put_profile(out, SIGN('G', 'R', 'A', 'Y'), gray, sizeof gray / sizeof *gray);
    else
        put_profile(out, SIGN('R', 'G', 'B', ' '), colour, sizeof colour / sizeof *colour);
    for (size_t i = 0; i < ELEMENTS; i++)
        sl_bytes_free(&e[i]);
    return true;
}
