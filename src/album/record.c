/* What OUT_DIR holds, for whoever comes after the run: report.json, and the journal beside it. */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "album/folder.h"
#include "album/journal.h"
#include "album/names.h"
#include "album/report.h"
#include "album/work.h"
#include "base/error.h"
#include "base/file.h"
#include "base/text.h"

/* Bytes of a report: a thousand times that of an album of a hundred pages. */
static const size_t REPORT_MOST = (size_t)1 << 30;

/* The longest side that --page-size takes. */
static const double MM_MOST = 10000;

/* What the record's strings live in. */
typedef struct record_memory {
    json_t    *report;
    sl_journal journal;
} record_memory;

/* NULL for what is not there or empty. */
static const char *words_of(const json_t *page, const char *key)
{
    const char *text = sl_json_text(json_object_get(page, "words"), key);

    return *text != '\0' ? text : NULL;
}

/* ---- one page -------------------------------------------------------------------------------- */

/* A person's word: "accepted", or an object that says so. */
static bool has_word(const json_t *page, const char *word)
{
    const json_t *said = json_object_get(page, "word");

    return strcmp(json_is_string(said) ? json_string_value(said) : sl_json_text(said, "says"), word)
           == 0;
}

/* Where the shot was; NULL when no journal tells. */
static sl_status find_shot(char **path, const json_t *line, const char *shot, sl_error *err)
{
    const char *folder = json_string_value(json_object_get(line, "folder"));
    char *in = folder != NULL ? sl_text_name(folder) : NULL;
    char *name = sl_text_name(shot);

    *path = in != NULL && name != NULL ? sl_path_join(in, name) : NULL;
    free(in);
    free(name);
    return *path != NULL || folder == NULL ? SL_OK
                                           : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
}

/* Only files whose path stays in OUT_DIR; any other is no word of ours. */
static sl_status take_files(sl_record_file **out, size_t *count, const json_t *files,
                            sl_error *err)
{
    size_t i;
    const json_t *file;

    *out = calloc(json_array_size(files) + 1, sizeof **out);
    if (*out == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    json_array_foreach(files, i, file) {
        const char *path = sl_json_text(file, "path");

        if (!sl_path_stays(path))
            return sl_fail(err, SL_ERR_FORMAT, "album",
                           "report.json names a file outside of its folder: %s", path);
        (*out)[(*count)++] = (sl_record_file){
            path, sl_json_text(file, "sha256"),
            (uint64_t)json_integer_value(json_object_get(file, "size")) };
    }
    return SL_OK;
}

static const sl_record_file *access_of(const sl_record_page *page)
{
    for (size_t i = 0; i < page->files; i++) {
        const char *dot = strrchr(page->file[i].path, '.');

        if (dot != NULL && strcmp(dot, ".jpg") == 0)
            return &page->file[i];
    }
    return NULL;
}

static sl_status look_for_files(bool *there, const sl_record *record, const sl_record_page *page,
                                sl_error *err)
{
    *there = true;
    for (size_t i = 0; i < page->files; i++) {
        char *path = sl_path_join(record->out_dir, page->file[i].path);
        struct stat st;

        if (path == NULL)
            return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
        *there = *there && stat(path, &st) == 0 && S_ISREG(st.st_mode);
        free(path);
    }
    return SL_OK;
}

static sl_gap gap_of(const sl_record_page *page, const json_t *from, bool files_there)
{
    if (page->outcome == SL_OUTCOME_FAILED)
        return SL_GAP_FAILED;
    if (has_word(from, "refused"))
        return SL_GAP_REFUSED;
    if (page->outcome == SL_OUTCOME_RESHOOT && (!page->accepted || page->files == 0))
        return SL_GAP_RESHOOT;
    return files_there ? SL_GAP_NONE : SL_GAP_NO_FILE;
}

/* line  the page's in the journal, or NULL */
static sl_status take_page(sl_record_page *to, const sl_record *record, const json_t *from,
                           const json_t *line, sl_error *err)
{
    const json_t *mm = json_object_get(from, "page_mm");
    const char *error = json_string_value(json_object_get(from, "error"));
    const json_t *reason = json_array_get(json_object_get(from, "reasons"), 0);
    bool there = false;
    sl_status st;

    to->page = sl_json_text(from, "page");
    to->label = sl_label_short(sl_line_label(from));
    to->shot = sl_json_text(from, "shot");
    to->shot_sha256 = sl_json_text(from, "sha256");
    to->outcome = sl_line_outcome(from);
    to->accepted = has_word(from, "accepted");
    to->why = error != NULL ? error
              : to->outcome != SL_OUTCOME_PASS ? sl_json_text(reason, "text")
                                               : "";
    to->words = (sl_words){ words_of(from, "caption"), words_of(from, "date"),
                            words_of(from, "place"), words_of(from, "people") };
    for (size_t i = 0; i < 2; i++) {
        const double side = json_number_value(json_array_get(mm, i));
        const double other = json_number_value(json_array_get(mm, 1 - i));

        to->page_mm[i] = side > 0 && side < MM_MOST && other > 0 && other < MM_MOST ? side : 0;
    }
    to->ppi = json_number_value(json_object_get(json_object_get(from, "written"), "ppi"));
    st = find_shot(&to->shot_path, line, to->shot, err);
    if (st == SL_OK)
        st = take_files(&to->file, &to->files, json_object_get(from, "files"), err);
    if (st == SL_OK)
        st = take_files(&to->picture, &to->pictures,
                        json_object_get(json_object_get(from, "review"), "files"), err);
    if (st == SL_OK)
        st = look_for_files(&there, record, to, err);
    to->access = access_of(to);
    to->gap = gap_of(to, from, there);
    return st;
}

/* ---- all pages ------------------------------------------------------------------------------- */

/* Pages that have a name and were never made: the run that named them was stopped. */
static sl_status take_unmade(sl_record *record, const sl_journal *journal, sl_error *err)
{
    sl_status st = SL_OK;
    const char *name;
    const json_t *line;

    json_object_foreach(journal->by_page, name, line) {
        const char *shot = sl_json_text(line, "shot");

        char *path = NULL;

        if (json_object_get(line, "outcome") != NULL || st != SL_OK)
            continue;
        st = find_shot(&path, line, shot, err);
        record->page[record->pages++] = (sl_record_page){
            .page = name, .label = sl_label_short(sl_line_label(line)), .shot = shot,
            .shot_path = path, .shot_sha256 = "", .outcome = SL_OUTCOME_FAILED, .gap = SL_GAP_NOT_MADE,
            .why = "The run was stopped before this page was made: run album again." };
    }
    return st;
}

static int by_name(const void *a, const void *b)
{
    const sl_record_page *p = a;
    const sl_record_page *q = b;
    const int order = sl_natural_order(p->label, q->label);

    return order != 0 ? order : sl_natural_order(p->page, q->page);
}

static sl_status take_pages(sl_record *record, const record_memory *m, sl_error *err)
{
    const json_t *pages = json_object_get(m->report, "pages");
    const json_t *by_page = m->journal.by_page;
    size_t made;
    size_t i;
    const json_t *page;
    sl_status st = SL_OK;

    record->page = calloc(json_array_size(pages) + json_object_size(by_page) + 1,
                          sizeof *record->page);
    if (record->page == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    json_array_foreach(pages, i, page) {
        st = take_page(&record->page[record->pages], record, page,
                       json_object_get(by_page, sl_json_text(page, "page")), err);
        record->pages++;
        if (st != SL_OK)
            return st;
    }
    made = record->pages;
    st = take_unmade(record, &m->journal, err);
    if (record->pages > made)
        qsort(record->page, record->pages, sizeof *record->page, by_name);
    for (i = 0; i < record->pages; i++)
        record->gaps += record->page[i].gap != SL_GAP_NONE;
    return st;
}

/* ---- the folder ------------------------------------------------------------------------------ */

/* A run's own lock is for writing: it waits for no reader, and no reader for it. */
static sl_status hold(sl_record *record, sl_error *err)
{
    struct flock whole = { .l_type = F_RDLCK, .l_whence = SEEK_SET };
    char *path = sl_path_join(record->out_dir, ".squareleaf/lock");

    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    record->lock = open(path, O_RDONLY | O_CLOEXEC); /* none: no run was ever here */
    free(path);
    if (record->lock >= 0 && fcntl(record->lock, F_SETLK, &whole) != 0
        && (errno == EACCES || errno == EAGAIN))
        return sl_fail(err, SL_ERR_BUSY, "album",
                       "a run is working on %s: wait until it has ended", record->out_dir);
    return SL_OK;
}

static sl_status read_report(json_t **out, const sl_record *record, sl_error *err)
{
    char *path = sl_path_join(record->out_dir, "report.json");
    json_error_t why;
    json_t *report = NULL;
    sl_file_id id;
    void *bytes = NULL;
    size_t size = 0;
    sl_status st;

    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (!sl_file_identify(&id, path))
        st = sl_fail(err, SL_ERR_NO_SHOTS, "album",
                     "%s has no report.json: it is no folder that `squareleaf album` made",
                     record->out_dir);
    else
        st = sl_file_read(&bytes, &size, path, REPORT_MOST, err);
    free(path);
    if (st != SL_OK)
        return st;
    report = json_loadb(size > 0 ? bytes : "", size, 0, &why);
    free(bytes);
    if (report == NULL || !json_is_array(json_object_get(report, "pages"))) {
        st = sl_fail(err, SL_ERR_FORMAT, "album",
                     "report.json in %s is damaged (%s): run album again, it writes a new one",
                     record->out_dir, report == NULL ? why.text : "no pages");
        json_decref(report);
        return st;
    }
    *out = report;
    return SL_OK;
}

static char *without_slashes(const char *path)
{
    size_t n = strlen(path);

    while (n > 1 && path[n - 1] == '/')
        n--;
    return strndup(path, n);
}

sl_status sl_record_open(sl_record **out, const char *out_dir, sl_error *err)
{
    sl_record *record = calloc(1, sizeof *record);
    record_memory *m = calloc(1, sizeof *m);
    sl_status st = SL_OK;

    if (record != NULL) {
        record->lock = -1;
        record->out_dir = without_slashes(out_dir);
        record->memory = m;
    }
    if (m != NULL)
        m->journal = (sl_journal)SL_JOURNAL_NONE;
    if (record == NULL || m == NULL || record->out_dir == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (st == SL_OK)
        st = hold(record, err);
    if (st == SL_OK)
        st = read_report(&m->report, record, err);
    if (st == SL_OK)
        st = sl_journal_read(&m->journal, out_dir, err);
    if (st == SL_OK)
        st = take_pages(record, m, err);
    if (st != SL_OK) {
        if (record == NULL)
            free(m);
        sl_record_free(record);
        return st;
    }
    *out = record;
    return SL_OK;
}

void sl_record_free(sl_record *record)
{
    record_memory *m;

    if (record == NULL)
        return;
    m = record->memory;
    for (size_t i = 0; i < record->pages; i++) {
        free(record->page[i].shot_path);
        free(record->page[i].file);
        free(record->page[i].picture);
    }
    free(record->page);
    if (m != NULL) {
        json_decref(m->report);
        sl_journal_close(&m->journal);
    }
    free(m);
    if (record->lock >= 0)
        (void)close(record->lock);
    free(record->out_dir);
    free(record);
}

bool sl_record_made(const sl_record *record, const char *path, const char *sha256)
{
    const record_memory *m = record->memory;

    return sha256 != NULL ? sl_journal_made(&m->journal, path, sha256)
                          : json_object_get(m->journal.made, path) != NULL;
}
