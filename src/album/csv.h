/* Tables that spreadsheets save: RFC 4180, UTF-8, with commas, semicolons or tabs. */
#ifndef SL_ALBUM_CSV_H
#define SL_ALBUM_CSV_H

#include <stdio.h>

#include "squareleaf.h"

typedef struct sl_csv {
    char  ***row;            /* rows x columns cells, none NULL; row 0 is the header */
    size_t   rows;
    size_t  *number;         /* of each row in the file, from 1 */
    size_t   columns;        /* of the header; shorter rows are filled up with "" */
    char     separator;
    bool     bom;            /* it began with a byte order mark */
    char    *text;           /* what the cells live in */
} sl_csv;

/*
 * The separator is the one of the three that the header has most of, outside quotes. A byte order
 * mark is passed over; rows of empty cells are left out.
 * SL_ERR_FORMAT, naming `name`, the row and column (both from 1, the header is row 1; the column
 * by its title too) and "CSV UTF-8", for bytes that are no UTF-8, quotes in wrong places, and rows
 * longer than the header.
 */
sl_status sl_csv_parse(sl_csv *out, const void *bytes, size_t size, const char *name,
                       sl_error *err);
void sl_csv_clear(sl_csv *csv);

/* One cell, quoted where it must be, and the separator or CR LF behind it. */
void sl_csv_put(FILE *out, const char *text, char separator, bool last);

/*
 * The same of a text that spreadsheets must not take for a formula: with an apostrophe before it
 * where it begins with = + - @, a tab or a carriage return, apostrophes passed over (common practice
 * against 'CSV injection', so OWASP, from memory). A figure is no such text.
 */
void sl_csv_put_text(FILE *out, const char *text, char separator, bool last);

/* What sl_csv_put_text() was given; other cells as they are. */
const char *sl_csv_text(const char *cell);

/* Column of a title, in any case; SIZE_MAX when there is none. */
size_t sl_csv_column(const sl_csv *csv, const char *title);

#endif
