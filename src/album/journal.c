#include "album/journal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "album/parse.h"
#include "album/report.h"
#include "base/error.h"
#include "base/file.h"

/* Pages under their new names; without a key, so that they are done again. */
static void rename_pages(sl_journal *j, const json_t *names, const json_t *labels)
{
    json_t *renamed = json_object();
    const char *page;
    json_t *line;

    json_object_foreach(j->by_page, page, line) {
        const char *name = json_string_value(json_object_get(names, page));

        if (name == NULL) {
            json_object_set(renamed, page, line);
        } else {
            json_t *moved = json_copy(line);

            json_object_set_new(moved, "page", json_string(name));
            json_object_del(moved, "key");
            json_object_del(moved, "label");
            if (json_object_get(labels, name) != NULL)
                json_object_set(moved, "label", json_object_get(labels, name));
            json_object_set_new(renamed, name, moved);
        }
    }
    json_decref(j->by_page);
    j->by_page = renamed;
}

/* A page that has a name and a shot, and is not made yet. */
static void name_page(sl_journal *j, const char *page, json_t *shot, const json_t *names)
{
    json_t *folder = json_object_get(names, "folder");
    json_t *label = json_object_get(json_object_get(names, "labels"), page);
    json_t *line;

    if (!json_is_string(shot) || !json_is_string(folder)
        || json_object_get(j->by_page, page) != NULL)
        return;
    line = json_pack("{s:s, s:O, s:O}", "page", page, "shot", shot, "folder", folder);
    if (json_is_string(label))
        json_object_set(line, "label", label);
    json_object_set_new(j->by_page, page, line);
}

static void note_files(sl_journal *j, const json_t *files)
{
    size_t i;
    json_t *file;

    json_array_foreach(files, i, file) {
        const char *path = json_string_value(json_object_get(file, "path"));
        const char *sha256 = json_string_value(json_object_get(file, "sha256"));
        json_t *of = json_object_get(file, "of");

        if (path == NULL || sha256 == NULL)
            continue;
        if (json_object_get(j->made, path) == NULL)
            json_object_set_new(j->made, path, json_object());
        json_object_set_new(json_object_get(j->made, path), sha256,
                            json_is_string(of) ? json_incref(of) : json_true());
        if (json_is_string(of))
            json_object_set(j->reports, path, file);
    }
}

/* Takes a line into the tables. */
static void learn(sl_journal *j, json_t *line)
{
    const char *page = json_string_value(json_object_get(line, "page"));
    const char *named;
    json_t *shot;

    json_object_foreach(json_object_get(line, "names"), named, shot)
        name_page(j, named, shot, line);
    if (json_is_string(json_object_get(line, "name"))) {
        json_decref(j->name);
        j->name = json_incref(json_object_get(line, "name"));
    }
    if (json_is_object(json_object_get(line, "settings"))) {
        json_decref(j->settings);
        j->settings = json_incref(line);
        if (json_is_string(json_object_get(line, "key")))
            json_object_set(j->by_key, json_string_value(json_object_get(line, "key")),
                            json_object_get(line, "settings"));
    }
    if (json_is_object(json_object_get(line, "renumber")))
        rename_pages(j, json_object_get(line, "renumber"), json_object_get(line, "labels"));
    if (json_object_get(line, "skipped") != NULL) {
        json_decref(j->closing);
        j->closing = json_incref(line);
    }
    if (json_is_array(json_object_get(line, "twins"))) {
        json_decref(j->twins);
        j->twins = json_incref(line);
    }
    note_files(j, json_object_get(line, "files"));
    if (page == NULL || json_string_value(json_object_get(line, "shot")) == NULL)
        return;
    json_object_set(j->by_page, page, line);
}

/*
 * Lines that are parsed at once, by all threads: the most of a run with nothing to do is spent
 * there. STRETCH of them are one task.
 */
enum { BATCH = 512, STRETCH = 32 };

typedef struct batch {
    char   *text[BATCH];     /* kept from one batch to the next, as getline() grows them */
    size_t  room[BATCH];
    json_t *line[BATCH];
    size_t  count;
} batch;

static void parse_stretch(void *ctx, size_t index)
{
    batch *b = ctx;

    for (size_t i = index * STRETCH; i < (index + 1) * STRETCH && i < b->count; i++)
        b->line[i] = sl_parse_line(b->text[i]);
}

/* Learns every line; returns where the last whole one ends, -1 when out of memory. */
static off_t learn_all(sl_journal *j, FILE *file, sl_pool *pool)
{
    batch *b = calloc(1, sizeof *b);
    off_t whole = 0;
    bool more = b != NULL;

    while (more) {
        for (b->count = 0; b->count < BATCH; b->count++) {
            const ssize_t n = getline(&b->text[b->count], &b->room[b->count], file);

            /* not whole: the last words of a run that was killed */
            more = n > 0 && b->text[b->count][n - 1] == '\n';
            if (!more)
                break;
            whole += n;
        }
        sl_pool_run(pool, parse_stretch, b, (b->count + STRETCH - 1) / STRETCH);
        for (size_t i = 0; i < b->count; i++) {
            if (b->line[i] != NULL)
                learn(j, b->line[i]);
            json_decref(b->line[i]);
        }
    }
    for (size_t i = 0; b != NULL && i < BATCH; i++)
        free(b->text[i]);
    whole = b != NULL ? whole : -1;
    free(b);
    return whole;
}

static sl_status read_lines(sl_journal *j, sl_pool *pool, sl_error *err)
{
    const int copy = dup(j->fd);
    FILE *file = copy >= 0 ? fdopen(copy, "rb") : NULL;
    struct stat st;
    off_t whole;

    if (file == NULL) {
        const int why = errno;

        if (copy >= 0)
            (void)close(copy);
        return sl_fail_errno(err, why, "album", j->path);
    }
    rewind(file);
    whole = learn_all(j, file, pool);
    (void)fclose(file);
    if (whole < 0)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (fstat(j->fd, &st) != 0 || (st.st_size > whole && ftruncate(j->fd, whole) != 0)
        || lseek(j->fd, whole, SEEK_SET) < 0)
        return sl_fail_errno(err, errno, "album", j->path);
    return SL_OK;
}

static sl_journal new_journal(void)
{
    sl_journal j = SL_JOURNAL_NONE;

    j.by_page = json_object();
    j.made = json_object();
    j.reports = json_object();
    j.by_key = json_object();
    return j;
}

/* A disk that is read-only, a folder of somebody else's. */
static sl_status refuse_folder(const char *out_dir, int why, const char *path, sl_error *err)
{
    if (why == EACCES || why == EPERM || why == EROFS)
        return sl_fail(err, SL_ERR_PERMISSION, "album",
                       "nothing can be written into %s (%s): choose another folder for the pages, "
                       "or have it made writable",
                       out_dir, strerror(why));
    return sl_fail_errno(err, why, "album", path);
}

static sl_status take_lock(int *lock, const char *folder, const char *name, bool shared,
                           const char *out_dir, sl_error *err)
{
    struct flock whole = { .l_type = (short)(shared ? F_RDLCK : F_WRLCK), .l_whence = SEEK_SET };
    char *path = sl_path_join(folder, name);
    sl_status st = SL_OK;

    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    *lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (*lock < 0)
        st = refuse_folder(out_dir, errno, path, err);
    else if (fcntl(*lock, F_SETLK, &whole) != 0)
        st = errno == EACCES || errno == EAGAIN
                 ? sl_fail(err, SL_ERR_BUSY, "album",
                           "another run is working on %s: wait until it has ended", out_dir)
                 : sl_fail_errno(err, errno, "album", path);
    free(path);
    return st;
}

/* Adds the lines of a file in `folder` to the tables; one that is not there has none. */
static sl_status learn_file(sl_journal *j, const char *folder, const char *name, sl_error *err)
{
    char *path = sl_path_join(folder, name);
    FILE *file = path != NULL ? fopen(path, "rb") : NULL;
    sl_status st = SL_OK;

    if (path == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    else if (file == NULL && errno != ENOENT && errno != ENOTDIR)
        st = sl_fail_errno(err, errno, "album", path);
    else if (file != NULL && learn_all(j, file, NULL) < 0)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (file != NULL)
        (void)fclose(file);
    free(path);
    return st;
}

int sl_journal_alone(const char *out_dir)
{
    struct flock whole = { .l_type = F_WRLCK, .l_whence = SEEK_SET };
    char *path = sl_path_join(out_dir, ".squareleaf/lock-shares");
    const int fd = path != NULL ? open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0666) : -1;

    free(path);
    while (fd >= 0 && fcntl(fd, F_SETLKW, &whole) != 0 && errno == EINTR)
        ;
    return fd;
}

sl_status sl_journal_open(sl_journal *out, const char *out_dir, sl_share share, sl_pool *pool,
                          sl_error *err)
{
    char name[60] = "journal";
    char lock[60] = "";

    sl_journal j = new_journal();
    char *folder = sl_path_join(out_dir, ".squareleaf");
    sl_status st = SL_OK;

    if (share.of > 0) {
        (void)snprintf(name, sizeof name, "journal-%u-of-%u", share.number, share.of);
        (void)snprintf(lock, sizeof lock, "lock-%u-of-%u", share.number, share.of);
    }
    if (folder != NULL)
        j.path = sl_path_join(folder, name);
    if (folder == NULL || j.path == NULL || j.by_page == NULL || j.made == NULL
        || j.reports == NULL || j.by_key == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    else if (mkdir(folder, 0777) != 0 && errno != EEXIST)
        st = refuse_folder(out_dir, errno, folder, err);
    if (st == SL_OK)
        st = take_lock(&j.lock, folder, "lock", share.of > 0, out_dir, err);
    if (st == SL_OK && share.of > 0)
        st = take_lock(&j.own_lock, folder, lock, false, out_dir, err);
    if (st == SL_OK && share.of > 0)
        st = learn_file(&j, folder, "journal", err);
    if (st == SL_OK) {
        j.fd = open(j.path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
        st = j.fd >= 0 ? read_lines(&j, pool, err) : sl_fail_errno(err, errno, "album", j.path);
    }
    free(folder);
    if (st != SL_OK) {
        sl_journal_close(&j);
        return st;
    }
    *out = j;
    return SL_OK;
}

void sl_journal_close(sl_journal *j)
{
    json_decref(j->by_page);
    json_decref(j->made);
    json_decref(j->reports);
    json_decref(j->settings);
    json_decref(j->by_key);
    json_decref(j->closing);
    json_decref(j->twins);
    if (j->own_lock >= 0)
        (void)close(j->own_lock);
    json_decref(j->name);
    if (j->fd >= 0)
        (void)close(j->fd);
    if (j->lock >= 0)
        (void)close(j->lock);
    free(j->path);
    *j = (sl_journal)SL_JOURNAL_NONE;
}

sl_status sl_journal_add(sl_journal *j, json_t *line, sl_error *err)
{
    char *text = j->fd >= 0 ? sl_report_text(line, 0) : strdup("");
    const size_t size = text != NULL ? strlen(text) : 0;
    const off_t before = j->fd >= 0 ? lseek(j->fd, 0, SEEK_CUR) : 0;
    size_t done = 0;
    sl_status st = SL_OK;

    if (text == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    while (st == SL_OK && done < size) {
        const ssize_t n = write(j->fd, text + done, size - done);

        if (n > 0)
            done += (size_t)n;
        else if (errno != EINTR)
            st = sl_fail_errno(err, errno, "album", j->path);
    }
    if (st == SL_OK && j->fd >= 0 && fsync(j->fd) != 0)
        st = sl_fail_errno(err, errno, "album", j->path);
    if (st == SL_OK) {
        /* as a later run reads it: what is found of all pages together must not depend on digits
           that the journal does not keep */
        json_t *kept = j->fd >= 0 ? json_loads(text, 0, NULL) : NULL;

        learn(j, kept != NULL ? kept : line);
        json_decref(kept);
    } else if (ftruncate(j->fd, before) == 0) {
        (void)lseek(j->fd, before, SEEK_SET);
    }
    free(text);
    json_decref(line);
    return st;
}

sl_status sl_journal_read_file(sl_journal *out, const char *folder, const char *name,
                               sl_error *err)
{
    sl_journal j = new_journal();
    sl_status st = SL_OK;

    if (j.by_page == NULL || j.made == NULL || j.reports == NULL || j.by_key == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    else
        st = learn_file(&j, folder, name, err);
    if (st != SL_OK) {
        sl_journal_close(&j);
        return st;
    }
    *out = j;
    return SL_OK;
}

sl_status sl_journal_read(sl_journal *out, const char *out_dir, sl_error *err)
{
    return sl_journal_read_file(out, out_dir, ".squareleaf/journal", err);
}

/* Most lines tell of pages, and are long: only those that can tell of settings are parsed. */
json_t *sl_journal_settings(const char *out_dir)
{
    char *path = sl_path_join(out_dir, ".squareleaf/journal");
    FILE *file = path != NULL ? fopen(path, "rb") : NULL;
    json_t *last = NULL;
    char *text = NULL;
    size_t room = 0;
    ssize_t n;

    while (file != NULL && (n = getline(&text, &room, file)) > 0 && text[n - 1] == '\n') {
        json_t *line = strstr(text, "\"settings\"") != NULL ? json_loads(text, 0, NULL) : NULL;

        if (json_is_object(json_object_get(line, "settings"))) {
            json_decref(last);
            last = json_incref(line);
        }
        json_decref(line);
    }
    if (file != NULL)
        (void)fclose(file);
    free(text);
    free(path);
    return last;
}

bool sl_journal_made(const sl_journal *j, const char *path, const char *sha256)
{
    return json_object_get(json_object_get(j->made, path), sha256) != NULL;
}

const json_t *sl_journal_report(const sl_journal *j, const char *path)
{
    return json_object_get(j->reports, path);
}

const char *sl_journal_made_of(const sl_journal *j, const char *path, const char *sha256)
{
    return json_string_value(json_object_get(json_object_get(j->made, path), sha256));
}
