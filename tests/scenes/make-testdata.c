/*
 * The small shots kept in testdata/, with their truth: drawn once, so that a change of the
 * renderer does not move what the page finding is held to.
 *
 * usage: make-testdata DIR
 */
#include <stdio.h>

#include "scenes/scene.h"

static scene base(unsigned seed)
{
    scene s = scene_default();
    scene_sheet *page = &s.sheet[0];

    s.width = 1344;
    s.height = 1008;
    s.blur_px = 0.6;
    s.seed = seed;
    page->seed = seed;
    page->print[0] = (scene_print){ .centre = { 92, 80 }, .size = { 126, 92 }, .turn = -0.03,
                                    .border = 4, .motif = seed, .seed = seed, .colour = 0.9 };
    page->print[1] = (scene_print){ .centre = { 214, 206 }, .size = { 120, 110 }, .turn = 0.02,
                                    .border = 4, .motif = seed + 1, .seed = seed, .colour = 0.1 };
    page->prints = 2;
    return s;
}

int main(int argc, char **argv)
{
    static const char *const names[] = { "lens", "bow", "hand" };
    const scene_exif exif = { .focal_35mm = 28, .date = "2026:03:14 10:02:11",
                              .make = "Pennock", .model = "Pennock P4" };

    if (argc != 2) {
        (void)fputs("usage: make-testdata DIR\n", stderr);
        return 64;
    }
    for (unsigned i = 0; i < 3; i++) {
        scene s = base(i + 1);
        sl_image *image = NULL;
        sl_error err = { SL_OK, NULL, "" };
        char path[600];

        s.sheet[0].paper = i == 0 ? PAPER_KRAFT : i == 1 ? PAPER_WHITE : PAPER_BLUE;
        if (i == 0) {
            s.k1 = -0.05;
            s.roll = 0.02;
        } else if (i == 1) {
            s.sheet[0].bend = BEND_BOW;
            s.sheet[0].bend_rad = 0.2;
            s.table = TABLE_FELT;
        } else {
            s.pitch = 0.11;
            s.yaw = -0.08;
            s.fill = 0.78;
            s.table = TABLE_WOOD;
        }
        (void)snprintf(path, sizeof path, "%s/%s.jpg", argv[1], names[i]);
        if (scene_render(&image, &s, &err) != SL_OK
            || scene_save_jpeg(path, image, &exif, &err) != SL_OK)
            return 1;
        sl_image_free(image);
        (void)snprintf(path, sizeof path, "%s/%s.json", argv[1], names[i]);
        if (scene_save_truth(path, &s, &err) != SL_OK)
            return 1;
    }
    return 0;
}
