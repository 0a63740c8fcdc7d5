/*
 * Colours against published numbers and against LittleCMS's own programs and conversions:
 * CIEDE2000, Display P3, CMYK, and whole pages from a JPEG and a HEIC in Display P3.
 */
#include "support/pictures.h"
#include "support/tools.h"

#include <lcms2.h>
#include <math.h>
#include <unistd.h>

#include "base/icc.h"
#include "squareleaf.h"

/* ---- CIEDE2000 ------------------------------------------------------------------------------- */

/* Sharma, Wu, Dalal, Color Res. Appl. 30(1), 2005, table 1: all 34 pairs. */
static void ciede2000_is_sharmas(void **state)
{
    static const double table[34][7] = {
        { 50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425 },
        { 50, 3.1571, -77.2803, 50, 0, -82.7485, 2.8615 },
        { 50, 2.8361, -74.0200, 50, 0, -82.7485, 3.4412 },
        { 50, -1.3802, -84.2814, 50, 0, -82.7485, 1.0000 },
        { 50, -1.1848, -84.8006, 50, 0, -82.7485, 1.0000 },
        { 50, -0.9009, -85.5211, 50, 0, -82.7485, 1.0000 },
        { 50, 0, 0, 50, -1, 2, 2.3669 },
        { 50, -1, 2, 50, 0, 0, 2.3669 },
        { 50, 2.4900, -0.0010, 50, -2.4900, 0.0009, 7.1792 },
        { 50, 2.4900, -0.0010, 50, -2.4900, 0.0010, 7.1792 },
        { 50, 2.4900, -0.0010, 50, -2.4900, 0.0011, 7.2195 },
        { 50, 2.4900, -0.0010, 50, -2.4900, 0.0012, 7.2195 },
        { 50, -0.0010, 2.4900, 50, 0.0009, -2.4900, 4.8045 },
        { 50, -0.0010, 2.4900, 50, 0.0010, -2.4900, 4.8045 },
        { 50, -0.0010, 2.4900, 50, 0.0011, -2.4900, 4.7461 },
        { 50, 2.5, 0, 50, 0, -2.5, 4.3065 },
        { 50, 2.5, 0, 73, 25, -18, 27.1492 },
        { 50, 2.5, 0, 61, -5, 29, 22.8977 },
        { 50, 2.5, 0, 56, -27, -3, 31.9030 },
        { 50, 2.5, 0, 58, 24, 15, 19.4535 },
        { 50, 2.5, 0, 50, 3.1736, 0.5854, 1.0000 },
        { 50, 2.5, 0, 50, 3.2972, 0, 1.0000 },
        { 50, 2.5, 0, 50, 1.8634, 0.5757, 1.0000 },
        { 50, 2.5, 0, 50, 3.2592, 0.3350, 1.0000 },
        { 60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644 },
        { 63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630 },
        { 61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731 },
        { 35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645 },
        { 22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373 },
        { 36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146 },
        { 90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441 },
        { 90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381 },
        { 6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377 },
        { 2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082 },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(table); i++) {
        const double got = sl_delta_e_2000(table[i], table[i] + 3);
        const double back = sl_delta_e_2000(table[i] + 3, table[i]);

        if (fabs(got - table[i][6]) > 0.00005 + 1e-9 || fabs(got - back) > 1e-9)
            fail_msg("pair %zu: %.6f and %.6f, expected %.4f", i + 1, got, back, table[i][6]);
    }
}

/* ---- profiles -------------------------------------------------------------------------------- */

static sl_bytes p3_profile(void)
{
    sl_bytes icc = { NULL, 0, 0, false };

    assert_true(sl_icc_build(&icc, &sl_icc_display_p3));
    assert_false(icc.failed);
    return icc;
}

static sl_colour *colour_of(const sl_bytes *icc, unsigned channels, unsigned bits)
{
    sl_colour *colour = NULL;
    sl_error err = { 0 };

    assert_int_equal(sl_colour_new(&colour, icc->data, icc->size, channels, bits, &err), SL_OK);
    assert_non_null(colour);
    return colour;
}

static double srgb_coded(double linear)
{
    return linear <= 0.0031308 ? 12.92 * linear : 1.055 * pow(linear, 1 / 2.4) - 0.055;
}

/* W3C web-platform-tests, css-color, display-p3-linear-001 and -005: the same two colours. */
static void published_p3_colours_are_srgbs(void **state)
{
    static const struct { double p3_linear[3], srgb[3]; } vector[] = {
        { { 0.0383, 0.2087, 0.0156 }, { 0, 128.0 / 255, 0 } },
        { { 1, 1, 0.0895 }, { 1, 1, 0 } },
    };
    sl_bytes icc = p3_profile();
    sl_colour *colour = colour_of(&icc, 3, 16);

    (void)state;
    for (size_t i = 0; i < COUNT(vector); i++) {
        uint16_t in[3];
        uint16_t to[3];

        for (size_t c = 0; c < 3; c++)
            in[c] = (uint16_t)(srgb_coded(vector[i].p3_linear[c]) * 65535 + 0.5);
        sl_colour_rows(colour, to, 0, in, 0, 1, 1);
        for (size_t c = 0; c < 3; c++)
            /* the vectors have four digits of light: near black that is 1.3 % of code */
            if (fabs(to[c] / 65535.0 - vector[i].srgb[c]) > 0.004)
                fail_msg("vector %zu, channel %zu: %.5f, expected %.5f", i, c, to[c] / 65535.0,
                         vector[i].srgb[c]);
    }
    sl_colour_free(colour);
    free(icc.data);
}

static void what_a_profile_is(void **state)
{
    static const double gamma = 2.2;
    sl_bytes p3 = p3_profile();
    sl_bytes srgb = { NULL, 0, 0, false };
    sl_bytes grey = { NULL, 0, 0, false };
    sl_bytes other = { NULL, 0, 0, false };
    sl_icc_space adobe = sl_icc_srgb;
    sl_profile profile;
    sl_colour *colour = NULL;
    unsigned char broken[400] = { 0 };

    (void)state;
    /* Adobe RGB (1998): green .21 .71; the name is only a text here */
    adobe.primary[1][0] = 0.21;
    adobe.primary[1][1] = 0.71;
    adobe.gamma = gamma;
    adobe.name = "wide";
    assert_true(sl_icc_build(&other, &adobe));
    assert_int_equal(sl_profile_read(&profile, other.data, other.size, 3, NULL), SL_OK);
    assert_int_equal(profile.kind, SL_PROFILE_OTHER);
    free(other.data);
    assert_true(sl_icc_build(&srgb, &sl_icc_srgb) && sl_icc_build(&grey, &sl_icc_grey));
    assert_int_equal(sl_profile_read(&profile, p3.data, p3.size, 3, NULL), SL_OK);
    assert_int_equal(profile.kind, SL_PROFILE_OTHER);
    assert_string_equal(profile.name, "Display P3");
    assert_int_equal(sl_profile_read(&profile, srgb.data, srgb.size, 3, NULL), SL_OK);
    assert_int_equal(profile.kind, SL_PROFILE_SRGB);
    assert_int_equal(sl_profile_read(&profile, grey.data, grey.size, 1, NULL), SL_OK);
    assert_int_equal(profile.kind, SL_PROFILE_SRGB);
    assert_int_equal(sl_profile_read(&profile, grey.data, grey.size, 3, NULL), SL_OK);
    assert_int_equal(profile.kind, SL_PROFILE_BROKEN);
    assert_int_equal(sl_profile_read(&profile, broken, sizeof broken, 3, NULL), SL_OK);
    assert_int_equal(profile.kind, SL_PROFILE_BROKEN);
    assert_int_equal(sl_profile_read(&profile, NULL, 0, 3, NULL), SL_OK);
    assert_int_equal(profile.kind, SL_PROFILE_NONE);
    assert_int_equal(sl_colour_new(&colour, broken, sizeof broken, 3, 8, NULL), SL_OK);
    assert_null(colour);
    for (size_t size = 0; size < p3.size; size += 7) {
        assert_int_equal(sl_profile_read(&profile, p3.data, size, 3, NULL), SL_OK);
        assert_true(size == 0 ? profile.kind == SL_PROFILE_NONE : true);
    }
    free(grey.data);
    free(srgb.data);
    free(p3.data);
}

/* A file in a folder of ours. */
static void write_file(const char *path, const void *data, size_t size)
{
    FILE *file = fopen(path, "wb");

    assert_non_null(file);
    assert_int_equal(fwrite(data, 1, size, file), size);
    assert_int_equal(fclose(file), 0);
}

/* Every colour of a grid, as LittleCMS's transicc has it, within a code of 16 bits, or of 8. */
static void rows_are_transiccs(void **state)
{
    enum { GRID = 6, COLOURS = GRID * GRID * GRID };
    sl_bytes icc = p3_profile();
    sl_colour *deep = colour_of(&icc, 3, 16);
    sl_colour *shallow = colour_of(&icc, 3, 8);
    uint16_t in[COLOURS][3];
    uint16_t out[COLOURS][3];
    unsigned char in8[COLOURS][3];
    unsigned char out8[COLOURS][3];
    double worst = 0;
    double worst8 = 0;
    FILE *asked;
    FILE *told;

    (void)state;
    if (!tool_found("transicc"))
        skip();
    write_file("colour-p3.icc", icc.data, icc.size);
    asked = fopen("colour-in", "w");
    assert_non_null(asked);
    for (size_t i = 0; i < COLOURS; i++) {
        for (size_t c = 0; c < 3; c++) {
            in8[i][c] = (unsigned char)((c == 0 ? i % GRID : c == 1 ? i / GRID % GRID
                                                                    : i / GRID / GRID)
                                        * 255 / (GRID - 1));
            in[i][c] = (uint16_t)(in8[i][c] * 257);
        }
        fprintf(asked, "%u %u %u\n", in8[i][0], in8[i][1], in8[i][2]);
    }
    assert_int_equal(fclose(asked), 0);
    sl_colour_rows(deep, out, sizeof out, in, sizeof in, COLOURS, 1);
    sl_colour_rows(shallow, out8, sizeof out8, in8, sizeof in8, COLOURS, 1);

    told = popen("transicc -n -t1 -b -c0 -icolour-p3.icc '-o*sRGB' < colour-in 2> /dev/null",
                 "r");
    assert_non_null(told);
    for (size_t i = 0; i < COLOURS; i++)
        for (size_t c = 0; c < 3; c++) {
            double want;

            assert_int_equal(fscanf(told, "%lf", &want), 1);
            want = (want < 0 ? 0 : want > 255 ? 255 : want) * 257;
            worst = fmax(worst, fabs(out[i][c] - want));
            worst8 = fmax(worst8, fabs(out8[i][c] - want / 257));
        }
    pclose(told);
    print_message("worst of %d colours: %.2f of 65535, %.2f of 255\n", COLOURS, worst, worst8);
    assert_true(worst <= 1.0);
    assert_true(worst8 <= 1.0);
    (void)remove("colour-p3.icc");
    (void)remove("colour-in");
    sl_colour_free(shallow);
    sl_colour_free(deep);
    free(icc.data);
}

/* ---- CMYK ------------------------------------------------------------------------------------ */

/* A made press: ink filters sRGB-like light, with dot gain; nothing like the plain product. */
static cmsInt32Number press(const cmsUInt16Number in[], cmsUInt16Number out[], void *cargo)
{
    double ink[4];
    cmsCIELab lab;

    (void)cargo;
    for (size_t c = 0; c < 4; c++)
        ink[c] = pow(in[c] / 65535.0, 0.8);
    lab.L = 100 * (1 - ink[3] * 0.9) * (1 - 0.35 * ink[0]) * (1 - 0.45 * ink[1])
            * (1 - 0.1 * ink[2]);
    lab.a = (70 * ink[1] - 37 * ink[0] - 5 * ink[2]) * (1 - ink[3]);
    lab.b = (90 * ink[2] - 50 * ink[0] - 3 * ink[1]) * (1 - ink[3]);
    cmsFloat2LabEncoded(out, &lab);
    return TRUE;
}

static bytes press_profile(void)
{
    cmsHPROFILE profile = cmsCreateProfilePlaceholder(NULL);
    cmsPipeline *lut = cmsPipelineAlloc(NULL, 4, 3);
    cmsStage *nodes = cmsStageAllocCLut16bit(NULL, 9, 4, 3, NULL);
    cmsUInt32Number size = 0;
    bytes icc;

    assert_true(cmsStageSampleCLut16bit(nodes, press, NULL, 0));
    assert_true(cmsPipelineInsertStage(lut, cmsAT_BEGIN, nodes));
    cmsSetProfileVersion(profile, 4.3);
    cmsSetDeviceClass(profile, cmsSigOutputClass);
    cmsSetColorSpace(profile, cmsSigCmykData);
    cmsSetPCS(profile, cmsSigLabData);
    assert_true(cmsPipelineInsertStage(lut, cmsAT_BEGIN, cmsStageAllocToneCurves(NULL, 4, NULL)));
    assert_true(cmsPipelineInsertStage(lut, cmsAT_END, cmsStageAllocToneCurves(NULL, 3, NULL)));
    assert_true(cmsWriteTag(profile, cmsSigAToB0Tag, lut));
    assert_true(cmsWriteTag(profile, cmsSigAToB1Tag, lut));
    assert_true(cmsSaveProfileToMem(profile, NULL, &size));
    icc.data = malloc(size);
    icc.size = size;
    assert_true(cmsSaveProfileToMem(profile, icc.data, &size));
    cmsPipelineFree(lut);
    cmsCloseProfile(profile);
    return icc;
}

/* Mean CIEDE2000 of two RGB pictures in sRGB, 8 or 16 bits. */
static double mean_difference(const sl_image *a, const sl_image *b)
{
    cmsHPROFILE srgb = cmsCreate_sRGBProfile();
    cmsHPROFILE lab = cmsCreateLab4Profile(NULL);
    cmsHTRANSFORM see[2];
    const sl_image *image[2] = { a, b };
    double sum = 0;

    assert_int_equal(a->width, b->width);
    assert_int_equal(a->height, b->height);
    for (size_t k = 0; k < 2; k++)
        see[k] = cmsCreateTransform(srgb, image[k]->bits == 8 ? TYPE_RGB_8 : TYPE_RGB_16, lab,
                                    TYPE_Lab_DBL, INTENT_RELATIVE_COLORIMETRIC,
                                    cmsFLAGS_NOOPTIMIZE);
    for (size_t y = 0; y < a->height; y++)
        for (size_t x = 0; x < a->width; x++) {
            double value[2][3];

            for (size_t k = 0; k < 2; k++)
                cmsDoTransform(see[k], image[k]->data + y * image[k]->stride
                                           + 3 * x * (image[k]->bits / 8), value[k], 1);
            sum += sl_delta_e_2000(value[0], value[1]);
        }
    for (size_t k = 0; k < 2; k++)
        cmsDeleteTransform(see[k]);
    cmsCloseProfile(lab);
    cmsCloseProfile(srgb);
    return sum / (double)(a->width * a->height);
}

/* LittleCMS's own conversion of a picture's samples, without shortcuts. */
static sl_image *converted(const sl_image *from, const void *icc, size_t size)
{
    const unsigned bytes_each = from->bits / 8;
    const cmsUInt32Number in = (from->channels == 4 ? COLORSPACE_SH(PT_CMYK)
                                                    : COLORSPACE_SH(PT_RGB))
                               | CHANNELS_SH(from->channels) | BYTES_SH(bytes_each);
    cmsHPROFILE own = cmsOpenProfileFromMem(icc, (cmsUInt32Number)size);
    cmsHPROFILE srgb = cmsCreate_sRGBProfile();
    cmsHTRANSFORM t = cmsCreateTransform(own, in, srgb,
                                         COLORSPACE_SH(PT_RGB) | CHANNELS_SH(3)
                                             | BYTES_SH(bytes_each),
                                         INTENT_RELATIVE_COLORIMETRIC,
                                         cmsFLAGS_NOOPTIMIZE | cmsFLAGS_BLACKPOINTCOMPENSATION);
    sl_image *to = NULL;

    assert_non_null(t);
    assert_int_equal(sl_image_new(&to, from->width, from->height, 3, from->bits, NULL), SL_OK);
    for (size_t y = 0; y < from->height; y++)
        cmsDoTransform(t, from->data + y * from->stride, to->data + y * to->stride,
                       (cmsUInt32Number)from->width);
    cmsDeleteTransform(t);
    cmsCloseProfile(srgb);
    cmsCloseProfile(own);
    return to;
}

static sl_shot *decode(bytes file)
{
    sl_shot *shot = NULL;
    sl_error err = { 0 };

    if (sl_shot_decode(&shot, file.data, file.size, NULL, &err) != SL_OK)
        fail_msg("%s", err.detail);
    return shot;
}

static void inks_are_printed_by_their_profile(void **state)
{
    bytes icc = press_profile();
    const jpeg_options jpeg = { .width = 90, .height = 70, .channels = 4, .icc = icc.data,
                                .icc_size = (unsigned)icc.size };
    const tiff_options tiff = { .width = 90, .height = 70, .bits = 16, .samples = 4,
                                .photometric = PHOTOMETRIC_SEPARATED,
                                .compression = COMPRESSION_NONE, .icc = icc.data,
                                .icc_size = (unsigned)icc.size };
    bytes file[2] = { make_jpeg(&jpeg), make_tiff(&tiff) };

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        sl_shot *shot = decode(file[i]);
        sl_profile profile;
        sl_image *want;
        double mean;

        assert_int_equal(shot->image->channels, 4);
        want = converted(shot->image, icc.data, icc.size);
        assert_int_equal(sl_shot_print(shot, &profile, NULL), SL_OK);
        assert_int_equal(profile.kind, SL_PROFILE_INKS);
        assert_int_equal(shot->image->channels, 3);
        assert_null(shot->icc);
        mean = mean_difference(shot->image, want);
        print_message("CMYK, %u bits: mean CIEDE2000 %.3f\n", shot->image->bits, mean);
        assert_true(mean < 0.5);
        sl_image_free(want);
        sl_shot_free(shot);
        free(file[i].data);
    }
    free(icc.data);
}

/* ---- whole pages ----------------------------------------------------------------------------- */

static bytes read_file(const char *path)
{
    FILE *file = fopen(path, "rb");
    bytes all = { NULL, 0 };
    unsigned char part[65536];
    size_t n;

    assert_non_null(file);
    while ((n = fread(part, 1, sizeof part, file)) > 0)
        bytes_append(&all, part, n);
    fclose(file);
    return all;
}

/* The page that is the whole picture, as one file. */
static bytes page_of(bytes file, sl_format format, sl_colour_policy policy)
{
    sl_settings settings = sl_settings_defaults();
    sl_page *page = NULL;
    FILE *to = tmpfile();
    sl_target target = { .file = to, .format = format, .with_margin = true };
    sl_error err = { 0 };
    bytes all = { NULL, 0 };
    unsigned char part[65536];
    size_t n;

    settings.whole_frame = true;
    settings.quality = 100;
    settings.colour = policy;
    if (sl_page_find(&page, file.data, file.size, "shot", &settings, NULL, &err) != SL_OK
        || sl_page_write(page, &target, 1, NULL, NULL, &err) != SL_OK)
        fail_msg("%s", err.detail);
    rewind(to);
    while ((n = fread(part, 1, sizeof part, to)) > 0)
        bytes_append(&all, part, n);
    fclose(to);
    sl_page_free(page);
    return all;
}

/* Access copy and master of a Display P3 shot, against LittleCMS's conversion of its pixels. */
static void check_pages(const char *name, bytes file)
{
    static const struct { sl_format format; sl_colour_policy policy; bool kept; } way[] = {
        { SL_FORMAT_JPEG, SL_COLOUR_KEEP, false }, { SL_FORMAT_PNG, SL_COLOUR_SRGB, false },
        { SL_FORMAT_TIFF, SL_COLOUR_KEEP, true },
    };
    sl_shot *shot = decode(file);

    assert_non_null(shot->icc);
    for (size_t i = 0; i < COUNT(way); i++) {
        bytes page = page_of(file, way[i].format, way[i].policy);
        sl_shot *got = decode(page);
        sl_image *want = converted(shot->image, shot->icc, shot->icc_size);
        sl_profile profile;
        double mean;

        assert_int_equal(sl_profile_read(&profile, got->icc, got->icc_size, 3, NULL), SL_OK);
        /* PNG says sRGB in a chunk of its own */
        assert_int_equal(profile.kind, way[i].kept ? SL_PROFILE_OTHER
                                       : way[i].format == SL_FORMAT_PNG ? SL_PROFILE_NONE
                                                                        : SL_PROFILE_SRGB);
        if (way[i].kept) {
            assert_int_equal(got->icc_size, shot->icc_size);
            assert_memory_equal(got->icc, shot->icc, got->icc_size);
        }
        mean = mean_difference(got->image, way[i].kept ? shot->image : want);
        print_message("%s, way %zu: mean CIEDE2000 %.3f\n", name, i, mean);
        assert_true(mean < 0.5);
        sl_image_free(want);
        sl_shot_free(got);
        free(page.data);
    }
    sl_shot_free(shot);
}

static void a_p3_jpeg_becomes_srgb_pages(void **state)
{
    sl_bytes icc = p3_profile();
    const jpeg_options o = { .width = 400, .height = 300, .channels = 3, .icc = icc.data,
                             .icc_size = (unsigned)icc.size };
    bytes file = make_jpeg(&o);

    (void)state;
    check_pages("JPEG", file);
    free(file.data);
    free(icc.data);
}

static void a_p3_heic_becomes_srgb_pages(void **state)
{
    sl_bytes icc = p3_profile();
    const jpeg_options o = { .width = 400, .height = 300, .channels = 3, .icc = icc.data,
                             .icc_size = (unsigned)icc.size };
    bytes jpeg = make_jpeg(&o);
    bytes file;

    (void)state;
    if (strstr(sl_version(), "libheif") == NULL || !tool_found("heif-enc"))
        skip();
    write_file("colour.jpg", jpeg.data, jpeg.size);
    /* by numbers alone (nclx): test_heif.c, for heif-enc writes none */
    assert_int_equal(system("heif-enc -q 95 -o colour.heic colour.jpg > /dev/null 2>&1"), 0);
    file = read_file("colour.heic");
    check_pages("HEIC", file);
    free(file.data);
    (void)remove("colour.jpg");
    (void)remove("colour.heic");
    free(jpeg.data);
    free(icc.data);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ciede2000_is_sharmas),
        cmocka_unit_test(published_p3_colours_are_srgbs),
        cmocka_unit_test(what_a_profile_is),
        cmocka_unit_test(rows_are_transiccs),
        cmocka_unit_test(inks_are_printed_by_their_profile),
        cmocka_unit_test(a_p3_jpeg_becomes_srgb_pages),
        cmocka_unit_test(a_p3_heic_becomes_srgb_pages),
    };
    const char *own = getenv("TMPDIR");

    /* files that other programs read; this test's own folder under tests/run */
    if (chdir(own != NULL ? own : "/tmp") != 0)
        return 1;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
