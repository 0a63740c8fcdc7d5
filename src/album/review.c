/*
 * One file without a server: markup, style, script and data in one. The data is JSON in a script
 * element that no browser runs, with every `<` escaped, so that no name or caption can end it; the
 * page's policy lets no style and no script in but these two, by their hashes (Content Security
 * Policy Level 3, W3C).
 */
#define _XOPEN_SOURCE 700    /* realpath() is of POSIX.1-2008's XSI part */
#include "album/review.h"

#include <stdlib.h>
#include <string.h>

#include "album/ours.h"
#include "album/report.h"
#include "album/seal.h"
#include "base/error.h"
#include "base/file.h"
#include "base/text.h"
#include "review/parts.h"

/* ---- data ------------------------------------------------------------------------------------ */

static void copy_keys(json_t *to, const json_t *from, const char *const *keys)
{
    for (; *keys != NULL; keys++) {
        json_t *value = json_object_get(from, *keys);

        if (value != NULL)
            json_object_set(to, *keys, value);
    }
}

/* Paths are all that the page needs of files. */
static json_t *paths_of(const json_t *files)
{
    json_t *paths = json_array();
    size_t i;
    const json_t *file;

    json_array_foreach(files, i, file)
        json_array_append(paths, json_object_get(file, "path"));
    return paths;
}

static json_t *pictures_of(const json_t *page)
{
    json_t *review = json_copy(json_object_get(page, "review"));

    json_object_set_new(review, "files", paths_of(json_object_get(review, "files")));
    return review;
}

static json_t *page_of(const json_t *page)
{
    static const char *const keys[] = {
        "page", "shot", "sha256", "outcome", "error", "width", "height", "corners", "outline_key",
        "correction", "words", "native_ppi", "written", "page_mm", "inside_error_mm", "sharpness",
        "evenness", "tilt_deg", NULL
    };
    static const char *const of_a_reason[] = { "code", "text", NULL };
    json_t *out = json_object();
    json_t *reasons = json_array();
    size_t i;
    const json_t *reason;

    copy_keys(out, page, keys);
    json_object_set_new(out, "files", paths_of(json_object_get(page, "files")));
    if (json_is_object(json_object_get(page, "review"))
        && json_object_set_new(out, "review", pictures_of(page)) != 0) {
        json_decref(reasons);
        json_decref(out);
        return NULL;         /* out of memory */
    }
    json_array_foreach(json_object_get(page, "reasons"), i, reason) {
        json_t *r = json_object();

        copy_keys(r, reason, of_a_reason);
        json_array_append_new(reasons, r);
    }
    json_object_set_new(out, "reasons", reasons);
    return out;
}

/* Shots that a person left out, or that another one replaces. */
static json_t *left_out(const json_t *skipped)
{
    static const char *const keys[] = { "why", "sha256", "page", "correction", NULL };
    json_t *list = json_array();
    size_t i;
    const json_t *file;

    json_array_foreach(skipped, i, file) {
        json_t *out;

        if (json_object_get(file, "sha256") == NULL)
            continue;
        out = json_object();
        copy_keys(out, file, keys);
        json_object_set(out, "shot", json_object_get(file, "name"));
        json_object_set_new(out, "by_person",
                            json_boolean(json_is_true(json_object_get(
                                json_object_get(file, "correction"), "leave_out"))));
        json_array_append_new(list, out);
    }
    return list;
}

/* The way from one folder to another, both real paths: "../shots". */
static char *way(const char *from, const char *to)
{
    size_t common = 0;       /* length of what both begin with, up to a slash or an end */
    size_t up = 0;
    size_t i = 0;
    char *out;

    for (; from[i] != '\0' && from[i] == to[i]; i++)
        if (from[i] == '/')
            common = i + 1;
    if ((from[i] == '\0' || from[i] == '/') && (to[i] == '\0' || to[i] == '/'))
        common = i + (from[i] == '/' || to[i] == '/');
    for (const char *p = from + (common < strlen(from) ? common : strlen(from)); *p != '\0';) {
        up++;
        p += strcspn(p, "/");
        p += *p == '/';
    }
    out = malloc(3 * up + strlen(to) + 2);
    if (out == NULL)
        return NULL;
    out[0] = '\0';
    for (size_t k = 0; k < up; k++)
        strcat(out, "../");
    strcat(out, common < strlen(to) ? to + common : "");
    if (out[0] == '\0')
        strcpy(out, ".");
    else if (out[strlen(out) - 1] == '/')
        out[strlen(out) - 1] = '\0';
    return out;
}

/* null where the way cannot be told: the page then leaves the names to the reader; NULL when out
   of memory. */
static json_t *way_to_shots(const char *shots_dir, const char *out_dir)
{
    char *in = shots_dir != NULL ? sl_text_name(shots_dir) : NULL;
    char *here = realpath(out_dir, NULL);
    char *text = in != NULL && here != NULL ? way(here, in) : NULL;
    const bool known = shots_dir != NULL && here != NULL;
    json_t *value = text != NULL ? json_string(text) : NULL;

    free(text);
    free(here);
    free(in);
    return known ? value : json_null();
}

static json_t *data_of(const json_t *report, const char *shots_dir, const char *out_dir)
{
    static const char *const of_all[] = { "faults", NULL };
    const json_t *settings = json_object_get(report, "settings");
    const json_t *corrections = json_object_get(report, "corrections");
    json_t *data = json_object();
    json_t *pages = json_array();
    json_t *refused = json_object_get(corrections, "not_applied");
    json_t *order = json_object_get(corrections, "order");
    bool whole = true;
    size_t i;
    const json_t *page;

    copy_keys(data, report, of_all);
    if (json_object_get(data, "faults") == NULL)
        json_object_set_new(data, "faults", json_array());
    json_object_set_new(data, "ppi", json_real(json_number_value(json_object_get(settings, "ppi"))));
    json_object_set_new(data, "turn", json_integer((json_int_t)json_number_value(
                                          json_object_get(settings, "turn"))));
    if (json_object_set_new(data, "shots_dir", way_to_shots(shots_dir, out_dir)) != 0) {
        json_decref(pages);
        json_decref(data);
        return NULL;
    }
    json_object_set_new(data, "not_applied",
                        refused != NULL ? json_incref(refused) : json_array());
    json_object_set_new(data, "order", order != NULL ? json_incref(order) : json_null());
    json_object_set_new(data, "left_out", left_out(json_object_get(report, "skipped")));
    json_array_foreach(json_object_get(report, "pages"), i, page)
        whole = json_array_append_new(pages, page_of(page)) == 0 && whole;
    json_object_set_new(data, "pages", pages);
    if (whole)
        return data;
    json_decref(data);
    return NULL;             /* out of memory */
}

/* ---- the page -------------------------------------------------------------------------------- */

/* RFC 4648, section 4, of the 32 bytes that 64 hex digits stand for. */
static void base64_of_hex(char out[45], const char *hex)
{
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    unsigned char byte[33] = { 0 };
    size_t n = 0;

    for (size_t i = 0; i < 32; i++) {
        unsigned v = 0;

        (void)sscanf(hex + 2 * i, "%2x", &v);
        byte[i] = (unsigned char)v;
    }
    for (size_t i = 0; i < 33; i += 3) {
        const unsigned v = (unsigned)byte[i] << 16 | (unsigned)byte[i + 1] << 8 | byte[i + 2];

        out[n++] = digits[v >> 18];
        out[n++] = digits[v >> 12 & 63];
        out[n++] = digits[v >> 6 & 63];
        out[n++] = digits[v & 63];
    }
    out[43] = '=';           /* the 33rd byte was none */
    out[44] = '\0';
}

static void put_hash(FILE *file, const char *text)
{
    char hex[SL_SHA256_HEX];
    char base64[45];

    sl_sha256(hex, text, strlen(text));
    base64_of_hex(base64, hex);
    (void)fprintf(file, "sha256-%s", base64);
}

static void put_data(FILE *file, const char *json)
{
    for (const char *p = json; *p != '\0'; p++) {
        if (*p == '<')
            (void)fputs("\\u003c", file);
        else
            (void)fputc(*p, file);
    }
}

static void put_page(FILE *file, const char *json)
{
    const char *style = (const char *)sl_review_style;
    const char *script = (const char *)sl_review_script;

    for (const char *p = (const char *)sl_review_page; *p != '\0'; p++) {
        if (strncmp(p, "@STYLE@", 7) == 0) {
            (void)fputs(style, file);
            p += 6;
        } else if (strncmp(p, "@SCRIPT@", 8) == 0) {
            (void)fputs(script, file);
            p += 7;
        } else if (strncmp(p, "@STYLE_HASH@", 12) == 0) {
            put_hash(file, style);
            p += 11;
        } else if (strncmp(p, "@SCRIPT_HASH@", 13) == 0) {
            put_hash(file, script);
            p += 12;
        } else if (strncmp(p, "@DATA@", 6) == 0) {
            put_data(file, json);
            p += 5;
        } else {
            (void)fputc(*p, file);
        }
    }
}

/* The whole file; NULL when out of memory. */
static char *print_review(const char *json)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    bool whole;

    if (out == NULL)
        return NULL;
    put_page(out, json);
    whole = ferror(out) == 0;
    if (fclose(out) != 0 || !whole) {
        free(text);
        return NULL;
    }
    return text;
}

static sl_status write_file(const char *text, const char *of, const sl_run *run, sl_error *err)
{
    sl_ours_file file;
    sl_status st = sl_ours_open(&file, "review.html", run, err);

    if (st != SL_OK)
        return st;
    file.of = of;
    st = sl_part_write(&file.part, text, strlen(text), err);
    if (st == SL_OK)
        st = sl_ours_commit(&file, 1, NULL, run, err);
    sl_ours_close(&file);
    return st;
}

/* What the file is made of: what the report is made of, the way to the shots, the program's own. */
sl_status sl_review_sum(char hex[SL_SHA256_HEX], const char *of, const char *shots_dir,
                        const sl_run *run, sl_error *err)
{
    json_t *all = json_pack("{s:s, s:o, s:s, s:s, s:s}", "report", of, "shots_dir",
                            way_to_shots(shots_dir, run->out_dir), "page",
                            (const char *)sl_review_page, "style", (const char *)sl_review_style,
                            "script", (const char *)sl_review_script);

    if (all == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "review", "out of memory");
    sl_seal_of(hex, all);
    json_decref(all);
    return SL_OK;
}

sl_status sl_review_write(const json_t *report, const char *of, const char *shots_dir,
                          const sl_run *run, sl_error *err)
{
    json_t *data = data_of(report, shots_dir, run->out_dir);
    char *json = data != NULL ? sl_report_text(data, 0) : NULL;
    char *text = json != NULL ? print_review(json) : NULL;
    const sl_status st = text != NULL ? write_file(text, of, run, err)
                                      : sl_fail(err, SL_ERR_NOMEM, "review", "out of memory");

    json_decref(data);
    free(text);
    free(json);
    return st;
}

/* ---- again, without the shots ---------------------------------------------------------------- */

/* The folder that most pages' shots were in; NULL when none is known. */
static const char *folder_of(const sl_journal *journal)
{
    json_t *count = json_object();
    const char *best = NULL;
    json_int_t most = 0;
    const char *page;
    const json_t *line;

    json_object_foreach(journal->by_page, page, line) {
        const char *folder = sl_json_text(line, "folder");
        const json_int_t n = json_integer_value(json_object_get(count, folder)) + 1;

        json_object_set_new(count, folder, json_integer(n));
        if (*folder != '\0' && n > most) {
            most = n;
            best = folder;
        }
    }
    json_decref(count);
    return best;
}

static sl_status read_report(json_t **out, const char *out_dir, sl_error *err)
{
    char *path = sl_path_join(out_dir, "report.json");
    sl_file_id there;
    void *bytes = NULL;
    size_t size = 0;
    sl_status st;

    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "review", "out of memory");
    if (!sl_file_identify(&there, path)) {
        free(path);
        return sl_fail(err, SL_ERR_NO_SHOTS, "review",
                       "%s holds no report.json: `squareleaf album SHOTS_DIR %s` makes the pages "
                       "first",
                       out_dir, out_dir);
    }
    st = sl_file_read(&bytes, &size, path, SL_WORK_FILE_MOST, err);
    free(path);
    if (st != SL_OK)
        return st;
    *out = json_loadb(bytes != NULL ? bytes : "", size, 0, NULL);
    free(bytes);
    if (!json_is_array(json_object_get(*out, "pages"))) {
        json_decref(*out);
        return sl_fail(err, SL_ERR_FORMAT, "review",
                       "%s/report.json is damaged: run `squareleaf album` again, which writes it",
                       out_dir);
    }
    return SL_OK;
}

sl_status sl_album_review(const char *out_dir, bool force, sl_error *err)
{
    sl_journal journal;
    pthread_mutex_t mutex;
    const sl_album_params params = { .force = force };
    const sl_run run = { .out_dir = out_dir, .params = &params, .journal = &journal,
                         .mutex = &mutex };
    char report_of[SL_SHA256_HEX];
    char of[SL_SHA256_HEX];
    json_t *report = NULL;
    sl_status st = read_report(&report, out_dir, err);

    if (st != SL_OK)
        return st;
    st = sl_journal_open(&journal, out_dir, (sl_share){ 0, 0 }, NULL, err);
    if (st == SL_OK) {
        (void)pthread_mutex_init(&mutex, NULL);
        sl_seal_of(report_of, report);
        st = sl_review_sum(of, report_of, folder_of(&journal), &run, err);
        if (st == SL_OK)
            st = sl_review_write(report, of, folder_of(&journal), &run, err);
        (void)pthread_mutex_destroy(&mutex);
        sl_journal_close(&journal);
    }
    json_decref(report);
    return st;
}
