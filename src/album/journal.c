#include "album/journal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "album/report.h"
#include "base/error.h"

static char *path_of(const char *folder, const char *name)
{
    const size_t n = strlen(folder) + strlen(name) + 2;
    char *path = malloc(n);

    if (path != NULL)
        (void)snprintf(path, n, "%s/%s", folder, name);
    return path;
}

static void learn_file(sl_journal *j, const char *path, const char *sha256)
{
    if (path == NULL || sha256 == NULL)
        return;
    if (json_object_get(j->made, path) == NULL)
        json_object_set_new(j->made, path, json_object());
    json_object_set_new(json_object_get(j->made, path), sha256, json_true());
}

/* Takes a line into the tables. */
static void learn(sl_journal *j, json_t *line)
{
    const char *shot = json_string_value(json_object_get(line, "shot"));
    json_t *page = json_object_get(line, "page");
    const char *named;
    json_t *name;
    size_t i;
    json_t *file;

    json_object_foreach(json_object_get(line, "names"), named, name)
        if (json_is_string(name))
            json_object_set(j->names, named, name);
    json_array_foreach(json_object_get(line, "files"), i, file)
        learn_file(j, json_string_value(json_object_get(file, "path")),
                   json_string_value(json_object_get(file, "sha256")));
    if (shot == NULL)
        return;
    if (json_is_string(page))
        json_object_set(j->names, shot, page);
    json_object_set(j->by_shot, shot, line);
}

static sl_status read_lines(sl_journal *j, sl_error *err)
{
    const int copy = dup(j->fd);
    FILE *file = copy >= 0 ? fdopen(copy, "rb") : NULL;
    char *text = NULL;
    size_t room = 0;
    off_t whole = 0;         /* end of the last line that is one */
    ssize_t n;

    if (file == NULL) {
        const int why = errno;

        if (copy >= 0)
            (void)close(copy);
        return sl_fail_errno(err, why, "album", j->path);
    }
    rewind(file);
    while ((n = getline(&text, &room, file)) > 0) {
        json_t *line = text[n - 1] == '\n' ? json_loads(text, 0, NULL) : NULL;

        if (line == NULL && text[n - 1] != '\n')
            break;           /* the last words of a run that was killed */
        whole += n;
        if (line != NULL)
            learn(j, line);
        json_decref(line);
    }
    free(text);
    (void)fclose(file);
    if (ftruncate(j->fd, whole) != 0 || lseek(j->fd, whole, SEEK_SET) < 0)
        return sl_fail_errno(err, errno, "album", j->path);
    return SL_OK;
}

static sl_status take_lock(sl_journal *j, const char *folder, const char *out_dir, sl_error *err)
{
    struct flock whole = { .l_type = F_WRLCK, .l_whence = SEEK_SET };
    char *path = path_of(folder, "lock");
    sl_status st = SL_OK;

    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    j->lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (j->lock < 0)
        st = sl_fail_errno(err, errno, "album", path);
    else if (fcntl(j->lock, F_SETLK, &whole) != 0)
        st = errno == EACCES || errno == EAGAIN
                 ? sl_fail(err, SL_ERR_BUSY, "album",
                           "another run is working on %s: wait until it has ended", out_dir)
                 : sl_fail_errno(err, errno, "album", path);
    free(path);
    return st;
}

sl_status sl_journal_open(sl_journal *out, const char *out_dir, sl_error *err)
{
    sl_journal j = { json_object(), json_object(), json_object(), -1, -1, NULL };
    char *folder = path_of(out_dir, ".squareleaf");
    sl_status st = SL_OK;

    if (folder != NULL)
        j.path = path_of(folder, "journal");
    if (folder == NULL || j.path == NULL || j.by_shot == NULL || j.names == NULL
        || j.made == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    else if (mkdir(folder, 0777) != 0 && errno != EEXIST)
        st = sl_fail_errno(err, errno, "album", folder);
    if (st == SL_OK)
        st = take_lock(&j, folder, out_dir, err);
    if (st == SL_OK) {
        j.fd = open(j.path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
        st = j.fd >= 0 ? read_lines(&j, err) : sl_fail_errno(err, errno, "album", j.path);
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
    json_decref(j->by_shot);
    json_decref(j->names);
    json_decref(j->made);
    if (j->fd >= 0)
        (void)close(j->fd);
    if (j->lock >= 0)
        (void)close(j->lock);
    free(j->path);
    *j = (sl_journal){ NULL, NULL, NULL, -1, -1, NULL };
}

sl_status sl_journal_add(sl_journal *j, json_t *line, sl_error *err)
{
    char *text = sl_report_text(line, 0);
    const size_t size = text != NULL ? strlen(text) : 0;
    const off_t before = lseek(j->fd, 0, SEEK_CUR);
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
    if (st == SL_OK && fsync(j->fd) != 0)
        st = sl_fail_errno(err, errno, "album", j->path);
    if (st == SL_OK)
        learn(j, line);
    else if (ftruncate(j->fd, before) == 0)
        (void)lseek(j->fd, before, SEEK_SET);
    free(text);
    json_decref(line);
    return st;
}

json_t *sl_journal_line(const sl_journal *j, const char *shot)
{
    return json_object_get(j->by_shot, shot);
}

bool sl_journal_made(const sl_journal *j, const char *path, const char *sha256)
{
    return json_object_get(json_object_get(j->made, path), sha256) != NULL;
}
