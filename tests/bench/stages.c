/*
 * usage: stages SHOT.jpg PAGE_SIZE
 * CPU time of each stage of one page on one thread, medians of five, and its share.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/file.h"
#include "squareleaf.h"

enum { RUNS = 5, STAGES = 6, BAND_ROWS = 64 };

/* Encoding a TIFF master is timed beside the chain: it is no part of the sum. */
static const char *const names[STAGES] = { "decode", "border", "rectify", "inspect", "resample",
                                           "encode JPEG" };

static double cpu_ms(void)
{
    struct timespec t;

    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static int by_double(const void *a, const void *b)
{
    const double p = *(const double *)a;
    const double q = *(const double *)b;

    return (p > q) - (p < q);
}

static void give_up(const char *what, const sl_error *err)
{
    (void)fprintf(stderr, "stages: %s: %s\n", what, err->detail);
    exit(1);
}

static sl_point at(const void *ctx, double column, double row)
{
    const double unit = 25.4 / 300;

    return sl_page_map_point(ctx, (column + 0.5) * unit, (row + 0.5) * unit);
}

/* Bands are resampled into one small buffer and encoded from it, as the driver does. */
static void write_page(double *resample_ms, double *encode_ms, const sl_resampler *resampler,
                       size_t width, size_t height, sl_error *err)
{
    const sl_encode_params params = { .format = SL_FORMAT_JPEG, .width = width, .height = height,
                                      .channels = 3, .bits = 8, .quality = 95 };
    const sl_page_info info = { .ppi = 300 };
    unsigned char *rows = malloc(BAND_ROWS * width * 3);
    FILE *file = tmpfile();
    sl_writer *writer = NULL;
    double from = cpu_ms();

    if (rows == NULL || file == NULL
        || sl_writer_new(&writer, file, &params, &info, err) != SL_OK)
        give_up("encode", err);
    for (size_t y = 0; y < height; y += BAND_ROWS) {
        const size_t count = height - y < BAND_ROWS ? height - y : BAND_ROWS;
        double half;

        if (sl_resampler_rows(resampler, y, count, rows, width * 3, err) != SL_OK)
            give_up("resample", err);
        half = cpu_ms();
        *resample_ms += half - from;
        if (sl_writer_rows(writer, rows, count, 3 * width, err) != SL_OK)
            give_up("encode", err);
        from = cpu_ms();
        *encode_ms += from - half;
    }
    if (sl_writer_finish(writer, err) != SL_OK)
        give_up("encode", err);
    *encode_ms += cpu_ms() - from;
    sl_writer_free(writer);
    (void)fclose(file);
    free(rows);
}

/* What a TIFF master (Deflate) of the same rows costs alone. */
static double encode_tiff(const sl_resampler *resampler, size_t width, size_t height,
                          sl_error *err)
{
    const sl_encode_params params = { .format = SL_FORMAT_TIFF, .width = width, .height = height,
                                      .channels = 3, .bits = 8, .compression = SL_DEFLATE };
    const sl_page_info info = { .ppi = 300 };
    unsigned char *rows = malloc(height * width * 3);
    FILE *file = tmpfile();
    sl_writer *writer = NULL;
    double from;

    if (rows == NULL || file == NULL
        || sl_resampler_rows(resampler, 0, height, rows, width * 3, err) != SL_OK)
        give_up("resample", err);
    from = cpu_ms();
    if (sl_writer_new(&writer, file, &params, &info, err) != SL_OK
        || sl_writer_rows(writer, rows, height, 3 * width, err) != SL_OK
        || sl_writer_finish(writer, err) != SL_OK)
        give_up("encode", err);
    from = cpu_ms() - from;
    sl_writer_free(writer);
    (void)fclose(file);
    free(rows);
    return from;
}

static void run(double ms[STAGES], double *tiff_ms, const void *bytes, size_t size, const double page_mm[2])
{
    const sl_decode_params decode = sl_decode_defaults();
    const sl_border_params border = sl_border_defaults();
    sl_rectify_params rectify = sl_rectify_defaults();
    sl_inspect_params inspect = sl_inspect_defaults();
    sl_outline *outline = calloc(1, sizeof *outline);
    sl_shot *shot = NULL;
    sl_tone *tone = NULL;
    sl_resampler *resampler = NULL;
    sl_rectified rectified;
    sl_inspection inspection;
    sl_optics optics;
    sl_resample_params out;
    sl_error err = { SL_OK, NULL, "" };
    double t[STAGES];

    memcpy(rectify.page_mm, page_mm, sizeof rectify.page_mm);
    memcpy(inspect.page_mm, page_mm, sizeof inspect.page_mm);
    t[0] = cpu_ms();
    if (outline == NULL || sl_shot_decode(&shot, bytes, size, &decode, &err) != SL_OK
        || sl_tone_new(&tone, shot->icc, shot->icc_size, &err) != SL_OK)
        give_up("decode", &err);
    t[1] = cpu_ms();
    if (sl_outline_find(outline, shot->image, tone, &border, &err) != SL_OK || !outline->found)
        give_up("border", &err);
    t[2] = cpu_ms();
    optics = sl_optics_guess(&shot->exif, shot->image->width, shot->image->height);
    if (sl_rectify(&rectified, outline, &optics, &rectify, &err) != SL_OK)
        give_up("rectify", &err);
    t[3] = cpu_ms();
    if (sl_inspect(&inspection, shot->image, tone, outline, &rectified, &inspect, &err) != SL_OK)
        give_up("inspect", &err);
    t[4] = cpu_ms();
    out = (sl_resample_params){ .width = (size_t)(rectified.map.page[0] / 25.4 * 300 + 0.5),
                                .height = (size_t)(rectified.map.page[1] / 25.4 * 300 + 0.5),
                                .bits = 8, .fill = 0.46 };
    if (sl_resampler_new(&resampler, shot->image, tone, at, &rectified.map, &out, &err) != SL_OK)
        give_up("resample", &err);
    t[5] = cpu_ms();
    for (int i = 0; i < 5; i++)
        ms[i] = t[i + 1] - t[i];
    ms[5] = 0;
    write_page(&ms[4], &ms[5], resampler, out.width, out.height, &err);
    if (tiff_ms != NULL)
        *tiff_ms = encode_tiff(resampler, out.width, out.height, &err);
    sl_resampler_free(resampler);
    sl_tone_free(tone);
    sl_shot_free(shot);
    free(outline);
}

int main(int argc, char **argv)
{
    double ms[RUNS][STAGES];
    double median[STAGES];
    double page_mm[2];
    double tiff_ms = 0;
    double sum = 0;
    void *bytes = NULL;
    size_t size = 0;
    sl_error err = { SL_OK, NULL, "" };

    if (argc != 3 || sl_page_size_parse(page_mm, argv[2], &err) != SL_OK) {
        (void)fputs("usage: stages SHOT.jpg PAGE_SIZE\n", stderr);
        return 64;
    }
    if (sl_file_read(&bytes, &size, argv[1], (size_t)1 << 30, &err) != SL_OK)
        give_up(argv[1], &err);
    for (int i = 0; i < RUNS; i++)
        run(ms[i], i == 0 ? &tiff_ms : NULL, bytes, size, page_mm);
    for (int k = 0; k < STAGES; k++) {
        double column[RUNS];

        for (int i = 0; i < RUNS; i++)
            column[i] = ms[i][k];
        qsort(column, RUNS, sizeof *column, by_double);
        median[k] = column[RUNS / 2];
        sum += median[k];
    }
    for (int k = 0; k < STAGES; k++)
        (void)printf("%-12s %7.1f ms  %4.1f %%\n", names[k], median[k], 100 * median[k] / sum);
    (void)printf("%-12s %7.1f ms\n", "all", sum);
    (void)printf("%-12s %7.1f ms, beside the chain\n", "encode TIFF", tiff_ms);
    free(bytes);
    return 0;
}
