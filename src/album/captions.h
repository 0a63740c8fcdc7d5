/*
 * captions.csv: what a person fills in about the pages, one row a page, in any spreadsheet.
 *
 *   shot,page,caption,date,place,people
 *   leaf-3.jpg,page-0003,Haymaking,about 1934,Alder Mere,Ada Pell; Ben Pell
 *
 * Columns are known by their titles, in any order; others are a person's own and are left alone.
 * A row is about the page of its shot and page; where only one of the two is filled in, of that.
 */
#ifndef SL_ALBUM_CAPTIONS_H
#define SL_ALBUM_CAPTIONS_H

#include "album/csv.h"

typedef struct sl_caption {
    const char *shot;        /* as reports have it; "" not told */
    const char *page;
    sl_words    words;       /* "" where nothing is filled in; no NULL */
    size_t      row;         /* in the file, from 1 */
} sl_caption;

typedef struct sl_captions {
    char       *path;        /* NULL: there is no table */
    char       *other;       /* an older table that was there too, or NULL */
    sl_csv      csv;
    sl_caption *item;
    size_t      count;
    const sl_caption **by_page; /* of page and shot, in order */
    const sl_caption **by_shot; /* of shot, in order */
} sl_captions;

/*
 * Finds and reads the table: `path`, or with NULL the newer of OUT_DIR/captions.csv and
 * SHOTS_DIR/captions.csv. None is no error, but with `path`.
 * SL_ERR_FORMAT as sl_csv_parse() has it, and for a header without `page` and `shot`, two rows
 * about one page, and a cell of more than 8,000 bytes.
 */
sl_status sl_captions_read(sl_captions *out, const char *path, const char *shots_dir,
                           const char *out_dir, sl_error *err);
void sl_captions_clear(sl_captions *captions);

/* What such a file holds; path and other stay NULL. `name` is for messages. */
sl_status sl_captions_parse(sl_captions *out, const void *bytes, size_t size, const char *name,
                            sl_error *err);

/* The row about a page; NULL when there is none. captions may be NULL. */
const sl_caption *sl_captions_of(const sl_captions *captions, const char *page,
                                 const char *shot);

#endif
