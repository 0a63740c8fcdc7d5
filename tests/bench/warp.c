/*
 * usage: warp SHOT.jpg [RUNS]
 * CPU time, ms, of resampling alone: the middle nine tenths of a shot, turned by 2 degrees, to
 * 3600 px across. Prints the map too, for tests/bench/opencv_warp.py: MS, then 9 numbers.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "base/file.h"
#include "squareleaf.h"

enum { SIDE = 3600, BAND_ROWS = 64, RUNS_MOST = 21 };

static double cpu_ms(void)
{
    struct timespec t;

    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static sl_point at(const void *ctx, double column, double row)
{
    return sl_homography_apply(ctx, (sl_point){ column, row });
}

static int by_double(const void *a, const void *b)
{
    const double p = *(const double *)a;
    const double q = *(const double *)b;

    return (p > q) - (p < q);
}

int main(int argc, char **argv)
{
    const sl_decode_params decode = sl_decode_defaults();
    const sl_resample_params params = { SIDE, SIDE, 8, 0.46 };
    const double turn = 2 * 3.14159265358979323846 / 180;
    const int wanted = argc > 2 ? atoi(argv[2]) : 5;
    const int runs = wanted < 1 ? 1 : wanted > RUNS_MOST ? RUNS_MOST : wanted;
    unsigned char *rows = malloc((size_t)BAND_ROWS * SIDE * 3);
    double ms[RUNS_MOST];
    double h[9] = { 0 };
    double scale;
    void *bytes = NULL;
    size_t size = 0;
    sl_shot *shot = NULL;
    sl_tone *tone = NULL;
    sl_error err = { SL_OK, NULL, "" };

    if (argc < 2 || rows == NULL
        || sl_file_read(&bytes, &size, argv[1], (size_t)1 << 30, &err) != SL_OK
        || sl_shot_decode(&shot, bytes, size, &decode, &err) != SL_OK
        || sl_tone_new(&tone, NULL, 0, &err) != SL_OK) {
        (void)fprintf(stderr, "usage: warp SHOT.jpg [RUNS] %s\n", err.detail);
        return 64;
    }
    scale = 0.9 * (double)shot->image->height / SIDE;
    h[0] = h[4] = scale * cos(turn);
    h[3] = scale * sin(turn);
    h[1] = -h[3];
    h[2] = 0.5 * (double)shot->image->width - 0.5 * SIDE * (h[0] + h[1]);
    h[5] = 0.5 * (double)shot->image->height - 0.5 * SIDE * (h[3] + h[4]);
    h[6] = h[7] = 2e-6;      /* a little perspective, as tripods have */
    h[8] = 1;
    for (int i = 0; i < runs; i++) {
        const double from = cpu_ms();
        sl_resampler *r = NULL;

        if (sl_resampler_new(&r, shot->image, tone, at, h, &params, &err) != SL_OK)
            return 1;
        for (size_t y = 0; y < SIDE; y += BAND_ROWS)
            if (sl_resampler_rows(r, y, SIDE - y < BAND_ROWS ? SIDE - y : BAND_ROWS, rows,
                                  (size_t)SIDE * 3, &err)
                != SL_OK)
                return 1;
        sl_resampler_free(r);
        ms[i] = cpu_ms() - from;
    }
    qsort(ms, (size_t)runs, sizeof *ms, by_double);
    (void)printf("%.1f", ms[runs / 2]);
    for (int i = 0; i < 9; i++)
        (void)printf(" %.17g", h[i]);
    (void)printf("\n");
    sl_tone_free(tone);
    sl_shot_free(shot);
    free(bytes);
    free(rows);
    return 0;
}
