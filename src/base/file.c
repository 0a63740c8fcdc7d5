#include "base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/error.h"

char *sl_path_join(const char *folder, const char *rest)
{
    const size_t room = strlen(folder) + strlen(rest) + 2;
    char *path = malloc(room);

    if (path != NULL)
        (void)snprintf(path, room, "%s/%s", folder, rest);
    return path;
}

bool sl_path_stays(const char *rest)
{
    const char *part = rest;

    if (*rest == '\0' || *rest == '/')
        return false;
    for (;;) {
        const size_t length = strcspn(part, "/");

        if (length == 2 && strncmp(part, "..", 2) == 0)
            return false;
        part += length;
        if (*part == '\0')
            return true;
        part++;
    }
}

static sl_status not_regular(mode_t mode, const char *path, sl_error *err)
{
    const char *kind = S_ISDIR(mode) ? "a folder" : S_ISFIFO(mode) ? "a named pipe"
                       : S_ISSOCK(mode)                             ? "a socket"
                                                                    : "a device";

    return sl_fail(err, SL_ERR_FORMAT, "file", "%s is %s, not a file", path, kind);
}

/* A dangling link exists in the folder's listing: "no such file" alone would puzzle. */
static sl_status not_opened(int errnum, const char *path, sl_error *err)
{
    struct stat st;

    if (errnum == ENOENT && lstat(path, &st) == 0 && S_ISLNK(st.st_mode))
        return sl_fail(err, SL_ERR_IO, "file", "%s is a link to a file that is not there", path);
    return sl_fail_errno(err, errnum, "file", path);
}

static sl_status read_all(void **data, size_t *size, int fd, size_t expected, const char *path,
                          sl_error *err)
{
    unsigned char *bytes = malloc(expected > 0 ? expected : 1);
    size_t done = 0;

    if (bytes == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "file", "no memory for %s (%zu bytes)", path, expected);
    while (done < expected) {
        const ssize_t n = read(fd, bytes + done, expected - done);

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0) {
            const int why = errno;

            free(bytes);
            return sl_fail_errno(err, why, "file", path);
        }
        if (n == 0)
            break;           /* it became shorter while we read */
        done += (size_t)n;
    }
    if (done == 0) {
        free(bytes);
        bytes = NULL;
    }
    *data = bytes;
    *size = done;
    return SL_OK;
}

sl_status sl_file_read(void **data, size_t *size, const char *path, size_t most, sl_error *err)
{
    /* O_NONBLOCK: opening a FIFO without a writer must not hang */
    const int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
    struct stat st;
    sl_status status;

    if (fd < 0)
        return not_opened(errno, path, err);
    if (fstat(fd, &st) != 0)
        status = sl_fail_errno(err, errno, "file", path);
    else if (!S_ISREG(st.st_mode))
        status = not_regular(st.st_mode, path, err);
    else if ((uintmax_t)st.st_size > most)
        status = sl_fail(err, SL_ERR_LIMIT, "file", "%s has %ju bytes, limit %zu", path,
                         (uintmax_t)st.st_size, most);
    else
        status = read_all(data, size, fd, (size_t)st.st_size, path, err);
    (void)close(fd);
    return status;
}

bool sl_file_identify(sl_file_id *id, const char *path)
{
    struct stat st;

    if (stat(path, &st) != 0)
        return false;
    *id = (sl_file_id){ st.st_dev, st.st_ino };
    return true;
}

/* ---- files in the making --------------------------------------------------------------------- */

static void forget(sl_part *part)
{
    free(part->path);
    free(part->part);
    *part = (sl_part){ NULL, NULL, NULL };
}

static sl_status refuse_kept(const char *path, const sl_file_id *keep, size_t count, sl_error *err)
{
    sl_file_id there;

    if (!sl_file_identify(&there, path))
        return SL_OK;
    for (size_t i = 0; i < count; i++)
        if (keep[i].device == there.device && keep[i].inode == there.inode)
            return sl_fail(err, SL_ERR_EXISTS, "file",
                           "%s is one of the shots: a shot is never written", path);
    return SL_OK;
}

/* O_EXCL: a name that someone takes in between leads nowhere else. */
static sl_status create(sl_part *part, sl_error *err)
{
    int fd = -1;

    if (unlink(part->part) == 0 || errno == ENOENT)
        fd = open(part->part, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (fd >= 0)
        part->file = fdopen(fd, "w+b");
    if (part->file == NULL) {
        const sl_status st = sl_fail_errno(err, errno, "file", part->part);

        if (fd >= 0) {
            (void)close(fd);
            (void)unlink(part->part);
        }
        return st;
    }
    return SL_OK;
}

sl_status sl_part_open(sl_part *part, const char *path, const sl_file_id *keep, size_t count,
                       sl_error *err)
{
    const size_t length = strlen(path);
    struct stat there;
    sl_status st;

    *part = (sl_part){ NULL, malloc(length + 1), malloc(length + sizeof ".part") };
    if (part->path == NULL || part->part == NULL) {
        forget(part);
        return sl_fail(err, SL_ERR_NOMEM, "file", "out of memory");
    }
    memcpy(part->path, path, length + 1);
    memcpy(part->part, path, length);
    memcpy(part->part + length, ".part", sizeof ".part");
    st = refuse_kept(path, keep, count, err);
    if (st == SL_OK)
        st = refuse_kept(part->part, keep, count, err);
    if (st == SL_OK && stat(path, &there) == 0 && S_ISDIR(there.st_mode))
        st = sl_fail_errno(err, EISDIR, "file", path); /* now, not after an hour of work */
    if (st == SL_OK)
        st = create(part, err);
    if (st != SL_OK)
        forget(part);
    return st;
}

/* SL_ERR_EXISTS when the folder is not there in which the path would be. */
static sl_status check_above(const char *path, sl_error *err)
{
    const char *slash = strrchr(path, '/');
    char *folder;
    struct stat st;
    bool there;

    if (slash == NULL)
        return SL_OK;
    folder = strndup(path, (size_t)(slash - path) + 1);
    if (folder == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "file", "out of memory");
    there = stat(folder, &st) == 0 && S_ISDIR(st.st_mode);
    free(folder);
    return there ? SL_OK
                 : sl_fail(err, SL_ERR_EXISTS, "file",
                           "%s cannot be made: the folder above it is not there", path);
}

sl_status sl_part_open_named(sl_part *part, const char *path, bool force, const sl_file_id *keep,
                             size_t count, sl_error *err)
{
    sl_file_id there;
    sl_status st = refuse_kept(path, keep, count, err); /* --force would not help */

    *part = (sl_part){ NULL, NULL, NULL };
    if (st == SL_OK)
        st = check_above(path, err);
    if (st != SL_OK)
        return st;
    if (!force && sl_file_identify(&there, path))
        return sl_fail(err, SL_ERR_EXISTS, "file",
                       "%s exists: give another name, or --force to replace it", path);
    return sl_part_open(part, path, keep, count, err);
}

/* The rename itself must reach the disk. A file system that cannot flush folders is no error. */
void sl_flush_folder_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    char *folder;
    int fd;

    if (slash == NULL)
        folder = strdup(".");
    else
        folder = strndup(path, slash == path ? 1 : (size_t)(slash - path));
    if (folder == NULL)
        return;
    fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        (void)fsync(fd);
        (void)close(fd);
    }
    free(folder);
}

sl_status sl_part_write(sl_part *part, const void *data, size_t size, sl_error *err)
{
    errno = 0;
    if (size == 0 || fwrite(data, 1, size, part->file) == size)
        return SL_OK;
    return sl_fail_errno(err, errno != 0 ? errno : EIO, "file", part->path);
}

sl_status sl_part_commit(sl_part *part, sl_error *err)
{
    sl_status st = SL_OK;

    errno = 0;
    /* EINVAL: a file system without fsync() is no reason to lose the page */
    if (fflush(part->file) != 0 || ferror(part->file)
        || (fsync(fileno(part->file)) != 0 && errno != EINVAL))
        st = sl_fail_errno(err, errno != 0 ? errno : EIO, "file", part->path);
    errno = 0;
    if (fclose(part->file) != 0 && st == SL_OK)
        st = sl_fail_errno(err, errno != 0 ? errno : EIO, "file", part->path);
    part->file = NULL;
    if (st == SL_OK && rename(part->part, part->path) != 0)
        st = sl_fail_errno(err, errno, "file", part->path);
    if (st == SL_OK)
        sl_flush_folder_of(part->path);
    else
        (void)unlink(part->part);
    forget(part);
    return st;
}

void sl_part_abort(sl_part *part)
{
    if (part->file != NULL)
        (void)fclose(part->file);
    if (part->part != NULL)
        (void)unlink(part->part);
    forget(part);
}

sl_status sl_part_save(sl_part *part, const void *data, size_t size, sl_error *err)
{
    const sl_status st = sl_part_write(part, data, size, err);

    if (st == SL_OK)
        return sl_part_commit(part, err);
    sl_part_abort(part);
    return st;
}
