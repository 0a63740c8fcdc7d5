/*
 * One small shot for a system test, told by words what it shows.
 *
 * usage: make-shot FILE.jpg [WORD=VALUE...]
 *   page=203x203 mm  seed=1  paper=white|cream|kraft|black|blue|floral
 *   table=grey|wood|checked|felt|white  prints=2 (of other pictures with another `seed`)
 *   place=0 (where the prints lie)  scatter=1 (anywhere, of all sizes, by `place`)  roll=0.02 pitch=0.01 (rad)  fill=0.88  shift=0,0 (mm)
 *   exposure=1  lamp=1,1  blur=0.6 (px)  focal=28 (mm, 35 mm equivalent; 0: no tags)
 *   size=1008x756 (px)  shadow=1 (its depth, 0: none)  lower=0 (mm of lower sheets)
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scenes/scene.h"

static const char *const papers[] = { "white", "cream", "kraft", "black", "blue", "floral" };
static const char *const tables[] = { "grey", "wood", "checked", "felt", "white" };

/* One or two numbers, "3" or "3,4" or "3x4"; how many. */
static int numbers(double v[2], const char *text)
{
    char *end;

    v[0] = v[1] = strtod(text, &end);
    if (end == text || *end == '\0')
        return end != text;
    text = end + 1;
    v[1] = strtod(text, &end);
    return end != text && *end == '\0' ? 2 : 0;
}

static int word_of(const char *text, const char *const *words, int count)
{
    for (int i = 0; i < count; i++)
        if (strcmp(text, words[i]) == 0)
            return i;
    return -1;
}

typedef struct wish {
    scene  scene;
    double focal_35mm;
    double place;
    double scatter;
} wish;

static bool take(wish *w, const char *argument)
{
    const char *value = strchr(argument, '=');
    const size_t length = value != NULL ? (size_t)(value - argument) : 0;
    scene *s = &w->scene;
    scene_sheet *page = &s->sheet[0];
    double v[2];
    int k;
    const struct { const char *name; double *to[2]; } reals[] = {
        { "page", { &page->mm[0], &page->mm[1] } }, { "roll", { &s->roll, NULL } },
        { "pitch", { &s->pitch, NULL } },              { "yaw", { &s->yaw, NULL } },
        { "fill", { &s->fill, NULL } },                { "exposure", { &s->exposure, NULL } },
        { "shift", { &s->shift_mm[0], &s->shift_mm[1] } },
        { "lamp", { &s->lamp[0], &s->lamp[1] } },      { "blur", { &s->blur_px, NULL } },
        { "focal", { &w->focal_35mm, NULL } },         { "place", { &w->place, NULL } },
        { "scatter", { &w->scatter, NULL } },
        { "shadow", { &s->shadow, NULL } },            { "lower", { &s->lower_mm[1], NULL } },
    };

    if (value == NULL)
        return false;
    value++;
    if (strncmp(argument, "paper", length) == 0) {
        k = word_of(value, papers, 6);
        page->paper = k < 0 ? PAPER_WHITE : (scene_paper)k;
        return k >= 0;
    }
    if (strncmp(argument, "table", length) == 0) {
        k = word_of(value, tables, 5);
        s->table = k < 0 ? TABLE_GREY : (scene_table)k;
        return k >= 0;
    }
    if (numbers(v, value) == 0)
        return false;
    for (size_t i = 0; i < sizeof reals / sizeof *reals; i++)
        if (strlen(reals[i].name) == length && strncmp(argument, reals[i].name, length) == 0) {
            *reals[i].to[0] = v[0];
            if (reals[i].to[1] != NULL)
                *reals[i].to[1] = v[1];
            return true;
        }
    if (strncmp(argument, "size", length) == 0) {
        s->width = (size_t)v[0];
        s->height = (size_t)v[1];
    } else if (strncmp(argument, "seed", length) == 0) {
        s->seed = (uint64_t)v[0];
    } else if (strncmp(argument, "prints", length) == 0) {
        page->prints = (size_t)v[0] <= SCENE_PRINTS ? (size_t)v[0] : SCENE_PRINTS;
    } else {
        return false;
    }
    return true;
}

/* 0 .. 1, the next of a row of numbers. */
static double chance(uint64_t *state)
{
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    return (double)(*state >> 40) / 16777216;
}

/* Prints wherever they fall: no two pages are alike. */
static void scatter_prints(wish *w)
{
    scene_sheet *page = &w->scene.sheet[0];
    uint64_t state = (uint64_t)w->place * 0x9e3779b97f4a7c15u + 5;

    for (int spare = 0; spare < 8; spare++)
        (void)chance(&state);
    for (size_t i = 0; i < page->prints; i++) {
        const double wide = 0.2 + 0.35 * chance(&state);
        const double high = 0.15 + 0.3 * chance(&state);
        const double x = 0.04 + 0.5 * wide + (0.92 - wide) * chance(&state);
        const double y = 0.04 + 0.5 * high + (0.92 - high) * chance(&state);

        page->print[i] = (scene_print){
            .centre = { x * page->mm[0], y * page->mm[1] },
            .size = { wide * page->mm[0], high * page->mm[1] }, .border = 3 * chance(&state),
            .motif = (unsigned)(SCENE_MOTIFS * chance(&state)),
            .seed = (unsigned)(1e6 * chance(&state)), .colour = 0.2
        };
    }
}

/* Up to six prints on a grid of 2 x 3, by `place` in other spots; by the seed other pictures. */
static void lay_prints(wish *w)
{
    scene *s = &w->scene;
    scene_sheet *page = &s->sheet[0];
    uint64_t state = (uint64_t)w->place * 7919 + 17;

    for (size_t i = 0; i < page->prints; i++) {
        const double x = (page->prints > 1 ? 0.28 + 0.44 * (double)(i % 2) : 0.5) * page->mm[0];
        const double y = (page->prints > 2 ? 0.2 + 0.3 * (double)(i / 2) : 0.3 + 0.4 * (double)i)
                         * page->mm[1];
        const unsigned motif = (unsigned)(s->seed + 5 * i);

        for (int spare = 0; spare < 3; spare++)
            state = state * 6364136223846793005u + 1442695040888963407u;
        page->print[i] = (scene_print){
            .centre = { x + 0.05 * page->mm[0] * ((double)(state >> 40) / 16777216 - 0.5),
                        y + 0.05 * page->mm[1] * ((double)(state >> 20 & 0xffff) / 65536 - 0.5) },
            .size = { 0.4 * page->mm[0], (page->prints > 2 ? 0.24 : 0.3) * page->mm[0] },
            .turn = 0.03 * ((double)(state >> 8 & 0xff) / 256 - 0.5), .border = 3, .motif = motif,
            .seed = (unsigned)s->seed * 31 + (unsigned)i, .colour = 0.2
        };
    }
}

int main(int argc, char **argv)
{
    wish w = { scene_default(), 28, 0, 0 };
    sl_image *image = NULL;
    sl_error err = { SL_OK, NULL, "" };
    scene_exif exif = { .date = "2026:03:14 10:02:11", .make = "Pennock", .model = "Pennock P4" };

    w.scene.sheet[0].mm[0] = w.scene.sheet[0].mm[1] = 203.2;
    w.scene.width = 1008;
    w.scene.height = 756;
    w.scene.blur_px = 0.6;
    w.scene.sheet[0].prints = 2;
    for (int i = 2; i < argc; i++)
        if (!take(&w, argv[i])) {
            (void)fprintf(stderr, "make-shot: what is '%s'?\n", argv[i]);
            return 64;
        }
    if (argc < 2) {
        (void)fputs("usage: make-shot FILE.jpg [WORD=VALUE...]\n", stderr);
        return 64;
    }
    if (w.scatter > 0)
        scatter_prints(&w);
    else
        lay_prints(&w);
    exif.focal_35mm = w.focal_35mm;
    if (w.focal_35mm > 0)
        w.scene.focal_35mm = w.focal_35mm;
    w.scene.lower = w.scene.lower_mm[1] > 0 ? 1 : 0;
    if (scene_render(&image, &w.scene, &err) != SL_OK
        || scene_save_jpeg(argv[1], image, &exif, &err) != SL_OK) {
        (void)fprintf(stderr, "make-shot: %s: %s\n", argv[1], err.detail);
        return 1;
    }
    sl_image_free(image);
    return 0;
}
