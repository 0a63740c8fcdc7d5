#include "bag/manifest.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/error.h"

const char *const sl_sum_name[SL_SUMS] = { "sha256", "sha512" };
const size_t sl_sum_digits[SL_SUMS] = { 64, 128 };

void sl_manifest_put(FILE *file, const char *sum, const char *path)
{
    (void)fprintf(file, "%s  ", sum);
    for (; *path != '\0'; path++) {
        if (*path == '\n' || *path == '\r' || *path == '%')
            (void)fprintf(file, "%%%02X", (unsigned char)*path);
        else
            (void)fputc(*path, file);
    }
    (void)fputc('\n', file);
}

/* A string of bytes that no terminator follows; NULL when out of memory. */
static char *string_of(const char *bytes, size_t size)
{
    char *text = malloc(size + 1);

    if (text != NULL) {
        memcpy(text, bytes, size);
        text[size] = '\0';
    }
    return text;
}

/* ---- reading --------------------------------------------------------------------------------- */

/* The three characters that are encoded, and no other: earlier bags have a plain % in names. */
static void decode_path(char *path)
{
    char *out = path;

    for (; *path != '\0'; path++) {
        if (strncasecmp(path, "%0A", 3) == 0 || strncasecmp(path, "%0D", 3) == 0
            || strncasecmp(path, "%25", 3) == 0) {
            *out++ = path[1] == '2' ? '%' : path[2] == 'A' || path[2] == 'a' ? '\n' : '\r';
            path += 2;
        } else {
            *out++ = *path;
        }
    }
    *out = '\0';
}

/* RFC 8493, 5.1: no path may lead out of the bag. */
static bool is_safe(const char *path)
{
    return *path != '\0' && *path != '/' && *path != '~' && strcmp(path, "..") != 0
           && strncmp(path, "../", 3) != 0 && strstr(path, "/../") == NULL
           && (strlen(path) < 3 || strcmp(path + strlen(path) - 3, "/..") != 0);
}

/* The line of a path, made if need be; NULL when out of memory. Takes over `path`. */
static sl_listed *line_of(sl_manifest *m, char *path)
{
    size_t low = 0;
    size_t high = m->count;

    while (low < high) {
        const size_t middle = (low + high) / 2;
        const int order = strcmp(m->line[middle].path, path);

        if (order == 0) {
            free(path);
            return &m->line[middle];
        }
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    if ((m->count & (m->count + 1)) == 0) { /* one less than a power of two: full */
        sl_listed *grown = realloc(m->line, 2 * (m->count + 1) * sizeof *grown);

        if (grown == NULL) {
            free(path);
            return NULL;
        }
        m->line = grown;
    }
    memmove(m->line + low + 1, m->line + low, (m->count - low) * sizeof *m->line);
    m->count++;
    m->line[low] = (sl_listed){ path, { NULL, NULL } };
    return &m->line[low];
}

static sl_status take_line(sl_manifest *m, const char *text, size_t size, int sum,
                           sl_manifest_fault fault, void *ctx, sl_error *err)
{
    const size_t digits = sl_sum_digits[sum];
    size_t at = 0;
    char *path;
    sl_listed *line;

    while (at < size && isxdigit((unsigned char)text[at]))
        at++;
    if (at != digits || at == size || (text[at] != ' ' && text[at] != '\t')) {
        fault(ctx, "a line has no sum of the right length");
        return SL_OK;
    }
    while (at < size && (text[at] == ' ' || text[at] == '\t'))
        at++;
    if (at < size && text[at] == '*') /* as md5sum marks binary files: 2.1.3 lets readers pass */
        at++;
    if (size - at > 2 && strncmp(text + at, "./", 2) == 0)
        at += 2;
    path = string_of(text + at, size - at);
    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    decode_path(path);
    if (!is_safe(path)) {
        fault(ctx, "a path leads out of the bag");
        free(path);
        return SL_OK;
    }
    line = line_of(m, path);
    if (line == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    if (line->sum[sum] != NULL) {
        fault(ctx, "a file is listed twice");
        return SL_OK;
    }
    line->sum[sum] = string_of(text, digits);
    if (line->sum[sum] == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
    for (char *c = line->sum[sum]; *c != '\0'; c++)
        *c = (char)tolower((unsigned char)*c);
    return SL_OK;
}

sl_status sl_manifest_read(sl_manifest *out, const void *text, size_t size, int sum,
                           sl_manifest_fault fault, void *ctx, sl_error *err)
{
    const char *p = text;
    const char *const end = p + size;
    sl_status st = SL_OK;

    out->has[sum] = true;
    while (p < end && st == SL_OK) {
        const char *line = p;

        while (p < end && *p != '\n' && *p != '\r')
            p++;
        if (p > line)
            st = take_line(out, line, (size_t)(p - line), sum, fault, ctx, err);
        p += p < end;
    }
    return st;
}

void sl_manifest_clear(sl_manifest *m)
{
    for (size_t i = 0; i < m->count; i++) {
        free(m->line[i].path);
        for (int sum = 0; sum < SL_SUMS; sum++)
            free(m->line[i].sum[sum]);
    }
    free(m->line);
    *m = (sl_manifest){ NULL, 0, { false, false } };
}

const sl_listed *sl_manifest_find(const sl_manifest *m, const char *path)
{
    size_t low = 0;
    size_t high = m->count;

    while (low < high) {
        const size_t middle = (low + high) / 2;
        const int order = strcmp(m->line[middle].path, path);

        if (order == 0)
            return &m->line[middle];
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

char *sl_tag_value(const void *text, size_t size, const char *label)
{
    const size_t n = strlen(label);
    const char *p = text;
    const char *const end = p + size;

    while (p < end) {
        const char *line = p;

        while (p < end && *p != '\n' && *p != '\r')
            p++;
        if ((size_t)(p - line) > n && strncasecmp(line, label, n) == 0 && line[n] == ':') {
            line += n + 1;
            while (line < p && (*line == ' ' || *line == '\t'))
                line++;
            return string_of(line, (size_t)(p - line));
        }
        p += p < end;
    }
    return NULL;
}
