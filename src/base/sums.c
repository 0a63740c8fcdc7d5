#include "base/sums.h"

#include <stdlib.h>

#include <nettle/sha2.h>

#include "base/error.h"

struct sl_sums {
    struct sha256_ctx sha256;
    struct sha512_ctx sha512;
};

sl_status sl_sums_new(sl_sums **out, sl_error *err)
{
    sl_sums *sums = malloc(sizeof *sums);

    if (sums == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "file", "out of memory");
    sha256_init(&sums->sha256);
    sha512_init(&sums->sha512);
    *out = sums;
    return SL_OK;
}

void sl_sums_free(sl_sums *sums)
{
    free(sums);
}

void sl_sums_add(sl_sums *sums, const void *data, size_t size)
{
    sha256_update(&sums->sha256, size, data);
    sha512_update(&sums->sha512, size, data);
}

static void to_hex(char *hex, const unsigned char *sum, size_t size)
{
    static const char digit[] = "0123456789abcdef";

    for (size_t i = 0; i < size; i++) {
        hex[2 * i] = digit[sum[i] >> 4];
        hex[2 * i + 1] = digit[sum[i] & 15];
    }
    hex[2 * size] = '\0';
}

void sl_sums_take(sl_sums *sums, char sha256[SL_SHA256_HEX], char sha512[SL_SHA512_HEX])
{
    unsigned char sum[SHA512_DIGEST_SIZE];

    sha256_digest(&sums->sha256, SHA256_DIGEST_SIZE, sum); /* and begins anew */
    to_hex(sha256, sum, SHA256_DIGEST_SIZE);
    sha512_digest(&sums->sha512, SHA512_DIGEST_SIZE, sum);
    to_hex(sha512, sum, SHA512_DIGEST_SIZE);
}
