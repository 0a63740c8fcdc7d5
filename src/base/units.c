/* Page sizes and lengths as people write them. */
#include <string.h>

#include "base/error.h"
#include "squareleaf.h"

static const double LONGEST_MM = 10000;

static const struct { const char *name; double mm; } units[] = {
    { "mm", 1 }, { "cm", 10 }, { "in", 25.4 }, { "inch", 25.4 },
    { "inches", 25.4 }, { "\"", 25.4 },
};

/* ISO 216:2007 is made by halving, below; these are the US trade's 8.5 x 11 and 8.5 x 14 in. */
static const struct { const char *name; double mm[2]; } sizes[] = {
    { "letter", { 215.9, 279.4 } },
    { "legal", { 215.9, 355.6 } },
};

/* ASCII only: <ctype.h> asks the locale, in which a large I may have a small one without a dot. */
static int lower(char c)
{
    return c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static const char *skip_blanks(const char *p)
{
    while (*p == ' ' || (*p >= '\t' && *p <= '\r'))
        p++;
    return p;
}

/*
 * A number with a decimal point or comma, whatever the locale: 8.5 and 8,5 are the same length.
 * A comma before exactly three digits is no number: 1,000 means a thousand to some and one to
 * others. Returns what follows, NULL when there is no number. No signs, no exponents.
 */
static const char *read_number(double *value, const char *p)
{
    double digits = 0;       /* exact up to 2^53, and one division rounds once */
    double scale = 1;
    size_t count = 0;
    size_t decimals = 0;
    char sign = '\0';

    for (;; p++) {
        if (is_digit(*p)) {
            digits = digits * 10 + (*p - '0');
            count++;
            if (sign != '\0') {
                scale *= 10;
                decimals++;
            }
        } else if ((*p == '.' || *p == ',') && sign == '\0') {
            sign = *p;
        } else {
            break;
        }
    }
    *value = digits / scale;
    return count == 0 || (sign == ',' && decimals == 3) ? NULL : p;
}

/* What stands between width and height: x, *, or the multiplication sign (U+00D7 in UTF-8). */
static const char *skip_times(const char *p)
{
    if (lower(*p) == 'x' || *p == '*')
        return p + 1;
    return strncmp(p, "\xc3\x97", 2) == 0 ? p + 2 : NULL;
}

/* mm of a unit's name at p, which is then passed; 0 when there is none. */
static double read_unit(const char **p)
{
    double best = 0;
    size_t longest = 0;

    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        size_t n = 0;

        while (units[i].name[n] != '\0' && lower((*p)[n]) == units[i].name[n])
            n++;
        if (units[i].name[n] == '\0' && n > longest) {
            longest = n;
            best = units[i].mm;
        }
    }
    *p += longest;
    return best;
}

static bool same_word(const char *a, const char *b)
{
    while (*a != '\0' && lower(*a) == *b) {
        a++;
        b++;
    }
    return *skip_blanks(a) == '\0' && *b == '\0';
}

/* a0 841 x 1189, b0 1000 x 1414; each next one halves the longer side, rounded down. */
static bool iso_216(double mm[2], const char *text)
{
    const int series = lower(text[0]);
    int width = series == 'a' ? 841 : 1000;
    int height = series == 'a' ? 1189 : 1414;
    int n;

    if ((series != 'a' && series != 'b') || !is_digit(text[1]))
        return false;
    n = text[1] - '0';
    if (text[1] == '1' && text[2] == '0')
        n = 10;
    if (*skip_blanks(text + (n == 10 ? 3 : 2)) != '\0')
        return false;
    for (int i = 0; i < n; i++) {
        const int half = height / 2;

        height = width;
        width = half;
    }
    mm[0] = width;
    mm[1] = height;
    return true;
}

static sl_status refuse(const char *text, sl_error *err)
{
    return sl_fail(err, SL_ERR_ARG, "page size",
                   "'%.60s' is no page size: write it like 12x12in, 210x297mm, 30x30cm, a4 or "
                   "letter",
                   text);
}

sl_status sl_page_size_parse(double mm[2], const char *text, sl_error *err)
{
    const char *p = skip_blanks(text);
    double value[2];
    double unit[2];

    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        if (same_word(p, sizes[i].name)) {
            mm[0] = sizes[i].mm[0];
            mm[1] = sizes[i].mm[1];
            return SL_OK;
        }
    }
    if (iso_216(value, p)) {
        mm[0] = value[0];
        mm[1] = value[1];
        return SL_OK;
    }
    for (int i = 0; i < 2; i++) {
        p = read_number(&value[i], skip_blanks(p));
        if (p == NULL)
            return refuse(text, err);
        p = skip_blanks(p);
        unit[i] = read_unit(&p);
        p = skip_blanks(p);
        if (i == 0) {
            p = skip_times(p);
            if (p == NULL)
                return refuse(text, err);
        }
    }
    if (*p != '\0' || !(unit[1] > 0))
        return refuse(text, err);
    for (int i = 0; i < 2; i++) {
        value[i] *= unit[i] > 0 ? unit[i] : unit[1];
        if (!(value[i] > 0 && value[i] < LONGEST_MM))
            return sl_fail(err, SL_ERR_ARG, "page size",
                           "'%.60s': a page's side is more than 0 and less than 10 m", text);
    }
    mm[0] = value[0];
    mm[1] = value[1];
    return SL_OK;
}

sl_status sl_length_parse(double *mm, const char *text, sl_error *err)
{
    double value;
    double unit;
    const char *p = read_number(&value, skip_blanks(text));

    if (p != NULL) {
        p = skip_blanks(p);
        unit = read_unit(&p);
        if (*skip_blanks(p) == '\0' && (unit > 0 || value == 0) && value * unit < LONGEST_MM) {
            *mm = value * unit;
            return SL_OK;
        }
    }
    return sl_fail(err, SL_ERR_ARG, "length",
                   "'%.60s' is no length: write it like 5mm, 0.25in or 1cm", text);
}
