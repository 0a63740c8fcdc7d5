/*
 * The demo's album: a family that never was, photographed page by page.
 *
 * usage: make-album DIR
 * writes DIR/shots (eight photographs of 12 x 12 in pages and one file that is none) and
 * DIR/truth (where each page really lies). Everything in it is drawn by rule: no real people,
 * places or photographs.
 */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "scenes/scene.h"

static const double DEGREE = 0.017453292519943295;

enum { SHOTS = 8 };

typedef struct shot {
    const char *name;
    const char *date;
    scene       scene;
} shot;

/* ---- pages ----------------------------------------------------------------------------------- */

/* What a hand glues: where, how large, how askew; and what is written under it. */
typedef struct glued {
    double      place[2];    /* mm, the middle */
    double      size[2];
    double      turn_deg;
    unsigned    motif;       /* as numbered in pictures.c */
    const char *words;
} glued;

enum { LAKE, HOUSE, HARBOUR, KITES, ORCHARD, CAKE, MOUNTAINS, VIADUCT, FLOWERS };

static void glue(scene_sheet *page, const glued *pieces, size_t count, double colour)
{
    for (size_t i = 0; i < count; i++) {
        const glued *g = &pieces[i];

        page->print[page->prints++] = (scene_print){
            .centre = { g->place[0], g->place[1] }, .size = { g->size[0], g->size[1] },
            .turn = g->turn_deg * DEGREE, .border = 4, .motif = g->motif,
            .seed = page->seed * 10 + (unsigned)i, .colour = colour,
            .deckle = colour < 0.5, .mounts = colour < 0.5 && i % 2 == 0
        };
        if (g->words != NULL)
            page->caption[page->captions++] = (scene_caption){
                .text = g->words, .at = { g->place[0], g->place[1] + g->size[1] / 2 + 10 },
                .height = 5, .turn = 0.3 * g->turn_deg * DEGREE,
                .label = page->paper == PAPER_FLORAL
            };
    }
}

static void fill_pages(shot shots[SHOTS])
{
    static const glued house[] = {
        { { 84, 74 }, { 124, 94 }, -2.2, HOUSE, "The Ostrander-Vale house" },
        { { 222, 84 }, { 106, 124 }, 1.6, FLOWERS, "Grandmother's asters" },
        { { 80, 216 }, { 112, 88 }, 1.1, ORCHARD, "Aunt Tilda's orchard" },
        { { 220, 226 }, { 130, 94 }, -1.4, VIADUCT, "The 4:15 to Orrenvale" }
    };
    static const glued regatta[] = {
        { { 152, 92 }, { 212, 142 }, 0.9, HARBOUR, "Regatta, Port Tammerel" },
        { { 84, 228 }, { 116, 84 }, -1.7, LAKE, "The Wren on Lake Merrowin" },
        { { 220, 226 }, { 112, 86 }, 2.0, KITES, "Hollen Down, 1951" }
    };
    static const glued lake[] = {
        { { 84, 84 }, { 108, 128 }, -1.2, LAKE, "Lake Merrowin" },
        { { 214, 80 }, { 128, 96 }, 1.5, MOUNTAINS, "Up at the Kessel hut" },
        { { 152, 226 }, { 196, 104 }, -0.6, HARBOUR, "Low tide at Skerrow Point" }
    };
    static const glued kites[] = {
        { { 88, 82 }, { 128, 98 }, 1.8, KITES, "Three of them flew" },
        { { 222, 94 }, { 100, 132 }, -1.0, KITES, "And one did not" },
        { { 80, 220 }, { 104, 104 }, -2.4, ORCHARD, "Picking, October" },
        { { 214, 228 }, { 132, 92 }, 1.2, HOUSE, "Home again" }
    };
    static const glued birthday[] = {
        { { 150, 108 }, { 190, 142 }, -0.8, CAKE, "Nora's 7th birthday" },
        { { 86, 238 }, { 112, 80 }, 1.9, FLOWERS, "From the garden" },
        { { 220, 236 }, { 112, 82 }, -1.5, HOUSE, "The new roof" }
    };
    static const glued winter[] = {
        { { 90, 80 }, { 134, 98 }, 1.4, MOUNTAINS, "First snow, 1941" },
        { { 222, 88 }, { 104, 126 }, -1.9, FLOWERS, "Still in bloom" },
        { { 84, 218 }, { 114, 90 }, -1.2, VIADUCT, "The old viaduct" },
        { { 222, 228 }, { 124, 92 }, 0.9, LAKE, "Evening, Lake Merrowin" }
    };
    static const glued garden[] = {
        { { 82, 90 }, { 104, 136 }, -1.1, FLOWERS, "Table 9, first prize" },
        { { 212, 84 }, { 136, 98 }, 1.3, ORCHARD, "Apples for all" },
        { { 152, 228 }, { 176, 100 }, -0.9, LAKE, "One more summer" }
    };
    static const glued last[] = {
        { { 152, 136 }, { 236, 178 }, 0.7, LAKE, "The end of summer" }
    };
    static const struct { const glued *pieces; size_t count; double colour; } pages[SHOTS] = {
        { house, 4, 0.1 }, { regatta, 3, 0.9 }, { lake, 3, 0.1 }, { kites, 4, 0.85 },
        { birthday, 3, 0.9 }, { winter, 4, 0.05 }, { garden, 3, 0.8 }, { last, 1, 0.9 }
    };

    for (size_t i = 0; i < SHOTS; i++)
        glue(&shots[i].scene.sheet[0], pages[i].pieces, pages[i].count, pages[i].colour);
}

/* ---- shots ----------------------------------------------------------------------------------- */

/* The tripod stands; only the hand that turns the leaves moves a page a little. */
static scene tripod(unsigned page)
{
    scene s = scene_default();

    s.seed = 1900 + page;
    s.sheet[0].seed = 17 + page;
    s.sheet[0].aged = 0.12;
    s.pitch = 0.7 * DEGREE;
    s.yaw = -0.5 * DEGREE;
    s.roll = (0.6 - 0.25 * page) * DEGREE;
    s.shift_mm[0] = 1.2 * page - 3;
    s.shift_mm[1] = 1.5 - 0.7 * page;
    s.k1 = -0.035;
    s.k2 = 0.006;
    s.lamp[0] = 1.06;
    s.lamp[1] = 0.9;
    s.cast[2] = 0.97;
    return s;
}

static void set_up(shot shots[SHOTS])
{
    static const char *const names[SHOTS] = { "leaf-1", "leaf-2", "leaf-3", "leaf-4",
                                              "leaf-5", "leaf-7", "leaf-9", "leaf-10" };
    static const char *const dates[SHOTS] = {
        "2026:03:14 10:02:11", "2026:03:14 10:02:48", "2026:03:14 10:03:31",
        "2026:03:14 10:04:20", "2026:03:14 10:05:02", "2026:03:14 10:21:15",
        "2026:03:14 10:24:51", "2026:03:14 10:27:40"
    };
    scene *s;

    for (unsigned i = 0; i < SHOTS; i++)
        shots[i] = (shot){ names[i], dates[i], tripod(i) };

    shots[0].scene.sheet[0].paper = PAPER_KRAFT;
    shots[1].scene.sheet[0].paper = PAPER_CREAM;

    s = &shots[2].scene;     /* the binding lifts it in the middle */
    s->sheet[0].bend = BEND_BOW;
    s->sheet[0].bend_rad = 0.22;

    s = &shots[3].scene;     /* an S: once it was damp */
    s->sheet[0].paper = PAPER_BLUE;
    s->sheet[0].bend = BEND_S;
    s->sheet[0].bend_rad = 0.16;
    s->sheet[0].across = 88 * DEGREE;

    s = &shots[4].scene;     /* too near: the top leaves the picture */
    s->sheet[0].paper = PAPER_KRAFT;
    s->fill = 1.03;
    s->shift_mm[1] = -9;

    s = &shots[5].scene;     /* in the hand, over the kitchen cloth, by lamplight */
    s->sheet[0].paper = PAPER_BLACK;
    s->table = TABLE_CHECKED;
    s->table_turn = 9 * DEGREE;
    s->clutter[0] = (scene_clutter){ .kind = THING_CUP, .place = { -222, -96 }, .turn = 2.2,
                                     .size = 1, .seed = 4 };
    s->clutter[1] = (scene_clutter){ .kind = THING_PENCIL, .place = { 208, 120 }, .turn = 1.2,
                                     .size = 1, .seed = 7 };
    s->clutters = 2;
    s->pitch = 5.5 * DEGREE;
    s->yaw = 6.5 * DEGREE;
    s->roll = -2.3 * DEGREE;
    s->fill = 0.80;
    s->shot_noise = 0.013;
    s->read_noise = 0.002;
    s->blur_px = 0.9;
    s->cast[1] = 0.94;
    s->cast[2] = 0.84;

    /* The hard one: white on white, one lamp off, and the album's lower leaves peep out. */
    s = &shots[6].scene;
    s->table = TABLE_WHITE;
    s->lower = 2;
    s->lower_mm[0] = 0.5;
    s->lower_mm[1] = 1.1;
    s->thick_mm = 6;
    s->lamp[1] = 0;
    s->exposure = 1.35;

    s = &shots[7].scene;     /* the last leaf, on the oak table */
    s->sheet[0].paper = PAPER_FLORAL;
    s->sheet[0].rounded_mm = 4;
    s->table = TABLE_WOOD;
    s->table_turn = -3 * DEGREE;
    s->clutter[0] = (scene_clutter){ .kind = THING_RULER, .place = { -196, 20 }, .turn = 1.53,
                                     .size = 1, .seed = 3 };
    s->clutter[1] = (scene_clutter){ .kind = THING_COIN, .place = { 185, -96 }, .size = 1,
                                     .seed = 1 };
    s->clutters = 2;
    s->lamp[1] = 0.75;
}

/* ---- files ----------------------------------------------------------------------------------- */

static bool make_folder(char path[512], const char *dir, const char *name)
{
    (void)snprintf(path, 512, "%s/%s", dir, name);
    if (mkdir(path, 0777) == 0 || errno == EEXIST)
        return true;
    (void)fprintf(stderr, "make-album: %s: %s\n", path, strerror(errno));
    return false;
}

static bool write_text(const char *folder)
{
    char path[600];
    FILE *file;

    (void)snprintf(path, sizeof path, "%s/leaf-8.jpg", folder);
    file = fopen(path, "w");
    if (file == NULL || fputs("Leaf 8 is stuck to leaf 9. Ask the conservator.\n", file) < 0
        || fclose(file) != 0) {
        (void)fprintf(stderr, "make-album: %s: %s\n", path, strerror(errno));
        return false;
    }
    return true;
}

static bool write_shot(const shot *s, const char *shots, const char *truth)
{
    const scene_exif exif = { .focal_35mm = s->scene.focal_35mm, .date = s->date,
                              .make = "Pennock", .model = "Pennock P4" };
    char path[600];
    sl_image *image = NULL;
    sl_error err = { SL_OK, NULL, "" };
    sl_status st = scene_render(&image, &s->scene, &err);

    if (st == SL_OK) {
        (void)snprintf(path, sizeof path, "%s/%s.jpg", shots, s->name);
        st = scene_save_jpeg(path, image, &exif, &err);
    }
    if (st == SL_OK) {
        (void)snprintf(path, sizeof path, "%s/%s.json", truth, s->name);
        st = scene_save_truth(path, &s->scene, &err);
    }
    sl_image_free(image);
    if (st != SL_OK)
        (void)fprintf(stderr, "make-album: %s: %s\n", s->name, err.detail);
    return st == SL_OK;
}

/* One process a shot, as many at once as there are processors: drawing is slow, and each shot
   depends on nothing but its own seed. */
static bool write_shots(const shot shots[SHOTS], const char *shots_dir, const char *truth_dir)
{
    const long processors = sysconf(_SC_NPROCESSORS_ONLN);
    long running = 0;
    bool ok = true;

    for (int i = 0; i < SHOTS || running > 0;) {
        int status = 0;
        pid_t child;

        if (i < SHOTS && running < (processors > 0 ? processors : 1)) {
            child = fork();
            if (child == 0)
                _exit(write_shot(&shots[i], shots_dir, truth_dir) ? 0 : 1);
            if (child < 0) {
                (void)fprintf(stderr, "make-album: %s\n", strerror(errno));
                return false;
            }
            running++;
            i++;
            continue;
        }
        if (wait(&status) < 0)
            return false;
        running--;
        ok = ok && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    }
    return ok;
}

int main(int argc, char **argv)
{
    static shot shots[SHOTS];
    char shots_dir[512];
    char truth_dir[512];

    if (argc != 2 || argv[1][0] == '-') {
        (void)fputs("usage: make-album DIR\n", argc == 2 && strcmp(argv[1], "--help") == 0 ? stdout
                                                                                          : stderr);
        return argc == 2 && strcmp(argv[1], "--help") == 0 ? 0 : 64;
    }
    if ((mkdir(argv[1], 0777) != 0 && errno != EEXIST) || !make_folder(shots_dir, argv[1], "shots")
        || !make_folder(truth_dir, argv[1], "truth"))
        return 73;
    set_up(shots);
    fill_pages(shots);
    return write_shots(shots, shots_dir, truth_dir) && write_text(shots_dir) ? 0 : 1;
}
