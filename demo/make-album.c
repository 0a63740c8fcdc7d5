/*
 * The demo's album: a family that never was, photographed page by page.
 *
 * usage: make-album DIR
 * writes DIR/shots (seven photographs of 12 x 12 in pages and one file that is none) and
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

static scene_print print(double x, double y, double w, double h, double turn_deg, unsigned motif,
                         double colour)
{
    return (scene_print){ { x, y }, { w, h }, turn_deg * DEGREE, 4, motif, motif * 7 + 3, colour };
}

/* Four prints, each a little askew, as hands glue them. */
static void four_prints(scene *s, unsigned first, double colour)
{
    s->print[0] = print(86, 74, 126, 92, -2.2, first, colour);
    s->print[1] = print(218, 82, 104, 120, 1.6, first + 1, colour);
    s->print[2] = print(84, 214, 112, 84, 1.1, first + 2, colour);
    s->print[3] = print(214, 222, 128, 92, -1.4, first + 3, colour);
    s->prints = 4;
}

/* The tripod stands; only the hand that turns the leaves moves a page a little. */
static scene tripod(unsigned page)
{
    scene s = scene_default();

    s.seed = 1900 + page;
    s.pitch = 0.7 * DEGREE;
    s.yaw = -0.5 * DEGREE;
    s.roll = (0.6 - 0.4 * page) * DEGREE;
    s.shift_mm[0] = 2.0 * page - 3;
    s.shift_mm[1] = 1.5 - page;
    s.k1 = -0.035;
    s.k2 = 0.006;
    s.lamp[0] = 1.03;
    s.lamp[1] = 0.96;
    s.table = TABLE_GREY;
    return s;
}

typedef struct shot {
    const char *name;
    scene       scene;
    scene_exif  exif;
} shot;

enum { SHOTS = 7 };

static void describe(shot shots[SHOTS])
{
    static const char *const dates[SHOTS] = {
        "2026:03:14 10:02:11", "2026:03:14 10:02:48", "2026:03:14 10:03:31",
        "2026:03:14 10:04:20", "2026:03:14 10:05:02", "2026:03:14 10:06:15",
        "2026:03:14 10:07:40"
    };
    static const char *const names[SHOTS] = { "leaf-1", "leaf-2", "leaf-3", "leaf-4", "leaf-5",
                                              "leaf-7", "leaf-10" };

    for (unsigned i = 0; i < SHOTS; i++) {
        shots[i] = (shot){ names[i], tripod(i), { 28, dates[i], "Pennock", "Pennock P4" } };
        four_prints(&shots[i].scene, i, i % 2 == 0 ? 0.1 : 0.95);
    }
    shots[0].scene.paper = PAPER_KRAFT;
    shots[0].scene.caption[0] = "the orrenvale house, spring 1934";
    shots[0].scene.caption[1] = "aunt tilda's orchard";

    shots[1].scene.paper = PAPER_CREAM;
    shots[1].scene.caption[0] = "regatta on lake ossimer";
    shots[1].scene.caption[1] = "the red boat came in second";

    shots[2].scene.paper = PAPER_WHITE;  /* bowed: the binding lifts it in the middle */
    shots[2].scene.bend = BEND_BOW;
    shots[2].scene.bend_rad = 0.22;
    shots[2].scene.caption[0] = "harbour days at port tammerel";

    shots[3].scene.paper = PAPER_BLUE;   /* an S: glue on one half only */
    shots[3].scene.bend = BEND_S;
    shots[3].scene.bend_rad = 0.16;
    shots[3].scene.rulings_level = true;
    shots[3].scene.caption[0] = "kites above the dunes, 1951";

    shots[4].scene.paper = PAPER_KRAFT;  /* too near: the top leaves the picture */
    shots[4].scene.fill = 1.03;
    shots[4].scene.shift_mm[1] = -9;
    shots[4].scene.caption[1] = "nora's birthday";

    shots[5].scene.paper = PAPER_BLACK;  /* held in the hand, over a kitchen cloth */
    shots[5].scene.table = TABLE_CHECKED;
    shots[5].scene.pitch = 5.5 * DEGREE;
    shots[5].scene.yaw = 6.5 * DEGREE;
    shots[5].scene.roll = -2.3 * DEGREE;
    shots[5].scene.fill = 0.80;
    shots[5].scene.noise = 0.011;
    shots[5].scene.blur_px = 0.9;
    shots[5].scene.cast[1] = 0.94;
    shots[5].scene.cast[2] = 0.84;
    shots[5].scene.caption[0] = "winter evening, the upper mill";

    shots[6].scene.paper = PAPER_FLORAL; /* the last leaf, on the oak table */
    shots[6].scene.table = TABLE_WOOD;
    shots[6].scene.rounded_mm = 4;
    shots[6].scene.lamp[1] = 0.8;
    shots[6].scene.caption[1] = "the end of summer";
}

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
    char path[600];
    sl_image *image = NULL;
    sl_error err = { SL_OK, NULL, "" };
    sl_status st = scene_render(&image, &s->scene, &err);

    if (st == SL_OK) {
        (void)snprintf(path, sizeof path, "%s/%s.jpg", shots, s->name);
        st = scene_save_jpeg(path, image, &s->exif, &err);
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
    describe(shots);
    return write_shots(shots, shots_dir, truth_dir) && write_text(shots_dir) ? 0 : 1;
}
