/*
 * Is every byte as it was recorded? Of a bag its manifests say so (RFC 8493, section 3); of an
 * album's folder its report and journal, the shots included.
 */
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "bag/carry.h"
#include "bag/gather.h"
#include "bag/manifest.h"
#include "bag/tree.h"
#include "base/compiler.h"
#include "base/error.h"
#include "base/file.h"
#include "base/text.h"

/* Bytes of a tag file: manifests of a million files have fewer. */
static const size_t TAG_MOST = (size_t)1 << 30;

typedef struct checker {
    const char           *dir;
    sl_verified           told;
    const sl_keep_events *events;
    sl_carrier            carrier;
    sl_tree               tree;
    const char           *reading; /* the manifest whose faults are told of */
} checker;

const char *sl_finding_name(sl_finding finding)
{
    static const char *const names[] = { "missing", "changed", "faulty", "extra",
                                        "out of reach", "not checked" };

    return names[finding];
}

static void find(checker *c, sl_finding finding, const char *path, const char *why)
{
    char *shown = sl_text_shown(path);

    c->told.found[finding]++;
    if (c->events != NULL && c->events->finding != NULL)
        c->events->finding(c->events->ctx, finding, shown != NULL ? shown : "?", why);
    free(shown);
}

static void note(const checker *c, const char *format, ...) SL_PRINTF(2, 3);

static void note(const checker *c, const char *format, ...)
{
    char text[400];
    va_list args;

    if (c->events == NULL || c->events->note == NULL)
        return;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    c->events->note(c->events->ctx, text);
}

/*
 * Reads a file. What is wrong with the file is a finding, `as`, and *ok is false; an error ends
 * the work.
 */
static sl_status read_file(checker *c, sl_carried *sums, bool *ok, const char *path,
                           const char *shown_path, sl_finding as, sl_error *err)
{
    sl_error why = { SL_OK, NULL, "" };
    const sl_status st = sl_carry(&c->carrier, sums, path, NULL, &why);

    *ok = st == SL_OK;
    if (st == SL_OK) {
        c->told.files++;
        c->told.bytes += (double)sums->size;
    } else if (st == SL_ERR_CANCELLED || st == SL_ERR_NOMEM) {
        if (err != NULL)
            *err = why;
        return st;
    } else {
        find(c, as, shown_path, why.detail);
    }
    return SL_OK;
}

/* ---- a bag: its tag files -------------------------------------------------------------------- */

static bool starts_with(const char *text, const char *start)
{
    return strncmp(text, start, strlen(start)) == 0;
}

static bool is_payload(const char *path)
{
    return starts_with(path, "data/");
}

static void tell_fault(void *ctx, const char *why)
{
    checker *c = ctx;

    find(c, SL_FOUND_FAULT, c->reading, why);
}

/* A tag file's bytes; NULL, and no error, when it is not there. */
static sl_status read_tag(checker *c, void **text, size_t *size, const char *name, sl_error *err)
{
    char *path;
    sl_status st;

    *text = NULL;
    *size = 0;
    if (sl_tree_find(&c->tree, name) == NULL)
        return SL_OK;
    path = sl_path_join(c->dir, name);
    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    st = sl_file_read(text, size, path, TAG_MOST, err);
    free(path);
    return st;
}

/* 2.1.1: two lines. Bags of earlier versions differ in what is no matter here. */
static sl_status check_declaration(checker *c, sl_error *err)
{
    void *text;
    size_t size;
    char *version = NULL;
    char *encoding = NULL;
    sl_status st = read_tag(c, &text, &size, "bagit.txt", err);

    if (st != SL_OK)
        return st;
    if (text == NULL) {
        find(c, SL_FOUND_MISSING, "bagit.txt", "without it this is no bag");
        return SL_OK;
    }
    version = sl_tag_value(text, size, "BagIt-Version");
    encoding = sl_tag_value(text, size, "Tag-File-Character-Encoding");
    if (version == NULL || encoding == NULL)
        find(c, SL_FOUND_FAULT, "bagit.txt", "it names no version or no encoding");
    else if (strcmp(encoding, "UTF-8") != 0)
        find(c, SL_FOUND_FAULT, "bagit.txt", "its tag files are not UTF-8");
    else if (strcmp(version, "1.0") != 0 && strcmp(version, "0.97") != 0)
        note(c, "this bag is of version %s; it is read as 1.0", version);
    free(version);
    free(encoding);
    free(text);
    return SL_OK;
}

/* 2.2.2: bytes and files of the payload. */
static sl_status check_oxum(checker *c, sl_error *err)
{
    void *text;
    size_t size;
    char *oxum;
    char now[60];
    uint64_t bytes = 0;
    size_t files = 0;
    const sl_status st = read_tag(c, &text, &size, "bag-info.txt", err);

    if (st != SL_OK || text == NULL)
        return st;
    for (size_t i = 0; i < c->tree.count; i++)
        if (is_payload(c->tree.file[i].path)) {
            bytes += c->tree.file[i].size;
            files++;
        }
    (void)snprintf(now, sizeof now, "%llu.%zu", (unsigned long long)bytes, files);
    oxum = sl_tag_value(text, size, "Payload-Oxum");
    if (oxum != NULL && strcmp(oxum, now) != 0) {
        char why[160];

        (void)snprintf(why, sizeof why, "Payload-Oxum is %.60s, and data/ has %s", oxum, now);
        find(c, SL_FOUND_FAULT, "bag-info.txt", why);
    }
    free(oxum);
    free(text);
    return SL_OK;
}

/* manifest-sha256.txt ... or, with prefix "tag", tagmanifest-sha256.txt ... */
static sl_status read_manifests(checker *c, sl_manifest *out, const char *prefix, sl_error *err)
{
    sl_status st = SL_OK;

    for (int sum = 0; sum < SL_SUMS && st == SL_OK; sum++) {
        char name[40];
        void *text;
        size_t size;

        (void)snprintf(name, sizeof name, "%smanifest-%s.txt", prefix, sl_sum_name[sum]);
        st = read_tag(c, &text, &size, name, err);
        if (st == SL_OK && sl_tree_find(&c->tree, name) != NULL) {
            c->reading = name;
            st = sl_manifest_read(out, text != NULL ? text : "", size, sum, tell_fault, c, err);
            c->reading = NULL;
        }
        free(text);
    }
    return st;
}

static void note_other_manifests(const checker *c)
{
    for (size_t i = 0; i < c->tree.count; i++) {
        const char *path = c->tree.file[i].path;

        if (starts_with(path, "manifest-") && strcmp(path, "manifest-sha256.txt") != 0
            && strcmp(path, "manifest-sha512.txt") != 0)
            note(c, "%s is not checked: only SHA-256 and SHA-512 are known here", path);
    }
}

/* ---- a bag: its files ------------------------------------------------------------------------ */

/* With two manifests one tells which of file and list is wrong. */
static void judge_sums(checker *c, const sl_listed *line, const sl_carried *now, const char *prefix)
{
    const char *const sum[SL_SUMS] = { now->sha256, now->sha512 };
    int agree = 0;
    int differ = 0;

    for (int k = 0; k < SL_SUMS; k++) {
        agree += line->sum[k] != NULL && strcmp(line->sum[k], sum[k]) == 0;
        differ += line->sum[k] != NULL && strcmp(line->sum[k], sum[k]) != 0;
    }
    if (differ > 0 && agree == 0)
        find(c, SL_FOUND_CHANGED, line->path, "its bytes are not those that were bagged");
    for (int k = 0; k < SL_SUMS && differ > 0 && agree > 0; k++) {
        char name[40];

        (void)snprintf(name, sizeof name, "%smanifest-%s.txt", prefix, sl_sum_name[k]);
        if (line->sum[k] != NULL && strcmp(line->sum[k], sum[k]) != 0)
            find(c, SL_FOUND_CHANGED, name, "it does not agree with the other manifest");
    }
}

static sl_status check_lines(checker *c, const sl_manifest *m, const char *prefix, sl_error *err)
{
    sl_status st = SL_OK;

    for (size_t i = 0; i < m->count && st == SL_OK; i++) {
        const sl_listed *line = &m->line[i];
        char *path = sl_path_join(c->dir, line->path);
        sl_carried now;
        bool ok;

        if (path == NULL)
            return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
        /* RFC 8493, 3: every payload file is in every payload manifest */
        for (int k = 0; k < SL_SUMS; k++)
            if (m->has[k] && line->sum[k] == NULL)
                find(c, SL_FOUND_FAULT, line->path, "one of two manifests does not list it");
        if (sl_tree_find(&c->tree, line->path) == NULL) {
            find(c, SL_FOUND_MISSING, line->path, "it is listed and not there");
        } else {
            st = read_file(c, &now, &ok, path, line->path, SL_FOUND_CHANGED, err);
            if (st == SL_OK && ok)
                judge_sums(c, line, &now, prefix);
        }
        free(path);
    }
    return st;
}

static void find_extra(checker *c, const sl_manifest *payload, const sl_manifest *tags)
{
    const bool tags_listed = tags->has[SL_SUM_256] || tags->has[SL_SUM_512];

    for (size_t i = 0; i < c->tree.count; i++) {
        const char *path = c->tree.file[i].path;

        if (is_payload(path)) {
            if (sl_manifest_find(payload, path) == NULL)
                find(c, SL_FOUND_EXTRA, path, "no manifest lists it");
        } else if (tags_listed && !starts_with(path, "tagmanifest-")
                   && sl_manifest_find(tags, path) == NULL) {
            find(c, SL_FOUND_EXTRA, path, "no tag manifest lists it");
        }
    }
}

static double size_of(const checker *c, const sl_manifest *m)
{
    double bytes = 0;

    for (size_t i = 0; i < m->count; i++) {
        const sl_tree_file *file = sl_tree_find(&c->tree, m->line[i].path);

        bytes += file != NULL ? (double)file->size : 0;
    }
    return bytes;
}

static sl_status verify_bag(checker *c, sl_error *err)
{
    sl_manifest payload = { NULL, 0, { false, false } };
    sl_manifest tags = { NULL, 0, { false, false } };
    sl_status st = check_declaration(c, err);

    c->told.is_bag = true;
    if (st == SL_OK)
        st = check_oxum(c, err);
    if (st == SL_OK)
        st = read_manifests(c, &payload, "", err);
    if (st == SL_OK)
        st = read_manifests(c, &tags, "tag", err);
    if (st == SL_OK) {
        note_other_manifests(c);
        if (!payload.has[SL_SUM_256] && !payload.has[SL_SUM_512])
            find(c, SL_FOUND_MISSING, "manifest-sha256.txt", "nothing says what data/ should hold");
        c->carrier.total = size_of(c, &payload) + size_of(c, &tags);
        st = check_lines(c, &payload, "", err);
    }
    if (st == SL_OK)
        st = check_lines(c, &tags, "tag", err);
    if (st == SL_OK)
        find_extra(c, &payload, &tags);
    sl_manifest_clear(&payload);
    sl_manifest_clear(&tags);
    return st;
}

/* ---- an album's folder ----------------------------------------------------------------------- */

static sl_status check_page_file(checker *c, const sl_record *record, const sl_record_file *file,
                                 sl_error *err)
{
    char *path = sl_path_join(record->out_dir, file->path);
    sl_carried now;
    bool ok;
    sl_status st;

    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    if (sl_tree_find(&c->tree, file->path) == NULL) {
        free(path);
        find(c, SL_FOUND_MISSING, file->path, "the report has it and it is not there");
        return SL_OK;
    }
    st = read_file(c, &now, &ok, path, file->path, SL_FOUND_CHANGED, err);
    free(path);
    if (st == SL_OK && ok && strcmp(now.sha256, file->sha256) != 0)
        find(c, SL_FOUND_CHANGED, file->path, "its bytes are not those that were written");
    return st;
}

static sl_status check_shot(checker *c, const sl_record_page *page, const char *shots_dir,
                            sl_error *err)
{
    char *path;
    sl_carried now;
    bool ok;
    struct stat info;
    sl_status st = sl_gather_shot(&path, page, shots_dir, err);

    if (st != SL_OK)
        return st;
    if (path == NULL || stat(path, &info) != 0) {
        find(c, SL_FOUND_UNSEEN, page->shot,
             shots_dir != NULL ? "the shot is not in the folder that --shots names"
                               : "the shot is not where it was: say where with --shots");
    } else {
        st = read_file(c, &now, &ok, path, path, SL_FOUND_UNSEEN, err);
        if (st == SL_OK && ok && page->shot_sha256[0] != '\0'
            && strcmp(now.sha256, page->shot_sha256) != 0)
            find(c, SL_FOUND_CHANGED, path, "it is not the shot that its page was made of");
    }
    free(path);
    return st;
}

static bool lists(const sl_record_file *file, size_t count, const char *path)
{
    for (size_t k = 0; k < count; k++)
        if (strcmp(file[k].path, path) == 0)
            return true;
    return false;
}

static bool is_page_file(const sl_record *record, const char *path)
{
    for (size_t i = 0; i < record->pages; i++)
        if (lists(record->page[i].file, record->page[i].files, path)
            || lists(record->page[i].picture, record->page[i].pictures, path))
            return true;
    return false;
}

/* Reports that a run wrote, and what no run did. */
static sl_status check_other(checker *c, const sl_record *record, const char *rest, sl_error *err)
{
    char *path;
    sl_carried now;
    bool ok;
    sl_status st;

    if (!sl_record_made(record, rest, NULL)) {
        if (starts_with(rest, "masters/") || starts_with(rest, "access/")
            || starts_with(rest, "unfinished/"))
            find(c, SL_FOUND_EXTRA, rest, "no run made it");
        else
            find(c, SL_FOUND_UNKNOWN, rest, "no run made it, and no sum of it was recorded");
        return SL_OK;
    }
    path = sl_path_join(record->out_dir, rest);
    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    st = read_file(c, &now, &ok, path, rest, SL_FOUND_CHANGED, err);
    free(path);
    if (st == SL_OK && ok && !sl_record_made(record, rest, now.sha256))
        find(c, SL_FOUND_CHANGED, rest, "its bytes are not those that a run wrote");
    return st;
}

static double size_of_album(const checker *c, const sl_record *record, const char *shots_dir,
                            bool without_shots)
{
    double bytes = 0;

    for (size_t i = 0; i < c->tree.count; i++)
        bytes += (double)c->tree.file[i].size;
    for (size_t i = 0; i < record->pages && !without_shots; i++) {
        char *path = NULL;
        struct stat info;

        if (sl_gather_shot(&path, &record->page[i], shots_dir, NULL) == SL_OK && path != NULL
            && stat(path, &info) == 0)
            bytes += (double)info.st_size;
        free(path);
    }
    return bytes;
}

static sl_status verify_album(checker *c, const char *shots_dir, bool without_shots, sl_error *err)
{
    sl_record *record = NULL;
    sl_status st = sl_record_open(&record, c->dir, err);

    if (st != SL_OK)
        return st;
    if (record->gaps > 0)
        note(c, "%zu of the album's %zu pages %s not whole: `squareleaf book` would list them",
             record->gaps, record->pages, record->gaps == 1 ? "is" : "are");
    c->carrier.total = size_of_album(c, record, shots_dir, without_shots);
    for (size_t i = 0; i < record->pages && st == SL_OK; i++) {
        const sl_record_page *page = &record->page[i];

        for (size_t k = 0; k < page->files && st == SL_OK; k++)
            st = check_page_file(c, record, &page->file[k], err);
        for (size_t k = 0; k < page->pictures && st == SL_OK; k++)
            st = check_page_file(c, record, &page->picture[k], err);
    }
    for (size_t i = 0; i < c->tree.count && st == SL_OK; i++)
        if (!is_page_file(record, c->tree.file[i].path))
            st = check_other(c, record, c->tree.file[i].path, err);
    for (size_t i = 0; i < record->pages && st == SL_OK && !without_shots; i++)
        st = check_shot(c, &record->page[i], shots_dir, err);
    sl_record_free(record);
    return st;
}

/* ---- either ---------------------------------------------------------------------------------- */

sl_status sl_verify(sl_verified *out, const char *dir, const char *shots_dir, bool without_shots,
                    const sl_keep_events *events, const volatile int *stop, sl_error *err)
{
    checker c = { .dir = dir, .events = events };
    sl_status st = sl_carrier_new(&c.carrier, 0, events, stop, err);

    if (st != SL_OK)
        return st;
    st = sl_tree_list(&c.tree, dir, ".squareleaf", err);
    if (st == SL_OK) {
        if (sl_tree_find(&c.tree, "bagit.txt") != NULL
            || sl_tree_find(&c.tree, "manifest-sha256.txt") != NULL
            || sl_tree_find(&c.tree, "manifest-sha512.txt") != NULL)
            st = verify_bag(&c, err);
        else if (sl_tree_find(&c.tree, "report.json") != NULL)
            st = verify_album(&c, shots_dir, without_shots, err);
        else
            st = sl_fail(err, SL_ERR_NO_SHOTS, "bag",
                         "%s is neither a bag nor a folder that `squareleaf album` made: it has no "
                         "bagit.txt and no report.json", dir);
    }
    sl_tree_clear(&c.tree);
    sl_carrier_clear(&c.carrier);
    *out = c.told;
    return st;
}
