#include "album/work.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "album/chain.h"
#include "album/likeness.h"
#include "album/ours.h"
#include "album/packed.h"
#include "album/pictures.h"
#include "album/report.h"
#include "album/words.h"
#include "base/error.h"
#include "base/file.h"
#include "base/sha256.h"

enum { FILES_MOST = 2, EDGE_POINTS = 17 };

static const char *const outcome_names[] = { "pass", "look", "reshoot", "failed", "skipped" };

const char *sl_outcome_name(sl_outcome outcome)
{
    return outcome_names[outcome];
}

sl_outcome sl_line_outcome(const json_t *line)
{
    const char *name = json_string_value(json_object_get(line, "outcome"));

    for (int k = 0; name != NULL && k <= SL_OUTCOME_FAILED; k++)
        if (strcmp(name, outcome_names[k]) == 0)
            return (sl_outcome)k;
    return SL_OUTCOME_FAILED;
}

const char *sl_line_gravest(const json_t *line)
{
    const json_t *reasons = json_object_get(json_object_get(line, "report"), "reasons");
    const char *error = json_string_value(json_object_get(line, "error"));
    const char *text = json_string_value(json_object_get(json_array_get(reasons, 0), "text"));

    if (error != NULL)
        return error;
    return text != NULL && sl_line_outcome(line) != SL_OUTCOME_PASS ? text : "";
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
        char *path = rest != NULL ? sl_path_join(run->out_dir, rest) : NULL;
        struct stat st;

        stand = stand && path != NULL && stat(path, &st) == 0;
        free(path);
    }
    return stand;
}

bool sl_work_may_stand(const sl_work *work, const sl_run *run)
{
    return work->line != NULL && !run->params->redo
           && is_integer(work->line, "size", (json_int_t)work->entry->stat.st_size)
           && is_string(work->line, "key", work->key)
           && sl_line_outcome(work->line) != SL_OUTCOME_FAILED && files_stand(work, run);
}

bool sl_work_stands(const sl_work *work, const sl_run *run)
{
    return work->line != NULL && !run->params->rehash
           && is_string(work->line, "shot", work->shot)
           && is_string(work->line, "folder", run->shots_dir)
           && is_integer(work->line, "mtime", sl_work_time(&work->entry->stat))
           && sl_work_may_stand(work, run);
}

/* ---- output files ---------------------------------------------------------------------------- */

/* The files that a page becomes. */
typedef struct outputs {
    sl_ours_file file[FILES_MOST];
    sl_target    target[FILES_MOST];
    size_t       count;
} outputs;

static const char *ending(sl_format format)
{
    return format == SL_FORMAT_TIFF ? "tif" : format == SL_FORMAT_PNG ? "png" : "jpg";
}

static sl_status open_output(outputs *out, const char *folder, const char *page, sl_format format,
                             bool with_margin, size_t long_side, const sl_run *run,
                             sl_error *err)
{
    char rest[SL_PAGE_NAME + 24];
    sl_status st;

    (void)snprintf(rest, sizeof rest, "%s/%s.%s", folder, page, ending(format));
    st = sl_ours_open(&out->file[out->count], rest, run, err);
    if (st == SL_OK) {
        out->target[out->count] = (sl_target){ out->file[out->count].part.file, format,
                                               with_margin, long_side };
        out->count++;
    }
    return st;
}

/* A master, an access copy; both beside each other when the page is unfinished. */
static sl_status open_outputs(outputs *out, const sl_work *work, const sl_run *run,
                              bool unfinished, sl_error *err)
{
    const sl_settings *s = &run->params->settings;
    sl_status st = SL_OK;

    if (s->master != SL_FORMAT_UNKNOWN)
        st = open_output(out, unfinished ? "unfinished" : "masters", work->page, s->master, true,
                         0, run, err);
    if (st == SL_OK && s->access != SL_FORMAT_UNKNOWN)
        st = open_output(out, unfinished ? "unfinished" : "access", work->page, s->access, false,
                         s->access_pixels, run, err);
    return st;
}

static sl_status write_outputs(outputs *out, json_t *files, sl_page *page, const sl_run *run,
                               sl_error *err)
{
    sl_status st = SL_OK;

    if (out->count > 0)
        st = sl_page_write(page, out->target, out->count, run->context, run->stop, err);
    if (st == SL_OK)
        st = sl_ours_commit(out->file, out->count, files, run, err);
    return st;
}

static void close_outputs(outputs *out)
{
    for (size_t i = 0; i < out->count; i++)
        sl_ours_close(&out->file[i]);
}

/* Is a file of OUT_DIR named after another page than `page`? */
static bool of_another_page(const char *page, const sl_run *run, const char *rest)
{
    const char *slash = strrchr(rest, '/');
    char name[SL_PAGE_NAME + 24];
    bool there;

    (void)snprintf(name, sizeof name, "%s", slash != NULL ? slash + 1 : rest);
    name[strcspn(name, ".")] = '\0'; /* a page's name has none */
    (void)pthread_mutex_lock(run->mutex);
    there = json_object_get(run->journal->by_page, name) != NULL;
    (void)pthread_mutex_unlock(run->mutex);
    return there && strcmp(name, page) != 0;
}

static bool lists(const json_t *files, const char *rest)
{
    size_t i;
    const json_t *file;

    json_array_foreach(files, i, file)
        if (is_string(file, "path", rest))
            return true;
    return false;
}

/* Files of an earlier run that this page no longer has go, if they are still as we made them. */
static void remove_former(const json_t *former, const json_t *now, const char *page,
                          const sl_run *run)
{
    size_t i;
    const json_t *file;

    json_array_foreach(former, i, file) {
        const char *rest = json_string_value(json_object_get(file, "path"));
        char *path = rest != NULL ? sl_path_join(run->out_dir, rest) : NULL;

        if (path != NULL && !lists(now, rest) && !of_another_page(page, run, rest)
            && sl_ours_made(run, rest, path))
            (void)unlink(path);
        free(path);
    }
}

static const json_t *pictures_of(const json_t *line)
{
    return json_object_get(json_object_get(line, "review"), "files");
}

void sl_work_remove_files(const json_t *line, bool pictures, const sl_run *run)
{
    const char *page = json_string_value(json_object_get(line, "page"));

    if (page == NULL || run->params->dry_run)
        return;
    remove_former(json_object_get(line, "files"), NULL, page, run);
    if (pictures)
        remove_former(pictures_of(line), NULL, page, run);
}

/* ---- the line -------------------------------------------------------------------------------- */

static json_t *new_line(const sl_work *work, const sl_run *run, const char *sha256,
                        sl_outcome outcome)
{
    json_t *line = json_pack("{s:s, s:s, s:s, s:s, s:I, s:I, s:s, s:s, s:s}", "page", work->page,
                             "shot", work->shot, "folder", run->shots_dir, "sha256", sha256,
                             "size", (json_int_t)work->entry->stat.st_size, "mtime",
                             sl_work_time(&work->entry->stat), "key", work->key, "program",
                             SL_VERSION, "outcome", sl_outcome_name(outcome));

    if (strncmp(work->page, "page-", 5) != 0 || strcmp(work->page + 5, work->label) != 0)
        json_object_set_new(line, "label", json_string(work->label));
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
    (void)pthread_mutex_lock(run->mutex);
    st = sl_journal_add(run->journal, line, err);
    if (st == SL_OK) {
        json_decref(work->line);
        work->line = json_incref(json_object_get(run->journal->by_page, work->page));
        work->done = true;
    }
    (void)pthread_mutex_unlock(run->mutex);
    return st;
}

static sl_status journal_failure(sl_work *work, const sl_run *run, const char *sha256,
                                 const char *why, sl_error *err)
{
    json_t *line = new_line(work, run, sha256, SL_OUTCOME_FAILED);

    if (json_object_set_new(line, "error", sl_report_name(why)) != 0) {
        json_decref(line);
        line = NULL;         /* out of memory */
    }
    return journal(work, run, line, err);
}

static sl_status journal_page(sl_work *work, const sl_run *run, const sl_page *page,
                              json_t *files, json_t *pictures, sl_error *err)
{
    json_t *line = new_line(work, run, page->shot_sha256, (sl_outcome)page->inspection.verdict);
    json_t *words = sl_words_json(&work->words);
    json_t *report = sl_report_page(page, 0, EDGE_POINTS);

    if (!sl_packed_close(report, pictures)) {
        json_decref(line);
        line = NULL;         /* out of memory */
    }
    if (line != NULL) {
        json_object_set(line, "files", files);
        if (pictures != NULL)
            json_object_set(line, "review", pictures);
        if (page->has_map) {
            sl_likeness likeness;

            sl_likeness_take(likeness, page);
            json_object_set_new(line, "likeness", json_string(likeness));
        }
        if (words != NULL)
            json_object_set_new(report, "words", words);
        if (json_object_set_new(line, "report", report) != 0) {
            json_decref(line);
            line = NULL;     /* out of memory */
        }
    } else {
        json_decref(words);
        json_decref(report);
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
    outputs out = { .count = 0 };
    json_t *files = json_array();
    json_t *pictures = NULL;
    sl_error why = { SL_OK, NULL, "" };
    sl_status st = SL_OK;

    page->words = work->words;
    if (page->has_map)
        st = open_outputs(&out, work, run, is_unfinished(work, page), &why);
    if (st == SL_OK)
        st = write_outputs(&out, files, page, run, &why);
    if (st == SL_OK)
        st = sl_pictures_write(&pictures, page, work->page, run, &why);
    if (st == SL_OK) {
        remove_former(json_object_get(work->line, "files"), files, work->page, run);
        remove_former(pictures_of(work->line), json_object_get(pictures, "files"), work->page,
                      run);
        st = journal_page(work, run, page, files, pictures, err);
    } else if (ends_the_run(st)) {
        /* a writer knows its format, not its file */
        if (strstr(why.detail, work->page) == NULL)
            (void)sl_fail(err, st, why.stage, "%s: %s", work->page, why.detail);
        else if (err != NULL)
            *err = why;
    } else {
        st = journal_failure(work, run, page->shot_sha256, why.detail, err);
    }
    close_outputs(&out);
    json_decref(pictures);
    json_decref(files);
    return st;
}

/* Is the folder that a shot lay in gone, or empty, as where a disk is not mounted any more? */
static bool is_gone(const char *shot)
{
    const char *slash = strrchr(shot, '/');
    char *folder = strndup(shot, slash != NULL ? (size_t)(slash - shot) : 0);
    DIR *dir = folder != NULL ? opendir(folder) : NULL;
    const struct dirent *d;
    /* not for want of rights or descriptors */
    bool gone = dir != NULL
                || (folder != NULL && (errno == ENOENT || errno == ENOTDIR || errno == EIO
                                       || errno == ENODEV || errno == ESTALE));

    while (dir != NULL && gone && (d = readdir(dir)) != NULL)
        gone = strcmp(d->d_name, ".") == 0 || strcmp(d->d_name, "..") == 0;
    if (dir != NULL)
        (void)closedir(dir);
    free(folder);
    return gone;
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
    /* no failure of this shot: all the others would meet it too */
    if (st == SL_ERR_IO && is_gone(work->entry->path))
        return sl_fail(err, st, "album",
                       "%s: the folder of shots is gone: is its disk still plugged in? What is "
                       "done stays",
                       work->entry->path);
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
                           run->optics, run->place, work->outline, &why);
    }
    free(bytes);
    if (st != SL_OK)
        return journal_failure(work, run, sha256, why.detail, err);
    st = flatten(work, run, page, err);
    sl_page_free(page);
    return st;
}
