#include "album/why.h"

#include <stdlib.h>
#include <string.h>

#include "album/report.h"

/* The key of the album's settings that a page was made with, whatever was corrected. */
static const char *album_key(const json_t *line)
{
    return sl_json_text(line, json_object_get(line, "album_key") != NULL ? "album_key" : "key");
}

/* ---- settings -------------------------------------------------------------------------------- */

static void add_word(char text[SL_WHY], const char *word)
{
    const size_t length = strlen(word);

    for (const char *p = strstr(text, word); p != NULL; p = strstr(p + 1, word))
        if (p[length] == '\0' || p[length] == ',')
            return;
    if (strlen(text) + length + 3 < SL_WHY)
        (void)snprintf(text + strlen(text), SL_WHY - strlen(text), "%s%s",
                       *text != '\0' ? ", " : "", word);
}

/* The option behind a field of the settings. */
static void add_option(char text[SL_WHY], const char *field)
{
    static const struct { const char *field; const char *option; } others[] = {
        { "page_mm", "--page-size" },  { "margin_mm", "--margin" }, { "compression", "--compress" },
        { "whole_frame", "--corners" }, { "limits", "--limit" },
    };
    char option[60];

    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        if (strcmp(others[i].field, field) == 0) {
            add_word(text, others[i].option);
            return;
        }
    }
    (void)snprintf(option, sizeof option, "--%s", field);
    for (char *p = option; *p != '\0'; p++)
        *p = *p == '_' ? '-' : *p;
    add_word(text, option);
}

/* Settings are compared as the journal writes them. */
static bool same_text(const json_t *a, const json_t *b)
{
    json_t *p = json_pack("[O?]", a);
    json_t *q = json_pack("[O?]", b);
    char *s = p != NULL ? sl_report_text(p, 0) : NULL;
    char *t = q != NULL ? sl_report_text(q, 0) : NULL;
    const bool same = s != NULL && t != NULL && strcmp(s, t) == 0;

    free(s);
    free(t);
    json_decref(p);
    json_decref(q);
    return same;
}

void sl_why_settings(char text[SL_WHY], const json_t *line, const sl_run *run)
{
    const json_t *before = json_object_get(run->journal->by_key, album_key(line));
    json_t *now = sl_report_settings(&run->params->settings);
    bool same = true;
    const char *field;
    json_t *value;

    if (before != NULL) {
        json_object_foreach(now, field, value) {
            const json_t *was = json_object_get(before, field);

            if (same_text(value, was))
                continue;
            if (strcmp(field, "min_ppi") == 0 && json_is_null(was)
                && !(run->params->settings.min_ppi > 0))
                continue;    /* it follows --ppi, as before */
            same = false;
            add_option(text, field);
        }
        if (same)
            add_word(text, "optics");
    }
    json_decref(now);
}

/* ---- a page ---------------------------------------------------------------------------------- */

/* The shot's bytes against those that the page was made of. */
static bool same_shot(const sl_work *work)
{
    const json_t *line = work->line;
    char sha256[SL_SHA256_HEX] = "";
    void *bytes = NULL;
    size_t size = 0;

    if (json_integer_value(json_object_get(line, "size")) != work->entry->stat.st_size)
        return false;
    if (json_integer_value(json_object_get(line, "mtime")) == sl_work_time(&work->entry->stat))
        return true;
    if (sl_file_read(&bytes, &size, work->entry->path, SL_WORK_FILE_MOST, NULL) == SL_OK && size > 0)
        sl_sha256(sha256, bytes, size);
    free(bytes);
    return strcmp(sl_json_text(line, "sha256"), sha256) == 0;
}

static const char *missing_file(const sl_work *work, const sl_run *run)
{
    size_t i;
    json_t *file;

    json_array_foreach(json_object_get(work->line, "files"), i, file) {
        const char *rest = sl_json_text(file, "path");
        char *path = sl_path_join(run->out_dir, rest);
        struct stat st;
        const bool there = path != NULL && stat(path, &st) == 0;

        free(path);
        if (!there)
            return rest;
    }
    return NULL;
}

static void why_settings(char text[SL_WHY], const sl_work *work, const sl_run *run)
{
    char which[SL_WHY] = "";

    sl_why_settings(which, work->line, run);
    (void)snprintf(text, SL_WHY, "%.250s changed", *which != '\0' ? which : "settings or optics");
}

bool sl_why(char text[SL_WHY], const sl_work *work, const sl_run *run)
{
    const json_t *line = work->line;
    const char *missing;

    text[0] = '\0';
    if (work->keep)
        return false;
    if (line == NULL)
        (void)snprintf(text, SL_WHY, "new");
    else if (json_object_get(line, "outcome") == NULL)
        (void)snprintf(text, SL_WHY, "has a name and was never finished");
    else if (run->params->redo)
        (void)snprintf(text, SL_WHY, "--redo");
    else if (json_object_get(line, "key") == NULL)
        (void)snprintf(text, SL_WHY, "%s", json_object_get(line, "replaced") != NULL
                                               ? "another shot replaces its shot"
                                               : "has a new name");
    else if (sl_line_outcome(line) == SL_OUTCOME_FAILED)
        (void)snprintf(text, SL_WHY, "failed before");
    else if (!same_shot(work))
        (void)snprintf(text, SL_WHY, "the shot changed");
    else if (strcmp(album_key(line), run->key) != 0)
        why_settings(text, work, run);
    else if (strcmp(sl_json_text(line, "key"), work->key) != 0)
        (void)snprintf(text, SL_WHY, "corrected");
    else if ((missing = missing_file(work, run)) != NULL)
        (void)snprintf(text, SL_WHY, "%.200s is missing", missing);
    return *text != '\0';
}
