#include "bag/carry.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/error.h"

enum { BUFFER = 1 << 20 };

sl_status sl_carrier_new(sl_carrier *out, double total, const sl_keep_events *events,
                         const volatile int *stop, sl_error *err)
{
    sl_carrier c = { NULL, malloc(BUFFER), events, stop, 0, total };
    sl_status st = c.buffer != NULL ? sl_sums_new(&c.sums, err)
                                    : sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");

    if (st != SL_OK) {
        free(c.buffer);
        return st;
    }
    *out = c;
    return SL_OK;
}

void sl_carrier_clear(sl_carrier *carrier)
{
    free(carrier->buffer);
    sl_sums_free(carrier->sums);
    *carrier = (sl_carrier){ NULL, NULL, NULL, NULL, 0, 0 };
}

static sl_status write_all(int fd, const unsigned char *bytes, size_t size, const char *to,
                           sl_error *err)
{
    while (size > 0) {
        const ssize_t n = write(fd, bytes, size);

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return sl_fail_errno(err, n < 0 ? errno : EIO, "bag", to);
        bytes += n;
        size -= (size_t)n;
    }
    return SL_OK;
}

static sl_status carry_bytes(sl_carrier *c, sl_carried *out, int in, int made, const char *from,
                             const char *to, sl_error *err)
{
    out->size = 0;
    for (;;) {
        const ssize_t n = read(in, c->buffer, BUFFER);

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return sl_fail_errno(err, errno, "bag", from);
        if (n == 0)
            return SL_OK;
        if (c->stop != NULL && *c->stop != 0)
            return sl_fail(err, SL_ERR_CANCELLED, "bag", "stopped");
        sl_sums_add(c->sums, c->buffer, (size_t)n);
        out->size += (uint64_t)n;
        if (made >= 0) {
            const sl_status st = write_all(made, c->buffer, (size_t)n, to, err);

            if (st != SL_OK)
                return st;
        }
        c->done += (double)n;
        if (c->events != NULL && c->events->progress != NULL)
            c->events->progress(c->events->ctx, c->done, c->total);
    }
}

sl_status sl_carry(sl_carrier *c, sl_carried *out, const char *from, const char *to, sl_error *err)
{
    /* O_NONBLOCK: a pipe that has taken the file's place is not waited for */
    const int in = open(from, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    int made = -1;
    struct stat info;
    sl_status st = SL_OK;

    if (in < 0)
        return sl_fail_errno(err, errno, "bag", from);
    if (fstat(in, &info) != 0)
        st = sl_fail_errno(err, errno, "bag", from);
    else if (!S_ISREG(info.st_mode))
        st = sl_fail(err, SL_ERR_FORMAT, "bag", "%s is no plain file", from);
    if (st == SL_OK && to != NULL) {
        made = open(to, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (made < 0)
            st = sl_fail_errno(err, errno, "bag", to);
    }
    if (st == SL_OK)
        st = carry_bytes(c, out, in, made, from, to, err);
    sl_sums_take(c->sums, out->sha256, out->sha512);
    if (made >= 0) {
        /* EINVAL: a file system without fsync() */
        if (st == SL_OK && fsync(made) != 0 && errno != EINVAL)
            st = sl_fail_errno(err, errno, "bag", to);
        if (close(made) != 0 && st == SL_OK)
            st = sl_fail_errno(err, errno, "bag", to);
    }
    (void)close(in);
    return st;
}
