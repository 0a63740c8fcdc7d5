/* SHA-256 (FIPS 180-4) of what is in memory or in a file, through nettle. */
#ifndef SL_BASE_SHA256_H
#define SL_BASE_SHA256_H

#include <stddef.h>

#include "squareleaf.h"

enum { SL_SHA256_HEX = 65 }; /* 64 digits and the terminator */

void sl_sha256(char hex[SL_SHA256_HEX], const void *data, size_t size);

/* From the present place of a file, called `path` in errors, to its end; SL_ERR_IO when it cannot
   be read. */
sl_status sl_sha256_file(char hex[SL_SHA256_HEX], FILE *file, const char *path, sl_error *err);

#endif
