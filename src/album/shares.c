#include "album/shares.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "album/aside.h"
#include "album/chain.h"
#include "album/names.h"
#include "album/naming.h"
#include "album/ours.h"
#include "album/report.h"
#include "album/result.h"
#include "album/sweep.h"
#include "base/error.h"
#include "base/file.h"

bool sl_share_has(const sl_album_params *params, size_t place)
{
    return params->shares == 0 || place % params->shares == params->share - 1;
}

sl_status sl_share_close(const sl_run *run, const json_t *skipped, sl_error *err)
{
    json_t *line = json_pack("{s:O, s:o, s:s}", "skipped", skipped, "optics",
                             run->optics != NULL ? sl_report_optics(run->optics) : json_null(),
                             "optics_note", run->optics_note);

    if (line == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    return sl_journal_add(run->journal, line, err);
}

/* ---- gathering ------------------------------------------------------------------------------- */

typedef struct gathering {
    sl_run       run;
    sl_journal   journal;
    const char  *from;       /* the folder that is being gathered */
    bool         own;        /* it is OUT_DIR itself */
    json_t      *settings;   /* the shares' line of settings, without what may differ */
    json_t      *close;      /* what sl_share_close() noted */
    unsigned     of;         /* how many shares there are */
    bool         seen[SL_SHARES_MOST + 1];
    sl_optics    optics;
} gathering;

/* Brings one file over, if it is the one that its line tells of. */
static sl_status bring_file(gathering *g, const json_t *file, sl_error *err)
{
    const char *rest = sl_json_text(file, "path");
    char *path = sl_path_join(g->from, rest);
    char sha256[SL_SHA256_HEX];
    void *bytes = NULL;
    size_t size = 0;
    sl_ours_file to;
    sl_status st;

    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (sl_path_stays(rest))
        st = sl_file_read(&bytes, &size, path, SL_WORK_FILE_MOST, err);
    else
        st = sl_fail(err, SL_ERR_FORMAT, "album",
                     "the journal of %s names a file outside of it: %s", g->from, rest);
    if (st == SL_OK) {
        sl_sha256(sha256, bytes, size);
        if (strcmp(sha256, sl_json_text(file, "sha256")) != 0)
            st = sl_fail(err, SL_ERR_FORMAT, "album",
                         "%s is not as its share wrote it: run the share again", path);
    }
    if (st == SL_OK)
        st = sl_ours_open(&to, rest, &g->run, err);
    if (st == SL_OK) {
        st = sl_part_write(&to.part, bytes, size, err);
        if (st == SL_OK)
            st = sl_ours_commit(&to, 1, NULL, &g->run, err);
        sl_ours_close(&to);
    }
    free(bytes);
    free(path);
    return st;
}

static sl_status bring_files(gathering *g, const json_t *files, sl_error *err)
{
    sl_status st = SL_OK;
    size_t i;
    const json_t *file;

    if (g->own) {            /* they are where they belong: the journal only has to know them */
        if (json_array_size(files) == 0)
            return SL_OK;
        return sl_journal_add(g->run.journal, json_pack("{s:O}", "files", files), err);
    }
    json_array_foreach(files, i, file) {
        st = bring_file(g, file, err);
        if (st != SL_OK)
            break;
    }
    return st;
}

/* A file beside the pages, when OUT_DIR has none. */
static sl_status bring_beside(const gathering *g, const char *name, sl_error *err)
{
    char *from = sl_path_join(g->from, name);
    char *to = sl_path_join(g->run.out_dir, name);
    void *bytes = NULL;
    size_t size = 0;
    sl_part part;
    sl_status st = SL_OK;

    if (from == NULL || to == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    else if (!g->own && access(from, F_OK) == 0 && access(to, F_OK) != 0) {
        st = sl_file_read(&bytes, &size, from, (size_t)1 << 28, err);
        if (st == SL_OK)
            st = sl_part_open(&part, to, NULL, 0, err);
        if (st == SL_OK)
            st = sl_part_save(&part, bytes, size, err);
    }
    free(bytes);
    free(to);
    free(from);
    return st;
}

/* Are both there, and the same? */
static bool same_json(const json_t *a, const json_t *b)
{
    return a != NULL && b != NULL && json_equal((json_t *)a, (json_t *)b);
}

/* The share's pages into the album's journal. */
static sl_status take_pages(gathering *g, const sl_journal *share, sl_error *err)
{
    sl_status st = SL_OK;
    const char *page;
    json_t *line;

    json_object_foreach(share->by_page, page, line) {
        const json_t *have = json_object_get(g->run.journal->by_page, page);
        json_t *names;

        if (have != NULL && strcmp(sl_json_text(have, "shot"), sl_json_text(line, "shot")) != 0)
            return sl_fail(err, SL_ERR_EXISTS, "album",
                           "%s is of %s here and of %s in %s: the shots were others when the "
                           "shares ran; run all shares again",
                           page, sl_json_text(have, "shot"), sl_json_text(line, "shot"), g->from);
        if (have == NULL) {
            names = json_pack("{s:{s:O}, s:O, s:{s:s}}", "names", page,
                              json_object_get(line, "shot"), "folder",
                              json_object_get(line, "folder"), "labels", page,
                              sl_line_label(line));
            if (names != NULL && share->name != NULL)
                json_object_set(names, "name", share->name);
            st = names != NULL ? sl_journal_add(g->run.journal, names, err)
                               : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
        }
        if (st != SL_OK)
            return st;
        if (json_object_get(line, "outcome") == NULL || same_json(have, line))
            continue;
        st = bring_files(g, json_object_get(line, "files"), err);
        if (st == SL_OK)
            st = bring_files(g, json_object_get(json_object_get(line, "review"), "files"), err);
        if (st == SL_OK)
            st = sl_journal_add(g->run.journal, json_incref(line), err);
        if (st != SL_OK)
            return st;
    }
    return SL_OK;
}

/* All shares must have been told the same. */
static sl_status check_settings(gathering *g, const sl_journal *share, const char *name,
                                sl_error *err)
{
    json_t *told = share->settings;

    /* one that was run again after a gathering was told what the album's journal says */
    if (told == NULL && g->own && json_object_size(share->by_page) > 0)
        told = g->run.journal->settings;
    if (told == NULL)
        return SL_OK;        /* it died before its first page */
    if (g->settings == NULL)
        g->settings = json_incref(told);
    else if (!json_equal(g->settings, told))
        return sl_fail(err, SL_ERR_EXISTS, "album",
                       "%s in %s was run with other settings or optics than the shares before it: "
                       "run it again with theirs",
                       name, g->from);
    return SL_OK;
}

static sl_status take_share(gathering *g, const char *name, sl_error *err)
{
    sl_journal share;
    unsigned number = 0;
    unsigned of = 0;
    char *path;
    sl_status st;

    if (sscanf(name, "journal-%u-of-%u", &number, &of) != 2 || number < 1 || number > of
        || of > SL_SHARES_MOST)
        return SL_OK;        /* none of ours */
    if (g->of != 0 && g->of != of)
        return sl_fail(err, SL_ERR_EXISTS, "album",
                       "%s/.squareleaf/%s is of %u shares, others are of %u: take away what is old",
                       g->from, name, of, g->of);
    g->of = of;
    g->seen[number] = true;
    path = sl_path_join(g->from, ".squareleaf");
    st = path != NULL ? sl_journal_read_file(&share, path, name, err)
                      : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    free(path);
    if (st != SL_OK)
        return st;
    st = check_settings(g, &share, name, err);
    if (st == SL_OK)
        st = take_pages(g, &share, err);
    if (st == SL_OK && share.closing != NULL) {
        json_decref(g->close);
        g->close = json_incref(share.closing);
    }
    sl_journal_close(&share);
    return st;
}

static int by_name(const void *a, const void *b)
{
    return sl_natural_order(*(char *const *)a, *(char *const *)b);
}

static void free_list(char **list, size_t count)
{
    for (size_t i = 0; i < count; i++)
        free(list[i]);
    free(list);
}

/* The journals of a folder's shares; `count` of them, each owned. None when there is no folder. */
static sl_status list_shares(char ***out, size_t *count, const char *folder, sl_error *err)
{
    char *path = sl_path_join(folder, ".squareleaf");
    DIR *dir = path != NULL ? opendir(path) : NULL;
    const int why = path == NULL ? ENOMEM : errno;
    const struct dirent *d;
    char **list = calloc(SL_SHARES_MOST + 1, sizeof *list);
    bool whole = list != NULL && path != NULL;
    size_t n = 0;

    free(path);
    while (whole && dir != NULL && n < SL_SHARES_MOST && (d = readdir(dir)) != NULL)
        if (strncmp(d->d_name, "journal-", 8) == 0) {
            list[n] = strdup(d->d_name);
            whole = list[n] != NULL;
            n += whole;
        }
    if (dir != NULL)
        (void)closedir(dir);
    if (!whole || (dir == NULL && why != ENOENT && why != ENOTDIR)) {
        free_list(list, n);
        return whole ? sl_fail_errno(err, why, "album", folder)
                     : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    }
    if (n > 1)
        qsort(list, n, sizeof *list, by_name);
    *out = list;
    *count = n;
    return SL_OK;
}

static sl_status take_folder(gathering *g, const char *folder, bool own, sl_error *err)
{
    char **list = NULL;
    size_t count = 0;
    sl_status st;

    g->from = folder;
    g->own = own;
    st = list_shares(&list, &count, folder, err);
    if (st == SL_OK)
        st = bring_beside(g, "optics.json", err);
    if (st == SL_OK)
        st = bring_beside(g, "corrections.json", err);
    for (size_t i = 0; i < count; i++) {
        if (st == SL_OK)
            st = take_share(g, list[i], err);
        free(list[i]);
    }
    free(list);
    return st;
}

/* ---- the report ------------------------------------------------------------------------------ */

/* A page that no share made: as if its shot had failed, so that nobody takes the album for whole. */
static json_t *unmade(const json_t *line)
{
    json_t *kept = json_copy((json_t *)line);

    json_object_set_new(kept, "outcome", json_string("failed"));
    json_object_set_new(kept, "error", json_string("Not made: its share was not run to its end. "
                                                   "Run it again, then gather again."));
    return kept;
}

static int by_line(const void *a, const void *b)
{
    return sl_line_order(((const sl_work *)a)->line, ((const sl_work *)b)->line);
}

/* Every page of the journal as a work that is done. */
static sl_status works_of(sl_work **out, size_t *count, const gathering *g, sl_error *err)
{
    json_t *by_page = g->run.journal->by_page;
    sl_work *work = calloc(json_object_size(by_page) + 1, sizeof *work);
    const char *page;
    json_t *line;
    size_t n = 0;
    bool whole = true;

    if (work == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    json_object_foreach(by_page, page, line) {
        const bool made = json_object_get(line, "outcome") != NULL;
        sl_work *w = &work[n];

        if (sl_line_retired(line) || json_object_get(line, "left_out") != NULL)
            continue;
        n++;
        (void)snprintf(w->page, sizeof w->page, "%s", page);
        (void)snprintf(w->label, sizeof w->label, "%s", sl_line_label(line));
        w->line = made ? json_incref(line) : unmade(line);
        w->shot = strdup(sl_json_text(line, "shot"));
        w->correction = sl_corrections_of(g->run.corrections, sl_json_text(line, "sha256"));
        w->done = true;
        whole = whole && w->line != NULL && w->shot != NULL;
    }
    if (n > 1 && whole)
        qsort(work, n, sizeof *work, by_line);
    *out = work;
    *count = n;
    return whole ? SL_OK : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
}

/* Names the shares that are not here, when pages are not made: else all were gathered before. */
static void say_missing(const gathering *g, const sl_album_events *events)
{
    bool all_made = true;
    char text[400];
    size_t n = 0;
    const char *page;
    json_t *line;

    json_object_foreach(g->run.journal->by_page, page, line)
        all_made = all_made && (json_object_get(line, "outcome") != NULL || sl_line_retired(line)
                                || json_object_get(line, "left_out") != NULL);
    if (all_made)
        return;
    n = (size_t)snprintf(text, sizeof text, "Not here of %u shares:", g->of);
    const size_t none = n;

    for (unsigned k = 1; k <= g->of && n < sizeof text - 20; k++)
        if (!g->seen[k])
            n += (size_t)snprintf(text + n, sizeof text - n, "%s %u", n > none ? "," : "", k);
    if (n > none && events != NULL && events->note != NULL)
        events->note(events->ctx, text);
}

static sl_status write_report(sl_album *out, gathering *g, const sl_album_events *events,
                              sl_error *err)
{
    sl_folder folder = { NULL, 0, 0 };
    sl_work *work = NULL;
    size_t count = 0;
    sl_status st = works_of(&work, &count, g, err);

    if (st == SL_OK)
        st = sl_aside_reports(&g->run, events, err);
    if (st == SL_OK)
        st = sl_result_write(out, work, count, count, &folder, &g->run, err);
    if (st == SL_OK && count > 0) {
        sl_error why = { SL_OK, NULL, "" };
        const sl_status review = sl_result_review(out, sl_json_text(work[0].line, "folder"),
                                                  &g->run, &why);

        if (review == SL_ERR_EXISTS && events != NULL && events->note != NULL)
            events->note(events->ctx, why.detail);
        else if (review != SL_OK && review != SL_ERR_EXISTS) {
            st = review;
            if (err != NULL)
                *err = why;
        }
    }
    for (size_t i = 0; work != NULL && i < count; i++) {
        json_decref(work[i].line);
        free(work[i].shot);
    }
    free(work);
    return st;
}

/* What is gathered into OUT_DIR's journal is no share any more. */
static void forget_own_shares(const gathering *g)
{
    char **list = NULL;
    size_t count = 0;

    if (list_shares(&list, &count, g->run.out_dir, NULL) != SL_OK)
        return;
    for (size_t i = 0; i < count; i++) {
        char rest[80];
        char *path;

        (void)snprintf(rest, sizeof rest, ".squareleaf/%.60s", list[i]);
        path = sl_path_join(g->run.out_dir, rest);
        if (path != NULL)
            (void)unlink(path);
        free(path);
        free(list[i]);
    }
    free(list);
}

/* What the shares were told and found is what the report tells. */
static sl_status recall(gathering *g, sl_album_params *params, sl_error *err)
{
    json_t *line;

    if (g->settings == NULL)
        return sl_fail(err, SL_ERR_NO_SHOTS, "album",
                       "%s: there is nothing to gather: no share has made a page", g->run.out_dir);
    line = json_copy(g->settings);
    if (!json_equal(g->run.journal->settings, line)) {
        const sl_status st = sl_journal_add(g->run.journal, line, err);

        if (st != SL_OK)
            return st;
    } else {
        json_decref(line);
    }
    sl_report_read_settings(&params->settings, json_object_get(g->settings, "settings"));
    params->expect = (size_t)json_integer_value(json_object_get(g->settings, "expect"));
    g->run.key = sl_json_text(g->settings, "key");
    g->run.skipped = json_object_get(g->close, "skipped");
    g->run.optics_note = sl_json_text(g->close, "optics_note");
    if (json_is_object(json_object_get(g->close, "optics"))
        && sl_report_read_optics(&g->optics, json_object_get(g->close, "optics")))
        g->run.optics = &g->optics;
    return SL_OK;
}

static bool same_folder(const char *a, const char *b)
{
    sl_file_id p;
    sl_file_id q;

    return sl_file_identify(&p, a) && sl_file_identify(&q, b) && p.device == q.device
           && p.inode == q.inode;
}

static sl_status gather(gathering *g, const char *const *folder, size_t count, sl_error *err)
{
    static const char *const folders[] = { "masters", "access", "unfinished", "review" };
    sl_status st = SL_OK;

    for (size_t i = 0; st == SL_OK && i < sizeof folders / sizeof *folders; i++) {
        char *path = sl_path_join(g->run.out_dir, folders[i]);

        if (path == NULL)
            st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
        else if (mkdir(path, 0777) != 0 && errno != EEXIST)
            st = sl_fail_errno(err, errno, "album", path);
        free(path);
    }
    if (st == SL_OK)
        st = take_folder(g, g->run.out_dir, true, err);
    for (size_t i = 0; st == SL_OK && i < count; i++)
        if (!same_folder(folder[i], g->run.out_dir))
            st = take_folder(g, folder[i], false, err);
    return st;
}

static sl_status count_shares(size_t *count, const char *folder, sl_error *err)
{
    char **list = NULL;
    const sl_status st = list_shares(&list, count, folder, err);

    if (st == SL_OK)
        free_list(list, *count);
    return st;
}

/* Asked before a folder is made. */
static sl_status check_shares(const char *out_dir, const char *const *folder, size_t count,
                              sl_error *err)
{
    size_t shares = 0;
    sl_status st = count == 0 ? count_shares(&shares, out_dir, err) : SL_OK;

    if (st == SL_OK && count == 0 && shares == 0)
        st = sl_fail(err, SL_ERR_NO_SHOTS, "album",
                     "%s: there is nothing to gather: no share has made a page, or all of them "
                     "were gathered before",
                     out_dir);
    for (size_t i = 0; i < count && st == SL_OK; i++) {
        if (same_folder(folder[i], out_dir))
            continue;
        st = count_shares(&shares, folder[i], err);
        if (st == SL_OK && shares == 0)
            st = sl_fail(err, SL_ERR_NO_SHOTS, "album",
                         "%s holds no share: squareleaf album SHOTS_DIR %s --share K/N makes one",
                         folder[i], folder[i]);
    }
    return st;
}

sl_status sl_album_gather(sl_album *out, const char *out_dir, const char *const *share_dirs,
                          size_t count, bool force, const sl_album_events *events, sl_error *err)
{
    sl_album_params params = { .settings = sl_settings_defaults(), .force = force };
    sl_corrections corrections = { .path = NULL };
    pthread_mutex_t mutex;
    gathering g = { .journal = SL_JOURNAL_NONE };
    sl_status st = SL_OK;

    *out = (sl_album){ 0 };
    (void)pthread_mutex_init(&mutex, NULL);
    g.run = (sl_run){ .out_dir = out_dir, .params = &params, .pattern = SL_NAME_PATTERN, .key = "",
                      .optics_note = "", .shots_dir = "", .journal = &g.journal, .mutex = &mutex,
                      .corrections = &corrections };
    st = check_shares(out_dir, share_dirs, count, err);
    if (st == SL_OK && mkdir(out_dir, 0777) != 0 && errno != EEXIST)
        st = sl_fail_errno(err, errno, "album", out_dir);
    if (st == SL_OK)
        st = sl_journal_open(&g.journal, out_dir, (sl_share){ 0, 0 }, NULL, err);
    if (st == SL_OK) {
        sl_sweep(&g.run);
        st = gather(&g, share_dirs, count, err);
    }
    if (st == SL_OK)
        st = recall(&g, &params, err);
    if (st == SL_OK)
        st = sl_corrections_read(&corrections, NULL, out_dir, out_dir, err);
    if (st == SL_OK) {
        say_missing(&g, events);
        st = write_report(out, &g, events, err);
    }
    if (st == SL_OK)
        forget_own_shares(&g);
    sl_corrections_clear(&corrections);
    json_decref(g.settings);
    json_decref(g.close);
    if (g.journal.by_page != NULL)
        sl_journal_close(&g.journal);
    (void)pthread_mutex_destroy(&mutex);
    return st;
}
