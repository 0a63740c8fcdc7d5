#include "album/csv.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/error.h"
#include "base/utf8.h"

typedef struct parser {
    const unsigned char *at;
    const unsigned char *end;
    const char          *name;
    sl_csv              *csv;
    char                *to;  /* of the next cell's text */
    size_t               row; /* from 1 */
    size_t               room;
    char               **cell; /* of the row in work */
    size_t               cells;
    size_t               cell_room;
    sl_error            *err;
} parser;

/* Where and what; the column's title where the header has told it. */
static sl_status wrong(const parser *p, const char *what)
{
    const size_t column = p->cells;
    const char *title = p->csv->rows > 0 && column < p->csv->columns ? p->csv->row[0][column] : "";

    return sl_fail(p->err, SL_ERR_FORMAT, "captions",
                   "%s, row %zu, column %zu%s%.30s%s: %s; save the table as 'CSV UTF-8'",
                   p->name, p->row, column + 1, *title != '\0' ? " (" : "", title,
                   *title != '\0' ? ")" : "", what);
}

static bool ends_cell(const parser *p)
{
    return p->at == p->end || *p->at == (unsigned char)p->csv->separator || *p->at == '\n'
           || *p->at == '\r';
}

/* One character that may stand in a cell. */
static sl_status take_character(parser *p)
{
    const size_t n = sl_utf8_length(p->at, (size_t)(p->end - p->at));

    if (n == 0)
        return wrong(p, "a character that is not UTF-8");
    if (*p->at == '\0')
        return wrong(p, "a zero byte, as in UTF-16");
    memcpy(p->to, p->at, n);
    p->to += n;
    p->at += n;
    return SL_OK;
}

static sl_status take_quoted(parser *p)
{
    p->at++;
    for (;;) {
        sl_status st;

        if (p->at == p->end)
            return wrong(p, "a quote that is not closed");
        if (*p->at == '"') {
            p->at++;
            if (p->at == p->end || *p->at != '"')
                return ends_cell(p) ? SL_OK
                                    : wrong(p, "text behind a closing quote (a quote inside a "
                                               "text is written twice)");
        }
        st = take_character(p);
        if (st != SL_OK)
            return st;
    }
}

static sl_status take_cell(parser *p)
{
    char *start = p->to;
    sl_status st = SL_OK;

    if (p->cells == p->cell_room) {
        const size_t room = 2 * p->cell_room + 8;
        char **grown = realloc(p->cell, room * sizeof *grown);

        if (grown == NULL)
            return sl_fail(p->err, SL_ERR_NOMEM, "captions", "out of memory");
        p->cell = grown;
        p->cell_room = room;
    }
    if (p->at < p->end && *p->at == '"') {
        st = take_quoted(p);
    } else {
        while (st == SL_OK && !ends_cell(p))
            st = *p->at == '"' ? wrong(p, "a quote inside a text that is not quoted")
                               : take_character(p);
    }
    *p->to++ = '\0';
    p->cell[p->cells] = start;
    if (st == SL_OK && p->csv->rows > 0 && p->cells >= p->csv->columns && *start != '\0')
        return wrong(p, "more columns than the first row has");
    p->cells++;
    return st;
}

/* Keeps the row in work, unless all its cells are empty. */
static sl_status keep_row(parser *p)
{
    sl_csv *csv = p->csv;
    bool empty = true;
    size_t *number;
    char **row;

    for (size_t i = 0; i < p->cells; i++)
        empty = empty && *p->cell[i] == '\0';
    if (empty)
        return SL_OK;
    if (csv->rows == 0)
        csv->columns = p->cells;
    if (csv->rows == p->room) {
        const size_t room = 2 * p->room + 64;
        char ***grown = realloc(csv->row, room * sizeof *grown);

        if (grown == NULL)
            return sl_fail(p->err, SL_ERR_NOMEM, "captions", "out of memory");
        csv->row = grown;
        number = realloc(csv->number, room * sizeof *number);
        if (number == NULL)
            return sl_fail(p->err, SL_ERR_NOMEM, "captions", "out of memory");
        csv->number = number;
        p->room = room;
    }
    row = calloc(csv->columns, sizeof *row);
    if (row == NULL)
        return sl_fail(p->err, SL_ERR_NOMEM, "captions", "out of memory");
    for (size_t i = 0; i < csv->columns; i++)
        row[i] = i < p->cells ? p->cell[i] : p->to - 1; /* a "" at hand */
    csv->number[csv->rows] = p->row;
    csv->row[csv->rows++] = row;
    return SL_OK;
}

static char find_separator(const unsigned char *at, const unsigned char *end)
{
    static const char kinds[] = ",;\t";
    size_t count[3] = { 0, 0, 0 };
    bool quoted = false;
    size_t best = 0;

    for (; at < end && (quoted || (*at != '\n' && *at != '\r')); at++) {
        quoted = quoted != (*at == '"');
        for (size_t k = 0; !quoted && k < 3; k++)
            count[k] += *at == (unsigned char)kinds[k];
    }
    for (size_t k = 1; k < 3; k++)
        best = count[k] > count[best] ? k : best;
    return kinds[best];
}

static sl_status take_row(parser *p)
{
    p->cells = 0;
    p->row++;
    for (;;) {
        const sl_status st = take_cell(p);

        if (st != SL_OK)
            return st;
        if (p->at == p->end || *p->at != (unsigned char)p->csv->separator)
            break;
        p->at++;
    }
    if (p->at < p->end && *p->at == '\r')
        p->at++;
    if (p->at < p->end && *p->at == '\n')
        p->at++;
    return keep_row(p);
}

sl_status sl_csv_parse(sl_csv *out, const void *bytes, size_t size, const char *name,
                       sl_error *err)
{
    static const unsigned char bom[3] = { 0xef, 0xbb, 0xbf };
    sl_csv csv = { .separator = ',' };
    parser p = { .at = bytes, .name = name, .csv = &csv, .err = err };
    sl_status st = SL_OK;

    p.end = p.at + size;
    if (size >= 2 && ((p.at[0] == 0xff && p.at[1] == 0xfe) || (p.at[0] == 0xfe && p.at[1] == 0xff)))
        return sl_fail(err, SL_ERR_FORMAT, "captions",
                       "%s, row 1, column 1: this is UTF-16; save the table as 'CSV UTF-8'",
                       name);
    if (size >= 3 && memcmp(p.at, bom, 3) == 0) {
        csv.bom = true;
        p.at += 3;
    }
    csv.separator = find_separator(p.at, p.end);
    csv.text = malloc(2 * size + 2); /* a cell's end takes a byte, and so did what ended it */
    if (csv.text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "captions", "out of memory");
    p.to = csv.text;
    while (st == SL_OK && p.at < p.end)
        st = take_row(&p);
    free(p.cell);
    if (st != SL_OK) {
        sl_csv_clear(&csv);
        return st;
    }
    *out = csv;
    return SL_OK;
}

void sl_csv_clear(sl_csv *csv)
{
    for (size_t i = 0; i < csv->rows; i++)
        free(csv->row[i]);
    free(csv->row);
    free(csv->number);
    free(csv->text);
    *csv = (sl_csv){ .separator = ',' };
}

/* Also behind apostrophes, so that every text comes back as it was. */
static bool looks_like_a_formula(const char *text)
{
    text += strspn(text, "'");
    return *text != '\0' && strchr("=+-@\t\r", *text) != NULL;
}

static void put_cell(FILE *out, bool guarded, const char *text, char separator, bool last)
{
    /* blanks at the ends too: some programs drop them from plain cells */
    const size_t n = strlen(text);
    const bool quote = strpbrk(text, ",;\t\"\r\n") != NULL
                       || (n > 0 && (text[0] == ' ' || text[n - 1] == ' '));

    if (quote)
        (void)fputc('"', out);
    if (guarded)
        (void)fputc('\'', out);
    for (; *text != '\0'; text++) {
        if (*text == '"')
            (void)fputc('"', out);
        (void)fputc(*text, out);
    }
    if (quote)
        (void)fputc('"', out);
    if (last)
        (void)fputs("\r\n", out);
    else
        (void)fputc(separator, out);
}

void sl_csv_put(FILE *out, const char *text, char separator, bool last)
{
    put_cell(out, false, text, separator, last);
}

void sl_csv_put_text(FILE *out, const char *text, char separator, bool last)
{
    put_cell(out, looks_like_a_formula(text), text, separator, last);
}

const char *sl_csv_text(const char *cell)
{
    return *cell == '\'' && looks_like_a_formula(cell) ? cell + 1 : cell;
}

size_t sl_csv_column(const sl_csv *csv, const char *title)
{
    for (size_t i = 0; csv->rows > 0 && i < csv->columns; i++) {
        const char *cell = csv->row[0][i];
        size_t n = strlen(cell);

        for (; *cell == ' '; n--)
            cell++;
        while (n > 0 && cell[n - 1] == ' ')
            n--;
        if (n == strlen(title) && strncasecmp(cell, title, n) == 0)
            return i;
    }
    return SIZE_MAX;
}
