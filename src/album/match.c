#define _XOPEN_SOURCE 700    /* realpath() is of POSIX.1-2008's XSI part */
#include "album/match.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

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

static bool is_good(const page_line *p)
{
    return sl_line_outcome(p->line) <= SL_OUTCOME_LOOK;
}

/* Lets each work without a page claim the first free one that is the same; how many good ones
   went. */
static size_t claim(candidate *c, size_t count, page_line *page, size_t pages, same_fn same)
{
    size_t good = 0;

    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; c[i].work->line == NULL && k < pages; k++) {
            if (page[k].claimed || !same(&c[i], &page[k]))
                continue;
            page[k].claimed = true;
            c[i].work->line = json_incref(page[k].line);
            good += is_good(&page[k]);
        }
    }
    return good;
}

static const char *text_of(const json_t *line, const char *key)
{
    const char *text = json_string_value(json_object_get(line, key));

    return text != NULL ? text : "";
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
    const size_t pages = json_object_size(run->journal->by_page);
    page_line *page = calloc(pages + 1, sizeof *page);
    candidate *c = calloc(count + 1, sizeof *c);
    sl_status st = SL_OK;
    size_t n = 0;
    const char *name;
    json_t *line;

    if (page == NULL || c == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (st == SL_OK) {
        json_object_foreach(run->journal->by_page, name, line)
            if (!sl_line_retired(line))
                page[n++] = (page_line){ line, text_of(line, "shot"), text_of(line, "folder"),
                                     text_of(line, "sha256"),
                                     json_integer_value(json_object_get(line, "size")),
                                     json_integer_value(json_object_get(line, "mtime")), false };
        for (size_t i = 0; i < count; i++)
            c[i] = (candidate){ .work = &work[i], .folder = run->shots_dir,
                                .trust_time = !run->params->rehash };
        (void)claim(c, count, page, n, same_stamp_here);
        (void)claim(c, count, page, n, same_stamp);
        (void)claim(c, count, page, n, same_bytes_and_name);
        (void)claim(c, count, page, n, same_bytes);
        st = judge_retakes(claim(c, count, page, n, same_name_here), page, n, run, err);
    }
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
