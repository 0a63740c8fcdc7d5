/* Raising errors: one status to branch on, one sentence to show. */
#ifndef SL_BASE_ERROR_H
#define SL_BASE_ERROR_H

#include "base/compiler.h"
#include "squareleaf.h"

/* Fills *err (when given) and returns `status`, so that a function can `return sl_fail(...)`. */
sl_status sl_fail(sl_error *err, sl_status status, const char *stage, const char *format, ...)
    SL_PRINTF(4, 5);

/* sl_fail() with strerror(errnum): SL_ERR_SPACE for a full disk or quota, SL_ERR_PERMISSION for
   what may not be done, else SL_ERR_IO. */
sl_status sl_fail_errno(sl_error *err, int errnum, const char *stage, const char *what);

#endif
