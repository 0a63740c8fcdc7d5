/*
 * A run with nothing to do spends most of its time on reading 8,000 lines. Nearly all are plain:
 * ASCII, nothing but quotes escaped. Those are read here, without a look at each letter for what it
 * might be; at anything else, json_loads() reads the line and has the word.
 */
#include "album/parse.h"

#include <errno.h>
#include <float.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { DEPTH = 32 };

static json_t *value(char **at, int depth);

static void skip_space(char **at)
{
    while (**at == ' ' || **at == '\n')
        (*at)++;
}

/* Goes on behind `c`; false, and stays, when something else is there. */
static bool take(char **at, char c)
{
    skip_space(at);
    if (**at != c)
        return false;
    (*at)++;
    return true;
}

/*
 * The end of a plain string that begins behind a quote: its other quote. NULL for none. The one
 * escape that may be in it is that of a quote.
 */
static char *end_of_string(char *text, bool *escaped)
{
    char *end = strchr(text, '"');
    unsigned char odd = 0;

    for (*escaped = false; end != NULL && end > text && end[-1] == '\\'; *escaped = true)
        end = strchr(end + 1, '"');
    /* all of them, and no way out of the loop: so it is done many at a time */
    for (const char *p = text; end != NULL && p < end; p++)
        odd |= (unsigned char)((*p == '\\') & (p[1] != '"')) | (unsigned char)(*p < 0x20)
               | (unsigned char)(*p > 0x7e);
    return odd == 0 ? end : NULL;
}

static json_t *without_escapes(const char *text, size_t length)
{
    char *copy = malloc(length);
    json_t *out = NULL;
    size_t n = 0;

    for (size_t i = 0; copy != NULL && i < length; i++) {
        i += text[i] == '\\';
        copy[n++] = text[i];
    }
    if (copy != NULL)
        out = json_stringn_nocheck(copy, n);
    free(copy);
    return out;
}

static json_t *string(char **at)
{
    bool escaped;
    char *end = end_of_string(*at, &escaped);
    json_t *out = NULL;

    if (end != NULL)
        out = escaped ? without_escapes(*at, (size_t)(end - *at))
                      : json_stringn_nocheck(*at, (size_t)(end - *at));
    if (out != NULL)
        *at = end + 1;
    return out;
}

/*
 * A number of at most 15 digits without a power of ten, as nearly all are: the digits and the power
 * that its point stands for are exact as doubles, so that one division, which rounds once, gives the
 * nearest double (W. D. Clinger, How to Read Floating Point Numbers Accurately, PLDI 1990). NULL, and
 * *at stays, at anything else.
 */
static json_t *short_number(char **at)
{
    static const double ten[] = { 1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                  1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15 };
    enum { MOST = sizeof ten / sizeof *ten - 1 };
    const bool minus = **at == '-';
    char *const first = *at + minus;
    const char *point = NULL;
    long long n = 0;
    int digits = 0;
    char *p = first;
    double value;

    for (; (*p >= '0' && *p <= '9') || (*p == '.' && point == NULL); p++) {
        if (*p == '.') {
            point = p;
            continue;
        }
        if (++digits > MOST)
            return NULL;
        n = 10 * n + (*p - '0');
    }
    if (digits == 0 || *first == '.' || (*first == '0' && first[1] >= '0' && first[1] <= '9')
        || p[-1] == '.' || (*p != ',' && *p != ']' && *p != '}'))
        return NULL;
    *at = p;
    if (point == NULL)
        return json_integer(minus ? -n : n);
    value = (double)n / ten[p - point - 1];
    return json_real(minus ? -value : value);
}

/* RFC 8259, section 6: no leading zero, and strtod() takes what JSON does not (hexadecimal). */
static json_t *number(char **at)
{
    json_t *plain = FLT_EVAL_METHOD == 0 ? short_number(at) : NULL;
    const size_t length = strspn(*at, "+-.0123456789eE");
    const char *digits = *at + (**at == '-');
    const bool whole = strcspn(*at, ".eE") >= length;
    char *end = NULL;
    json_t *out = NULL;

    if (plain != NULL)
        return plain;
    if (*digits < '0' || *digits > '9'
        || (*digits == '0' && digits[1] >= '0' && digits[1] <= '9'))
        return NULL;
    errno = 0;
    if (whole) {
        const long long n = strtoll(*at, &end, 10);

        out = errno == 0 && end == *at + length ? json_integer(n) : NULL;
    } else {
        const double v = strtod(*at, &end);

        out = errno == 0 && end == *at + length && isfinite(v) && end[-1] != '.' ? json_real(v)
                                                                                : NULL;
    }
    if (out != NULL)
        *at = end;
    return out;
}

static bool member(json_t *object, char **at, int depth)
{
    char *key;
    char *end;
    json_t *item;
    bool escaped;
    bool done;

    if (!take(at, '"'))
        return false;
    key = *at;
    end = end_of_string(key, &escaped);
    if (end == NULL || escaped)
        return false;
    *at = end + 1;
    item = take(at, ':') ? value(at, depth) : NULL;
    if (item == NULL)
        return false;
    *end = '\0';
    done = json_object_set_new_nocheck(object, key, item) == 0;
    *end = '"';
    return done;
}

static bool element(json_t *array, char **at, int depth)
{
    json_t *item = value(at, depth);

    return item != NULL && json_array_append_new(array, item) == 0;
}

static json_t *several(json_t *out, bool (*one)(json_t *, char **, int), char closing, char **at,
                       int depth)
{
    bool good = out != NULL && depth < DEPTH;

    if (good && take(at, closing))
        return out;
    do
        good = good && one(out, at, depth + 1);
    while (good && take(at, ','));
    if (good && take(at, closing))
        return out;
    json_decref(out);
    return NULL;
}

static bool word(char **at, const char *text)
{
    const size_t length = strlen(text);

    if (strncmp(*at, text, length) != 0)
        return false;
    *at += length;
    return true;
}

static json_t *value(char **at, int depth)
{
    skip_space(at);
    if (take(at, '"'))
        return string(at);
    if (take(at, '{'))
        return several(json_object(), member, '}', at, depth);
    if (take(at, '['))
        return several(json_array(), element, ']', at, depth);
    if (word(at, "null"))
        return json_null();
    if (word(at, "true"))
        return json_true();
    if (word(at, "false"))
        return json_false();
    return number(at);
}

json_t *sl_parse_line(char *text)
{
    char *at = text;
    json_t *out = value(&at, 0);

    skip_space(&at);
    if (out != NULL && *at == '\0' && (json_is_object(out) || json_is_array(out)))
        return out;
    json_decref(out);
    return json_loads(text, 0, NULL);
}
