#include "album/work.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "album/chain.h"
#include "album/report.h"
#include "base/error.h"
#include "base/sha256.h"

enum { FILES_MOST = 2, EDGE_POINTS = 17 };

static const char *const outcome_names[] = { "pass", "look", "reshoot", "failed", "skipped" };

const char *sl_outcome_name(sl_outcome outcome)
{
    return outcome_names[outcome];
}

char *sl_work_path(const char *folder, const char *rest)
{
    const size_t n = strlen(folder) + strlen(rest) + 2;
    char *path = malloc(n);

    if (path != NULL)
        (void)snprintf(path, n, "%s/%s", folder, rest);
    return path;
}

sl_outcome sl_line_outcome(const json_t *line)
{
    const char *name = json_string_value(json_object_get(line, "outcome"));

    for (int k = 0; name != NULL && k <= SL_OUTCOME_FAILED; k++)
        if (strcmp(name, outcome_names[k]) == 0)
            return (sl_outcome)k;
    return SL_OUTCOME_FAILED;
}

bool sl_line_retired(const json_t *line)
{
    return json_object_get(line, "retired") != NULL;
}

/* ---- what stands from earlier runs ----------------------------------------------------------- */

json_int_t sl_work_time(const struct stat *st)
{
    return (json_int_t)st->st_mtim.tv_sec * 1000000000 + st->st_mtim.tv_nsec;
}

static bool is_integer(const json_t *object, const char *key, json_int_t value)
{
    const json_t *v = json_object_get(object, key);

    return json_is_integer(v) && json_integer_value(v) == value;
}

static bool is_string(const json_t *object, const char *key, const char *value)
{
    const char *v = json_string_value(json_object_get(object, key));

    return v != NULL && strcmp(v, value) == 0;
}

/* Are the files of a page that cannot be good where a person's word puts them? */
static bool rightly_placed(const sl_work *work)
{
    const json_t *file = json_array_get(json_object_get(work->line, "files"), 0);
    const char *rest = json_string_value(json_object_get(file, "path"));
    const bool accepted = work->correction != NULL && work->correction->word == SL_WORD_ACCEPTED
                          && sl_correction_word_stands(work->correction,
                                                       json_object_get(work->line, "report"));

    return rest == NULL || sl_line_outcome(work->line) != SL_OUTCOME_RESHOOT
           || (strncmp(rest, "unfinished/", 11) == 0) == !accepted;
}

static bool files_stand(const sl_work *work, const sl_run *run)
{
    size_t i;
    json_t *file;
    bool stand = rightly_placed(work);

    json_array_foreach(json_object_get(work->line, "files"), i, file) {
        const char *rest = json_string_value(json_object_get(file, "path"));
        char *path = rest != NULL ? sl_work_path(run->out_dir, rest) : NULL;
        struct stat st;

        stand = stand && path != NULL && stat(path, &st) == 0;
        free(path);
    }
    return stand;
}

bool sl_work_stands(const sl_work *work, const sl_run *run)
{
    return work->line != NULL && !run->params->redo && !run->params->rehash
           && is_string(work->line, "shot", work->shot)
           && is_string(work->line, "folder", run->shots_dir)
           && is_integer(work->line, "size", (json_int_t)work->entry->stat.st_size)
           && is_integer(work->line, "mtime", sl_work_time(&work->entry->stat))
           && is_string(work->line, "key", work->key)
           && sl_line_outcome(work->line) != SL_OUTCOME_FAILED && files_stand(work, run);
}

/* ---- output files ---------------------------------------------------------------------------- */

typedef struct output {
    char      rest[SL_PAGE_NAME + 24]; /* path in OUT_DIR */
    char     *path;
    sl_part   part;
    sl_format format;
    bool      with_margin;
    size_t    long_side;
    char      sha256[SL_SHA256_HEX];
    long      size;
} output;

static sl_status hash_of_path(char hex[SL_SHA256_HEX], const char *path, sl_error *err)
{
    FILE *file = fopen(path, "rb");
    sl_status st;

    if (file == NULL)
        return sl_fail_errno(err, errno, "album", path);
    st = sl_sha256_file(hex, file, err);
    (void)fclose(file);
    return st;
}

/* Is a file there that we made and nobody changed since? */
static bool ours(const sl_run *run, const char *rest, const char *path)
{
    char sha256[SL_SHA256_HEX];
    bool made;

    if (hash_of_path(sha256, path, NULL) != SL_OK)
        return false;
    (void)pthread_mutex_lock(run->mutex);
    made = sl_journal_made(run->journal, rest, sha256);
    (void)pthread_mutex_unlock(run->mutex);
    return made;
}

/* May the path be written? A refusal is the page's failure, not the run's. */
static sl_status permit(const output *o, const sl_run *run, sl_error *err)
{
    sl_file_id there;

    if (!sl_file_identify(&there, o->path))
        return SL_OK;
    for (size_t i = 0; i < run->shot_count; i++)
        if (run->shot_id[i].device == there.device && run->shot_id[i].inode == there.inode)
            return sl_fail(err, SL_ERR_EXISTS, "album",
                           "%s is one of the shots: a shot is never written", o->rest);
    if (!run->params->force && !ours(run, o->rest, o->path))
        return sl_fail(err, SL_ERR_EXISTS, "album",
                       "%s is there and was not made by this program, or was changed since: move "
                       "it away, or run with --force",
                       o->rest);
    return SL_OK;
}

static const char *ending(sl_format format)
{
    return format == SL_FORMAT_TIFF ? "tif" : format == SL_FORMAT_PNG ? "png" : "jpg";
}

/* The files that this page becomes: a master, an access copy, both beside each other when the
   page is unfinished. */
static size_t plan_outputs(output out[FILES_MOST], const sl_work *work, const sl_run *run,
                           bool unfinished)
{
    const sl_settings *s = &run->params->settings;
    size_t n = 0;

    memset(out, 0, FILES_MOST * sizeof *out);
    if (s->master != SL_FORMAT_UNKNOWN) {
        out[n].format = s->master;
        out[n].with_margin = true;
        (void)snprintf(out[n].rest, sizeof out[n].rest, "%s/%s.%s",
                       unfinished ? "unfinished" : "masters", work->page, ending(s->master));
        n++;
    }
    if (s->access != SL_FORMAT_UNKNOWN) {
        out[n].format = s->access;
        out[n].long_side = s->access_pixels;
        (void)snprintf(out[n].rest, sizeof out[n].rest, "%s/%s.%s",
                       unfinished ? "unfinished" : "access", work->page, ending(s->access));
        n++;
    }
    return n;
}

static sl_status open_outputs(output *out, size_t count, const sl_run *run, sl_error *err)
{
    for (size_t i = 0; i < count; i++) {
        sl_status st;

        out[i].path = sl_work_path(run->out_dir, out[i].rest);
        if (out[i].path == NULL)
            return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
        st = permit(&out[i], run, err);
        if (st == SL_OK)
            st = sl_part_open(&out[i].part, out[i].path, run->shot_id, run->shot_count,
                              err);
        if (st != SL_OK)
            return st;
    }
    return SL_OK;
}

static json_t *files_of(const output *out, size_t count)
{
    json_t *files = json_array();

    for (size_t i = 0; i < count; i++)
        json_array_append_new(files, json_pack("{s:s, s:s, s:I}", "path", out[i].rest, "sha256",
                                               out[i].sha256, "size", (json_int_t)out[i].size));
    return files;
}

/* Journals files as ours before they get their names. */
static sl_status announce(const output *out, size_t count, const sl_run *run, sl_error *err)
{
    json_t *line = json_pack("{s:o}", "files", files_of(out, count));
    sl_status st;

    if (line == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    (void)pthread_mutex_lock(run->mutex);
    st = sl_journal_add(run->journal, line, err);
    (void)pthread_mutex_unlock(run->mutex);
    return st;
}

static sl_status write_outputs(output *out, size_t count, sl_page *page, const sl_run *run,
                               sl_error *err)
{
    sl_target target[FILES_MOST];
    sl_status st = SL_OK;

    for (size_t i = 0; i < count; i++)
        target[i] = (sl_target){ out[i].part.file, out[i].format, out[i].with_margin,
                                 out[i].long_side };
    if (count > 0)
        st = sl_page_write(page, target, count, run->context, run->stop, err);
    for (size_t i = 0; i < count && st == SL_OK; i++) {
        FILE *file = out[i].part.file;

        if (fseek(file, 0, SEEK_END) != 0 || (out[i].size = ftell(file)) < 0)
            st = sl_fail_errno(err, errno, "album", out[i].rest);
        rewind(file);
        if (st == SL_OK)
            st = sl_sha256_file(out[i].sha256, file, err);
    }
    if (st == SL_OK && count > 0)
        st = announce(out, count, run, err);
    for (size_t i = 0; i < count && st == SL_OK; i++)
        st = sl_part_commit(&out[i].part, err);
    return st;
}

static void close_outputs(output *out, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        sl_part_abort(&out[i].part);
        free(out[i].path);
    }
}

/* Is a file of OUT_DIR named after another page than `page`? */
static bool of_another_page(const char *page, const sl_run *run, const char *rest)
{
    const char *slash = strrchr(rest, '/');
    char name[SL_PAGE_NAME];
    bool there;

    (void)snprintf(name, sizeof name, "%s", slash != NULL ? slash + 1 : rest);
    name[strcspn(name, ".")] = '\0';
    (void)pthread_mutex_lock(run->mutex);
    there = json_object_get(run->journal->by_page, name) != NULL;
    (void)pthread_mutex_unlock(run->mutex);
    return there && strcmp(name, page) != 0;
}

/* Files of an earlier run that this page no longer has go, if they are still as we made them. */
static void remove_former(const json_t *line, const char *page, const sl_run *run,
                          const output *out, size_t count)
{
    size_t i;
    json_t *file;

    json_array_foreach(json_object_get(line, "files"), i, file) {
        const char *rest = json_string_value(json_object_get(file, "path"));
        char *path = rest != NULL ? sl_work_path(run->out_dir, rest) : NULL;
        bool still = false;

        for (size_t k = 0; k < count; k++)
            still = still || strcmp(out[k].rest, rest) == 0;
        if (path != NULL && !still && !of_another_page(page, run, rest) && ours(run, rest, path))
            (void)unlink(path);
        free(path);
    }
}

void sl_work_remove_files(const json_t *line, const sl_run *run)
{
    const char *page = json_string_value(json_object_get(line, "page"));

    if (page != NULL)
        remove_former(line, page, run, NULL, 0);
}

/* ---- the line -------------------------------------------------------------------------------- */

static json_t *new_line(const sl_work *work, const sl_run *run, const char *sha256,
                        sl_outcome outcome)
{
    json_t *line = json_pack("{s:s, s:s, s:s, s:s, s:I, s:I, s:s, s:s, s:s}", "page", work->page, "shot",
                     work->shot, "folder", run->shots_dir, "sha256", sha256, "size",
                     (json_int_t)work->entry->stat.st_size, "mtime",
                     sl_work_time(&work->entry->stat), "key", work->key, "program", SL_VERSION,
                     "outcome", sl_outcome_name(outcome));

    if (strcmp(work->key, run->key) != 0) /* what the key is without the correction */
        json_object_set_new(line, "album_key", json_string(run->key));
    if (work->correction != NULL && work->correction->replaces != NULL)
        json_object_set_new(line, "replaced", json_string(work->correction->replaces));
    return line;
}

static sl_status journal(sl_work *work, const sl_run *run, json_t *line, sl_error *err)
{
    sl_status st;

    if (line == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    json_incref(line);
    (void)pthread_mutex_lock(run->mutex);
    st = sl_journal_add(run->journal, line, err);
    (void)pthread_mutex_unlock(run->mutex);
    if (st == SL_OK) {
        json_decref(work->line);
        work->line = line;
        work->done = true;
    } else {
        json_decref(line);
    }
    return st;
}

static sl_status journal_failure(sl_work *work, const sl_run *run, const char *sha256,
                                 const char *why, sl_error *err)
{
    json_t *line = new_line(work, run, sha256, SL_OUTCOME_FAILED);

    if (line != NULL)
        json_object_set_new(line, "error", sl_report_name(why));
    return journal(work, run, line, err);
}

static sl_status journal_page(sl_work *work, const sl_run *run, const sl_page *page,
                              const output *out, size_t count, sl_error *err)
{
    json_t *line = new_line(work, run, page->shot_sha256, (sl_outcome)page->inspection.verdict);

    if (line != NULL) {
        json_object_set_new(line, "files", files_of(out, count));
        json_object_set_new(line, "report", sl_report_page(page, 0, EDGE_POINTS));
    }
    return journal(work, run, line, err);
}

/* ---- one shot -------------------------------------------------------------------------------- */

/* Errors that end the run: the next page would meet them too. */
static bool ends_the_run(sl_status st)
{
    return st == SL_ERR_SPACE || st == SL_ERR_IO || st == SL_ERR_PERMISSION
           || st == SL_ERR_CANCELLED;
}

/* No good page, and nobody said that it is good as it is. */
static bool is_unfinished(const sl_work *work, const sl_page *page)
{
    json_t *report;
    bool accepted;

    if (page->inspection.verdict != SL_RESHOOT || work->correction == NULL
        || work->correction->word != SL_WORD_ACCEPTED)
        return page->inspection.verdict == SL_RESHOOT;
    report = sl_report_page(page, 0, 0);
    accepted = sl_correction_word_stands(work->correction, report);
    json_decref(report);
    return !accepted;
}

static sl_status flatten(sl_work *work, const sl_run *run, sl_page *page, sl_error *err)
{
    output out[FILES_MOST];
    size_t count = 0;
    sl_error why = { SL_OK, NULL, "" };
    sl_status st = SL_OK;

    if (page->has_map) {
        count = plan_outputs(out, work, run, is_unfinished(work, page));
        st = open_outputs(out, count, run, &why);
        if (st == SL_OK)
            st = write_outputs(out, count, page, run, &why);
    }
    if (st == SL_OK) {
        remove_former(work->line, work->page, run, out, count);
        st = journal_page(work, run, page, out, count, err);
    } else if (ends_the_run(st)) {
        /* a writer knows its format, not its file */
        if (strstr(why.detail, work->page) == NULL)
            (void)sl_fail(err, st, why.stage, "%s: %s", work->page, why.detail);
        else if (err != NULL)
            *err = why;
    } else {
        st = journal_failure(work, run, page->shot_sha256, why.detail, err);
    }
    close_outputs(out, count);
    return st;
}

sl_status sl_work_do(sl_work *work, const sl_run *run, sl_error *err)
{
    sl_page *page = NULL;
    void *bytes = NULL;
    size_t size = 0;
    char sha256[SL_SHA256_HEX] = "";
    sl_error why = { SL_OK, NULL, "" };
    sl_status st;

    st = sl_file_read(&bytes, &size, work->entry->path, SL_WORK_FILE_MOST, &why);
    if (st == SL_OK && size == 0)
        st = sl_fail(&why, SL_ERR_FORMAT, "file",
                     "the file is empty: copy it again from the camera or card");
    if (st == SL_OK) {
        sl_sha256(sha256, bytes, size);
        if (!run->params->redo && is_string(work->line, "sha256", sha256)
            && is_string(work->line, "key", work->key)
            && sl_line_outcome(work->line) != SL_OUTCOME_FAILED && files_stand(work, run)) {
            /* touched, copied or renamed, but the same shot: only that is noted */
            json_t *line = json_deep_copy(work->line);
            json_t *report = json_object_get(line, "report");

            json_object_set_new(line, "mtime", json_integer(sl_work_time(&work->entry->stat)));
            json_object_set_new(line, "shot", json_string(work->shot));
            json_object_set_new(line, "folder", json_string(run->shots_dir));
            if (json_is_object(report))
                json_object_set_new(report, "shot", json_string(work->shot));
            work->keep = true;
            free(bytes);
            return journal(work, run, line, err);
        }
        st = sl_page_chain(&page, bytes, size, work->entry->name, &work->settings,
                           run->optics, work->outline, &why);
    }
    free(bytes);
    if (st != SL_OK)
        return journal_failure(work, run, sha256, why.detail, err);
    st = flatten(work, run, page, err);
    sl_page_free(page);
    return st;
}
