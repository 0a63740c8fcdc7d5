/*
 * Small shots for the system tests: quick to draw, quick to flatten.
 *
 * usage: make-shots DIR [N]
 * writes DIR/shot1.jpg .. shotN.jpg (6), 1008 x 756 px, of an 8 x 8 in page: good ones, but the
 * fifth is cut by the frame and the sixth shows a table without a page. No two show one page.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scenes/scene.h"

static scene small_scene(int n)
{
    static const scene_paper papers[] = { PAPER_WHITE, PAPER_KRAFT, PAPER_CREAM, PAPER_ROSE };
    scene s = scene_default();
    scene_sheet *page = &s.sheet[0];

    page->mm[0] = page->mm[1] = 203.2;
    page->paper = papers[n % 4];
    page->seed = (unsigned)n;
    page->print[0] = (scene_print){ .centre = { 70, 70 }, .size = { 90, 66 }, .turn = 0.03,
                                    .border = 3, .motif = (unsigned)n, .seed = (unsigned)n,
                                    .colour = 1 };
    page->print[1] = (scene_print){ .centre = { 140, 140 }, .size = { 80, 62 }, .turn = -0.04,
                                    .border = 3, .motif = (unsigned)(n + n / 6) + 2, .seed = 9,
                                    .colour = 0.1 };
    page->prints = 2;
    s.width = 1008;
    s.height = 756;
    s.roll = 0.02 * (n % 5 - 2);
    s.pitch = 0.01 * (n % 3);
    s.seed = (uint64_t)n;
    s.blur_px = 0.6;
    if (n == 3) {
        page->bend = BEND_BOW;
        page->bend_rad = 0.12;
    }
    if (n == 5) {
        s.fill = 1.05;
        s.shift_mm[1] = -9;
    }
    if (n == 6)
        s.sheets = 0;
    return s;
}

static bool write_shot(const char *path, const scene *s)
{
    const scene_exif exif = { .focal_35mm = s->focal_35mm, .date = "2026:03:14 10:02:11",
                              .make = "Pennock", .model = "Pennock P4" };
    sl_image *image = NULL;
    sl_error err = { SL_OK, NULL, "" };
    sl_status st = scene_render(&image, s, &err);

    if (st == SL_OK)
        st = scene_save_jpeg(path, image, &exif, &err);
    sl_image_free(image);
    if (st != SL_OK)
        (void)fprintf(stderr, "make-shots: %s: %s\n", path, err.detail);
    return st == SL_OK;
}

int main(int argc, char **argv)
{
    const int count = argc > 2 ? atoi(argv[2]) : 6;

    if (argc < 2 || argv[1][0] == '-' || count < 1) {
        (void)fputs("usage: make-shots DIR [N]\n", stderr);
        return 64;
    }
    for (int n = 1; n <= count; n++) {
        const scene s = small_scene(n);
        char path[600];

        (void)snprintf(path, sizeof path, "%s/shot%d.jpg", argv[1], n);
        if (!write_shot(path, &s))
            return 1;
    }
    return 0;
}
