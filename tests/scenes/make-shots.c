/*
 * Small shots for the system tests: quick to draw, quick to flatten.
 *
 * usage: make-shots DIR [N]
 * writes DIR/shot1.jpg .. shotN.jpg (6), 1008 x 756 px, of an 8 x 8 in page: good ones, but the
 * fifth is cut by the frame and the sixth shows a table without a page.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scenes/scene.h"

static scene small_scene(int n)
{
    static const scene_paper papers[] = { PAPER_WHITE, PAPER_KRAFT, PAPER_CREAM, PAPER_BLUE };
    scene s = scene_default();

    s.page_mm[0] = s.page_mm[1] = 203.2;
    s.width = 1008;
    s.height = 756;
    s.focal_px /= 4;
    s.paper = papers[n % 4];
    s.roll = 0.02 * (n % 5 - 2);
    s.pitch = 0.01 * (n % 3);
    s.seed = (uint64_t)n;
    s.blur_px = 0.6;
    s.print[0] = (scene_print){ { 70, 70 }, { 90, 66 }, 0.03, 3, (unsigned)n, (unsigned)n, 1 };
    s.print[1] = (scene_print){ { 140, 140 }, { 80, 62 }, -0.04, 3, (unsigned)n + 2, 9, 0.1 };
    s.prints = 2;
    if (n == 3) {
        s.bend = BEND_BOW;
        s.bend_rad = 0.2;
    }
    if (n == 5) {
        s.fill = 1.05;
        s.shift_mm[1] = -9;
    }
    if (n == 6)
        s.shift_mm[0] = 900; /* the page lies outside the picture */
    return s;
}

int main(int argc, char **argv)
{
    const int count = argc > 2 ? atoi(argv[2]) : 6;

    if (argc < 2 || count < 1) {
        (void)fputs("usage: make-shots DIR [N]\n", stderr);
        return 64;
    }
    for (int n = 1; n <= count; n++) {
        const scene s = small_scene(n);
        const scene_exif exif = { 28, "2026:03:14 10:02:11", "Pennock", "Pennock P4" };
        sl_image *image = NULL;
        sl_error err = { SL_OK, NULL, "" };
        char path[600];

        (void)snprintf(path, sizeof path, "%s/shot%d.jpg", argv[1], n);
        if (scene_render(&image, &s, &err) != SL_OK
            || scene_save_jpeg(path, image, &exif, &err) != SL_OK) {
            (void)fprintf(stderr, "make-shots: %s: %s\n", path, err.detail);
            return 1;
        }
        sl_image_free(image);
    }
    return 0;
}
