/* captions.csv made, or gone on with: what a person filled in stays, new pages are added. */
#include <stdlib.h>
#include <string.h>

#include "album/captions.h"
#include "base/error.h"
#include "base/file.h"

static const char *const titles[] = { "shot", "page", "caption", "date", "place", "people" };

enum { TITLES = sizeof titles / sizeof *titles };

static const char *text_of(const char *text)
{
    return text != NULL ? text : "";
}

/* What a new row says under a title; "" under one of a person's own. */
static const char *new_cell(const sl_record_page *page, size_t title)
{
    const char *const cell[TITLES] = { page->shot, page->page, text_of(page->words.caption),
                                       text_of(page->words.date), text_of(page->words.place),
                                       text_of(page->words.people) };

    return title < TITLES ? cell[title] : "";
}

/* Which of our titles each column of the table has; TITLES for a person's own. */
static size_t *columns_of(const sl_csv *csv)
{
    size_t *title = calloc(csv->columns + 1, sizeof *title);

    for (size_t i = 0; title != NULL && i < csv->columns; i++)
        title[i] = TITLES;
    for (size_t k = 0; title != NULL && k < TITLES; k++) {
        const size_t column = sl_csv_column(csv, titles[k]);

        if (column != SIZE_MAX)
            title[column] = k;
    }
    return title;
}

static void put_old(FILE *out, const sl_csv *csv)
{
    for (size_t y = 0; y < csv->rows; y++)
        for (size_t x = 0; x < csv->columns; x++)
            sl_csv_put(out, csv->row[y][x], csv->separator, x + 1 == csv->columns);
}

static void put_new(FILE *out, const sl_record_page *page, const sl_csv *csv, const size_t *title)
{
    for (size_t x = 0; x < csv->columns; x++)
        sl_csv_put_text(out, new_cell(page, title[x]), csv->separator, x + 1 == csv->columns);
}

/* The table that is there, or an empty one with our titles. */
static sl_status open_table(sl_captions *table, bool *exists, const char *path, sl_error *err)
{
    /* a byte order mark, or some spreadsheets take UTF-8 for their own old code */
    static const char head[] = "\xef\xbb\xbfshot,page,caption,date,place,people\r\n";
    sl_file_id id;

    *exists = sl_file_identify(&id, path);
    return *exists ? sl_captions_read(table, path, "", "", err)
                   : sl_captions_parse(table, head, sizeof head - 1, path, err);
}

/* The table with the new pages, in memory; NULL when that is short. */
static char *table_text(size_t *size, const sl_captions *table, const sl_record *record,
                        const bool *fresh)
{
    size_t *title = columns_of(&table->csv);
    char *text = NULL;
    FILE *out = title != NULL ? open_memstream(&text, size) : NULL;
    bool whole = out != NULL;

    if (out != NULL) {
        if (table->csv.bom)
            (void)fputs("\xef\xbb\xbf", out);
        put_old(out, &table->csv);
        for (size_t i = 0; i < record->pages; i++)
            if (fresh[i])
                put_new(out, &record->page[i], &table->csv, title);
        whole = ferror(out) == 0;
        whole = fclose(out) == 0 && whole;
    }
    free(title);
    if (whole)
        return text;
    free(text);
    return NULL;
}

static sl_status write_table(const char *path, const sl_captions *table, const sl_record *record,
                             const bool *fresh, sl_error *err)
{
    size_t size = 0;
    char *text = table_text(&size, table, record, fresh);
    sl_part part;
    sl_status st = SL_OK;

    if (text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "captions", "out of memory");
    st = sl_part_open(&part, path, NULL, 0, err);
    if (st == SL_OK)
        st = sl_part_save(&part, text, size, err);
    free(text);
    return st;
}

sl_status sl_captions_table(sl_captions_told *told, const char *out_dir, sl_error *err)
{
    sl_record *record = NULL;
    sl_captions table = { .path = NULL };
    char *path = NULL;
    bool *fresh = NULL;
    bool exists = false;
    sl_status st = sl_record_open(&record, out_dir, err);

    if (st != SL_OK)
        return st;
    path = malloc(strlen(record->out_dir) + sizeof "/captions.csv");
    fresh = calloc(record->pages + 1, sizeof *fresh);
    if (path == NULL || fresh == NULL) {
        st = sl_fail(err, SL_ERR_NOMEM, "captions", "out of memory");
        goto done;
    }
    (void)sprintf(path, "%s/captions.csv", record->out_dir);
    st = open_table(&table, &exists, path, err);
    if (st != SL_OK)
        goto done;
    *told = (sl_captions_told){ record->pages, 0 };
    for (size_t i = 0; i < record->pages; i++) {
        fresh[i] = sl_captions_of(&table, record->page[i].page, record->page[i].shot) == NULL;
        told->added += fresh[i];
    }
    if (told->added > 0 || !exists)
        st = write_table(path, &table, record, fresh, err);
done:
    sl_captions_clear(&table);
    free(fresh);
    free(path);
    sl_record_free(record);
    return st;
}
