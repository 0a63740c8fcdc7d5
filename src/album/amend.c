#include "album/amend.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "album/names.h"
#include "album/work.h"

static sl_verdict weight_of(const json_t *reason)
{
    const char *name = json_string_value(json_object_get(reason, "weight"));

    for (int v = SL_RESHOOT; name != NULL && v > SL_PASS; v--)
        if (strcmp(name, sl_verdict_name((sl_verdict)v)) == 0)
            return (sl_verdict)v;
    return SL_PASS;
}

static bool has_code(const json_t *reason, sl_code code)
{
    const char *name = json_string_value(json_object_get(reason, "code"));

    return name != NULL && strcmp(name, sl_code_name(code)) == 0;
}

/* A copy of the line whose report and reasons are its own; NULL for a failed shot. */
static json_t *own_copy(json_t *lines, size_t index)
{
    const json_t *old = json_array_get(lines, index);
    json_t *line;
    json_t *report;

    if (sl_line_outcome(old) == SL_OUTCOME_FAILED
        || !json_is_array(json_object_get(json_object_get(old, "report"), "reasons")))
        return NULL;
    line = json_copy((json_t *)old);
    report = json_copy(json_object_get(old, "report"));
    json_object_set_new(report, "reasons", json_deep_copy(json_object_get(report, "reasons")));
    json_object_set_new(line, "report", report);
    json_array_set_new(lines, index, line);
    return line;
}

/* Gravest first, else in order of arrival; verdict and outcome follow. */
static void settle(json_t *line)
{
    json_t *report = json_object_get(line, "report");
    const json_t *reasons = json_object_get(report, "reasons");
    json_t *sorted = json_array();
    sl_verdict verdict = SL_PASS;
    size_t i;
    json_t *reason;

    for (int v = SL_RESHOOT; v >= SL_PASS; v--)
        json_array_foreach(reasons, i, reason)
            if (weight_of(reason) == (sl_verdict)v)
                json_array_append(sorted, reason);
    json_array_foreach(reasons, i, reason)
        verdict = weight_of(reason) > verdict ? weight_of(reason) : verdict;
    json_object_set_new(report, "reasons", sorted);
    json_object_set_new(report, "verdict", json_string(sl_verdict_name(verdict)));
    json_object_set_new(line, "outcome", json_string(sl_outcome_name((sl_outcome)verdict)));
}

void sl_amend_add(json_t *lines, size_t index, sl_code code, double value, double limit,
                  const char *unit, sl_verdict weight, const char *text, ...)
{
    json_t *line = own_copy(lines, index);
    char said[400];
    va_list args;

    if (line == NULL)
        return;
    va_start(args, text);
    (void)vsnprintf(said, sizeof said, text, args);
    va_end(args);
    json_array_append_new(json_object_get(json_object_get(line, "report"), "reasons"),
                          json_pack("{s:s, s:f, s:f, s:s, s:s, s:s}", "code", sl_code_name(code),
                                    "value", value, "limit", limit, "unit", unit, "weight",
                                    sl_verdict_name(weight), "text", said));
    settle(line);
}

void sl_amend_excuse(json_t *lines, size_t index, sl_code code)
{
    json_t *line = own_copy(lines, index);
    size_t i;
    json_t *reason;

    json_array_foreach(json_object_get(json_object_get(line, "report"), "reasons"), i, reason)
        if (has_code(reason, code) && weight_of(reason) == SL_LOOK)
            json_object_set_new(reason, "weight", json_string(sl_verdict_name(SL_PASS)));
    if (line != NULL)
        settle(line);
}

const json_t *sl_line_reason(const json_t *line, sl_code code)
{
    const json_t *reasons = json_object_get(json_object_get(line, "report"), "reasons");
    size_t i;
    const json_t *reason;

    json_array_foreach(reasons, i, reason)
        if (has_code(reason, code))
            return reason;
    return NULL;
}

bool sl_line_still_there(const json_t *line, const char *out_dir)
{
    const json_t *files = json_object_get(line, "files");
    bool there = json_array_size(files) == 0;
    size_t i;
    const json_t *file;

    json_array_foreach(files, i, file) {
        const char *rest = json_string_value(json_object_get(file, "path"));
        char *path = rest != NULL ? sl_path_join(out_dir, rest) : NULL;
        struct stat st;

        there = there || (path != NULL && stat(path, &st) == 0);
        free(path);
    }
    return there;
}

void sl_line_short_page(char *out, size_t size, const json_t *line)
{
    (void)snprintf(out, size, "page %s", sl_label_short(sl_line_label(line)));
}
