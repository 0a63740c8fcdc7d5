/*
 * Page files read back by others: libtiff, libpng, libjpeg-turbo, libexif and LittleCMS here;
 * exiftool, tiffinfo, xmllint, ImageMagick and OpenCV as programs. Each is skipped by name where
 * it is missing.
 */
#include "support/encoded.h"
#include "support/tools.h"

#include <setjmp.h>
#include <stdint.h>
#include <unistd.h>

#include <jpeglib.h>
#include <lcms2.h>
#include <libexif/exif-data.h>
#include <png.h>
#include <tiffio.h>

#define COUNT(a) (sizeof(a) / sizeof *(a))
#define DATE "2024:05:06 07:08:09"
#define DAY "1934:07:02 00:00:00"

/* An eighth of an 8-bit level: what rounding to 1/65536 in two profiles makes of dark tones. */
enum { NEAR16 = 32 };

enum { PATH_ROOM = 256, OUTPUT = 262144 };

static const char SHA[] = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef";

static sl_page_info page_info(double ppi)
{
    return (sl_page_info){ .ppi = ppi, .date = DATE, .make = "Ash & Elm", .model = "Copy 2",
                           .shot_name = "Gr\xc3\xbcne <Seite> 1.jpg", .shot_sha256 = SHA,
                           .native_ppi = 226.44, .interpolated = true,
                           .words = { .caption = "Gr\xc3\xbc\xc3\x9f" "e <from> \"Ada\" & 'Ben'",
                                      .date = "1934-07-02", .place = "Alder Mere; mill",
                                      .people = "Ada Pell; Ben <Pell> ;; Cy" },
                           .has_position = true, .latitude_deg = -12.5,
                           .longitude_deg = 7.7512345 };
}

/* A profile as a shot may have: Adobe RGB's primaries and gamma, made by LittleCMS; or its grey. */
static blob shot_profile(unsigned channels)
{
    const cmsCIExyY d65 = { 0.3127, 0.3290, 1 };
    const cmsCIExyYTRIPLE primaries = { { 0.64, 0.33, 1 }, { 0.21, 0.71, 1 }, { 0.15, 0.06, 1 } };
    cmsToneCurve *curve = cmsBuildGamma(NULL, 563.0 / 256);
    cmsToneCurve *curves[3] = { curve, curve, curve };
    cmsHPROFILE profile = channels == 1 ? cmsCreateGrayProfile(&d65, curve)
                                        : cmsCreateRGBProfile(&d65, &primaries, curves);
    cmsUInt32Number size = 0;
    blob b;

    assert_non_null(profile);
    assert_true(cmsSaveProfileToMem(profile, NULL, &size));
    b.data = malloc(size);
    b.size = size;
    assert_non_null(b.data);
    assert_true(cmsSaveProfileToMem(profile, b.data, &size));
    memset(b.data + 24, 1, 12); /* its date of making: the same whenever it is made */
    cmsCloseProfile(profile);
    cmsFreeToneCurve(curve);
    return b;
}

/* ---- a folder for the files ------------------------------------------------------------------ */

static int make_folder(void **state)
{
    const char *tmp = getenv("TMPDIR");
    char *dir = malloc(PATH_ROOM);

    if (dir == NULL)
        return -1;
    snprintf(dir, PATH_ROOM, "%s/squareleaf-encode-XXXXXX", tmp != NULL ? tmp : "/tmp");
    *state = dir;
    return mkdtemp(dir) != NULL ? 0 : -1;
}

static int remove_folder(void **state)
{
    char command[PATH_ROOM + 16];

    snprintf(command, sizeof command, "rm -rf '%s'", (char *)*state);
    free(*state);
    return system(command);
}

static const char *in(char path[PATH_ROOM], void **state, const char *name)
{
    snprintf(path, PATH_ROOM, "%s/%s", (const char *)*state, name);
    return path;
}

/* ---- every kind of page ---------------------------------------------------------------------- */

static const struct kind { const char *name; sl_encode_params p; } kinds[] = {
    { "deflate8.tif", { SL_FORMAT_TIFF, 613, 401, 3, 8, 95, SL_DEFLATE } },
    { "deflate16.tif", { SL_FORMAT_TIFF, 613, 401, 3, 16, 95, SL_DEFLATE } },
    { "lzw8.tif", { SL_FORMAT_TIFF, 613, 401, 3, 8, 95, SL_LZW } },
    { "lzw16.tif", { SL_FORMAT_TIFF, 613, 401, 3, 16, 95, SL_LZW } },
    { "none8.tif", { SL_FORMAT_TIFF, 613, 401, 3, 8, 95, SL_NO_COMPRESSION } },
    { "none16grey.tif", { SL_FORMAT_TIFF, 613, 401, 1, 16, 95, SL_NO_COMPRESSION } },
    { "deflate8grey.tif", { SL_FORMAT_TIFF, 613, 401, 1, 8, 95, SL_DEFLATE } },
    { "lzw16grey.tif", { SL_FORMAT_TIFF, 613, 401, 1, 16, 95, SL_LZW } },
    { "rgb8.png", { SL_FORMAT_PNG, 613, 401, 3, 8, 95, SL_DEFLATE } },
    { "rgb16.png", { SL_FORMAT_PNG, 613, 401, 3, 16, 95, SL_DEFLATE } },
    { "grey8.png", { SL_FORMAT_PNG, 613, 401, 1, 8, 95, SL_DEFLATE } },
    { "grey16.png", { SL_FORMAT_PNG, 613, 401, 1, 16, 95, SL_DEFLATE } },
    { "rgb.jpg", { SL_FORMAT_JPEG, 613, 401, 3, 8, 95, SL_DEFLATE } },
    { "grey.jpg", { SL_FORMAT_JPEG, 613, 401, 1, 8, 95, SL_DEFLATE } },
};

/* All of them at a density, with their shot's profile or without, into the folder. */
static void write_all(void **state, double ppi, bool with_profile)
{
    for (size_t i = 0; i < COUNT(kinds); i++) {
        sl_page_info info = page_info(ppi);
        blob icc = shot_profile(kinds[i].p.channels);
        char path[PATH_ROOM];

        if (with_profile) {
            info.icc = icc.data;
            info.icc_size = icc.size;
        }
        encode_to(in(path, state, kinds[i].name), &kinds[i].p, &info);
        free(icc.data);
    }
}

/* ---- TIFF by libtiff ------------------------------------------------------------------------- */

/* TIFF 6.0: the tags by number, for libtiff's names are not the standard's. */
static void check_tiff(const char *path, const sl_encode_params *p, double ppi, const blob *icc)
{
    TIFF *t = TIFFOpen(path, "rc"); /* c: the strips as they are in the file */
    unsigned char *want = page_rows(p, 0);
    unsigned char *row = malloc(row_bytes(p));
    uint32_t rows_per_strip;
    uint16_t unit;
    uint16_t number;
    uint32_t size;
    float resolution;
    uint64_t exif;
    const char *text;
    const void *data;

    assert_non_null(t);
    assert_non_null(row);
    for (uint32_t y = 0; y < p->height; y++) {
        assert_int_equal(TIFFReadScanline(t, row, y, 0), 1);
        if (memcmp(row, want + y * row_bytes(p), row_bytes(p)) != 0)
            fail_msg("%s: row %u differs", path, y);
    }
    assert_true(TIFFGetField(t, 296, &unit));
    assert_int_equal(unit, ppi > 0 ? 2 : 1);                /* ResolutionUnit: inch or none */
    assert_true(TIFFGetField(t, 282, &resolution));
    assert_near(path, (double)resolution, ppi > 0 ? ppi : 1, 1e-6);
    assert_true(TIFFGetField(t, 283, &resolution));
    assert_near(path, (double)resolution, ppi > 0 ? ppi : 1, 1e-6);
    assert_true(TIFFGetField(t, 274, &number));
    assert_int_equal(number, 1);                            /* Orientation */
    assert_true(TIFFGetField(t, 262, &number));
    assert_int_equal(number, p->channels == 1 ? 1 : 2);     /* BlackIsZero or RGB */
    assert_true(TIFFGetField(t, 259, &number));
    assert_int_equal(number, p->compression == SL_DEFLATE ? 8 : p->compression == SL_LZW ? 5 : 1);
    if (p->compression != SL_NO_COMPRESSION) {
        assert_true(TIFFGetField(t, 317, &number));
        assert_int_equal(number, 2);                        /* Predictor: horizontal */
    }
    assert_true(TIFFGetField(t, 278, &rows_per_strip));
    if (rows_per_strip < p->height)
        assert_in_range(rows_per_strip * row_bytes(p), 256 * 1024, 1024 * 1024);
    assert_true(TIFFGetField(t, 305, &text));
    assert_string_equal(text, "squareleaf " SL_VERSION);
    assert_true(TIFFGetField(t, 306, &text));
    assert_string_equal(text, DATE);
    assert_true(TIFFGetField(t, 271, &text));
    assert_string_equal(text, "Ash & Elm");
    assert_true(TIFFGetField(t, 272, &text));
    assert_string_equal(text, "Copy 2");
    assert_true(TIFFGetField(t, 700, &size, &data));        /* XMP */
    assert_true(TIFFGetField(t, 34675, &size, &data));      /* ICC profile */
    if (icc != NULL) {
        assert_int_equal(size, icc->size);
        assert_memory_equal(data, icc->data, size);
    }
    assert_true(TIFFGetField(t, 34665, &exif));
    assert_true(TIFFReadEXIFDirectory(t, exif));
    assert_true(TIFFGetField(t, 0x9003, &text));
    assert_string_equal(text, DAY);
    assert_true(TIFFGetField(t, 0x9004, &text));
    assert_string_equal(text, DATE);
    assert_true(TIFFGetField(t, 0xa001, &number));          /* ColorSpace */
    assert_int_equal(number, icc != NULL ? 0xffff : 1);
    TIFFClose(t);
    free(row);
    free(want);
}

static void libtiff_reads_pixels_and_tags(void **state)
{
    for (size_t i = 0; i < COUNT(kinds); i++)
        for (unsigned k = 0; k < 3; k++) {
            const double ppi = k == 0 ? 300 : k == 1 ? 0 : 299.72;
            blob icc = shot_profile(kinds[i].p.channels);
            sl_page_info info = page_info(ppi);
            char path[PATH_ROOM];

            if (k == 0) {
                info.icc = icc.data;
                info.icc_size = icc.size;
            }
            if (kinds[i].p.format == SL_FORMAT_TIFF) {
                encode_to(in(path, state, kinds[i].name), &kinds[i].p, &info);
                check_tiff(path, &kinds[i].p, ppi, k == 0 ? &icc : NULL);
            }
            free(icc.data);
        }
}

/* ---- PNG by libpng --------------------------------------------------------------------------- */

static void check_png(const char *path, const sl_encode_params *p, const blob *icc)
{
    png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop head = png_create_info_struct(png);
    FILE *file = fopen(path, "rb");
    unsigned char *want = page_rows(p, 0);
    png_uint_32 x = 0;
    png_uint_32 y = 0;
    png_charp name;
    png_bytep profile;
    png_uint_32 size = 0;
    png_bytepp rows;
    int unit = 0;
    int method;

    assert_non_null(file);
    assert_non_null(want);
    png_set_benign_errors(png, 0); /* a warning is a failure here */
    png_init_io(png, file);
    png_read_png(png, head, PNG_TRANSFORM_SWAP_ENDIAN, NULL);
    rows = png_get_rows(png, head);
    for (size_t k = 0; k < p->height; k++)
        if (memcmp(rows[k], want + k * row_bytes(p), row_bytes(p)) != 0)
            fail_msg("%s: row %zu differs", path, k);
    assert_true(png_get_pHYs(png, head, &x, &y, &unit) != 0);
    assert_int_equal(x, 11811);
    assert_int_equal(y, 11811);
    assert_int_equal(unit, PNG_RESOLUTION_METER);
    assert_true(png_get_iCCP(png, head, &name, &method, &profile, &size) != 0);
    assert_int_equal(size, icc->size);
    assert_memory_equal(profile, icc->data, size);
    png_destroy_read_struct(&png, &head, NULL);
    fclose(file);
    free(want);
}

static void libpng_reads_pixels_density_and_profile(void **state)
{
    write_all(state, 300, true);
    for (size_t i = 0; i < COUNT(kinds); i++) {
        blob icc = shot_profile(kinds[i].p.channels);
        char path[PATH_ROOM];

        if (kinds[i].p.format == SL_FORMAT_PNG)
            check_png(in(path, state, kinds[i].name), &kinds[i].p, &icc);
        free(icc.data);
    }
}

/* ---- JPEG by libjpeg-turbo ------------------------------------------------------------------- */

/* RMS difference from the page's own samples, 8-bit levels. */
static double check_jpeg(const char *path, const sl_encode_params *p, const blob *icc)
{
    struct jpeg_decompress_struct d;
    struct jpeg_error_mgr errors;
    FILE *file = fopen(path, "rb");
    unsigned char *want = page_rows(p, 0);
    unsigned char *row = malloc(row_bytes(p));
    JOCTET *profile = NULL;
    unsigned size = 0;
    double sum = 0;

    assert_non_null(file);
    assert_non_null(row);
    d.err = jpeg_std_error(&errors);
    jpeg_create_decompress(&d);
    jpeg_stdio_src(&d, file);
    jpeg_save_markers(&d, JPEG_APP0 + 2, 0xffff);
    jpeg_read_header(&d, TRUE);
    assert_int_equal(d.density_unit, 1);
    assert_int_equal(d.X_density, 300);
    assert_int_equal(d.Y_density, 300);
    assert_int_equal(d.num_components, p->channels);
    assert_true(jpeg_read_icc_profile(&d, &profile, &size));
    assert_int_equal(size, icc->size);
    assert_memory_equal(profile, icc->data, size);
    jpeg_start_decompress(&d);
    for (size_t y = 0; y < p->height; y++) {
        JSAMPROW at = row;

        assert_int_equal(jpeg_read_scanlines(&d, &at, 1), 1);
        for (size_t i = 0; i < row_bytes(p); i++) {
            const double e = (double)row[i] - want[y * row_bytes(p) + i];

            sum += e * e;
        }
    }
    jpeg_finish_decompress(&d);
    assert_int_equal(errors.num_warnings, 0);
    jpeg_destroy_decompress(&d);
    fclose(file);
    free(profile);
    free(row);
    free(want);
    return sqrt(sum / (double)(row_bytes(p) * p->height));
}

/* Quality is libjpeg's scale: the steps of its tables grow as it falls. */
static void libjpeg_reads_density_profile_and_like_pixels(void **state)
{
    for (unsigned channels = 1; channels <= 3; channels += 2) {
        blob icc = shot_profile(channels);
        sl_page_info info = page_info(300);
        double error[2];

        info.icc = icc.data;
        info.icc_size = icc.size;
        for (size_t k = 0; k < 2; k++) {
            sl_encode_params p = page_params(SL_FORMAT_JPEG, 613, 401, channels, 8);
            char path[PATH_ROOM];

            p.quality = k == 0 ? 95 : 60;
            encode_to(in(path, state, "page.jpg"), &p, &info);
            error[k] = check_jpeg(path, &p, &icc);
        }
        if (!(error[0] < 3 && error[1] > 1.3 * error[0]))
            fail_msg("%u channels: RMS %.3f at quality 95, %.3f at 60", channels, error[0],
                     error[1]);
        free(icc.data);
    }
}

/* ---- Exif by libexif ------------------------------------------------------------------------- */

static void assert_exif(ExifData *exif, ExifIfd ifd, ExifTag tag, const char *want)
{
    char text[100] = "";
    ExifEntry *e = exif_content_get_entry(exif->ifd[ifd], tag);

    if (e == NULL) {
        if (want != NULL)
            fail_msg("no tag %04x", (unsigned)tag);
        return;
    }
    exif_entry_get_value(e, text, sizeof text);
    if (want == NULL || strcmp(text, want) != 0)
        fail_msg("tag %04x is '%s'", (unsigned)tag, text);
}

static void libexif_reads_what_was_written(void **state)
{
    static const struct { double ppi; const char *x; const char *unit; } densities[] = {
        { 300, "300", "Inch" }, { 600, "600", "Inch" },
    };

    for (size_t i = 0; i < 2 * COUNT(densities); i++) {
        const bool carried = i % 2 == 1;
        const sl_encode_params p = page_params(SL_FORMAT_JPEG, 61, 40, 3, 8);
        blob icc = shot_profile(3);
        sl_page_info info = page_info(densities[i / 2].ppi);
        char path[PATH_ROOM];
        ExifData *exif;

        info.icc = carried ? icc.data : NULL;
        info.icc_size = carried ? icc.size : 0;
        encode_to(in(path, state, "page.jpg"), &p, &info);
        exif = exif_data_new_from_file(path);
        assert_non_null(exif);
        assert_exif(exif, EXIF_IFD_0, EXIF_TAG_MAKE, "Ash & Elm");
        assert_exif(exif, EXIF_IFD_0, EXIF_TAG_MODEL, "Copy 2");
        assert_exif(exif, EXIF_IFD_0, EXIF_TAG_SOFTWARE, "squareleaf " SL_VERSION);
        assert_exif(exif, EXIF_IFD_0, EXIF_TAG_ORIENTATION, "Top-left");
        assert_exif(exif, EXIF_IFD_0, EXIF_TAG_X_RESOLUTION, densities[i / 2].x);
        assert_exif(exif, EXIF_IFD_0, EXIF_TAG_Y_RESOLUTION, densities[i / 2].x);
        assert_exif(exif, EXIF_IFD_0, EXIF_TAG_RESOLUTION_UNIT, densities[i / 2].unit);
        assert_exif(exif, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL, DAY);
        assert_exif(exif, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_DIGITIZED, DATE);
        assert_exif(exif, EXIF_IFD_EXIF, EXIF_TAG_COLOR_SPACE, carried ? "Uncalibrated" : "sRGB");
        assert_exif(exif, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_X_DIMENSION, "61");
        assert_exif(exif, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_Y_DIMENSION, "40");
        exif_data_unref(exif);
        free(icc.data);
    }
}

/* ---- the profile of our own by LittleCMS ----------------------------------------------------- */

static cmsHPROFILE profile_in_tiff(void **state, unsigned channels)
{
    const sl_encode_params p = page_params(SL_FORMAT_TIFF, 9, 9, channels, 8);
    const sl_page_info info = page_info(300);
    char path[PATH_ROOM];
    uint32_t size = 0;
    const void *data = NULL;
    cmsHPROFILE profile;
    TIFF *t;

    encode_to(in(path, state, "page.tif"), &p, &info);
    t = TIFFOpen(path, "r");
    assert_non_null(t);
    assert_true(TIFFGetField(t, TIFFTAG_ICCPROFILE, &size, &data));
    assert_true(size < 600);
    profile = cmsOpenProfileFromMem(data, size);
    TIFFClose(t);
    assert_non_null(profile);
    return profile;
}

/* Against LittleCMS's own sRGB: every grey level and a lattice of colours come out the same. */
static void the_profile_made_here_is_srgb(void **state)
{
    cmsHPROFILE ours = profile_in_tiff(state, 3);
    cmsHPROFILE theirs = cmsCreate_sRGBProfile();
    cmsHTRANSFORM t = cmsCreateTransform(ours, TYPE_RGB_16, theirs, TYPE_RGB_16,
                                         INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE);
    char text[40] = "";

    assert_non_null(t);
    for (unsigned i = 0; i < 18 * 18 * 18; i++) {
        const unsigned v[3] = { i % 18, i / 18 % 18, i / 324 };
        uint16_t from[3];
        uint16_t to[3];

        for (size_t c = 0; c < 3; c++)
            from[c] = (uint16_t)(v[c] * 65535 / 17);
        cmsDoTransform(t, from, to, 1);
        for (size_t c = 0; c < 3; c++)
            if (abs((int)from[c] - (int)to[c]) > NEAR16)
                fail_msg("%u %u %u becomes %u %u %u", from[0], from[1], from[2], to[0], to[1],
                         to[2]);
    }
    assert_true(cmsGetProfileInfoASCII(ours, cmsInfoDescription, "en", "US", text,
                                       sizeof text) > 0);
    assert_string_equal(text, "sRGB");
    assert_true(cmsGetProfileVersion(ours) > 4.2 && cmsGetProfileVersion(ours) < 4.4);
    cmsDeleteTransform(t);
    cmsCloseProfile(theirs);
    cmsCloseProfile(ours);
}

/* The grey one: LittleCMS's sRGB makes the same grey of it. */
static void the_grey_profile_made_here_has_srgbs_curve(void **state)
{
    cmsHPROFILE ours = profile_in_tiff(state, 1);
    cmsHPROFILE theirs = cmsCreate_sRGBProfile();
    cmsHTRANSFORM t = cmsCreateTransform(ours, TYPE_GRAY_16, theirs, TYPE_RGB_16,
                                         INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE);

    assert_non_null(t);
    for (unsigned v = 0; v < 256; v++) {
        const uint16_t from = (uint16_t)(v * 257);
        uint16_t to[3];

        cmsDoTransform(t, &from, to, 1);
        for (size_t c = 0; c < 3; c++)
            if (abs((int)from - (int)to[c]) > NEAR16)
                fail_msg("%u becomes %u %u %u", from, to[0], to[1], to[2]);
    }
    cmsDeleteTransform(t);
    cmsCloseProfile(theirs);
    cmsCloseProfile(ours);
}

/* ---- programs -------------------------------------------------------------------------------- */

/* Runs `command` over the pages of a format (UNKNOWN: all) at once; its exit status must be 0. */
static void run_over(char output[OUTPUT], void **state, sl_format format, const char *command)
{
    static char line[8192];
    size_t n = (size_t)snprintf(line, sizeof line, "cd '%s' && %s", (const char *)*state, command);

    for (size_t i = 0; i < COUNT(kinds); i++)
        if (format == SL_FORMAT_UNKNOWN || kinds[i].p.format == format)
            n += (size_t)snprintf(line + n, sizeof line - n, " '%s'", kinds[i].name);
    assert_true(n < sizeof line - 8);
    strcat(line, " 2>&1");
    if (tool_output(output, OUTPUT, line) != 0)
        fail_msg("%s: %s", line, output);
}

/* `want` must stand there once for each page of the format. */
static void assert_said_of_each(sl_format format, const char *output, const char *want)
{
    size_t pages = 0;
    size_t times = 0;

    for (size_t i = 0; i < COUNT(kinds); i++)
        pages += format == SL_FORMAT_UNKNOWN || kinds[i].p.format == format;
    for (const char *at = output; (at = strstr(at, want)) != NULL; at += strlen(want))
        times++;
    if (times != pages)
        fail_msg("'%s' %zu times, not %zu, in:\n%s", want, times, pages, output);
}

static void exiftool_reads_every_field(void **state)
{
    static const char *const fields[] = {
        "[EXIF] XResolution: 300\n", "[EXIF] YResolution: 300\n", "[EXIF] ResolutionUnit: 2\n",
        "[EXIF] Make: Ash & Elm\n", "[EXIF] Model: Copy 2\n", "[EXIF] Orientation: 1\n",
        "[EXIF] Software: squareleaf " SL_VERSION "\n", "[EXIF] DateTimeOriginal: " DAY "\n",
        "[EXIF] CreateDate: " DATE "\n", "[EXIF] ColorSpace: 65535\n",
        "[XMP] CreatorTool: squareleaf " SL_VERSION "\n",
        "[XMP] Source: Gr\xc3\xbcne <Seite> 1.jpg\n",
        "[XMP] DerivedFromFilePath: Gr\xc3\xbcne <Seite> 1.jpg\n",
        "[XMP] DerivedFromDocumentID: sha256:0123456789abcdef",
        "[EXIF] ImageDescription: Gr\xc3\xbc\xc3\x9f" "e <from> \"Ada\" & 'Ben'\n",
        "[XMP] Description: Gr\xc3\xbc\xc3\x9f" "e <from> \"Ada\" & 'Ben'\n",
        "[XMP] DateCreated: 1934:07:02\n", "[XMP] Location: Alder Mere; mill\n",
        "[XMP] CreateDate: " DATE "\n", "[XMP] PersonInImage: Ada Pell, Ben <Pell>, Cy\n",
        "[XMP] GPSLatitude: -12.5\n", "[XMP] GPSLongitude: 7.7512345\n",
        "[XMP] NativePpi: 226.44\n", "[XMP] WrittenPpi: 300\n", "[XMP] Interpolated: yes\n",
    };
    static char output[OUTPUT];

    if (!tool_found("exiftool"))
        skip();
    write_all(state, 300, true);
    run_over(output, state, SL_FORMAT_UNKNOWN, "exiftool -q -a -G -n -s -s");
    for (size_t k = 0; k < COUNT(fields); k++)
        assert_said_of_each(SL_FORMAT_UNKNOWN, output, fields[k]);
}

/* What of a date in words becomes one for programs; the rest stays in words. */
static void exiftool_reads_dates_in_words(void **state)
{
    static const struct { const char *date, *created, *original, *circa, *said; } cases[] = {
        { "1934-07-02", "1934:07:02", DAY, "-", "Hay" },
        { "1934-07", "1934:07", "-", "-", "Hay" },
        { "1934", "1934", "-", "-", "Hay" },
        { "about 1934", "1934", "-", "about 1934", "Hay (about 1934)" },
        { "c.1934", "1934", "-", "c.1934", "Hay (c.1934)" },
        { "1934?", "1934", "-", "1934?", "Hay (1934?)" },
        { "about 1934-07-02", "1934:07:02", "-", "about 1934-07-02", "Hay (about 1934-07-02)" },
        { "the 1930s", "-", "-", "the 1930s", "Hay (the 1930s)" },
        { "1934 to 1936", "-", "-", "1934 to 1936", "Hay (1934 to 1936)" },
        { "before 1934", "-", "-", "before 1934", "Hay (before 1934)" },
        { "1934-02-30", "-", "-", "1934-02-30", "Hay (1934-02-30)" },
        { "", "-", "-", "-", "Hay" },
    };
    const sl_encode_params p = { .format = SL_FORMAT_JPEG, .width = 8, .height = 8,
                                 .channels = 3, .bits = 8, .quality = 90 };
    static char output[OUTPUT];
    char line[1024];
    const char *at = output;

    if (!tool_found("exiftool"))
        skip();
    for (size_t i = 0; i < COUNT(cases); i++) {
        sl_page_info info = { .words = { .caption = "Hay", .date = cases[i].date } };
        char name[16];
        char path[PATH_ROOM];

        snprintf(name, sizeof name, "date%02zu.jpg", i);
        encode_to(in(path, state, name), &p, &info);
    }
    snprintf(line, sizeof line,
             "cd '%s' && exiftool -q -f -m -p '$XMP-photoshop:DateCreated|$DateTimeOriginal|"
             "$XMP-iptcExt:ArtworkCircaDateCreated|$XMP-dc:Description' date*.jpg 2>&1",
             (const char *)*state);
    assert_int_equal(tool_output(output, OUTPUT, line), 0);
    for (size_t i = 0; i < COUNT(cases); i++) {
        char want[200];

        snprintf(want, sizeof want, "%s|%s|%s|%s\n", cases[i].created, cases[i].original,
                 cases[i].circa, cases[i].said);
        if (strncmp(at, want, strlen(want)) != 0)
            fail_msg("'%s': expected %s in\n%s", cases[i].date, want, at);
        at += strlen(want);
    }
}

/*
 * exiftool -validate judges a file by the standards of each of its parts. Deflate is not in TIFF
 * 6.0 itself but in its supplement of 2002 (Photoshop TIFF Technical Notes, code 8), which it
 * takes for a fault.
 */
static void exiftool_finds_no_fault(void **state)
{
    static const char deflate[] = "Warning: Invalid value for IFD0 tag 0x0103 Compression";
    static char output[OUTPUT];

    if (!tool_found("exiftool"))
        skip();
    for (unsigned k = 0; k < 3; k++) {
        write_all(state, k == 2 ? 0 : 300, k == 0);
        run_over(output, state, SL_FORMAT_UNKNOWN,
                 "exiftool -q -validate -warning -error -a -s -s");
        assert_said_of_each(SL_FORMAT_UNKNOWN, output, "Validate: ");
        for (char *line = strtok(output, "\n"); line != NULL; line = strtok(NULL, "\n"))
            if (strcmp(line, deflate) != 0 && strcmp(line, "Validate: OK") != 0
                && strcmp(line, "Validate: 0 0 0") != 0 && strcmp(line, "Validate: 1 Warning") != 0)
                fail_msg("%g ppi: %s", k == 2 ? 0.0 : 300.0, line);
    }
}

static void tiffinfo_reads_the_density(void **state)
{
    static char output[OUTPUT];

    if (!tool_found("tiffinfo"))
        skip();
    for (unsigned k = 0; k < 2; k++) {
        write_all(state, k == 0 ? 300 : 0, true);
        run_over(output, state, SL_FORMAT_TIFF, "tiffinfo");
        assert_said_of_each(SL_FORMAT_TIFF, output,
                            k == 0 ? "Resolution: 300, 300 pixels/inch\n"
                                   : "Resolution: 1, 1 (unitless)\n");
        if (strstr(output, "arning") != NULL)
            fail_msg("%s", output);
    }
}

/* PNG holds whole px/m: 11811 of them are 299.9994 to the inch. */
static void imagemagick_reads_the_density(void **state)
{
    static char output[OUTPUT];
    size_t seen = 0;

    if (!tool_found("identify"))
        skip();
    write_all(state, 300, true);
    run_over(output, state, SL_FORMAT_UNKNOWN,
             "identify -units PixelsPerInch -format '%x %y %U %w %h\\n'");
    assert_said_of_each(SL_FORMAT_UNKNOWN, output, " PixelsPerInch 613 401\n");
    for (const char *line = output; line != NULL && *line != '\0'; seen++) {
        double x = 0;
        double y = 0;

        assert_int_equal(sscanf(line, "%lf %lf", &x, &y), 2);
        assert_near("x", x, 300, 1e-5);
        assert_near("y", y, 300, 1e-5);
        line = strchr(line, '\n');
        line = line != NULL ? line + 1 : NULL;
    }
    assert_int_equal(seen, COUNT(kinds));
}

static void imagemagick_reads_the_same_pixels(void **state)
{
    if (!tool_found("convert"))
        skip();
    write_all(state, 300, false);
    for (size_t i = 0; i < COUNT(kinds); i++) {
        const sl_encode_params *p = &kinds[i].p;
        const size_t size = row_bytes(p) * p->height;
        unsigned char *want = page_rows(p, 0);
        unsigned char *got = malloc(size);
        char command[2 * PATH_ROOM];
        FILE *pipe;

        assert_non_null(got);
        if (p->format != SL_FORMAT_JPEG) {
            snprintf(command, sizeof command, "convert '%s/%s' -depth %u -endian LSB %s:-",
                     (const char *)*state, kinds[i].name, p->bits,
                     p->channels == 1 ? "gray" : "rgb");
            pipe = popen(command, "r");
            assert_non_null(pipe);
            assert_int_equal(fread(got, 1, size, pipe), size);
            assert_int_equal(fgetc(pipe), EOF);
            assert_int_equal(pclose(pipe), 0);
            for (size_t k = 0; p->bits == 16 && k < size; k += 2) {
                const uint16_t v = (uint16_t)(got[k] | got[k + 1] << 8);

                memcpy(got + k, &v, 2); /* to this machine's order */
            }
            if (memcmp(got, want, size) != 0)
                fail_msg("%s: other pixels", kinds[i].name);
        }
        free(got);
        free(want);
    }
}

static void opencv_reads_the_same_pixels(void **state)
{
    static const char script[] =
        "import sys, numpy, cv2\n"
        "for name in sys.argv[1:]:\n"
        "    img = cv2.imread(name, cv2.IMREAD_UNCHANGED)\n"
        "    img = img if img.ndim == 2 else img[:, :, ::-1]\n"
        "    with open(name + \".raw\", \"wb\") as f:\n"
        "        f.write(numpy.ascontiguousarray(img).tobytes())\n";
    static char output[OUTPUT];
    char command[sizeof script + 64];

    if (system("/usr/bin/python3 -c 'import numpy, cv2' 2> /dev/null") != 0) {
        printf("missing: /usr/bin/python3 with cv2 and numpy\n");
        skip();
    }
    write_all(state, 300, true);
    snprintf(command, sizeof command, "/usr/bin/python3 -c '%s'", script);
    run_over(output, state, SL_FORMAT_UNKNOWN, command);
    for (size_t i = 0; i < COUNT(kinds); i++) {
        const sl_encode_params *p = &kinds[i].p;
        unsigned char *want = page_rows(p, 0);
        char path[PATH_ROOM];
        char name[64];
        FILE *file;
        blob got;

        snprintf(name, sizeof name, "%s.raw", kinds[i].name);
        file = fopen(in(path, state, name), "rb");
        assert_non_null(file);
        got = file_bytes(file);
        fclose(file);
        assert_int_equal(got.size, row_bytes(p) * p->height);
        if (p->format != SL_FORMAT_JPEG && memcmp(got.data, want, got.size) != 0)
            fail_msg("%s: other pixels", kinds[i].name);
        free(got.data);
        free(want);
    }
}

/* What no name may do: break the packet that holds it. */
static void xmllint_finds_the_packet_well_formed(void **state)
{
    static const char *const names[] = {
        "plain.jpg", "<a> & \"b\" ]]>.jpg", "latin\xe4.jpg", "\xed\xa0\x80\xff\x01\x1f.jpg",
        "gr\xc3\xbc\xc3\x9f" "e \xf0\x9f\x93\xb7 \xef\xbf\xbf.jpg", "",
    };
    static char output[OUTPUT];

    if (!tool_found("xmllint"))
        skip();
    for (size_t i = 0; i < COUNT(names); i++) {
        const sl_encode_params p = page_params(SL_FORMAT_TIFF, 4, 3, 1, 8);
        sl_page_info info = page_info(i % 2 == 0 ? 300 : 0);
        char path[PATH_ROOM];
        char command[2 * PATH_ROOM];
        uint32_t size = 0;
        const void *data = NULL;
        TIFF *t;
        FILE *file;

        info.shot_name = names[i];
        encode_to(in(path, state, "page.tif"), &p, &info);
        t = TIFFOpen(path, "r");
        assert_non_null(t);
        assert_true(TIFFGetField(t, TIFFTAG_XMLPACKET, &size, &data));
        file = fopen(in(path, state, "packet.xml"), "wb");
        assert_non_null(file);
        assert_int_equal(fwrite(data, 1, size, file), size);
        assert_int_equal(fclose(file), 0);
        TIFFClose(t);
        snprintf(command, sizeof command, "xmllint --noout '%s' 2>&1", path);
        if (tool_output(output, sizeof output, command) != 0 || output[0] != '\0')
            fail_msg("'%s': %s", names[i], output);
    }
}

#define IN_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)

int main(void)
{
    const struct CMUnitTest tests[] = {
        IN_FOLDER(libtiff_reads_pixels_and_tags),
        IN_FOLDER(libpng_reads_pixels_density_and_profile),
        IN_FOLDER(libjpeg_reads_density_profile_and_like_pixels),
        IN_FOLDER(libexif_reads_what_was_written),
        IN_FOLDER(the_profile_made_here_is_srgb),
        IN_FOLDER(the_grey_profile_made_here_has_srgbs_curve),
        IN_FOLDER(exiftool_reads_dates_in_words),
        IN_FOLDER(exiftool_reads_every_field),
        IN_FOLDER(exiftool_finds_no_fault),
        IN_FOLDER(tiffinfo_reads_the_density),
        IN_FOLDER(imagemagick_reads_the_density),
        IN_FOLDER(imagemagick_reads_the_same_pixels),
        IN_FOLDER(opencv_reads_the_same_pixels),
        IN_FOLDER(xmllint_finds_the_packet_well_formed),
    };

    return cmocka_run_group_tests_name("encode reference", tests, NULL, NULL);
}
