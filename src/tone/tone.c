/*
 * The transfer curve of a shot, as tables.
 *
 * The whole curve is one table over the 65,536 codes of 16 bits; the 8-bit table is every 257th
 * entry of it, since 255 * 257 = 65535, so that both depths mean the same light. Encoding is the
 * inverse of that table, linear in between: a code comes back exactly, whatever the curve.
 *
 * Curves come from a matrix or grey profile's tone reproduction curves (ICC.1:2010, 8.3.3, 8.4.3
 * and 9.2), read by LittleCMS: parametric ones by its evaluation in floating point, sampled ones
 * by linear interpolation of their own samples, because its evaluation rounds those to 16 bits
 * and would leave steps in the dark.
 */
#include "squareleaf.h"

#include <lcms2.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "tone/profile.h"

enum { CODES = 65536 };

struct sl_tone {
    bool  assumed;
    float linear8[256];
    float linear16[CODES];
};

/* IEC 61966-2-1:1999, sRGB to linear. */
static double srgb_to_linear(double c)
{
    return c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static void fill_srgb(sl_tone *tone)
{
    for (size_t c = 0; c < CODES; c++)
        tone->linear16[c] = (float)srgb_to_linear((double)c / (CODES - 1));
    tone->assumed = true;
}

/* ---- a profile's curve ----------------------------------------------------------------------- */

/* Adds the curve's value at every code to sum[]. */
static void add_curve(double *sum, const cmsToneCurve *curve)
{
    const bool sampled = cmsGetToneCurveParametricType(curve) == 0;
    const cmsUInt32Number count = cmsGetToneCurveEstimatedTableEntries(curve);
    const cmsUInt16Number *sample = cmsGetToneCurveEstimatedTable(curve);

    for (size_t c = 0; c < CODES; c++) {
        const double x = (double)c / (CODES - 1);

        if (sampled && count >= 2) {
            const double at = x * (double)(count - 1);
            const size_t k = at >= (double)(count - 1) ? count - 2 : (size_t)at;
            const double t = at - (double)k;

            sum[c] += ((1.0 - t) * sample[k] + t * sample[k + 1]) / 65535.0;
        } else {
            sum[c] += (double)cmsEvalToneCurveFloat(curve, (cmsFloat32Number)x);
        }
    }
}

/*
 * Makes the curve rise from code to code, so that it has an inverse: a run of equal values, as
 * sampled curves have in the dark where 16 bits are too few, becomes a ramp to the next value.
 * False when it is no transfer curve: not finite, falling, or rising over less than half of the
 * range. Falls of up to 1e-4 are rounding in the profile and are levelled.
 */
static bool make_rising(double *curve)
{
    size_t start = 0;

    for (size_t c = 0; c < CODES; c++) {
        if (!isfinite(curve[c]))
            return false;
        curve[c] = fmin(fmax(curve[c], 0.0), 1.0);
        if (c > 0 && curve[c] < curve[c - 1]) {
            if (curve[c] < curve[c - 1] - 1e-4)
                return false;
            curve[c] = curve[c - 1];
        }
    }
    if (curve[CODES - 1] - curve[0] < 0.5)
        return false;
    /* A run at the top has no next value: it becomes a ramp from the value before it. */
    for (size_t top = CODES - 1; top > 0; top--) {
        if (curve[top - 1] < curve[CODES - 1]) {
            const double from = curve[top - 1];
            const double rise = (curve[CODES - 1] - from) / (double)(CODES - top);

            for (size_t c = top; c < CODES - 1; c++)
                curve[c] = from + rise * (double)(c - top + 1);
            break;
        }
    }
    for (size_t c = 1; c < CODES; c++) {
        if (curve[c] > curve[start]) {
            const double rise = (curve[c] - curve[start]) / (double)(c - start);
            const double from = curve[start];

            for (size_t k = start + 1; k < c; k++)
                curve[k] = from + rise * (double)(k - start);
            start = c;
        }
    }
    return true;
}

/* The profile's curves, 1 or 3; 0 when it has none or is of another kind. */
static size_t profile_curves(const cmsToneCurve *curve[3], cmsHPROFILE profile)
{
    static const cmsTagSignature rgb[3] = {
        cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag
    };

    switch (cmsGetColorSpace(profile)) {
    case cmsSigGrayData:
        curve[0] = cmsReadTag(profile, cmsSigGrayTRCTag);
        return curve[0] != NULL;
    case cmsSigRgbData:
        for (size_t k = 0; k < 3; k++) {
            curve[k] = cmsReadTag(profile, rgb[k]);
            if (curve[k] == NULL)
                return 0;
        }
        return 3;
    default:
        return 0;
    }
}

/* False when the profile has no curve of use; the tables are then half written. */
static bool fill_from_profile(sl_tone *tone, double *sum, cmsHPROFILE profile)
{
    const cmsToneCurve *curve[3] = { NULL, NULL, NULL };
    const size_t count = profile_curves(curve, profile);

    if (count == 0)
        return false;
    memset(sum, 0, CODES * sizeof *sum);
    add_curve(sum, curve[0]);
    /* Most profiles point all three tags at one curve. */
    if (count == 3 && (curve[1] != curve[0] || curve[2] != curve[0])) {
        add_curve(sum, curve[1]);
        add_curve(sum, curve[2]);
        for (size_t c = 0; c < CODES; c++)
            sum[c] /= 3.0;
    }
    if (!make_rising(sum))
        return false;
    for (size_t c = 0; c < CODES; c++) {
        tone->linear16[c] = (float)sum[c];
        if (c > 0 && !(tone->linear16[c] > tone->linear16[c - 1]))
            return false;
    }
    return true;
}

/* ---- public ---------------------------------------------------------------------------------- */

sl_status sl_tone_new(sl_tone **out, const void *icc, size_t icc_size, sl_error *err)
{
    sl_tone *tone = malloc(sizeof *tone);
    double *sum = NULL;
    cmsContext context = NULL;
    cmsHPROFILE profile = NULL;
    sl_status status = SL_OK;

    if (tone == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "tone", "out of memory");
    tone->assumed = true;
    if (icc != NULL && icc_size > 0 && icc_size <= UINT32_MAX) {
        sum = malloc(CODES * sizeof *sum);
        context = sl_tone_context();
        if (sum == NULL || context == NULL) {
            status = sl_fail(err, SL_ERR_NOMEM, "tone", "out of memory");
            goto done;
        }
        profile = cmsOpenProfileFromMemTHR(context, icc, (cmsUInt32Number)icc_size);
        if (profile != NULL && fill_from_profile(tone, sum, profile))
            tone->assumed = false;
    }
    if (tone->assumed)
        fill_srgb(tone);
    for (size_t c = 0; c < 256; c++)
        tone->linear8[c] = tone->linear16[257 * c];
    *out = tone;
    tone = NULL;             /* the caller's now */
done:
    if (profile != NULL)
        (void)cmsCloseProfile(profile);
    if (context != NULL)
        cmsDeleteContext(context);
    free(sum);
    free(tone);
    return status;
}

void sl_tone_free(sl_tone *tone)
{
    free(tone);
}

bool sl_tone_assumed(const sl_tone *tone)
{
    return tone->assumed;
}

const float *sl_tone_linear8(const sl_tone *tone)
{
    return tone->linear8;
}

const float *sl_tone_linear16(const sl_tone *tone)
{
    return tone->linear16;
}

double sl_tone_encode(const sl_tone *tone, double linear)
{
    const float *table = tone->linear16;
    size_t low = 0;
    size_t high = CODES - 1;

    if (!(linear > (double)table[low]))
        return 0.0;          /* NaN too */
    if (linear >= (double)table[high])
        return 1.0;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;

        if ((double)table[middle] <= linear)
            low = middle;
        else
            high = middle;
    }
    return ((double)low
            + (linear - (double)table[low]) / ((double)table[high] - (double)table[low]))
           / (CODES - 1);
}
