#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/album.h"

/* ---- while it runs --------------------------------------------------------------------------- */

static void print_size(char text[32], double bytes)
{
    if (bytes >= 1e9)
        (void)snprintf(text, 32, "%.1f GB", bytes / 1e9);
    else if (bytes >= 1e6)
        (void)snprintf(text, 32, "%.0f MB", bytes / 1e6);
    else
        (void)snprintf(text, 32, "%.0f kB", bytes / 1e3);
}

static void tell_begin(void *ctx, size_t shots, size_t to_do, double needed, double free_space)
{
    teller *t = ctx;
    char need[32];
    char room[32];

    (void)clock_gettime(CLOCK_MONOTONIC, &t->start);
    if (t->args->quiet || t->album != NULL)
        return;
    print_size(need, needed);
    print_size(room, free_space);
    if (to_do == 0) {
        (void)fprintf(stderr, "squareleaf: %zu shot%s, all done before\n", shots,
                      shots == 1 ? "" : "s");
        return;
    }
    (void)fprintf(stderr, "squareleaf: %zu shot%s, %zu to do; room needed: about %s", shots,
                  shots == 1 ? "" : "s", to_do, need);
    if (free_space >= 0)     /* not known of a folder that a dry run does not make */
        (void)fprintf(stderr, ", free: %s", room);
    (void)fputc('\n', stderr);
    if (free_space >= 0 && needed > free_space)
        (void)fprintf(stderr,
                      "squareleaf: the disk may become full on the way; what is done then stays, "
                      "and the next run goes on\n");
}

static void tell_note(void *ctx, const char *text)
{
    const teller *t = ctx;

    if (!t->args->quiet)
        (void)fprintf(stderr, "squareleaf: %s%s%s\n", t->album != NULL ? t->album : "",
                      t->album != NULL ? ": " : "", text);
}

static void print_bar(const teller *t, size_t done, size_t to_do)
{
    enum { WIDTH = 30 };
    struct timespec now;
    double spent;
    char left[48] = "";
    const int filled = to_do > 0 ? (int)(done * WIDTH / to_do) : WIDTH;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    spent = (double)(now.tv_sec - t->start.tv_sec)
            + (double)(now.tv_nsec - t->start.tv_nsec) / 1e9;
    if (done > 0 && done < to_do) {
        const double seconds = spent / (double)done * (double)(to_do - done);

        if (seconds < 90)
            (void)snprintf(left, sizeof left, ", about %.0f s left", seconds);
        else
            (void)snprintf(left, sizeof left, ", about %.0f min left", seconds / 60);
    }
    (void)fprintf(stderr, "\r[%.*s%*s] %zu of %zu%s\033[K", filled,
                  "##############################", WIDTH - filled, "", done, to_do, left);
    if (done == to_do)
        (void)fputc('\n', stderr);
    (void)fflush(stderr);
}

static void tell_item(void *ctx, const sl_album_item *item, size_t done, size_t to_do)
{
    teller *t = ctx;

    if (t->args->json && item->json != NULL)
        (void)puts(item->json);
    if (t->args->quiet || !item->fresh || item->again)
        return;              /* the summary has the last word */
    if (t->album != NULL && !t->args->verbose)
        return;              /* a line an album */
    if (item->outcome != SL_OUTCOME_PASS || t->args->verbose) {
        if (t->bar)
            (void)fputs("\r\033[K", stderr);
        (void)fprintf(stderr, "squareleaf: %s (%s): %s%s%s\n", item->page, item->shot,
                      sl_outcome_name(item->outcome), *item->reason != '\0' ? ": " : "",
                      item->reason);
    }
    if (t->bar)
        print_bar(t, done, to_do);
}

/* The result of a dry run: a line a page that would be done, and with -v of the others too. */
static void tell_plan(void *ctx, const char *page, const char *shot, const char *why)
{
    const teller *t = ctx;

    if (why != NULL || t->args->verbose)
        (void)printf("%s%s%s\t%s\t%s\n", t->album != NULL ? t->album : "",
                     t->album != NULL ? "/" : "", page, shot, why != NULL ? why : "stands");
}

/* ---- when it is done ------------------------------------------------------------------------- */

/* A reason without its advice: up to the first full stop, without it. */
static int first_sentence(const char *text)
{
    const char *end = strstr(text, ". ");
    const size_t length = strlen(text);

    if (end != NULL)
        return (int)(end - text);
    return (int)(length > 0 && text[length - 1] == '.' ? length - 1 : length);
}

/* What counts: a person's word in place of the verdict. */
static sl_outcome outcome_of(const sl_album_item *item)
{
    return item->outcome > SL_OUTCOME_RESHOOT || item->word == SL_WORD_NONE ? item->outcome
           : item->word == SL_WORD_ACCEPTED                                 ? SL_OUTCOME_PASS
                                                                            : SL_OUTCOME_RESHOOT;
}

static void list_pages(const sl_album *album, sl_outcome outcome, const char *title)
{
    enum { MOST = 40 };
    size_t listed = 0;

    if (album->open[outcome] == 0)
        return;
    (void)fprintf(stderr, "%s\n", title);
    for (size_t i = 0; i < album->count; i++) {
        const sl_album_item *item = &album->item[i];

        if (outcome_of(item) != outcome)
            continue;
        if (listed++ == MOST) {
            (void)fprintf(stderr, "  ... and %zu more: see report.csv\n",
                          album->open[outcome] - MOST);
            break;
        }
        if (item->word == SL_WORD_REFUSED)
            (void)fprintf(stderr, "  page %s (%s): refused by a person\n",
                          item->label, item->shot);
        else
            (void)fprintf(stderr, "  page %s (%s): %.*s%s%s\n", item->label, item->shot,
                          first_sentence(item->reason), item->reason,
                          item->replacement != NULL ? "; a good shot of it seems to be page " : "",
                          item->replacement != NULL ? item->replacement : "");
    }
}

/* What resolution the shots hold and the files have; once for the album. */
static void tell_resolution(const sl_album *album)
{
    double least = 1e9;
    double most = 0;
    double written = 0;

    for (size_t i = 0; i < album->count; i++) {
        const sl_album_item *item = &album->item[i];

        if (!item->has_ppi || item->outcome > SL_OUTCOME_LOOK)
            continue;
        least = item->native_ppi < least ? item->native_ppi : least;
        most = item->native_ppi > most ? item->native_ppi : most;
        written = item->written_ppi > written ? item->written_ppi : written;
    }
    if (!(most > 0))
        return;
    if (most - least < 1)
        (void)fprintf(stderr, "These shots hold %.0f ppi.", most);
    else
        (void)fprintf(stderr, "These shots hold %.0f to %.0f ppi.", least, most);
    if (written > least)
        (void)fprintf(stderr, " The files are written at %.0f ppi and are no finer for it.\n",
                      written);
    else
        (void)fprintf(stderr, " The files are written at %.0f ppi.\n", written);
}

/* What was taken for granted about colours; once for the album. */
static void tell_colours(const sl_album *album)
{
    size_t pages = 0;
    size_t untagged = 0;

    for (size_t i = 0; i < album->count; i++)
        if (album->item[i].outcome <= SL_OUTCOME_RESHOOT) {
            pages++;
            untagged += album->item[i].untagged;
        }
    if (untagged > 0 && untagged == pages)
        (void)fputs("The shots bear no colour profile; their colours were taken as sRGB.\n",
                    stderr);
    else if (untagged > 0)
        (void)fprintf(stderr, "%zu of %zu shots bear no colour profile; their colours were taken "
                      "as sRGB.\n", untagged, pages);
}

/* Lines on the way called pages `look` for what turned out to be all the album's. */
static void tell_cleared(const sl_album *album)
{
    size_t cleared = 0;

    for (size_t i = 0; i < album->count; i++) {
        const sl_album_item *item = &album->item[i];

        cleared += item->fresh && item->before != SL_OUTCOME_PASS
                   && item->outcome == SL_OUTCOME_PASS && item->word == SL_WORD_NONE;
    }
    if (cleared > 0)
        (void)fprintf(stderr, "%zu page%s called look above pass%s in the end: what was said of "
                      "%s is told once, of the whole album.\n", cleared, cleared == 1 ? "" : "s",
                      cleared == 1 ? "es" : "", cleared == 1 ? "it" : "them");
}

static size_t shots_of(const sl_album *album)
{
    const size_t *n = album->open;

    return n[SL_OUTCOME_PASS] + n[SL_OUTCOME_LOOK] + n[SL_OUTCOME_RESHOOT] + n[SL_OUTCOME_FAILED];
}

void print_counts(const sl_album *album)
{
    const size_t *n = album->open;
    const size_t shots = shots_of(album);
    size_t accepted = 0;

    for (size_t i = 0; i < album->count; i++)
        accepted += album->item[i].word == SL_WORD_ACCEPTED;
    (void)fprintf(stderr, "%zu shot%s: %zu pass", shots, shots == 1 ? "" : "s",
                  n[SL_OUTCOME_PASS] - accepted);
    if (accepted > 0)
        (void)fprintf(stderr, ", %zu accepted by a person", accepted);
    if (n[SL_OUTCOME_LOOK] > 0)
        (void)fprintf(stderr, ", %zu to look at", n[SL_OUTCOME_LOOK]);
    if (n[SL_OUTCOME_RESHOOT] > 0)
        (void)fprintf(stderr, ", %zu to photograph again", n[SL_OUTCOME_RESHOOT]);
    if (n[SL_OUTCOME_FAILED] > 0)
        (void)fprintf(stderr, ", %zu failed", n[SL_OUTCOME_FAILED]);
}

void tell_summary(const arguments *args, const sl_album *album, const char *out_dir)
{
    const size_t *n = album->open;
    const size_t shots = shots_of(album);

    if (args->quiet)
        return;
    print_counts(album);
    if (n[SL_OUTCOME_SKIPPED] > 0)
        (void)fprintf(stderr, "; %zu other file%s skipped%s", n[SL_OUTCOME_SKIPPED],
                      n[SL_OUTCOME_SKIPPED] == 1 ? "" : "s",
                      args->verbose ? "" : " (-v names them)");
    (void)fputs(album->fault_count > 0 ? ", and something is wrong with the whole album.\n" : ".\n",
                stderr);
    tell_cleared(album);
    tell_resolution(album);
    tell_colours(album);
    if (args->command == ALBUM && !(args->settings.page_mm[0] > 0) && shots > n[SL_OUTCOME_FAILED])
        (void)fputs("Without --page-size the files claim no print size.\n", stderr);
    if (args->verbose && album->optics_note != NULL)
        (void)fprintf(stderr, "%s\n", album->optics_note);
    for (size_t i = 0; i < album->fault_count; i++)
        (void)fprintf(stderr, "The whole album: %s\n", album->fault[i].text);
    list_pages(album, SL_OUTCOME_RESHOOT, "Photograph again:");
    list_pages(album, SL_OUTCOME_FAILED, "Could not be read or written:");
    list_pages(album, SL_OUTCOME_LOOK, "Look at:");
    for (size_t i = 0; args->verbose && i < album->count; i++)
        if (album->item[i].outcome == SL_OUTCOME_SKIPPED)
            (void)fprintf(stderr, "Skipped: %s (%s)\n", album->item[i].shot,
                          album->item[i].reason);
    if (args->shares > 0) {
        (void)fprintf(stderr, "This was share %u of %u; when all are done: squareleaf gather "
                      "OUT_DIR SHARE_DIR...\n", args->share, args->shares);
        return;
    }
    (void)fprintf(stderr, "Pages: %s/masters, %s/access; figures: %s/report.csv\n",
                  out_dir, out_dir, out_dir);
    (void)fprintf(stderr, "Look the pages through in a browser: %s/review.html\n", out_dir);
}

int exit_of_album(const arguments *args, const sl_album *album)
{
    const size_t *n = album->open;

    if (n[SL_OUTCOME_RESHOOT] > 0 || n[SL_OUTCOME_FAILED] > 0)
        return exit_of_verdict(SL_RESHOOT, args->fail_on);
    return exit_of_verdict(n[SL_OUTCOME_LOOK] > 0 || album->fault_count > 0 ? SL_LOOK : SL_PASS,
                           args->fail_on);
}

sl_album_events teller_events(teller *t)
{
    return (sl_album_events){ t, tell_begin, tell_item, t->args->json, tell_note, tell_plan };
}

sl_album_params params_of(const arguments *args)
{
    sl_album_params params = {
        .settings = args->settings,
        .order = args->order,
        .versos_reversed = args->versos_reversed,
        .force = args->force,
        .redo = args->redo,
        .dry_run = args->dry_run,
        .share = args->share,
        .shares = args->shares,
        .rehash = args->rehash,
        .renumber = args->renumber,
        .jobs = args->jobs,
        .memory = args->memory,
        .optics = args->optics,
        .recalibrate = args->recalibrate,
        .corrections = args->corrections,
        .captions = args->captions,
        .expect = args->expect,
    };

    (void)snprintf(params.name, sizeof params.name, "%s", args->name != NULL ? args->name : "");
    return params;
}

/* An album's line among those of --each, or its whole summary. */
static void tell_end(const teller *t, const sl_album *album)
{
    if (t->album == NULL) {
        tell_summary(t->args, album, t->args->operand[1]);
    } else if (!t->args->quiet) {
        (void)fprintf(stderr, "squareleaf: %s: ", SHOWN(t->album));
        print_counts(album);
        (void)fprintf(stderr, "; %s/review.html\n", SHOWN(t->args->operand[1]));
    }
}

void complain_of_album(const arguments *args, const sl_error *err)
{
    const char *const others[] = { args->operand[0], args->optics, args->captions,
                                   args->corrections };
    bool other = strncmp(err->detail, "--", 2) == 0;

    /* of the shots, or of an option: the pages' folder has no part in it */
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        other = other || (others[i] != NULL && is_named(err->detail, others[i]));
    complain(other ? "" : args->operand[1], err);
    if (err->status == SL_ERR_SPACE)
        (void)fputs("squareleaf: what is finished is whole; make room and run the same command "
                    "again to go on\n", stderr);
}

int exit_of_run(const sl_album *album, const sl_error *err)
{
    const int status = exit_of_error(err);

    if (album->count > 0 && err->status != SL_ERR_SPACE)
        return EXIT_DISK;
    /* no page was begun, for a file that is none of the shots */
    return status < EXIT_USAGE ? EXIT_USAGE : status;
}

int run_one(sl_album *out, teller *t, const sl_album_params *params)
{
    const arguments *args = t->args;
    const sl_album_events events = teller_events(t);
    sl_error err = { SL_OK, NULL, "" };
    const sl_status st = sl_album_run(out, args->operand[0], args->operand[1], params, &events,
                                      &stop_signal, &err);

    if (t->bar && st != SL_OK)
        (void)fputc('\n', stderr);
    if (out->count > 0)
        tell_end(t, out);
    else if (st == SL_OK && args->dry_run && !args->quiet && t->album == NULL)
        (void)fputs("squareleaf: a dry run: nothing was written\n", stderr);
    if (st == SL_ERR_CANCELLED) {
        (void)fprintf(stderr, "squareleaf: stopped; run the same command again to go on\n");
        return EXIT_SIGNAL + stop_signal;
    }
    if (st == SL_OK)
        return exit_of_album(args, out);
    complain_of_album(args, &err);
    if (st == SL_ERR_NO_SHOTS && t->album == NULL)
        tell_folders(args);
    return exit_of_run(out, &err);
}

static int run(const arguments *args)
{
    teller told = { .args = args, .bar = isatty(STDERR_FILENO) && !args->quiet };
    const sl_album_params params = params_of(args);
    sl_album album;
    const int status = run_one(&album, &told, &params);

    sl_album_clear(&album);
    return status;
}

static bool judge_order(const arguments *args)
{
    if (!args->versos_reversed || args->order == SL_ORDER_RECTOS_VERSOS)
        return true;
    (void)fputs("squareleaf: --versos-reversed needs --order rectos-versos\n", stderr);
    return false;
}

/* Files that options name are looked for before anything is begun. */
static bool judge_files(const arguments *args)
{
    const struct { const char *option; const char *path; } named[] = {
        { "--optics", args->optics }, { "--captions", args->captions },
        { "--corrections", args->corrections },
    };

    for (size_t i = 0; i < sizeof named / sizeof *named; i++)
        if (named[i].path != NULL && access(named[i].path, R_OK) != 0) {
            (void)fprintf(stderr, "squareleaf: %s %s: %s\n", named[i].option, named[i].path,
                          strerror(errno));
            return false;
        }
    return true;
}

bool judge_album(const arguments *args)
{
    return judge_settings(args) && judge_order(args) && judge_files(args);
}

int run_album(const arguments *args)
{
    arguments all = *args;

    if (args->each)
        return run_each(args);
    recall_settings(&all);
    if (!judge_album(&all))
        return EXIT_USAGE;
    return all.follow ? run_follow(&all) : run(&all);
}

int run_gather(const arguments *args)
{
    teller told = { .args = args };
    const sl_album_events events = { .ctx = &told, .note = tell_note };
    const char *out_dir = args->operand[0];
    sl_album album;
    sl_error err = { SL_OK, NULL, "" };
    const sl_status st = sl_album_gather(&album, out_dir, args->operand + 1,
                                         (size_t)args->operands - 1, args->force, &events, &err);
    int status;

    if (st == SL_OK) {
        tell_summary(args, &album, out_dir);
        status = exit_of_album(args, &album);
    } else {
        const bool known = err.status == SL_ERR_NO_SHOTS; /* it names the folder */

        complain(known ? "" : out_dir, &err);
        status = exit_of_error(&err);
    }
    sl_album_clear(&album);
    return status;
}
