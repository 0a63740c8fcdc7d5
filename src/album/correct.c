#include "album/correct.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "album/chain.h"
#include "album/ours.h"
#include "album/report.h"
#include "album/words.h"
#include "base/error.h"
#include "base/file.h"

/* ---- whose correction ------------------------------------------------------------------------ */

/* Is the shot's file the one that its journal line is about, by size and time? */
static bool same_stamp(const sl_work *w)
{
    return json_integer_value(json_object_get(w->line, "size"))
               == (json_int_t)w->entry->stat.st_size
           && json_integer_value(json_object_get(w->line, "mtime"))
                  == sl_work_time(&w->entry->stat);
}

typedef struct hashing {
    sl_work      *work;
    const sl_run *run;
} hashing;

/* Corrections go by SHA-256: of a shot that no journal line vouches for it is worked out. */
static void hash_one(void *ctx, size_t index)
{
    const hashing *h = ctx;
    sl_work *w = &h->work[index];
    const char *known = sl_json_text(w->line, "sha256");
    void *bytes = NULL;
    size_t size = 0;

    if (known[0] != '\0' && !h->run->params->rehash && same_stamp(w)) {
        (void)snprintf(w->sha256, sizeof w->sha256, "%s", known);
        return;
    }
    /* what cannot be read fails later, with its reason */
    if (sl_file_read(&bytes, &size, w->entry->path, SL_WORK_FILE_MOST, NULL) == SL_OK && size > 0)
        sl_sha256(w->sha256, bytes, size);
    free(bytes);
}

static sl_work *work_of(sl_work *work, size_t count, const char *sha256)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(work[i].sha256, sha256) == 0)
            return &work[i];
    return NULL;
}

static json_t *line_of(const sl_journal *journal, const char *sha256)
{
    const char *page;
    json_t *line;

    json_object_foreach(journal->by_page, page, line)
        if (strcmp(sl_json_text(line, "sha256"), sha256) == 0 && !sl_line_retired(line))
            return line;
    return NULL;
}

static bool is_replaced(const sl_corrections *c, const char *sha256)
{
    for (size_t i = 0; i < c->count; i++)
        if (c->item[i].replaces != NULL && strcmp(c->item[i].replaces, sha256) == 0)
            return true;
    return false;
}

static const char *whose(const sl_correction *c)
{
    return *c->page != '\0' ? c->page : *c->shot != '\0' ? c->shot : c->shot_sha256;
}

/* Names what was said of shots that are not in the album (any more). */
static void refuse_strangers(sl_work *work, size_t count, sl_run *run)
{
    sl_corrections *c = run->corrections;
    json_t *known = json_object();

    for (size_t i = 0; i < count; i++)
        json_object_set_new(known, work[i].sha256, json_true());
    for (size_t i = 0; i < c->count; i++) {
        const sl_correction *item = &c->item[i];
        bool same_name = false;

        if (item->leave_out || json_object_get(known, item->shot_sha256) != NULL
            || is_replaced(c, item->shot_sha256)
            || work_of(work, count, item->shot_sha256) != NULL /* had memory been short above */
            || line_of(run->journal, item->shot_sha256) != NULL)
            continue;
        for (size_t k = 0; k < count; k++)
            same_name = same_name || strcmp(work[k].shot, item->shot) == 0;
        sl_corrections_refuse(c, whose(item), "",
                              same_name ? "was said of an earlier picture: the shot of this name "
                                          "is another now"
                                        : "its shot is not in the album any more");
    }
    json_decref(known);
}

/* ---- shots that become no page --------------------------------------------------------------- */

/* Notes that a page is given up, and takes its files away; they can be made again from the shot. */
static sl_status give_up(const json_t *line, const char *how, const sl_run *run, sl_error *err)
{
    json_t *gone;

    if (json_array_size(json_object_get(line, "files")) == 0
        && (json_object_get(line, how) != NULL || json_object_get(line, "outcome") == NULL))
        return SL_OK;
    sl_work_remove_files(line, strcmp(how, "retired") == 0, run);
    gone = json_pack("{s:s, s:s, s:s, s:b}", "page", sl_json_text(line, "page"), "shot",
                     sl_json_text(line, "shot"), "folder", sl_json_text(line, "folder"), how, true);
    if (gone == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (json_object_get(line, "label") != NULL)
        json_object_set(gone, "label", json_object_get(line, "label"));
    if (strcmp(how, "retired") != 0) {
        if (json_object_get(line, "review") != NULL)
            json_object_set(gone, "review", json_object_get(line, "review"));
        json_object_set(gone, "sha256", json_object_get(line, "sha256"));
        json_object_set(gone, "size", json_object_get(line, "size"));
        json_object_set(gone, "mtime", json_object_get(line, "mtime"));
    }
    return sl_journal_add(run->journal, gone, err);
}

/* Lets a shot take the page of the one that it replaces. */
static sl_status replace(sl_work *w, sl_work *work, size_t count, sl_run *run, sl_error *err)
{
    sl_work *earlier = work_of(work, count, w->correction->replaces);
    json_t *line = line_of(run->journal, w->correction->replaces);
    json_t *taken;
    sl_status st = SL_OK;

    if (earlier == NULL && line == NULL) {
        /* a page that was taken over before has the new shot's sum, and is the work's own */
        if (w->line == NULL || json_object_get(w->line, "replaced") == NULL)
            sl_corrections_refuse(run->corrections, whose(w->correction), "replaces",
                                  "is a shot that is not in the album");
        return SL_OK;
    }
    if (earlier != NULL && earlier->correction != NULL && earlier->correction->replaces != NULL
        && strcmp(earlier->correction->replaces, w->sha256) == 0) {
        sl_corrections_refuse(run->corrections, whose(w->correction), "replaces",
                              "two shots replace each other");
        return SL_OK;
    }
    if (earlier != NULL)
        earlier->left_out = "another shot replaces it";
    if (line == NULL || line == w->line)
        return SL_OK;
    taken = json_copy(line);
    if (taken == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    json_object_del(taken, "key"); /* to be done again */
    json_object_set_new(taken, "replaced", json_string(w->correction->replaces));
    if (w->line != NULL)
        st = give_up(w->line, "retired", run, err);
    json_decref(w->line);
    w->line = taken;
    if (earlier != NULL) {
        json_decref(earlier->line);
        earlier->line = NULL;
    }
    return st;
}

/* Puts a shot that takes another's page into that one's place among the works. */
static void take_place(sl_work *work, size_t count, size_t from)
{
    const sl_work moved = work[from];
    size_t to = from;

    for (size_t i = 0; i < count; i++)
        if (strcmp(work[i].sha256, moved.correction->replaces) == 0)
            to = i;
    if (to < from)
        memmove(work + to + 1, work + to, (from - to) * sizeof *work);
    else
        memmove(work + from, work + from + 1, (to - from) * sizeof *work);
    work[to] = moved;
}

/* Those that become no page go to the end; how many are left. */
static sl_status part_works(sl_work *work, size_t *count, sl_error *err)
{
    sl_work *out = calloc(*count + 1, sizeof *out);
    size_t in = 0;
    size_t n = 0;

    if (out == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    for (size_t i = 0; i < *count; i++) {
        if (work[i].left_out != NULL)
            out[n++] = work[i];
        else
            work[in++] = work[i];
    }
    memcpy(work + in, out, n * sizeof *out);
    *count = in;
    free(out);
    return SL_OK;
}

/* ---- order ----------------------------------------------------------------------------------- */

typedef struct place {
    size_t rank;             /* of the listed shot that it is or follows, from 1; 0: before all */
    size_t index;
} place;

static int by_place(const void *a, const void *b)
{
    const place *p = a;
    const place *q = b;

    if (p->rank != q->rank)
        return p->rank < q->rank ? -1 : 1;
    return p->index < q->index ? -1 : p->index > q->index;
}

sl_status sl_correct_order(size_t *index, const char *const *sha256, size_t count,
                           const sl_corrections *corrections, sl_error *err)
{
    json_t *rank_of;
    place *p;
    size_t rank = 0;
    size_t i;
    const json_t *value;

    if (corrections == NULL || corrections->order == NULL)
        return SL_OK;
    rank_of = json_object();
    p = calloc(count + 1, sizeof *p);
    if (rank_of == NULL || p == NULL) {
        json_decref(rank_of);
        free(p);
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    }
    json_array_foreach(corrections->order, i, value)
        json_object_set_new(rank_of, json_string_value(value), json_integer((json_int_t)i + 1));
    for (i = 0; i < count; i++) {
        const char *sha = sha256[i] != NULL ? sha256[i] : "";
        const json_int_t listed = json_integer_value(json_object_get(rank_of, sha));

        rank = listed > 0 ? (size_t)listed : rank;
        p[i] = (place){ rank, i };
    }
    if (count > 1)
        qsort(p, count, sizeof *p, by_place);
    for (i = 0; i < count; i++)
        index[i] = p[i].index;
    free(p);
    json_decref(rank_of);
    return SL_OK;
}

static sl_status order_works(sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    size_t *index = calloc(count + 1, sizeof *index);
    const char **sha256 = calloc(count + 1, sizeof *sha256);
    sl_work *copy = calloc(count + 1, sizeof *copy);
    sl_status st = SL_OK;

    if (index == NULL || sha256 == NULL || copy == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    for (size_t i = 0; st == SL_OK && i < count; i++) {
        index[i] = i;
        sha256[i] = work[i].sha256;
        copy[i] = work[i];
    }
    if (st == SL_OK)
        st = sl_correct_order(index, sha256, count, run->corrections, err);
    for (size_t i = 0; st == SL_OK && i < count; i++)
        work[i] = copy[index[i]];
    free(copy);
    free(sha256);
    free(index);
    return st;
}

/* ---- the copy -------------------------------------------------------------------------------- */

static bool is_same(const sl_corrections *c, const char *path)
{
    void *bytes = NULL;
    size_t size = 0;
    bool same = sl_file_read(&bytes, &size, path, SL_WORK_FILE_MOST, NULL) == SL_OK
                && size == c->size;

    same = same && (size == 0 || memcmp(bytes, c->bytes, size) == 0);
    free(bytes);
    return same;
}

static sl_status set_aside(const char *path, const sl_run *run, sl_error *err)
{
    enum { MOST = 10000 };
    char rest[40];

    for (int n = 1; n < MOST; n++) {
        char *aside;
        bool is_free;

        (void)snprintf(rest, sizeof rest, "corrections-%d.json", n);
        aside = sl_path_join(run->out_dir, rest);
        if (aside == NULL)
            return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
        is_free = access(aside, F_OK) != 0;
        if (is_free && rename(path, aside) != 0) {
            const sl_status st = sl_fail_errno(err, errno, "album", path);

            free(aside);
            return st;
        }
        free(aside);
        if (is_free)
            return SL_OK;
    }
    return sl_fail(err, SL_ERR_EXISTS, "album", "%s: too many corrections were set aside", path);
}

sl_status sl_correct_keep(const sl_run *run, sl_error *err)
{
    static const char rest[] = "corrections.json";
    const sl_corrections *c = run->corrections;
    const struct timespec times[2] = { c->mtime, c->mtime };
    sl_file_id there;
    sl_ours_file file;
    char *path;
    sl_status st = SL_OK;

    if (c->path == NULL)
        return SL_OK;
    path = sl_path_join(run->out_dir, rest);
    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (sl_file_identify(&there, path) && is_same(c, path)) {
        free(path);
        return SL_OK;
    }
    if (sl_file_identify(&there, path) && !sl_ours_made(run, rest, path))
        st = set_aside(path, run, err);
    if (st == SL_OK)
        st = sl_ours_open(&file, rest, run, err);
    if (st == SL_OK) {
        st = sl_part_write(&file.part, c->bytes, c->size, err);
        if (st == SL_OK)
            st = sl_ours_commit(&file, 1, NULL, run, err);
        sl_ours_close(&file);
    }
    if (st == SL_OK)
        (void)utimensat(AT_FDCWD, path, times, 0);
    free(path);
    return st;
}

/* ---- all together ---------------------------------------------------------------------------- */

sl_status sl_correct_works(sl_work *work, size_t *count, sl_run *run, sl_error *err)
{
    hashing h = { work, run };
    sl_status st = SL_OK;

    if (run->corrections->path == NULL)
        return SL_OK;
    sl_pool_run(run->context->pool, hash_one, &h, *count);
    for (size_t i = 0; i < *count; i++) {
        sl_work *w = &work[i];

        w->correction = sl_corrections_of(run->corrections, w->sha256);
        if (w->correction != NULL && w->correction->leave_out)
            w->left_out = "left out by a person";
    }
    refuse_strangers(work, *count, run);
    for (size_t i = 0; st == SL_OK && i < *count; i++)
        if (work[i].correction != NULL && work[i].correction->replaces != NULL
            && work[i].left_out == NULL)
            st = replace(&work[i], work, *count, run, err);
    for (size_t i = 0; st == SL_OK && i < *count; i++)
        if (work[i].left_out != NULL && work[i].line != NULL)
            st = give_up(work[i].line, "left_out", run, err);
    for (size_t i = 0; i < run->corrections->count; i++) {
        const char *replaces = run->corrections->item[i].replaces;

        for (size_t k = 0; replaces != NULL && k < *count; k++) {
            if (work[k].correction == &run->corrections->item[i] && work[k].left_out == NULL) {
                take_place(work, *count, k);
                break;
            }
        }
    }
    if (st == SL_OK)
        st = part_works(work, count, err);
    if (st == SL_OK)
        st = order_works(work, *count, run, err);
    return st;
}

sl_status sl_correct_keys(sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    sl_words_give(work, count, run);
    for (size_t i = 0; i < count; i++) {
        sl_status st = sl_correction_key(work[i].key, run->key, work[i].correction, err);

        if (st == SL_OK)
            st = sl_words_key(work[i].key, work[i].key, &work[i].words, err);
        if (st != SL_OK)
            return st;
        work[i].settings = sl_correction_settings(&run->params->settings, work[i].correction);
    }
    return SL_OK;
}
