#include "bag/gather.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "bag/tree.h"
#include "base/error.h"
#include "base/file.h"
#include "base/text.h"

static const char STATE[] = ".squareleaf"; /* journal and lock: of this place and machine */

static sl_status no_memory(sl_error *err)
{
    return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
}

/* Takes over `from` and `path`. */
static sl_status add(sl_gathered *g, char *from, char *path, const char *sha256, bool is_shot,
                     uint64_t size, sl_error *err)
{
    if (from != NULL && path != NULL && (g->count & (g->count + 1)) == 0) {
        sl_gathered_file *grown = realloc(g->file, 2 * (g->count + 1) * sizeof *grown);

        if (grown != NULL) {
            g->file = grown;
        } else {
            free(from);
            from = NULL;
        }
    }
    if (from == NULL || path == NULL) {
        free(from);
        free(path);
        return no_memory(err);
    }
    g->file[g->count++] = (sl_gathered_file){ .from = from, .path = path,
                                              .sha256 = sha256, .is_shot = is_shot };
    g->bytes += (double)size;
    return SL_OK;
}

/* ---- the album's folder ---------------------------------------------------------------------- */

static const char *sum_of(const sl_record *record, const char *path)
{
    for (size_t i = 0; i < record->pages; i++)
        for (size_t k = 0; k < record->page[i].files; k++)
            if (strcmp(record->page[i].file[k].path, path) == 0)
                return record->page[i].file[k].sha256;
    return NULL;
}

/* Tag files are UTF-8 (RFC 8493, 2.2): a name that is not gets the form that reports have. */
static char *bag_path(const char *folder, const char *path)
{
    char *shown = sl_text_is_utf8(path) ? strdup(path) : sl_text_shown(path);
    char *whole = shown != NULL ? sl_path_join(folder, shown) : NULL;

    free(shown);
    return whole;
}

static bool ends_with(const char *text, const char *end)
{
    const size_t n = strlen(text);
    const size_t m = strlen(end);

    return n >= m && strcmp(text + n - m, end) == 0;
}

static void note_left_out(const sl_keep_events *events, const char *path)
{
    char *shown = sl_text_shown(path);
    char text[300];

    if (events != NULL && events->note != NULL && shown != NULL) {
        (void)snprintf(text, sizeof text, "%s is no plain file and is left out", shown);
        events->note(events->ctx, text);
    }
    free(shown);
}

static sl_status gather_pages(sl_gathered *g, const sl_record *record,
                              const sl_keep_events *events, sl_error *err)
{
    sl_tree tree;
    sl_status st = sl_tree_list(&tree, record->out_dir, STATE, err);

    if (st != SL_OK)
        return st;
    for (size_t i = 0; i < tree.count && st == SL_OK; i++) {
        const sl_tree_file *file = &tree.file[i];

        if (!file->is_plain)
            note_left_out(events, file->path);
        else if (!ends_with(file->path, ".part"))
            st = add(g, sl_path_join(record->out_dir, file->path), bag_path("data", file->path),
                     sum_of(record, file->path), false, file->size, err);
    }
    sl_tree_clear(&tree);
    return st;
}

/* ---- the shots ------------------------------------------------------------------------------- */

sl_status sl_gather_shot(char **out, const sl_record_page *page, const char *shots_dir,
                         sl_error *err)
{
    char *name;

    *out = NULL;
    if (shots_dir == NULL) {
        if (page->shot_path != NULL && (*out = strdup(page->shot_path)) == NULL)
            return no_memory(err);
        return SL_OK;
    }
    name = sl_text_name(page->shot);
    if (name != NULL)
        *out = sl_path_join(shots_dir, name);
    free(name);
    return *out != NULL ? SL_OK : no_memory(err);
}

/* Length of the folder's part of a path. */
static size_t folder_of(const char *path)
{
    const char *slash = strrchr(path, '/');

    return slash != NULL ? (size_t)(slash - path) : 0;
}

/*
 * Where a shot goes: its folder's number by first appearance among the gathered shots, so that two
 * batches with the same names stay apart.
 */
static char *place_of(const sl_gathered *g, size_t first, const char *from)
{
    const size_t n = folder_of(from);
    unsigned number = 1;
    char folder[40];

    for (size_t i = first; i < g->count; i++) {
        const char *other = g->file[i].from;
        bool seen = false;

        if (folder_of(other) == n && strncmp(other, from, n) == 0)
            break;
        for (size_t k = first; k < i && !seen; k++)
            seen = folder_of(g->file[k].from) == folder_of(other)
                   && strncmp(g->file[k].from, other, folder_of(other)) == 0;
        number += !seen;
    }
    if (number == 1)
        (void)snprintf(folder, sizeof folder, "data/shots");
    else
        (void)snprintf(folder, sizeof folder, "data/shots-%u", number);
    return bag_path(folder, from + (n > 0 ? n + 1 : 0));
}

static sl_status lose(sl_gathered *g, const sl_record_page *page, const char *why)
{
    g->lost[g->lost_count++] = (sl_lost_shot){ page->shot, page->page, why };
    return SL_OK;
}

static sl_status gather_shot(sl_gathered *g, size_t first, const sl_record_page *page,
                             const sl_bag_params *params, sl_error *err)
{
    char *from;
    char *path;
    struct stat info;
    sl_status st = sl_gather_shot(&from, page, params->shots_dir, err);

    if (st != SL_OK)
        return st;
    if (from == NULL)
        return lose(g, page, "nobody knows where it was");
    if (stat(from, &info) != 0 || !S_ISREG(info.st_mode)) {
        free(from);
        return lose(g, page,
                    params->shots_dir != NULL ? "it is not in the folder that --shots names"
                                              : "it is not there any more");
    }
    for (size_t i = first; i < g->count; i++)
        if (strcmp(g->file[i].from, from) == 0) {
            free(from);      /* two pages of one shot */
            return SL_OK;
        }
    path = place_of(g, first, from);
    return add(g, from, path, page->shot_sha256[0] != '\0' ? page->shot_sha256 : NULL, true,
               (uint64_t)info.st_size, err);
}

static int by_path(const void *a, const void *b)
{
    return strcmp(((const sl_gathered_file *)a)->path, ((const sl_gathered_file *)b)->path);
}

sl_status sl_gather(sl_gathered *out, const sl_record *record, const sl_bag_params *params,
                    const sl_keep_events *events, sl_error *err)
{
    sl_gathered g = { NULL, 0, NULL, 0, 0 };
    sl_status st = SL_OK;
    size_t first;

    g.lost = calloc(record->pages + 1, sizeof *g.lost);
    if (g.lost == NULL)
        st = no_memory(err);
    if (st == SL_OK)
        st = gather_pages(&g, record, events, err);
    first = g.count;
    for (size_t i = 0; i < record->pages && st == SL_OK && !params->without_shots; i++)
        st = gather_shot(&g, first, &record->page[i], params, err);
    if (st != SL_OK) {
        sl_gathered_clear(&g);
        return st;
    }
    if (g.count > 0)
        qsort(g.file, g.count, sizeof *g.file, by_path);
    for (size_t i = 1; i < g.count; i++)
        if (strcmp(g.file[i - 1].path, g.file[i].path) == 0) {
            st = sl_fail(err, SL_ERR_EXISTS, "bag", "two files would be %s: rename one",
                         g.file[i].path);
            sl_gathered_clear(&g);
            return st;
        }
    *out = g;
    return SL_OK;
}

void sl_gathered_clear(sl_gathered *g)
{
    for (size_t i = 0; i < g->count; i++) {
        free(g->file[i].from);
        free(g->file[i].path);
    }
    free(g->file);
    free(g->lost);
    *g = (sl_gathered){ NULL, 0, NULL, 0, 0 };
}
