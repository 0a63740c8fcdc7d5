/* What book, bag and verify share: gaps, notes, a bar. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cli/cli.h"

/* ---- on the way ------------------------------------------------------------------------------ */

void keeper_clear(keeper *k)
{
    if (k->drawn)
        (void)fputs("\r\033[K", stderr);
    k->drawn = false;
}

static void tell_note(void *ctx, const char *text)
{
    keeper *k = ctx;

    if (k->args->quiet)
        return;
    keeper_clear(k);
    (void)fprintf(stderr, "squareleaf: %s\n", text);
}

static void tell_progress(void *ctx, double done, double total)
{
    enum { WIDTH = 30 };
    keeper *k = ctx;
    const double share = total > 0 && done < total ? done / total : 1;
    const int filled = (int)(share * WIDTH);

    /* a bar moves by whole percents: no more often is it drawn */
    if (!k->bar || (k->drawn && (int)(100 * share) == k->percent))
        return;
    k->percent = (int)(100 * share);
    (void)fprintf(stderr, "\r[%.*s%*s] ", filled, "##############################",
                  WIDTH - filled, "");
    if (k->unit[0] != '\0')
        (void)fprintf(stderr, "%.0f of %.0f %s", done, total, k->unit);
    else
        (void)fprintf(stderr, "%.0f %%", 100 * share);
    (void)fputs("\033[K", stderr);
    (void)fflush(stderr);
    k->drawn = true;
}

/* What is wrong is said also when quiet: it is what was asked for. */
static void tell_finding(void *ctx, sl_finding finding, const char *path, const char *why)
{
    keeper *k = ctx;

    if (finding == SL_FOUND_UNKNOWN && !k->args->verbose)
        return;              /* they are counted in the end */
    keeper_clear(k);
    (void)fprintf(stderr, "squareleaf: %s: %s: %s\n", sl_finding_name(finding), path, why);
}

keeper keeper_for(const arguments *args, const char *unit)
{
    return (keeper){ args, unit, isatty(STDERR_FILENO) && !args->quiet, false, 0 };
}

sl_keep_events keeper_events(keeper *k)
{
    return (sl_keep_events){ k, tell_note, tell_progress, tell_finding };
}

/* ---- gaps ------------------------------------------------------------------------------------ */

static const char *gap_word(sl_gap gap)
{
    switch (gap) {
    case SL_GAP_RESHOOT:
        return "to be photographed again";
    case SL_GAP_REFUSED:
        return "refused by a person";
    case SL_GAP_FAILED:
        return "failed";
    case SL_GAP_NOT_MADE:
        return "not made yet";
    case SL_GAP_NO_FILE:
        return "a file of it is gone";
    case SL_GAP_NONE:
    default:
        return "there";
    }
}

void list_gaps(const sl_record *record, bool advice)
{
    (void)fprintf(stderr, "squareleaf: %zu of %zu pages %s missing:\n", record->gaps,
                  record->pages, record->gaps == 1 ? "is" : "are");
    for (size_t i = 0; i < record->pages; i++) {
        const sl_record_page *page = &record->page[i];

        if (page->gap != SL_GAP_NONE)
            (void)fprintf(stderr, "  page %s (%s): %s%s%s\n", page->label, page->shot,
                          gap_word(page->gap), page->why[0] != '\0' ? ": " : "", page->why);
    }
    if (advice)
        (void)fputs("Put that right and run album again, or go on without them: --incomplete "
                    "marks the gaps.\n",
                    stderr);
}

bool judge_shots(const arguments *args)
{
    struct stat st;

    if (args->shots == NULL)
        return true;
    if (stat(args->shots, &st) != 0)
        (void)fprintf(stderr, "squareleaf: --shots %s: %s\n", SHOWN(args->shots), strerror(errno));
    else if (!S_ISDIR(st.st_mode))
        (void)fprintf(stderr, "squareleaf: --shots %s: that is no folder\n", SHOWN(args->shots));
    else
        return true;
    return false;
}

int exit_of_keeping(const sl_error *err)
{
    switch (err->status) {
    case SL_ERR_LIMIT:
        return EXIT_CANNOT_CREATE;
    default:
        return exit_of_error(err);
    }
}
