#include "album/aside.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "album/ours.h"
#include "base/error.h"
#include "base/file.h"

enum { COPIES_MOST = 1000, NAME = 60 };

/* The first free name for "report.csv": "report-changed.csv", "report-changed-2.csv" ... */
static char *free_path(char name[NAME], const char *of, const char *out_dir)
{
    const size_t bare = strcspn(of, ".");

    for (int n = 1; n < COPIES_MOST; n++) {
        char number[12] = "";
        char *path;

        if (n > 1)
            (void)snprintf(number, sizeof number, "-%d", n);
        (void)snprintf(name, NAME, "%.*s-changed%s%s", (int)bare, of, number, of + bare);
        path = sl_path_join(out_dir, name);
        if (path == NULL || access(path, F_OK) != 0)
            return path;
        free(path);
    }
    return NULL;
}

static sl_status put_aside(const char *name, const char *path, const sl_run *run,
                           const sl_album_events *events, sl_error *err)
{
    char other[NAME];
    char text[3 * NAME + 100];
    char *aside = free_path(other, name, run->out_dir);
    sl_status st = SL_OK;

    if (aside == NULL)
        return sl_fail(err, SL_ERR_EXISTS, "album",
                       "%s was changed since it was written: move it away, or run with --force",
                       path);
    if (rename(path, aside) != 0)
        st = sl_fail_errno(err, errno, "album", path);
    else if (events != NULL && events->note != NULL) {
        (void)snprintf(text, sizeof text,
                       "%s was changed since it was written: it is now %s, and a new one is "
                       "written",
                       name, other);
        events->note(events->ctx, text);
    }
    free(aside);
    return st;
}

sl_status sl_aside_reports(const sl_run *run, const sl_album_events *events, sl_error *err)
{
    static const char *const reports[] = { "report.json", "report.csv" };
    sl_status st = SL_OK;

    if (run->params->force)
        return SL_OK;
    for (size_t i = 0; i < sizeof reports / sizeof *reports && st == SL_OK; i++) {
        char *path = sl_path_join(run->out_dir, reports[i]);

        if (path == NULL)
            return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
        if (access(path, F_OK) == 0 && !sl_ours_made(run, reports[i], path))
            st = put_aside(reports[i], path, run, events, err);
        free(path);
    }
    return st;
}
