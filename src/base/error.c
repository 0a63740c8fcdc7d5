#include "base/error.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

sl_status sl_fail(sl_error *err, sl_status status, const char *stage, const char *format, ...)
{
    if (err != NULL) {
        va_list args;

        err->status = status;
        err->stage = stage;
        va_start(args, format);
        (void)vsnprintf(err->detail, sizeof err->detail, format, args);
        va_end(args);
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
