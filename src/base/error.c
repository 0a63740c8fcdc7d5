#include "base/error.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Of UTF-8 (RFC 3629): a byte that goes on with a character. */
static bool goes_on(char c)
{
    return ((unsigned char)c & 0xc0) == 0x80;
}

/* A long path stands first and what to do last: what has no room is left out of the middle. */
static void shorten(char *out, size_t room, const char *text, size_t length)
{
    static const char gap[] = "...";
    size_t head = room / 3;
    const char *tail;

    if (length < room) {
        memcpy(out, text, length + 1);
        return;
    }
    tail = text + length - (room - head - sizeof gap);

    while (head > 0 && goes_on(text[head]))
        head--;
    while (goes_on(*tail))
        tail++;
    (void)snprintf(out, room, "%.*s%s%s", (int)head, text, gap, tail);
}

sl_status sl_fail(sl_error *err, sl_status status, const char *stage, const char *format, ...)
{
    if (err != NULL) {
        char text[9000]; /* two paths of 4,096 bytes and a sentence */
        va_list args;

        err->status = status;
        err->stage = stage;
        va_start(args, format);
        (void)vsnprintf(text, sizeof text, format, args);
        va_end(args);
        shorten(err->detail, sizeof err->detail, text, strlen(text));
    }
    return status;
}

sl_status sl_fail_errno(sl_error *err, int errnum, const char *stage, const char *what)
{
    const bool full = errnum == ENOSPC || errnum == EDQUOT || errnum == EFBIG;
    const bool denied = errnum == EACCES || errnum == EPERM || errnum == EROFS;

    return sl_fail(err, full ? SL_ERR_SPACE : denied ? SL_ERR_PERMISSION : SL_ERR_IO, stage, "%s: %s", what,
                   strerror(errnum));
}
