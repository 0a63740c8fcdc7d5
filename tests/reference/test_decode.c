/*
 * The decoder beside independent ones, on real and hostile files of many origins: OpenCV and
 * ImageMagick for pixels, exiftool for tags. The files are not part of this project; without
 * them the tests are skipped.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include <glob.h>
#include <sys/resource.h>

#include "squareleaf.h"

/* ---- files ----------------------------------------------------------------------------------- */

/* Files of the shared folder that match; skips the test, by name, when there are none. */
static glob_t shared_files(const char *pattern)
{
    const char *shared = getenv("SL_SHARED");
    char path[400];
    glob_t found;

    snprintf(path, sizeof path, "%s/real/formats/%s", shared != NULL ? shared : "../shared",
             pattern);
    if (glob(path, 0, NULL, &found) != 0) {
        printf("missing: %s\n", path);
        skip();
    }
    return found;
}

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');

    return slash != NULL ? slash + 1 : path;
}

static unsigned char *load(const char *path, size_t *size)
{
    FILE *file = fopen(path, "rb");
    unsigned char *data;
    long length;

    assert_non_null(file);
    assert_int_equal(fseek(file, 0, SEEK_END), 0);
    length = ftell(file);
    assert_true(length >= 0);
    rewind(file);
    *size = (size_t)length;
    data = malloc(*size + 1);
    assert_non_null(data);
    assert_int_equal(fread(data, 1, *size, file), *size);
    fclose(file);
    return data;
}

static sl_status decode_file(sl_shot **shot, const char *path, const sl_decode_params *params,
                             sl_error *err)
{
    size_t size;
    unsigned char *data = load(path, &size);
    unsigned char *exact = malloc(size > 0 ? size : 1);     /* for a sanitizer to see its end */
    sl_status st;

    assert_non_null(exact);
    memcpy(exact, data, size);
    free(data);
    *shot = NULL;
    st = sl_shot_decode(shot, exact, size, params, err);
    free(exact);
    return st;
}

/* ---- pixels ---------------------------------------------------------------------------------- */

static unsigned sample(const sl_image *image, size_t x, size_t y, unsigned c)
{
    const unsigned char *row = image->data + y * image->stride;
    const size_t at = x * image->channels + (image->channels == 3 ? c : 0);
    uint16_t wide;

    if (image->bits == 8)
        return row[at] * 257u;
    memcpy(&wide, row + 2 * at, 2);
    return wide;
}

/* Largest difference in 1/65535 of the range. */
static unsigned worst_difference(const sl_image *image, const unsigned char *pixels,
                                 unsigned bits)
{
    unsigned worst = 0;

    for (size_t y = 0; y < image->height; y++)
        for (size_t x = 0; x < image->width; x++)
            for (unsigned c = 0; c < 3; c++) {
                const size_t at = 3 * (y * image->width + x) + c;
                const unsigned got = sample(image, x, y, c);
                uint16_t wide;
                unsigned want;

                memcpy(&wide, pixels + 2 * (bits == 16 ? at : 0), bits == 16 ? 2 : 1);
                want = bits == 16 ? wide : pixels[at] * 257u;
                if ((got > want ? got - want : want - got) > worst)
                    worst = got > want ? got - want : want - got;
            }
    return worst;
}

/* Reads the next picture of decode_files.py. False where it reads no such file. */
static bool next_reference(FILE *from, size_t *width, size_t *height, unsigned *bits,
                           int *exact, unsigned char **pixels)
{
    char line[80];
    size_t size;

    *pixels = NULL;
    if (fgets(line, sizeof line, from) == NULL
        || sscanf(line, "%zu %zu %u %d", width, height, bits, exact) != 4)
        fail_msg("decode_files.py ended early");
    size = *width * *height * 3 * (*bits / 8);
    if (size == 0)
        return false;
    *pixels = malloc(size + 1);
    assert_non_null(*pixels);
    assert_int_equal(fread(*pixels, 1, size, from), size);
    return true;
}

static FILE *start_reference(const glob_t *files)
{
    size_t length = 200;
    char *command;
    FILE *from;

    if (system("/usr/bin/python3 -c 'import cv2, numpy' 2>/dev/null") != 0
        || system("/usr/bin/convert -version >/dev/null 2>&1") != 0) {
        printf("missing: /usr/bin/python3 with cv2 and numpy, or /usr/bin/convert\n");
        skip();
    }
    for (size_t i = 0; i < files->gl_pathc; i++)
        length += strlen(files->gl_pathv[i]) + 3;
    command = malloc(length);
    assert_non_null(command);
    strcpy(command, "/usr/bin/python3 tests/reference/decode_files.py");
    for (size_t i = 0; i < files->gl_pathc; i++) {
        strcat(command, " '");
        strcat(command, files->gl_pathv[i]);
        strcat(command, "'");
    }
    strcat(command, " 2>/dev/null");
    from = popen(command, "r");
    free(command);
    assert_non_null(from);
    return from;
}

/* Files that are refused, and why; each by a part of its name. */
typedef struct refusal {
    const char *part;
    sl_status   want;
} refusal;

static const refusal refused[] = {
    { "monkey12", SL_ERR_UNSUPPORTED },              /* 12 bits a sample */
    { "testimgl", SL_ERR_UNSUPPORTED },              /* lossless JPEG process */
    { "partial_progressive", SL_ERR_FORMAT },        /* a scan ends early */
    { "progressive-missing-dc", SL_ERR_FORMAT },     /* T.81 G.1.1.1.1: DC comes first */
    { "f32", SL_ERR_UNSUPPORTED }, { "float", SL_ERR_UNSUPPORTED },
    { "caspian", SL_ERR_UNSUPPORTED },               /* floating point */
    { "int16", SL_ERR_UNSUPPORTED }, { "-i8", SL_ERR_UNSUPPORTED },  /* signed */
};

static sl_status wanted_status(const char *name)
{
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++)
        if (strstr(name, refused[i].part) != NULL)
            return refused[i].want;
    return SL_OK;
}

/*
 * 8 bits against the 16 of a reference: half a code by rounding; a whole one where a palette's
 * 16-bit entries are cut to 8, as libtiff does.
 */
enum { ROUNDING = 257 };

static void compare(const char *pattern, size_t least)
{
    glob_t files = shared_files(pattern);
    FILE *from = start_reference(&files);
    size_t read = 0;

    for (size_t i = 0; i < files.gl_pathc; i++) {
        const char *name = base_name(files.gl_pathv[i]);
        unsigned char *pixels;
        size_t width;
        size_t height;
        unsigned bits;
        int exact;
        sl_shot *shot;
        sl_error err = { 0 };
        const bool known = next_reference(from, &width, &height, &bits, &exact, &pixels);
        const sl_status st = decode_file(&shot, files.gl_pathv[i], NULL, &err);
        unsigned worst;

        if (st != wanted_status(name))
            fail_msg("%s: status %d, %s", name, (int)st, err.detail);
        if (st == SL_OK) {
            if (!known)
                fail_msg("%s: no reference reads it", name);
            if (shot->image->width != width || shot->image->height != height)
                fail_msg("%s: %zu x %zu px, expected %zu x %zu", name, shot->image->width,
                         shot->image->height, width, height);
            /* inks with a profile of their own: test_colour.c */
            worst = shot->image->channels == 4 ? 0
                                               : worst_difference(shot->image, pixels, bits);
            if (worst > (exact || shot->image->bits == 16 ? 1u : ROUNDING))
                fail_msg("%s: differs by %u/65535", name, worst);
            read++;
        }
        sl_shot_free(shot);
        free(pixels);
    }
    pclose(from);
    globfree(&files);
    if (read < least)
        fail_msg("%s: only %zu files were read", pattern, read);
}

static void jpeg_pixels_are_libjpeg_turbos(void **state)
{
    (void)state;
    compare("jpeg/*.jp*g", 20);
}

static void png_pixels_are_opencvs(void **state)
{
    (void)state;
    compare("png/*.png", 150);
}

static void tiff_pixels_are_the_references(void **state)
{
    (void)state;
    compare("tiff/*.tif*", 55);
}

static void other_files_are_read_alike(void **state)
{
    (void)state;
    compare("misc/*.[jpt]*", 7);
    compare("profiles/*.[jpt]*", 6);
}

/* OpenCV turns them too, by its own reading of the tag. */
static void oriented_jpegs_are_turned_as_opencv_turns_them(void **state)
{
    (void)state;
    compare("orientation/*.jpg", 9);
}

/*
 * The eight files show one scene, each compressed anew after turning: they differ by up to 3.7
 * codes on average. One pixel beside its place would be 6.8, any wrong turn above 70.
 */
static void eight_orientations_show_one_scene(void **state)
{
    glob_t files = shared_files("orientation/Landscape_*.jpg");
    sl_shot *first = NULL;

    (void)state;
    assert_int_equal(files.gl_pathc, 8);
    for (size_t i = 0; i < 8; i++) {
        sl_shot *shot;
        sl_error err = { 0 };
        double sum = 0.0;
        size_t bytes;

        if (decode_file(&shot, files.gl_pathv[i], NULL, &err) != SL_OK)
            fail_msg("%s", err.detail);
        assert_int_equal(shot->exif.orientation, i + 1);
        if (first == NULL) {
            first = shot;
            continue;
        }
        assert_int_equal(shot->image->width, first->image->width);
        assert_int_equal(shot->image->height, first->image->height);
        bytes = shot->image->stride * shot->image->height;
        for (size_t k = 0; k < bytes; k++)
            sum += abs((int)shot->image->data[k] - (int)first->image->data[k]);
        if (sum / (double)bytes > 4.5)
            fail_msg("%s: differs by %.2f on average", files.gl_pathv[i], sum / (double)bytes);
        sl_shot_free(shot);
    }
    sl_shot_free(first);
    globfree(&files);
}

/* ---- tags and profiles ----------------------------------------------------------------------- */

static void need_exiftool(void)
{
    if (system("exiftool -ver >/dev/null 2>&1") != 0) {
        printf("missing: exiftool\n");
        skip();
    }
}

/* What exiftool is asked for, and the place of each answer. */
enum { FOCAL, FOCAL_35, WIDTH, HEIGHT, DATE, MAKE, MODEL, ANSWERS };

static const char question[] = "-ExifIFD:FocalLength -ExifIFD:FocalLengthIn35mmFormat "
                               "-ExifIFD:ExifImageWidth -ExifIFD:ExifImageHeight "
                               "-ExifIFD:DateTimeOriginal -IFD0:Make -IFD0:Model";

/* Splits exiftool's line of a file, "-" for an absent tag, into texts without end blanks. */
static void split(char *answer[ANSWERS], char *line)
{
    for (size_t i = 0; i < ANSWERS; i++) {
        size_t length = strcspn(line, "\t\n");
        char *next = line + length + (line[length] != '\0');

        line[length] = '\0';
        while (length > 0 && line[length - 1] == ' ')
            line[--length] = '\0';
        if (strcmp(line, "-") == 0)
            line[0] = '\0';
        answer[i] = line;
        line = next;
    }
}

static void check_number(const char *name, const char *tag, double got, const char *answer)
{
    const double want = strtod(answer, NULL);

    if (!(got - want < 1e-3 && want - got < 1e-3))
        fail_msg("%s: %s is %g, exiftool says '%s'", name, tag, got, answer);
}

static void check_text(const char *name, const char *tag, const char *got, const char *answer)
{
    if (strncmp(got, answer, 63) != 0)
        fail_msg("%s: %s is '%s', exiftool says '%s'", name, tag, got, answer);
}

static void check_tags(const char *path, size_t *dated)
{
    const char *name = base_name(path);
    char *answer[ANSWERS];
    char line[600];
    sl_shot *shot;
    sl_error err = { 0 };
    FILE *from;

    if (decode_file(&shot, path, NULL, &err) != SL_OK)
        fail_msg("%s: %s", name, err.detail);
    snprintf(line, sizeof line, "exiftool -n -T %s '%s' 2>/dev/null", question, path);
    from = popen(line, "r");
    assert_non_null(from);
    assert_non_null(fgets(line, sizeof line, from));
    pclose(from);
    split(answer, line);
    check_number(name, "focal length", shot->exif.focal_mm, answer[FOCAL]);
    check_number(name, "35 mm equivalent", shot->exif.focal_35mm, answer[FOCAL_35]);
    check_number(name, "width", (double)shot->exif.pixel_x, answer[WIDTH]);
    check_number(name, "height", (double)shot->exif.pixel_y, answer[HEIGHT]);
    check_text(name, "date", shot->exif.date, answer[DATE]);
    check_text(name, "make", shot->exif.make, answer[MAKE]);
    check_text(name, "model", shot->exif.model, answer[MODEL]);
    *dated += shot->exif.date[0] != '\0';
    sl_shot_free(shot);
}

static void tags_are_exiftools(void **state)
{
    static const char *const patterns[] = { "profiles/*.[jt]*", "../pages/*.jp*g",
                                            "tiff/libtiffpic__*0*.tif" };
    size_t dated = 0;

    (void)state;
    need_exiftool();
    for (size_t p = 0; p < sizeof patterns / sizeof patterns[0]; p++) {
        glob_t files = shared_files(patterns[p]);

        for (size_t i = 0; i < files.gl_pathc && i < 25; i++)
            check_tags(files.gl_pathv[i], &dated);
        globfree(&files);
    }
    assert_true(dated >= 5);
}

static void profiles_are_exiftools(void **state)
{
    glob_t files = shared_files("profiles/*.[jpt]*");
    size_t kept = 0;

    (void)state;
    need_exiftool();
    for (size_t i = 0; i < files.gl_pathc; i++) {
        const char *path = files.gl_pathv[i];
        char command[600];
        sl_shot *shot;
        sl_error err = { 0 };

        if (decode_file(&shot, path, NULL, &err) != SL_OK)
            fail_msg("%s", err.detail);
        if (shot->icc != NULL) {
            unsigned char *want = malloc(shot->icc_size + 1);
            FILE *from;

            assert_non_null(want);
            snprintf(command, sizeof command, "exiftool -icc_profile -b '%s'", path);
            from = popen(command, "r");
            assert_non_null(from);
            if (fread(want, 1, shot->icc_size + 1, from) != shot->icc_size
                || memcmp(want, shot->icc, shot->icc_size) != 0)
                fail_msg("%s: another profile of %zu bytes", base_name(path), shot->icc_size);
            pclose(from);
            free(want);
            kept++;
        }
        sl_shot_free(shot);
    }
    globfree(&files);
    /* One of the six is for L*a*b*, which is not kept. */
    assert_int_equal(kept, 5);
}

/* ---- hostile files --------------------------------------------------------------------------- */

/*
 * Damaged in places that no decoder's result depends on: OpenCV or ImageMagick reads the same
 * picture from them.
 */
static const char *const harmless[] = { "multiple-0xff-before-eoi", "oor_panic__id_000023",
                                        "oor_panic__id_000026" };

static bool is_harmless(const char *name)
{
    for (size_t i = 0; i < sizeof harmless / sizeof harmless[0]; i++)
        if (strstr(name, harmless[i]) != NULL)
            return true;
    return false;
}

static double seconds_now(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/*
 * Each in a second and in 300 MB, with a sentence that says what to do. One is a sound PNG of
 * 181 million pixels; at the limit of 100 million set here it is refused like the others.
 */
static void hostile_files_end_in_words(void **state)
{
    const sl_decode_params limits = { .max_pixels = 100000000, .max_memory = 300000000,
                                      .max_scans = 500 };
    glob_t files = shared_files("malformed/*");
    size_t said = 0;

    (void)state;
    for (size_t i = 0; i < files.gl_pathc; i++) {
        const char *name = base_name(files.gl_pathv[i]);
        sl_shot *shot;
        sl_error err = { 0 };
        const double start = seconds_now();
        const sl_status st = decode_file(&shot, files.gl_pathv[i], &limits, &err);
        const double took = seconds_now() - start;
        struct rusage used;

        if (took > 1.0)
            fail_msg("%s: %.2f s", name, took);
        assert_int_equal(getrusage(RUSAGE_SELF, &used), 0);
        if (used.ru_maxrss > 600000)          /* kB; with the test itself, and a sanitizer */
            fail_msg("%s: %ld kB in use", name, used.ru_maxrss);
        if ((st == SL_OK) != is_harmless(name))
            fail_msg("%s: status %d, %s", name, (int)st, err.detail);
        if (st != SL_OK) {
            if (st != SL_ERR_FORMAT && st != SL_ERR_LIMIT && st != SL_ERR_UNSUPPORTED)
                fail_msg("%s: status %d", name, (int)st);
            if (strstr(err.detail, "copy it again") == NULL
                && strstr(err.detail, "save") == NULL && strstr(err.detail, "convert") == NULL)
                fail_msg("%s: '%s' does not say what to do", name, err.detail);
            said++;
        }
        sl_shot_free(shot);
    }
    globfree(&files);
    assert_true(said > 100);
}

static void harmless_damage_leaves_the_picture(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof harmless / sizeof harmless[0]; i++) {
        char pattern[100];

        snprintf(pattern, sizeof pattern, "malformed/*%s*", harmless[i]);
        compare(pattern, 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(jpeg_pixels_are_libjpeg_turbos),
        cmocka_unit_test(png_pixels_are_opencvs),
        cmocka_unit_test(tiff_pixels_are_the_references),
        cmocka_unit_test(other_files_are_read_alike),
        cmocka_unit_test(oriented_jpegs_are_turned_as_opencv_turns_them),
        cmocka_unit_test(eight_orientations_show_one_scene),
        cmocka_unit_test(tags_are_exiftools),
        cmocka_unit_test(profiles_are_exiftools),
        cmocka_unit_test(hostile_files_end_in_words),
        cmocka_unit_test(harmless_damage_leaves_the_picture),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
