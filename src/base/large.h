/* Memory for whole pictures. */
#ifndef SL_BASE_LARGE_H
#define SL_BASE_LARGE_H

#include <stddef.h>

/* As calloc(), for arrays of megabytes; free() gives it back. */
void *sl_large_new(size_t count, size_t size);

#endif
