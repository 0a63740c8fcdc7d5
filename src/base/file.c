#include "base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/error.h"

static sl_status not_regular(mode_t mode, const char *path, sl_error *err)
{
    const char *kind = S_ISDIR(mode) ? "a folder" : S_ISFIFO(mode) ? "a named pipe"
                       : S_ISSOCK(mode)                             ? "a socket"
                                                                    : "a device";

    return sl_fail(err, SL_ERR_FORMAT, "file", "%s is %s, not a file", path, kind);
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
        return sl_fail_errno(err, errno, "file", path);
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

sl_status sl_part_open(sl_part *part, const char *path, sl_error *err)
{
    const size_t length = strlen(path);
    int fd;

    *part = (sl_part){ NULL, malloc(length + 1), malloc(length + sizeof ".part") };
    if (part->path == NULL || part->part == NULL) {
        forget(part);
        return sl_fail(err, SL_ERR_NOMEM, "file", "out of memory");
    }
    memcpy(part->path, path, length + 1);
    memcpy(part->part, path, length);
    memcpy(part->part + length, ".part", sizeof ".part");
    /* a .part that is there is a dead run's; O_NOFOLLOW: it may not lead elsewhere */
    fd = open(part->part, O_RDWR | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC, 0666);
    if (fd >= 0)
        part->file = fdopen(fd, "w+b");
    if (part->file == NULL) {
        const int why = errno;
        const sl_status st = sl_fail_errno(err, why, "file", path);

        if (fd >= 0)
            (void)close(fd);
        forget(part);
        return st;
    }
    return SL_OK;
}

/* The rename itself must reach the disk; some file systems cannot flush folders, which is no error. */
static void flush_folder(const char *path)
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

sl_status sl_part_commit(sl_part *part, sl_error *err)
{
    sl_status st = SL_OK;

    errno = 0;
    if (fflush(part->file) != 0 || ferror(part->file) || fsync(fileno(part->file)) != 0)
        st = sl_fail_errno(err, errno != 0 ? errno : EIO, "file", part->path);
    errno = 0;
    if (fclose(part->file) != 0 && st == SL_OK)
        st = sl_fail_errno(err, errno != 0 ? errno : EIO, "file", part->path);
    part->file = NULL;
    if (st == SL_OK && rename(part->part, part->path) != 0)
        st = sl_fail_errno(err, errno, "file", part->path);
    if (st == SL_OK)
        flush_folder(part->path);
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
