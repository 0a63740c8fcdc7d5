/*
 * Survey of the whole: shots of every kind with exact truth, what the program says of them, and
 * how often it is right.
 *
 * usage: survey [COUNT] [SEED] [options]        see usage() below
 *
 * Scenes are made and judged by several processes at once; each shot is a file for as long as the
 * program reads it.
 */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "survey/cases.h"
#include "survey/contact.h"
#include "survey/judge.h"
#include "survey/table.h"

enum { TILES_MOST = 250, JOBS_MOST = 64 };

typedef struct settings {
    size_t      count;
    uint64_t    seed;
    size_t      only;        /* a case; survey_case_count(): all */
    size_t      width;       /* of the frames, px; 0: by lot */
    long        jobs;
    const char *program;
    const char *out;         /* folder */
    const char *one;         /* stem of the files of one scene; NULL: a survey */
    bool        own_seed;    /* --seed: the scene's own */
    bool        keep;        /* the shots of wrong answers */
} settings;

/* ---- one scene ------------------------------------------------------------------------------- */

static survey_wrong wrong_of(const survey_finding *f)
{
    const bool right = f->error_mm <= ERROR_MOST_MM;

    if (f->verdict == VERDICT_PASS)
        return f->expect == EXPECT_NEVER || !right ? WRONG_SILENT : WRONG_NOT;
    if (f->expect != EXPECT_GOOD)
        return WRONG_NOT;
    return f->error_mm <= ERROR_ALARM_MM ? WRONG_ALARM : WRONG_MISSED;
}

static bool write_text(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    bool ok;

    if (file == NULL)
        return false;
    ok = fputs(text, file) >= 0;
    return fclose(file) == 0 && ok;
}

/* What is kept of a wrong answer. */
static void keep_wrong(const settings *set, const survey_finding *f, const survey_shot *shot,
                       const sl_image *image, const scene_truth *truth,
                       const survey_answer *answer, const char *json)
{
    char text[TILE_LINES][256];
    const char *const lines[TILE_LINES] = { text[0], text[1], text[2] };
    survey_tile *tile = malloc(sizeof *tile);
    char path[700];
    FILE *file = NULL;

    (void)snprintf(text[0], sizeof text[0], "%s  seed %llu", survey_case_name(f->which),
                   (unsigned long long)f->seed);
    (void)snprintf(text[1], sizeof text[1], "%s: %s, %.2f mm off, confidence %.2f",
                   survey_wrong_name(f->wrong), survey_verdict_name(f->verdict), f->error_mm,
                   f->confidence);
    (void)snprintf(text[2], sizeof text[2], "%.56s", f->reasons);
    if (tile != NULL) {
        survey_tile_draw(tile, image, shot->scene.sheets > 0 ? truth : NULL,
                         answer->outline ? answer : NULL, lines);
        (void)snprintf(path, sizeof path, "%s/%zu.tile", set->out, f->index);
        file = fopen(path, "wb");
    }
    if (file != NULL) {
        (void)fwrite(tile, sizeof *tile, 1, file);
        (void)fclose(file);
    }
    free(tile);
    if (!set->keep)
        return;
    (void)snprintf(path, sizeof path, "%s/%s-%llu.jpg", set->out, survey_case_name(f->which),
                   (unsigned long long)f->seed);
    (void)scene_save_jpeg(path, image, &shot->exif, NULL);
    (void)snprintf(path, sizeof path, "%s/%s-%llu.truth.json", set->out,
                   survey_case_name(f->which), (unsigned long long)f->seed);
    (void)scene_save_truth(path, &shot->scene, NULL);
    (void)snprintf(path, sizeof path, "%s/%s-%llu.answer.json", set->out,
                   survey_case_name(f->which), (unsigned long long)f->seed);
    (void)write_text(path, json != NULL ? json : "");
}

static sl_status survey_one(survey_finding *f, const settings *set, sl_error *err)
{
    const survey_shot shot = survey_shot_of(f->which, f->seed, set->width);
    survey_answer *answer = malloc(sizeof *answer);
    scene_truth *truth = malloc(sizeof *truth);
    sl_image *image = NULL;
    char *json = NULL;
    char path[600];
    sl_status st = SL_ERR_NOMEM;

    if (answer == NULL || truth == NULL)
        goto done;
    st = shot.scene.sheets > 0 ? scene_truth_of(truth, &shot.scene, err) : SL_OK;
    if (st == SL_OK)
        st = scene_render(&image, &shot.scene, err);
    (void)snprintf(path, sizeof path, "%s/shot-%zu.jpg", set->out, f->index);
    if (st == SL_OK)
        st = scene_save_jpeg(path, image, &shot.exif, err);
    if (st != SL_OK)
        goto done;
    f->expect = shot.expect;
    f->page = shot.scene.sheets > 0;
    f->mpx = 1e-6 * (double)shot.scene.width * (double)shot.scene.height;
    f->error_mm = INFINITY;
    if (!survey_ask(answer, &json, &f->seconds, set->program, path, &shot)) {
        f->wrong = WRONG_BROKEN;
        f->verdict = VERDICT_FAILED;
        f->confidence = 0;
    } else {
        f->verdict = answer->verdict;
        f->confidence = answer->confidence;
        f->outline = answer->outline;
        memcpy(f->reasons, answer->reasons, sizeof f->reasons);
        if (answer->outline && f->page)
            f->error_mm = fmax(survey_error_mm(answer, &shot.scene, truth) - shot.slack_mm, 0);
        f->wrong = wrong_of(f);
    }
    (void)unlink(path);
    if (f->wrong != WRONG_NOT)
        keep_wrong(set, f, &shot, image, truth, answer, json);
done:
    free(json);
    sl_image_free(image);
    free(truth);
    free(answer);
    return st;
}

/* ---- all of them ----------------------------------------------------------------------------- */

/* Each process takes every jobs-th scene and writes its findings, whole, into the pipe. */
static int work(const settings *set, long number, int to)
{
    for (size_t i = (size_t)number; i < set->count; i += (size_t)set->jobs) {
        const size_t cases = survey_case_count();
        const bool all = set->only == cases;
        survey_finding f;
        sl_error err = { SL_OK, NULL, "" };

        memset(&f, 0, sizeof f);
        f.index = i;
        f.which = all ? i % cases : set->only;
        f.seed = (set->own_seed ? set->seed : set->seed * 100000) + (all ? i / cases : i);
        if (survey_one(&f, set, &err) != SL_OK) {
            (void)fprintf(stderr, "survey: --case %s --seed %llu: %s\n",
                          survey_case_name(f.which), (unsigned long long)f.seed, err.detail);
            return 70;
        }
        if (write(to, &f, sizeof f) != (ssize_t)sizeof f)
            return 74;
    }
    return 0;
}

static bool collect(survey_finding *findings, const settings *set)
{
    int ends[2];
    size_t done = 0;
    bool ok = true;
    survey_finding f;

    /* POSIX writes up to this much in one piece, so that the findings do not mix */
    _Static_assert(sizeof(survey_finding) <= 512, "a finding does not fit the pipe");
    if (pipe(ends) != 0)
        return false;
    for (long k = 0; k < set->jobs; k++) {
        const pid_t child = fork();

        if (child == 0) {
            (void)close(ends[0]);
            _exit(work(set, k, ends[1]));
        }
        ok = ok && child > 0;
    }
    (void)close(ends[1]);
    while (read(ends[0], &f, sizeof f) == (ssize_t)sizeof f) {
        findings[f.index] = f;
        done++;
        if (isatty(STDERR_FILENO))
            (void)fprintf(stderr, "\r%zu of %zu", done, set->count);
    }
    if (isatty(STDERR_FILENO))
        (void)fputc('\n', stderr);
    (void)close(ends[0]);
    for (long k = 0; k < set->jobs; k++) {
        int status = 0;

        ok = wait(&status) > 0 && WIFEXITED(status) && WEXITSTATUS(status) == 0 && ok;
    }
    return ok && done == set->count;
}

/* LIST.txt and contact.png of all that went wrong, the worst kind first. */
static bool write_wrong(const settings *set, const survey_finding *findings)
{
    survey_tile *tiles = calloc(TILES_MOST, sizeof *tiles);
    sl_error err = { SL_OK, NULL, "" };
    size_t count = 0;
    char path[600];
    FILE *list;
    bool ok = true;

    (void)snprintf(path, sizeof path, "%s/LIST.txt", set->out);
    list = fopen(path, "w");
    if (tiles == NULL || list == NULL) {
        (void)fprintf(stderr, "survey: %s: %s\n", path, strerror(errno));
        free(tiles);
        return false;
    }
    for (survey_wrong kind = WRONG_BROKEN; kind > WRONG_NOT; kind--)
        for (size_t i = 0; i < set->count; i++) {
            const survey_finding *f = &findings[i];
            FILE *tile;

            if (f->wrong != kind)
                continue;
            (void)fprintf(list, "%s %llu: %s: %s, %.2f mm off, confidence %.2f, %.1f Mpx; %s\n",
                          survey_case_name(f->which), (unsigned long long)f->seed,
                          survey_wrong_name(kind), survey_verdict_name(f->verdict), f->error_mm,
                          f->confidence, f->mpx, f->reasons);
            (void)snprintf(path, sizeof path, "%s/%zu.tile", set->out, i);
            tile = fopen(path, "rb");
            if (tile != NULL) {
                count += count < TILES_MOST && fread(&tiles[count], sizeof *tiles, 1, tile) == 1;
                (void)fclose(tile);
                (void)unlink(path);
            }
        }
    ok = fclose(list) == 0;
    (void)snprintf(path, sizeof path, "%s/contact.png", set->out);
    (void)unlink(path);
    if (count > 0 && survey_contact_save(path, tiles, count, &err) != SL_OK) {
        (void)fprintf(stderr, "survey: %s\n", err.detail);
        ok = false;
    }
    free(tiles);
    return ok;
}

static int survey(const settings *set)
{
    survey_finding *findings = calloc(set->count, sizeof *findings);
    int status = 70;

    if (findings == NULL) {
        (void)fputs("survey: out of memory\n", stderr);
        return status;
    }
    if (mkdir(set->out, 0777) != 0 && errno != EEXIST) {
        (void)fprintf(stderr, "survey: %s: %s\n", set->out, strerror(errno));
        status = 73;
    } else if (collect(findings, set)) {
        survey_table_print(findings, set->count);
        if (write_wrong(set, findings)) {
            (void)printf("\nEvery wrong answer: %s/contact.png, %s/LIST.txt\n"
                         "Any scene again: survey --case NAME --seed N --one STEM\n", set->out,
                         set->out);
            status = survey_table_silent(findings, set->count) > 0;
        }
    } else {
        (void)fputs("survey: not every scene was judged\n", stderr);
    }
    free(findings);
    return status;
}

static int make_one(const settings *set)
{
    const survey_shot shot = survey_shot_of(set->only, set->seed, set->width);
    sl_error err = { SL_OK, NULL, "" };
    sl_image *image = NULL;
    char path[600];
    sl_status st = scene_render(&image, &shot.scene, &err);

    (void)snprintf(path, sizeof path, "%s.jpg", set->one);
    if (st == SL_OK)
        st = scene_save_jpeg(path, image, &shot.exif, &err);
    (void)snprintf(path, sizeof path, "%s.json", set->one);
    if (st == SL_OK)
        st = scene_save_truth(path, &shot.scene, &err);
    sl_image_free(image);
    if (st != SL_OK) {
        (void)fprintf(stderr, "survey: %s\n", err.detail);
        return 74;
    }
    (void)printf("%s.jpg, %s.json; ", set->one, set->one);
    if (shot.said_mm[0] > 0)
        (void)printf("--page-size %.10gx%.10gmm; ", shot.said_mm[0], shot.said_mm[1]);
    (void)printf("expected: %s\n", survey_expect_name(shot.expect));
    return 0;
}

/* ---- arguments ------------------------------------------------------------------------------- */

static int usage(FILE *to)
{
    (void)fputs("usage: survey [COUNT] [SEED] [options]      (1000 scenes, seed 1)\n"
                "  --case NAME     of one case only; --list names them\n"
                "  --program FILE  squareleaf (beside this program)\n"
                "  --out DIR       for the contact sheet and the list (survey-wrong)\n"
                "  --keep          with the shots, truths and answers of all that was wrong\n"
                "  --jobs N        processes at once (as many as processors)\n"
                "  --width PX      of all frames (by lot, 3 to 12 Mpx)\n"
                "survey --case NAME --seed N --one STEM [--width PX]\n"
                "  makes one scene again: STEM.jpg and its truth, STEM.json\n"
                "Exit status: 0 no silent failure, 1 some, 64 and up: no survey.\n", to);
    return to == stdout ? 0 : 64;
}

static bool read_number(unsigned long long *out, const char *text)
{
    char *end = NULL;

    errno = 0;
    *out = strtoull(text, &end, 10);
    return *text >= '0' && *text <= '9' && *end == '\0' && errno == 0;
}

/* 0: go on; else the exit status and one. */
static int read_arguments(settings *set, int argc, char **argv)
{
    unsigned long long n;
    int plain = 0;

    for (int i = 1; i < argc; i++) {
        const char *a = argv[i];
        const char *value = i + 1 < argc ? argv[i + 1] : NULL;

        if (strcmp(a, "--help") == 0)
            return usage(stdout) + 1;
        if (strcmp(a, "--list") == 0) {
            for (size_t k = 0; k < survey_case_count(); k++)
                (void)puts(survey_case_name(k));
            return 1;
        }
        if (strcmp(a, "--keep") == 0) {
            set->keep = true;
            continue;
        }
        if (a[0] != '-') {
            if (plain > 1 || !read_number(&n, a))
                return usage(stderr) + 1;
            if (plain++ == 0)
                set->count = (size_t)n;
            else
                set->seed = n;
            continue;
        }
        if (value == NULL)
            return usage(stderr) + 1;
        i++;
        if (strcmp(a, "--case") == 0) {
            set->only = survey_case_named(value);
            if (set->only == survey_case_count()) {
                (void)fprintf(stderr, "survey: no case '%s'; survey --list names them\n", value);
                return 65;
            }
        } else if (strcmp(a, "--program") == 0) {
            set->program = value;
        } else if (strcmp(a, "--out") == 0) {
            set->out = value;
        } else if (strcmp(a, "--one") == 0) {
            set->one = value;
        } else if (!read_number(&n, value)) {
            return usage(stderr) + 1;
        } else if (strcmp(a, "--seed") == 0) {
            set->seed = n;
            set->own_seed = true;
        } else if (strcmp(a, "--jobs") == 0 && n > 0 && n <= JOBS_MOST) {
            set->jobs = (long)n;
        } else if (strcmp(a, "--width") == 0 && n >= 64 && n <= 20000) {
            set->width = (size_t)n;
        } else {
            return usage(stderr) + 1;
        }
    }
    return set->count > 0 ? 0 : usage(stderr) + 1;
}

int main(int argc, char **argv)
{
    const long processors = sysconf(_SC_NPROCESSORS_ONLN);
    const char *slash = strrchr(argv[0], '/');
    char program[512];
    settings set = { .count = 1000, .seed = 1, .only = survey_case_count(), .program = program,
                     .out = "survey-wrong",
                     .jobs = processors < 1 ? 1 : processors > JOBS_MOST ? JOBS_MOST : processors };
    int left;

    (void)snprintf(program, sizeof program, "%.*s/squareleaf",
                   slash != NULL ? (int)(slash - argv[0]) : 1, slash != NULL ? argv[0] : ".");
    left = read_arguments(&set, argc, argv);
    if (left != 0)
        return left - 1;
    if (set.one != NULL)
        return set.only < survey_case_count() ? make_one(&set) : usage(stderr);
    if (access(set.program, X_OK) != 0) {
        (void)fprintf(stderr, "survey: %s: %s\n", set.program, strerror(errno));
        return 66;
    }
    return survey(&set);
}
