/*
 * A shot's colours become sRGB's, by LittleCMS: relative colorimetric with black point
 * compensation, the trade's usual choice for photographs (common practice). Rows are converted
 * after resampling, so that a page is resampled once whatever is written.
 *
 * Eight bits go through LittleCMS's own fast path for matrix profiles. Of 16 bits it would make
 * a grid of nodes, which is up to 3,800 of 65,535 codes off where P3 leaves sRGB (measured over
 * a million colours, LittleCMS 2.14); so there every pixel is computed (error 0.5 codes).
 */
#include "squareleaf.h"

#include <lcms2.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "tone/profile.h"

struct sl_colour {
    cmsContext    context;
    cmsHTRANSFORM transform;
};

/* LittleCMS reports through a handler; what it says of a broken profile is no news here. */
static void ignore(cmsContext context, cmsUInt32Number code, const char *text)
{
    (void)context;
    (void)code;
    (void)text;
}

cmsContext sl_tone_context(void)
{
    /* A context of our own: the library's default one is shared and writes to a handler. */
    cmsContext context = cmsCreateContext(NULL, NULL);

    if (context != NULL)
        cmsSetLogErrorHandlerTHR(context, ignore);
    return context;
}

/* ---- transforms ------------------------------------------------------------------------------ */

static cmsHPROFILE target_profile(cmsContext context, bool grey)
{
    /* IEC 61966-2-1: g, a, b, c, d of (aX + b)^g for X >= d, else cX */
    static const double srgb[5] = { 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045 };
    cmsToneCurve *curve;
    cmsHPROFILE profile;

    if (!grey)
        return cmsCreate_sRGBProfileTHR(context);
    curve = cmsBuildParametricToneCurve(context, 4, srgb);
    if (curve == NULL)
        return NULL;
    profile = cmsCreateGrayProfileTHR(context, cmsD50_xyY(), curve);
    cmsFreeToneCurve(curve);
    return profile;
}

/* Samples of `channels` interleaved, of 8 or 16 bits in host order. */
static cmsUInt32Number layout(unsigned channels, unsigned bits)
{
    const cmsUInt32Number space = channels == 1 ? PT_GRAY : channels == 3 ? PT_RGB : PT_CMYK;

    return COLORSPACE_SH(space) | CHANNELS_SH(channels) | BYTES_SH(bits / 8);
}

static cmsColorSpaceSignature space_of(unsigned channels)
{
    return channels == 1 ? cmsSigGrayData : channels == 3 ? cmsSigRgbData : cmsSigCmykData;
}

/* NULL when the profile is broken or for other samples; a CMYK one gives RGB. */
static cmsHTRANSFORM make_transform(cmsContext context, cmsHPROFILE from, unsigned channels,
                                    unsigned bits)
{
    const unsigned out = channels == 1 ? 1 : 3;
    cmsUInt32Number flags = cmsFLAGS_NOCACHE /* or threads would share a memory of one pixel */
                            | cmsFLAGS_BLACKPOINTCOMPENSATION;
    cmsHPROFILE to;
    cmsHTRANSFORM transform;

    if (cmsGetColorSpace(from) != space_of(channels))
        return NULL;
    if (channels == 4)
        flags |= cmsFLAGS_HIGHRESPRECALC;
    else if (bits == 16)
        flags |= cmsFLAGS_NOOPTIMIZE;
    to = target_profile(context, out == 1);
    if (to == NULL)
        return NULL;
    transform = cmsCreateTransformTHR(context, from, layout(channels, bits), to,
                                      layout(out, bits), INTENT_RELATIVE_COLORIMETRIC, flags);
    (void)cmsCloseProfile(to);
    return transform;
}

static sl_status open_colour(sl_colour **out, const void *icc, size_t size, unsigned channels,
                             unsigned bits, sl_error *err)
{
    sl_colour *colour = calloc(1, sizeof *colour);
    cmsHPROFILE profile = NULL;

    if (colour == NULL || (colour->context = sl_tone_context()) == NULL) {
        free(colour);
        return sl_fail(err, SL_ERR_NOMEM, "tone", "out of memory");
    }
    if (size <= UINT32_MAX)
        profile = cmsOpenProfileFromMemTHR(colour->context, icc, (cmsUInt32Number)size);
    if (profile != NULL) {
        colour->transform = make_transform(colour->context, profile, channels, bits);
        (void)cmsCloseProfile(profile);
    }
    if (colour->transform == NULL) {
        sl_colour_free(colour);
        colour = NULL;       /* of no use: the samples are taken as sRGB */
    }
    *out = colour;
    return SL_OK;
}

/*
 * Does the transform leave everything within half an 8-bit step of where it was? Then the space
 * is sRGB by another maker's rounding. Over a grid of 9 values a channel.
 */
static bool changes_nothing(const sl_colour *colour, unsigned channels)
{
    enum { GRID = 9, HALF_STEP = 65535 / 255 / 2 };
    const size_t count = channels == 1 ? GRID : GRID * GRID * GRID;

    for (size_t i = 0; i < count; i++) {
        uint16_t in[3] = { (uint16_t)(i % GRID * 65535 / (GRID - 1)),
                           (uint16_t)(i / GRID % GRID * 65535 / (GRID - 1)),
                           (uint16_t)(i / GRID / GRID * 65535 / (GRID - 1)) };
        uint16_t to[3] = { 0, 0, 0 };

        cmsDoTransform(colour->transform, in, to, 1);
        for (unsigned c = 0; c < channels; c++)
            if (to[c] > in[c] + HALF_STEP || to[c] + HALF_STEP < in[c])
                return false;
    }
    return true;
}

/* ---- what a profile is ----------------------------------------------------------------------- */

/* Its description in ASCII; what is none becomes '?'. */
static void read_name(char *to, size_t room, const void *icc, size_t size)
{
    cmsContext context = sl_tone_context();
    cmsHPROFILE profile = NULL;

    to[0] = '\0';
    if (context == NULL)
        return;
    profile = cmsOpenProfileFromMemTHR(context, icc, (cmsUInt32Number)size);
    if (profile != NULL) {
        (void)cmsGetProfileInfoASCII(profile, cmsInfoDescription, "en", "US", to,
                                     (cmsUInt32Number)room);
        to[room - 1] = '\0';
        (void)cmsCloseProfile(profile);
    }
    for (; *to != '\0'; to++)
        if ((unsigned char)*to < 0x20 || (unsigned char)*to > 0x7e)
            *to = '?';
    cmsDeleteContext(context);
}

sl_status sl_profile_read(sl_profile *out, const void *icc, size_t size, unsigned channels,
                          sl_error *err)
{
    sl_colour *colour = NULL;
    sl_status st;

    *out = (sl_profile){ .kind = SL_PROFILE_NONE };
    if (icc == NULL || size == 0 || size > UINT32_MAX)
        return SL_OK;
    st = open_colour(&colour, icc, size, channels, 16, err);
    if (st != SL_OK)
        return st;
    if (colour == NULL) {
        out->kind = SL_PROFILE_BROKEN;
    } else {
        read_name(out->name, sizeof out->name, icc, size);
        out->kind = channels == 4                      ? SL_PROFILE_INKS
                    : changes_nothing(colour, channels) ? SL_PROFILE_SRGB
                                                        : SL_PROFILE_OTHER;
    }
    sl_colour_free(colour);
    return SL_OK;
}

/* ---- public ---------------------------------------------------------------------------------- */

sl_status sl_colour_new(sl_colour **out, const void *icc, size_t size, unsigned channels,
                        unsigned bits, sl_error *err)
{
    if ((channels != 1 && channels != 3 && channels != 4) || (bits != 8 && bits != 16))
        return sl_fail(err, SL_ERR_ARG, "tone", "%u channels of %u bits", channels, bits);
    if (icc == NULL || size == 0) {
        *out = NULL;
        return SL_OK;
    }
    return open_colour(out, icc, size, channels, bits, err);
}

void sl_colour_free(sl_colour *colour)
{
    if (colour != NULL) {
        if (colour->transform != NULL)
            cmsDeleteTransform(colour->transform);
        cmsDeleteContext(colour->context);
        free(colour);
    }
}

void sl_colour_rows(const sl_colour *colour, void *to, size_t to_stride, const void *from,
                    size_t from_stride, size_t width, size_t count)
{
    for (size_t y = 0; y < count; y++)
        cmsDoTransform(colour->transform, (const unsigned char *)from + y * from_stride,
                       (unsigned char *)to + y * to_stride, (cmsUInt32Number)width);
}

/* ---- inks ------------------------------------------------------------------------------------ */

/* The paper seen through ink and black, for want of a profile. */
static void plain_inks(unsigned char *row, size_t width, unsigned bits)
{
    const unsigned max = bits == 8 ? 255 : 65535;

    for (size_t x = 0; x < width; x++) {
        uint16_t ink[4];
        uint16_t rgb[3];

        for (size_t c = 0; c < 4; c++) {
            if (bits == 8)
                ink[c] = row[4 * x + c];
            else
                memcpy(&ink[c], row + 2 * (4 * x + c), 2);
        }
        for (size_t c = 0; c < 3; c++)
            rgb[c] = (uint16_t)sl_from_inks(ink[c], ink[3], max);
        for (size_t c = 0; c < 3; c++) {
            if (bits == 8)
                row[3 * x + c] = (unsigned char)rgb[c];
            else
                memcpy(row + 2 * (3 * x + c), &rgb[c], 2);
        }
    }
}

sl_status sl_shot_print(sl_shot *shot, sl_profile *profile, sl_error *err)
{
    enum { RUN = 4096 };     /* px at once: in place, so through a row of its own */
    sl_image *image = shot->image;
    sl_colour *colour = NULL;
    const size_t pixel = image->bits / 8;
    unsigned char *row = NULL;
    sl_status st;

    st = sl_profile_read(profile, shot->icc, shot->icc_size, image->channels, err);
    if (st != SL_OK || image->channels != 4)
        return st;
    st = sl_colour_new(&colour, shot->icc, shot->icc_size, 4, image->bits, err);
    if (st != SL_OK)
        return st;
    row = malloc(RUN * 4 * pixel);
    if (row == NULL) {
        sl_colour_free(colour);
        return sl_fail(err, SL_ERR_NOMEM, "tone", "out of memory");
    }
    for (size_t y = 0; y < image->height; y++) {
        unsigned char *at = image->data + y * image->stride;

        if (colour == NULL) {
            plain_inks(at, image->width, image->bits);
            continue;
        }
        for (size_t x = 0; x < image->width; x += RUN) {
            const size_t n = image->width - x < RUN ? image->width - x : RUN;

            memcpy(row, at + x * 4 * pixel, n * 4 * pixel);
            sl_colour_rows(colour, at + x * 3 * pixel, 0, row, 0, n, 1);
        }
    }
    image->channels = 3;     /* the stride stays */
    free(shot->icc);
    shot->icc = NULL;
    shot->icc_size = 0;
    free(row);
    sl_colour_free(colour);
    return SL_OK;
}
