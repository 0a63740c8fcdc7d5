#include "album/captions.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/error.h"
#include "base/file.h"

enum { TABLE_MOST = 64000000, CELL_MOST = 8000, COLUMNS = 6 };

static const char *const titles[COLUMNS] = { "shot", "page", "caption", "date", "place",
                                             "people" };

/* Blanks at both ends are no words; the cell is cut in place. */
static const char *trimmed(char *cell)
{
    size_t n;

    cell += strspn(cell, " \t\r\n");
    for (n = strlen(cell); n > 0 && strchr(" \t\r\n", cell[n - 1]) != NULL; n--)
        cell[n - 1] = '\0';
    return cell;
}

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

/*
 * Is a word another one, misspelt: by one letter that is missing, too many, wrong, or in its
 * neighbour's place? Case is none of it.
 */
static bool misspelt(const char *word, const char *right)
{
    size_t same = 0;
    const size_t n = strlen(word);
    const size_t m = strlen(right);

    while (same < n && same < m && lower(word[same]) == right[same])
        same++;
    for (size_t skip = 0; skip < 3; skip++) {
        for (size_t more = 0; more < 3; more++) {
            const char *a = word + same + skip;
            const char *b = right + same + more;
            size_t k = 0;

            if (same + skip > n || same + more > m || skip + more == 0 || skip + more == 3
                || (skip + more == 2 && skip != more) || n - same - skip != m - same - more)
                continue;
            /* two for two: they have changed places */
            if (skip == 2
                && (lower(word[same]) != right[same + 1] || lower(word[same + 1]) != right[same]))
                continue;
            while (a[k] != '\0' && lower(a[k]) == b[k])
                k++;
            if (a[k] == '\0')
                return true;
        }
    }
    return false;
}

/* A misspelt title would be taken for a column of the person's own, and its words be lost. */
static sl_status titles_are_right(sl_csv *csv, const size_t column[COLUMNS], const char *name,
                                  sl_error *err)
{
    bool words = false;

    for (size_t k = 2; k < COLUMNS; k++) {
        words = words || column[k] != SIZE_MAX;
        for (size_t x = 0; x < csv->columns && column[k] == SIZE_MAX; x++)
            if (misspelt(trimmed(csv->row[0][x]), titles[k]))
                return sl_fail(err, SL_ERR_FORMAT, "captions",
                               "%s, row 1, column %zu: '%.20s' is no title that is known; if it "
                               "is '%s', write it so, and save the table as 'CSV UTF-8'",
                               name, x + 1, trimmed(csv->row[0][x]), titles[k]);
    }
    if (!words)
        return sl_fail(err, SL_ERR_FORMAT, "captions",
                       "%s, row 1, column 1: no column is named caption, date, place or people; "
                       "begin with the table that `squareleaf captions` writes, and save it as "
                       "'CSV UTF-8'", name);
    return SL_OK;
}

/* ---- in order -------------------------------------------------------------------------------- */

static int page_order(const sl_caption *p, const sl_caption *q)
{
    const int order = strcmp(p->page, q->page);

    return order != 0 ? order : strcmp(p->shot, q->shot);
}

static int shot_order(const sl_caption *p, const sl_caption *q)
{
    return strcmp(p->shot, q->shot);
}

static int row_order(const sl_caption *p, const sl_caption *q)
{
    return (p->row > q->row) - (p->row < q->row);
}

static int by_page(const void *a, const void *b)
{
    const sl_caption *p = *(const sl_caption *const *)a;
    const sl_caption *q = *(const sl_caption *const *)b;
    const int order = page_order(p, q);

    return order != 0 ? order : row_order(p, q);
}

static int by_shot(const void *a, const void *b)
{
    const sl_caption *p = *(const sl_caption *const *)a;
    const sl_caption *q = *(const sl_caption *const *)b;
    const int order = shot_order(p, q);

    return order != 0 ? order : row_order(p, q);
}

static sl_status put_in_order(sl_captions *c, sl_error *err)
{
    c->by_page = calloc(c->count + 1, sizeof *c->by_page);
    c->by_shot = calloc(c->count + 1, sizeof *c->by_shot);
    if (c->by_page == NULL || c->by_shot == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "captions", "out of memory");
    for (size_t i = 0; i < c->count; i++)
        c->by_page[i] = c->by_shot[i] = &c->item[i];
    if (c->count > 1) {
        qsort(c->by_page, c->count, sizeof *c->by_page, by_page);
        qsort(c->by_shot, c->count, sizeof *c->by_shot, by_shot);
    }
    return SL_OK;
}

/* The first of rows in `order` that is none before `wanted`. */
static size_t first_not_before(const sl_caption *const *row, size_t count, const sl_caption *wanted,
                               int (*order)(const sl_caption *p, const sl_caption *q))
{
    size_t from = 0;
    size_t to = count;

    while (from < to) {
        const size_t middle = from + (to - from) / 2;

        if (order(row[middle], wanted) < 0)
            from = middle + 1;
        else
            to = middle;
    }
    return from;
}

static sl_status no_page_twice(const sl_captions *c, const char *name, sl_error *err)
{
    sl_status st = SL_OK;

    for (size_t i = 1; i < c->count && st == SL_OK; i++) {
        const sl_caption *p = c->by_page[i - 1];
        const sl_caption *q = c->by_page[i];

        if (page_order(p, q) == 0)
            st = sl_fail(err, SL_ERR_FORMAT, "captions",
                         "%s, row %zu, column page: rows %zu and %zu are both about %.40s; "
                         "leave one, and save the table as 'CSV UTF-8'", name, q->row, p->row,
                         q->row, *q->page != '\0' ? q->page : q->shot);
    }
    return st;
}

/* ---- reading --------------------------------------------------------------------------------- */

sl_status sl_captions_parse(sl_captions *out, const void *bytes, size_t size, const char *name,
                            sl_error *err)
{
    sl_captions c = { .path = NULL };
    size_t column[COLUMNS];
    sl_status st = sl_csv_parse(&c.csv, bytes, size, name, err);

    if (st != SL_OK)
        return st;
    for (size_t k = 0; k < COLUMNS; k++)
        column[k] = sl_csv_column(&c.csv, titles[k]);
    if (column[0] == SIZE_MAX && column[1] == SIZE_MAX)
        st = sl_fail(err, SL_ERR_FORMAT, "captions",
                     "%s, row 1, column 1: no column is named page or shot; begin with the "
                     "table that `squareleaf captions` writes, and save it as 'CSV UTF-8'", name);
    else
        st = titles_are_right(&c.csv, column, name, err);
    c.item = calloc(c.csv.rows + 1, sizeof *c.item);
    if (st == SL_OK && c.item == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "captions", "out of memory");
    for (size_t i = 1; i < c.csv.rows && st == SL_OK; i++) {
        const char *cell[COLUMNS];

        for (size_t k = 0; k < COLUMNS && st == SL_OK; k++) {
            cell[k] = column[k] == SIZE_MAX ? ""
                                            : sl_csv_text(trimmed(c.csv.row[i][column[k]]));
            if (strlen(cell[k]) > CELL_MOST)
                st = sl_fail(err, SL_ERR_FORMAT, "captions",
                             "%s, row %zu, column %s: more than %d bytes; shorten it, and save "
                             "the table as 'CSV UTF-8'", name, c.csv.number[i], titles[k],
                             CELL_MOST);
        }
        if (st == SL_OK && (*cell[0] != '\0' || *cell[1] != '\0'))
            c.item[c.count++] = (sl_caption){ cell[0], cell[1],
                                              { cell[2], cell[3], cell[4], cell[5] },
                                              c.csv.number[i] };
    }
    if (st == SL_OK)
        st = put_in_order(&c, err);
    if (st == SL_OK)
        st = no_page_twice(&c, name, err);
    if (st != SL_OK) {
        sl_captions_clear(&c);
        return st;
    }
    *out = c;
    return SL_OK;
}

void sl_captions_clear(sl_captions *captions)
{
    sl_csv_clear(&captions->csv);
    free(captions->item);
    free(captions->by_page);
    free(captions->by_shot);
    free(captions->path);
    free(captions->other);
    *captions = (sl_captions){ .path = NULL };
}

static bool newer(const struct stat *a, const struct stat *b)
{
    if (a->st_mtim.tv_sec != b->st_mtim.tv_sec)
        return a->st_mtim.tv_sec > b->st_mtim.tv_sec;
    return a->st_mtim.tv_nsec > b->st_mtim.tv_nsec;
}

/* The table to read, and another that is there too. */
static sl_status find_table(char **path, char **other, const char *shots_dir, const char *out_dir,
                            sl_error *err)
{
    char *here = sl_path_join(out_dir, "captions.csv");
    char *there = sl_path_join(shots_dir, "captions.csv");
    struct stat a;
    struct stat b;
    bool has_a;
    bool has_b;

    if (here == NULL || there == NULL) {
        free(here);
        free(there);
        return sl_fail(err, SL_ERR_NOMEM, "captions", "out of memory");
    }
    has_a = stat(here, &a) == 0;
    has_b = stat(there, &b) == 0;
    if (has_b && (!has_a || newer(&b, &a))) {
        *path = there;
        *other = here;
    } else {
        *path = here;
        *other = there;
    }
    if (!has_a || !has_b) {
        free(*other);
        *other = NULL;
    }
    if (!has_a && !has_b) {
        free(*path);
        *path = NULL;
    }
    return SL_OK;
}

sl_status sl_captions_read(sl_captions *out, const char *path, const char *shots_dir,
                           const char *out_dir, sl_error *err)
{
    char *found = NULL;
    char *other = NULL;
    void *bytes = NULL;
    size_t size = 0;
    sl_status st = SL_OK;

    *out = (sl_captions){ .path = NULL };
    if (path == NULL)
        st = find_table(&found, &other, shots_dir, out_dir, err);
    else if ((found = strdup(path)) == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "captions", "out of memory");
    if (st == SL_OK && found != NULL)
        st = sl_file_read(&bytes, &size, found, TABLE_MOST, err);
    if (st == SL_OK && found != NULL)
        st = sl_captions_parse(out, size > 0 ? bytes : "", size, found, err);
    free(bytes);
    if (st != SL_OK) {
        free(found);
        free(other);
        return st;
    }
    out->path = found;
    out->other = other;
    return SL_OK;
}

/* The row of that page and shot; NULL when there is none. */
static const sl_caption *row_of(const sl_captions *c, const char *page, const char *shot)
{
    const sl_caption wanted = { .page = page, .shot = shot };
    const size_t i = first_not_before(c->by_page, c->count, &wanted, page_order);

    return i < c->count && page_order(c->by_page[i], &wanted) == 0 ? c->by_page[i] : NULL;
}

/* The row of that shot where it is one only. */
static const sl_caption *row_of_shot(const sl_captions *c, const char *shot)
{
    const sl_caption wanted = { .page = "", .shot = shot };
    const size_t i = first_not_before(c->by_shot, c->count, &wanted, shot_order);

    if (i == c->count || shot_order(c->by_shot[i], &wanted) != 0
        || (i + 1 < c->count && shot_order(c->by_shot[i + 1], &wanted) == 0))
        return NULL;
    return c->by_shot[i];
}

const sl_caption *sl_captions_of(const sl_captions *captions, const char *page, const char *shot)
{
    const sl_caption *row;

    if (captions == NULL || captions->count == 0)
        return NULL;
    row = row_of(captions, page, shot);
    if (row == NULL)         /* pages that were renumbered since are known by their shot */
        row = row_of_shot(captions, shot);
    return row != NULL ? row : row_of(captions, page, "");
}
