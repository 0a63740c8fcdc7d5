/* The transfer curve: published values, and profiles made here with LittleCMS. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>
#include <lcms2.h>

#include "squareleaf.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* ---- profiles ------------------------------------------------------------------------------ */

typedef struct profile {
    void  *data;
    size_t size;
} profile;

static profile save(cmsHPROFILE from)
{
    profile p = { NULL, 0 };
    cmsUInt32Number size = 0;

    assert_non_null(from);
    assert_true(cmsSaveProfileToMem(from, NULL, &size));
    p.data = malloc(size);
    assert_non_null(p.data);
    assert_true(cmsSaveProfileToMem(from, p.data, &size));
    p.size = size;
    cmsCloseProfile(from);
    return p;
}

static profile rgb_profile(cmsToneCurve *r, cmsToneCurve *g, cmsToneCurve *b)
{
    const cmsCIExyY white = { 0.3127, 0.3290, 1.0 };
    const cmsCIExyYTRIPLE primaries = {
        { 0.64, 0.33, 1.0 }, { 0.30, 0.60, 1.0 }, { 0.15, 0.06, 1.0 }
    };
    cmsToneCurve *curves[3] = { r, g, b };

    return save(cmsCreateRGBProfile(&white, &primaries, curves));
}

static sl_tone *tone_of(const profile *p)
{
    sl_tone *tone = NULL;
    sl_error err = { 0 };

    if (sl_tone_new(&tone, p != NULL ? p->data : NULL, p != NULL ? p->size : 0, &err) != SL_OK)
        fail_msg("%s", err.detail);
    return tone;
}

/* ---- laws that every curve keeps ------------------------------------------------------------- */

static void check_laws(const char *name, const sl_tone *tone)
{
    const float *linear8 = sl_tone_linear8(tone);
    const float *linear16 = sl_tone_linear16(tone);

    for (unsigned c = 0; c < 65536; c++) {
        const double code = sl_tone_encode(tone, (double)linear16[c]) * 65535.0;

        if (code != (double)c)
            fail_msg("%s: 16-bit code %u comes back as %.9f", name, c, code);
        if (c > 0 && !(linear16[c] > linear16[c - 1]))
            fail_msg("%s: does not rise at %u", name, c);
    }
    for (unsigned c = 0; c < 256; c++) {
        if (fabs(sl_tone_encode(tone, (double)linear8[c]) * 255.0 - (double)c) > 1e-9)
            fail_msg("%s: 8-bit code %u does not come back", name, c);
        if (linear8[c] != linear16[257 * c])
            fail_msg("%s: the depths differ at %u", name, c);
    }
    assert_true(linear16[0] >= 0.0f && linear16[65535] <= 1.0f);
    assert_true(sl_tone_encode(tone, -1.0) == 0.0);
    assert_true(sl_tone_encode(tone, 2.0) == 1.0);
    assert_true(sl_tone_encode(tone, (double)NAN) == 0.0);
}

/* ---- tests --------------------------------------------------------------------------------- */

/* Linear light of 8-bit codes by IEC 61966-2-1's formula, as printed in the literature to 9
 * digits; 0.5 <-> 187.516 likewise. */
static void srgb_has_its_published_values(void **state)
{
    static const struct { unsigned code; double linear; } known[] = {
        { 0, 0.0 }, { 1, .000303527 }, { 10, .003035270 }, { 11, .003346536 }, { 64, .051269458 },
        { 118, .181164244 }, { 127, .212230757 }, { 128, .215860500 }, { 188, .502886458 },
        { 200, .577580440 }, { 254, .991102097 }, { 255, 1.0 },
    };
    sl_tone *tone = tone_of(NULL);

    (void)state;
    assert_true(sl_tone_assumed(tone));
    for (size_t i = 0; i < COUNT(known); i++) {
        const double got = (double)sl_tone_linear8(tone)[known[i].code];

        /* A float near 1 has steps of 6e-8. */
        if (fabs(got - known[i].linear) > 4e-8)
            fail_msg("code %u: %.9f, published %.9f", known[i].code, got, known[i].linear);
    }
    assert_true(fabs(sl_tone_encode(tone, 0.5) * 255.0 - 187.516) < 5e-4);
    assert_true(fabs(sl_tone_encode(tone, 0.18) * 255.0 - 117.646) < 5e-4);
    check_laws("sRGB", tone);
    sl_tone_free(tone);
}

static void a_profile_brings_its_own_curve(void **state)
{
    /* IEC 61966-2-1 as ICC parametric curve type 3 (ICC.1:2010, 10.15). */
    static const cmsFloat64Number srgb[5] = { 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045 };
    cmsUInt16Number sample[1024];
    cmsToneCurve *curve[5];

    (void)state;
    for (size_t k = 0; k < COUNT(sample); k++)
        sample[k] = (cmsUInt16Number)lround(65535.0 * pow((double)k / 1023.0, 2.2));
    curve[0] = cmsBuildGamma(NULL, 563.0 / 256.0);
    curve[1] = cmsBuildParametricToneCurve(NULL, 4, srgb);
    curve[2] = cmsBuildTabulatedToneCurve16(NULL, COUNT(sample), sample);
    curve[3] = cmsBuildGamma(NULL, 1.8);
    curve[4] = cmsBuildGamma(NULL, 1.0);
    for (size_t k = 0; k < COUNT(curve); k++) {
        static const char *const names[] = { "gamma 563/256", "sRGB in a profile",
                                             "2.2 in 1024 samples", "gamma 1.8", "linear" };
        profile p = rgb_profile(curve[k], curve[k], curve[k]);
        sl_tone *tone = tone_of(&p);
        double worst = 0.0;

        if (sl_tone_assumed(tone))
            fail_msg("%s: not used", names[k]);
        check_laws(names[k], tone);
        for (unsigned c = 0; c < 65536; c++) {
            const double x = c / 65535.0;
            const double want = (double)cmsEvalToneCurveFloat(curve[k], (cmsFloat32Number)x);

            worst = fmax(worst, fabs((double)sl_tone_linear16(tone)[c] - want));
        }
        /* The library rounds sampled curves to 1/65535 as it evaluates them, and a gamma to
         * 8.8 bits or s15.16 as it writes it. */
        if (worst > 2e-5)
            fail_msg("%s: off the library's evaluation by %.2g", names[k], worst);
        sl_tone_free(tone);
        free(p.data);
    }
    for (size_t k = 0; k < COUNT(curve); k++)
        cmsFreeToneCurve(curve[k]);
}

static void three_curves_are_averaged(void **state)
{
    cmsToneCurve *a = cmsBuildGamma(NULL, 1.8);
    cmsToneCurve *b = cmsBuildGamma(NULL, 2.2);
    cmsToneCurve *c = cmsBuildGamma(NULL, 2.4);
    profile p = rgb_profile(a, b, c);
    sl_tone *tone = tone_of(&p);

    (void)state;
    for (unsigned k = 0; k < 256; k++) {
        const double x = k / 255.0;
        const double want = (pow(x, 1.8) + pow(x, 2.2) + pow(x, 2.4)) / 3.0;

        if (fabs((double)sl_tone_linear8(tone)[k] - want) > 1e-4)
            fail_msg("code %u: %.6f, mean of the curves %.6f", k,
                     (double)sl_tone_linear8(tone)[k], want);
    }
    check_laws("three curves", tone);
    sl_tone_free(tone);
    free(p.data);
    cmsFreeToneCurve(a);
    cmsFreeToneCurve(b);
    cmsFreeToneCurve(c);
}

static void grey_profiles_count(void **state)
{
    cmsToneCurve *curve = cmsBuildGamma(NULL, 2.2);
    profile p = save(cmsCreateGrayProfile(cmsD50_xyY(), curve));
    sl_tone *tone = tone_of(&p);

    (void)state;
    assert_false(sl_tone_assumed(tone));
    assert_true(fabs((double)sl_tone_linear8(tone)[128] - pow(128 / 255.0, 2.2)) < 1e-4);
    check_laws("grey", tone);
    sl_tone_free(tone);
    free(p.data);
    cmsFreeToneCurve(curve);
}

/* A transform by the library, device to XYZ in floating point: its Y of a grey is our light. */
static void the_librarys_own_transform_agrees(void **state)
{
    cmsHPROFILE srgb = cmsCreate_sRGBProfile();
    cmsHPROFILE xyz = cmsCreateXYZProfile();
    cmsHTRANSFORM to_xyz = cmsCreateTransform(srgb, TYPE_RGB_DBL, xyz, TYPE_XYZ_DBL,
                                              INTENT_RELATIVE_COLORIMETRIC,
                                              cmsFLAGS_NOOPTIMIZE);
    profile p;
    sl_tone *tone;

    (void)state;
    assert_non_null(to_xyz);
    p = save(srgb);
    tone = tone_of(&p);
    assert_false(sl_tone_assumed(tone));
    for (unsigned k = 0; k < 256; k++) {
        const double rgb[3] = { k / 255.0, k / 255.0, k / 255.0 };
        double out[3];

        cmsDoTransform(to_xyz, rgb, out, 1);
        if (fabs(out[1] - (double)sl_tone_linear8(tone)[k]) > 1e-4)
            fail_msg("code %u: Y %.6f, light %.6f", k, out[1],
                     (double)sl_tone_linear8(tone)[k]);
    }
    sl_tone_free(tone);
    free(p.data);
    cmsDeleteTransform(to_xyz);
    cmsCloseProfile(xyz);
}

/* Without a usable curve sRGB is assumed, said so, and equal to no profile at all. */
static void what_has_no_curve_is_taken_as_srgb(void **state)
{
    cmsUInt16Number falling[4] = { 65535, 40000, 20000, 0 };
    cmsUInt16Number flat[4] = { 30000, 30000, 30000, 30000 };
    cmsToneCurve *down = cmsBuildTabulatedToneCurve16(NULL, 4, falling);
    cmsToneCurve *level = cmsBuildTabulatedToneCurve16(NULL, 4, flat);
    cmsToneCurve *good = cmsBuildGamma(NULL, 2.2);
    profile bad[6];
    sl_tone *plain = tone_of(NULL);

    (void)state;
    bad[0] = save(cmsCreateLab4Profile(NULL));
    bad[1] = rgb_profile(down, down, down);
    bad[2] = rgb_profile(level, level, level);
    bad[3] = rgb_profile(good, good, good);
    bad[3].size = 100;       /* cut inside the header */
    bad[4] = rgb_profile(good, good, good);
    for (size_t i = 128; i < bad[4].size; i++)
        ((unsigned char *)bad[4].data)[i] = (unsigned char)(i * 37u);
    bad[5] = (profile){ calloc(1, 7), 7 };
    for (size_t k = 0; k < COUNT(bad); k++) {
        sl_tone *tone = tone_of(&bad[k]);

        if (!sl_tone_assumed(tone))
            fail_msg("profile %zu was used", k);
        assert_memory_equal(sl_tone_linear16(tone), sl_tone_linear16(plain),
                            65536 * sizeof(float));
        sl_tone_free(tone);
        free(bad[k].data);
    }
    sl_tone_free(plain);
    sl_tone_free(NULL);
    cmsFreeToneCurve(down);
    cmsFreeToneCurve(level);
    cmsFreeToneCurve(good);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(srgb_has_its_published_values),
        cmocka_unit_test(a_profile_brings_its_own_curve),
        cmocka_unit_test(three_curves_are_averaged),
        cmocka_unit_test(grey_profiles_count),
        cmocka_unit_test(the_librarys_own_transform_agrees),
        cmocka_unit_test(what_has_no_curve_is_taken_as_srgb),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
