/*
 * While shooting: looks into the folder of shots again and again, and runs the album whenever
 * files there have come to rest. Each run is an ordinary one, so that a later run has nothing to
 * add. Plain looking, once a second, works on network disks too.
 */
#include <dirent.h>
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "cli/album.h"

static const double REST = 2;    /* s that size and time of a file have not changed */
enum { NOTES_MOST = 64 };

/* A file as it was last seen. */
typedef struct seen {
    char       *name;
    struct stat stat;
    double      since;       /* s, monotonic */
    bool        settled;
    bool        offered;     /* to the run that goes on */
    bool        taken;       /* into a run, as it is */
} seen;

typedef struct follower {
    const arguments *args;
    teller           told;
    seen            *file;   /* by name */
    size_t           count;
    size_t           fresh;  /* settled and in no run yet */
    size_t           unrest; /* not settled */
    bool             gone;   /* one that was taken is not there */
    bool             begun;  /* the first run has said what is to do */
    char            *note[NOTES_MOST]; /* said: each once, not with every run */
    size_t           notes;
} follower;

static double now(void)
{
    struct timespec t;

    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* ---- the folder ------------------------------------------------------------------------------ */

static void clear_files(seen *file, size_t count)
{
    for (size_t i = 0; i < count; i++)
        free(file[i].name);
    free(file);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(((const seen *)a)->name, ((const seen *)b)->name);
}

static seen *find(const follower *f, const char *name)
{
    const seen key = { .name = (char *)(size_t)name };

    return f->count > 0 ? bsearch(&key, f->file, f->count, sizeof key, by_name) : NULL;
}

static bool unchanged(const struct stat *a, const struct stat *b)
{
    return a->st_size == b->st_size && a->st_ino == b->st_ino
           && a->st_mtim.tv_sec == b->st_mtim.tv_sec && a->st_mtim.tv_nsec == b->st_mtim.tv_nsec;
}

/* What is known of a file, from what was seen before. A folder, a pipe or a hidden file is nothing
   to wait for, whatever happens in it. */
static void judge(seen *s, const seen *before, double time)
{
    if (s->name[0] == '.' || !S_ISREG(s->stat.st_mode)) {
        s->settled = s->taken = true;
        return;
    }
    s->since = time;
    if (before != NULL && unchanged(&before->stat, &s->stat)) {
        s->since = before->since;
        s->taken = before->taken;
    }
    s->settled = time - s->since >= REST;
}

/* Looks at the folder: false, with errno, when it cannot be read. */
static bool look(follower *f)
{
    DIR *dir = opendir(f->args->operand[0]);
    const double time = now();
    seen *file = NULL;
    size_t count = 0;
    const struct dirent *d;
    bool ok = true;

    if (dir == NULL)
        return false;
    for (errno = 0; ok && (d = readdir(dir)) != NULL; errno = 0) {
        seen s = { .name = NULL };
        seen *more;

        if (fstatat(dirfd(dir), d->d_name, &s.stat, 0) != 0)
            continue;        /* it went just now, or leads nowhere */
        more = realloc(file, (count + 1) * sizeof *file);
        file = more != NULL ? more : file;
        s.name = more != NULL ? strdup(d->d_name) : NULL;
        ok = s.name != NULL;
        if (!ok)
            break;
        judge(&s, find(f, s.name), time);
        file[count++] = s;
    }
    ok = ok && errno == 0;
    (void)closedir(dir);
    if (!ok) {
        clear_files(file, count);
        return false;
    }
    if (count > 0)
        qsort(file, count, sizeof *file, by_name);
    f->fresh = f->unrest = 0;
    for (size_t i = 0; i < count; i++) {
        f->fresh += file[i].settled && !file[i].taken;
        f->unrest += !file[i].settled;
    }
    for (size_t i = 0, k = 0; i < f->count; i++) {
        while (k < count && strcmp(file[k].name, f->file[i].name) < 0)
            k++;
        f->gone = f->gone
                  || (f->file[i].taken
                      && (k == count || strcmp(file[k].name, f->file[i].name) != 0));
    }
    clear_files(f->file, f->count);
    f->file = file;
    f->count = count;
    return true;
}

static bool ready(void *ctx, const char *name)
{
    seen *s = find(ctx, name);

    if (s == NULL || !s->settled)
        return false;
    s->offered = true;
    return true;
}

/* After a run: what was offered to it is taken, or waits for the next one. */
static void settle_offers(follower *f, bool taken)
{
    for (size_t i = 0; i < f->count; i++) {
        f->file[i].taken = f->file[i].taken || (f->file[i].offered && taken);
        f->file[i].offered = false;
    }
    if (taken)
        f->gone = false;
}

/* ---- what is said ---------------------------------------------------------------------------- */

static void follow_begin(void *ctx, size_t shots, size_t to_do, double needed, double free_space)
{
    follower *f = ctx;
    const sl_album_events usual = teller_events(&f->told);

    if (!f->begun)
        usual.begin(usual.ctx, shots, to_do, needed, free_space);
    f->begun = true;
}

static void follow_item(void *ctx, const sl_album_item *item, size_t done, size_t to_do)
{
    follower *f = ctx;
    const arguments *args = f->args;

    (void)done;
    (void)to_do;
    if (!item->fresh || item->again)
        return;
    if (args->json && item->json != NULL) {
        (void)puts(item->json);
        (void)fflush(stdout);
    }
    if (args->quiet)
        return;
    (void)fprintf(stderr, "squareleaf: %s (%s): %s%s%s\n", item->page, item->shot,
                  sl_outcome_name(item->outcome), *item->reason != '\0' ? ": " : "", item->reason);
    /* whoever shoots looks at the camera, and the album is still open */
    if (item->outcome >= SL_OUTCOME_RESHOOT && isatty(STDERR_FILENO))
        (void)fputc('\a', stderr);
}

static void follow_note(void *ctx, const char *text)
{
    follower *f = ctx;
    const sl_album_events usual = teller_events(&f->told);

    for (size_t i = 0; i < f->notes; i++)
        if (strcmp(f->note[i], text) == 0)
            return;
    if (f->notes < NOTES_MOST && (f->note[f->notes] = strdup(text)) != NULL)
        f->notes++;
    usual.note(usual.ctx, text);
}

/* ---- the loop -------------------------------------------------------------------------------- */

/* Does a run wait? A file that is gone may come back under another name: that is waited for. */
static bool has_work(const follower *f)
{
    return f->fresh > 0 || (f->gone && f->unrest == 0);
}

/* One run with what is there. An end of all is any status but SL_OK, SL_ERR_NO_SHOTS, SL_ERR_BUSY. */
static sl_status run_now(follower *f, sl_album *album, sl_error *err)
{
    const sl_album_events events = { f, follow_begin, follow_item, f->args->json, follow_note, NULL };
    sl_album_params params = params_of(f->args);
    sl_album latest;
    sl_status st;

    params.ready = ready;
    params.ready_ctx = f;
    st = sl_album_run(&latest, f->args->operand[0], f->args->operand[1], &params, &events,
                      &stop_signal, err);
    settle_offers(f, st == SL_OK || st == SL_ERR_NO_SHOTS);
    if (latest.count > 0) {
        sl_album_clear(album);
        *album = latest;
    } else {
        sl_album_clear(&latest);
    }
    return st;
}

static void wait_a_second(void)
{
    const struct timespec second = { 1, 0 };

    (void)nanosleep(&second, NULL); /* a signal ends it: so it shall */
}

/* Until a signal or an error: SL_OK, SL_ERR_CANCELLED in the midst of pages, or the error. */
static sl_status follow(follower *f, sl_album *album, sl_error *err)
{
    static const char away[] = "the folder of shots cannot be read now; it is tried again";
    enum { DOTS = 2 };       /* an empty folder holds . and .. */
    sl_status st = run_now(f, album, err); /* with no file: only to tell wrong folders */

    if (st == SL_ERR_NO_SHOTS && !look(f))
        return st;
    if (!f->args->quiet && st == SL_ERR_NO_SHOTS)
        (void)fprintf(stderr, "squareleaf: following %s; Ctrl-C ends it\n", f->args->operand[0]);
    while ((st == SL_OK || st == SL_ERR_NO_SHOTS) && stop_signal == 0) {
        if (!look(f))
            follow_note(f, away);
        else if (has_work(f))
            st = run_now(f, album, err);
        if (st == SL_ERR_IO && (!look(f) || f->count <= DOTS)) {
            follow_note(f, away); /* a card that was taken out comes back */
            st = SL_OK;
        }
        if (st == SL_ERR_BUSY && album->count > 0) {
            follow_note(f, "another run holds the pages' folder; this one waits for it");
            st = SL_OK;
        }
        if (stop_signal == 0 && (st == SL_OK || st == SL_ERR_NO_SHOTS))
            wait_a_second();
    }
    return st == SL_ERR_NO_SHOTS ? SL_OK : st;
}

static bool has_optics(const arguments *args)
{
    char path[4096];

    (void)snprintf(path, sizeof path, "%s/optics.json", args->operand[1]);
    /* a person's outlines say nothing of the lens */
    return args->optics != NULL || args->settings.whole_frame || args->settings.has_corners
           || access(path, F_OK) == 0;
}

int run_follow(const arguments *args)
{
    follower f = { .args = args, .told = { .args = args } };
    const bool optics = has_optics(args);
    sl_album album = { 0 };
    sl_error err = { SL_OK, NULL, "" };
    const sl_status st = follow(&f, &album, &err);
    int status;

    if (album.count > 0)
        tell_summary(args, &album, args->operand[1]);
    if (album.count > 0 && !optics && !args->quiet)
        (void)fputs("Camera and lens were settled with the first shots that came. Run album once "
                    "with --recalibrate\nwhen all shots are there: all pages are then made again, "
                    "from the whole album's lens.\n", stderr);
    if (f.unrest > 0 && st == SL_OK && !args->quiet)
        (void)fprintf(stderr, "squareleaf: %zu file%s still arriving; the next run takes %s\n",
                      f.unrest, f.unrest == 1 ? " was" : "s were", f.unrest == 1 ? "it" : "them");
    if (st == SL_ERR_CANCELLED) {
        (void)fputs("squareleaf: stopped; run the same command again to go on\n", stderr);
        status = EXIT_SIGNAL + stop_signal;
    } else if (st != SL_OK) {
        complain_of_album(args, &err);
        status = exit_of_run(&album, &err);
    } else if (stop_signal != SIGINT) {
        status = EXIT_SIGNAL + stop_signal;
    } else if (album.count == 0) {
        (void)fputs("squareleaf: no shot came\n", stderr);
        status = EXIT_NO_INPUT;
    } else {
        status = exit_of_album(args, &album);
    }
    sl_album_clear(&album);
    clear_files(f.file, f.count);
    for (size_t i = 0; i < f.notes; i++)
        free(f.note[i]);
    return status;
}
