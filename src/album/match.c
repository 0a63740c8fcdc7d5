#define _XOPEN_SOURCE 700    /* realpath() is of POSIX.1-2008's XSI part */
#include "album/match.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "album/naming.h"
#include "album/report.h"
#include "base/error.h"
#include "base/sha256.h"

/* Fewer replaced pages than this are shots taken once more, however small the album. */
enum { RETAKES_FREE = 2 };

/* A page of earlier runs. */
typedef struct page_line {
    json_t     *line;        /* borrowed from the journal */
    const char *shot;
    const char *folder;
    const char *sha256;
    json_int_t  size;
    json_int_t  mtime;
    bool        claimed;
} page_line;

/* A shot of this run; hashed when a page of its size turns up. */
typedef struct candidate {
    sl_work    *work;
    const char *folder;
    bool        trust_time;
    bool        hashed;
    char        sha256[SL_SHA256_HEX];
} candidate;

typedef bool (*same_fn)(candidate *c, const page_line *p);

static bool same_stamp(candidate *c, const page_line *p)
{
    const struct stat *st = &c->work->entry->stat;

    return c->trust_time && p->size == (json_int_t)st->st_size
           && p->mtime == sl_work_time(st) && strcmp(p->shot, c->work->shot) == 0;
}

static bool same_stamp_here(candidate *c, const page_line *p)
{
    return same_stamp(c, p) && strcmp(p->folder, c->folder) == 0;
}

static bool same_bytes(candidate *c, const page_line *p)
{
    if (p->size != (json_int_t)c->work->entry->stat.st_size || p->sha256[0] == '\0')
        return false;
    if (!c->hashed) {
        void *bytes = NULL;
        size_t size = 0;

        c->hashed = true;
        if (sl_file_read(&bytes, &size, c->work->entry->path, SL_WORK_FILE_MOST, NULL) == SL_OK)
            sl_sha256(c->sha256, bytes, size);
        free(bytes);
    }
    return strcmp(p->sha256, c->sha256) == 0;
}

/* The same bytes under the same name first: of two equal shots each keeps its own page. */
static bool same_bytes_and_name(candidate *c, const page_line *p)
{
    return strcmp(p->shot, c->work->shot) == 0 && same_bytes(c, p);
}

static bool same_name_here(candidate *c, const page_line *p)
{
    return strcmp(p->shot, c->work->shot) == 0 && strcmp(p->folder, c->folder) == 0;
}

/* Of a page that was never made: a raw file that was converted since, a damaged one that came again
   in another format. */
static bool same_stem_unmade(candidate *c, const page_line *p)
{
    return strcmp(p->folder, c->folder) == 0
           && json_array_size(json_object_get(p->line, "files")) == 0;
}

static bool is_good(const page_line *p)
{
    return sl_line_outcome(p->line) <= SL_OUTCOME_LOOK;
}

/* Orders of the pages in which those that can be the same stand side by side. */
static int by_shot(const void *a, const void *b)
{
    const page_line *p = *(page_line *const *)a;
    const page_line *q = *(page_line *const *)b;
    const int order = strcmp(p->shot, q->shot);

    return order != 0 ? order : p < q ? -1 : p > q;
}

/* Names without their endings. */
static int stem_order(const page_line *p, const page_line *q)
{
    const size_t m = sl_shot_bare(p->shot);
    const size_t n = sl_shot_bare(q->shot);
    const int order = strncmp(p->shot, q->shot, m < n ? m : n);

    return order != 0 ? order : m < n ? -1 : m > n;
}

static int by_stem(const void *a, const void *b)
{
    const page_line *p = *(page_line *const *)a;
    const page_line *q = *(page_line *const *)b;
    const int order = stem_order(p, q);

    return order != 0 ? order : p < q ? -1 : p > q;
}

static int by_size(const void *a, const void *b)
{
    const page_line *p = *(page_line *const *)a;
    const page_line *q = *(page_line *const *)b;

    return p->size != q->size ? (p->size < q->size ? -1 : 1) : p < q ? -1 : p > q;
}

/* The same without the place in the journal. */
static int shot_order(const page_line *p, const page_line *q)
{
    return strcmp(p->shot, q->shot);
}

static int size_order(const page_line *p, const page_line *q)
{
    return p->size != q->size ? (p->size < q->size ? -1 : 1) : 0;
}

/* The pages in one of those orders. */
typedef struct page_order {
    page_line **page;
    size_t      count;
    int       (*order)(const page_line *p, const page_line *q);
} page_order;

static size_t first_not_before(const page_order *p, const page_line *key)
{
    size_t from = 0;
    size_t to = p->count;

    while (from < to) {
        const size_t middle = from + (to - from) / 2;

        if (p->order(p->page[middle], key) < 0)
            from = middle + 1;
        else
            to = middle;
    }
    return from;
}

/* Lets each work without a page claim the first free one that is the same; how many good ones
   went. */
static size_t claim(candidate *c, size_t count, const page_order *p, same_fn same)
{
    size_t good = 0;

    for (size_t i = 0; i < count; i++) {
        const page_line key = { .shot = c[i].work->shot,
                                .size = (json_int_t)c[i].work->entry->stat.st_size };

        if (c[i].work->line != NULL)
            continue;
        for (size_t k = first_not_before(p, &key);
             k < p->count && p->order(p->page[k], &key) == 0; k++) {
            if (p->page[k]->claimed || !same(&c[i], p->page[k]))
                continue;
            p->page[k]->claimed = true;
            c[i].work->line = json_incref(p->page[k]->line);
            good += is_good(p->page[k]);
            break;
        }
    }
    return good;
}

static sl_status judge_retakes(size_t retakes, const page_line *page, size_t pages,
                               const sl_run *run, sl_error *err)
{
    size_t good = 0;

    for (size_t k = 0; k < pages; k++)
        good += is_good(&page[k]) && strcmp(page[k].folder, run->shots_dir) == 0;
    if (run->params->force || retakes <= RETAKES_FREE || 2 * retakes <= good)
        return SL_OK;
    return sl_fail(err, SL_ERR_EXISTS, "album",
                   "%zu of %zu good pages in %s are of shots with the same names but other "
                   "pictures: for another album choose another folder; --force replaces the pages",
                   retakes, good, run->out_dir);
}

sl_status sl_match_works(sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    const size_t most = json_object_size(run->journal->by_page);
    page_line *page = calloc(most + 1, sizeof *page);
    page_line **by[3] = { calloc(most + 1, sizeof *by[0]), calloc(most + 1, sizeof *by[1]),
                          calloc(most + 1, sizeof *by[2]) };
    candidate *c = calloc(count + 1, sizeof *c);
    sl_status st = SL_OK;
    size_t n = 0;
    const char *name;
    json_t *line;

    if (page == NULL || c == NULL || by[0] == NULL || by[1] == NULL
        || by[2] == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (st == SL_OK) {
        page_order shots = { by[0], 0, shot_order };
        page_order sizes = { by[1], 0, size_order };
        page_order stems = { by[2], 0, stem_order };

        json_object_foreach(run->journal->by_page, name, line)
            if (!sl_line_retired(line))
                page[n++] = (page_line){
                    .line = line,
                    .shot = sl_json_text(line, "shot"),
                    .folder = sl_json_text(line, "folder"),
                    .sha256 = sl_json_text(line, "sha256"),
                    .size = json_integer_value(json_object_get(line, "size")),
                    .mtime = json_integer_value(json_object_get(line, "mtime")),
                };
        for (size_t i = 0; i < count; i++)
            c[i] = (candidate){ .work = &work[i], .folder = run->shots_dir,
                                .trust_time = !run->params->rehash };
        for (size_t k = 0; k < n; k++)
            by[0][k] = by[1][k] = by[2][k] = &page[k];
        if (n > 0) {
            qsort(by[0], n, sizeof *by[0], by_shot);
            qsort(by[1], n, sizeof *by[1], by_size);
            qsort(by[2], n, sizeof *by[2], by_stem);
        }
        shots.count = sizes.count = stems.count = n;
        (void)claim(c, count, &shots, same_stamp_here);
        (void)claim(c, count, &shots, same_stamp);
        (void)claim(c, count, &shots, same_bytes_and_name);
        (void)claim(c, count, &sizes, same_bytes);
        st = judge_retakes(claim(c, count, &shots, same_name_here), page, n, run, err);
        (void)claim(c, count, &stems, same_stem_unmade);
    }
    free(by[2]);
    free(by[1]);
    free(by[0]);
    free(c);
    free(page);
    return st;
}

sl_status sl_match_place(char **out, const char *shots_dir, sl_error *err)
{
    char *path = realpath(shots_dir, NULL);
    json_t *name = path != NULL ? sl_report_name(path) : NULL;
    sl_status st = SL_OK;

    if (path == NULL)
        st = sl_fail_errno(err, errno, "album", shots_dir);
    else if (name == NULL || (*out = strdup(json_string_value(name))) == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    json_decref(name);
    free(path);
    return st;
}
