/* SHA-256 and SHA-512 (FIPS 180-4) of the same bytes in one reading, through nettle. */
#ifndef SL_BASE_SUMS_H
#define SL_BASE_SUMS_H

#include <stddef.h>

#include "base/sha256.h"
#include "squareleaf.h"

enum { SL_SHA512_HEX = 129 }; /* 128 digits and the terminator */

typedef struct sl_sums sl_sums;

sl_status sl_sums_new(sl_sums **out, sl_error *err);
void sl_sums_free(sl_sums *sums);

void sl_sums_add(sl_sums *sums, const void *data, size_t size);

/* Of all that was added since the last time. */
void sl_sums_take(sl_sums *sums, char sha256[SL_SHA256_HEX], char sha512[SL_SHA512_HEX]);

#endif
