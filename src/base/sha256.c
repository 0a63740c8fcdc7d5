#include "base/sha256.h"

#include <errno.h>

#include <nettle/sha2.h>

#include "base/error.h"

static void finish(char hex[SL_SHA256_HEX], struct sha256_ctx *ctx)
{
    static const char digit[] = "0123456789abcdef";
    unsigned char sum[SHA256_DIGEST_SIZE];

    sha256_digest(ctx, sizeof sum, sum);
    for (size_t i = 0; i < sizeof sum; i++) {
        hex[2 * i] = digit[sum[i] >> 4];
        hex[2 * i + 1] = digit[sum[i] & 15];
    }
    hex[2 * sizeof sum] = '\0';
}

void sl_sha256(char hex[SL_SHA256_HEX], const void *data, size_t size)
{
    struct sha256_ctx ctx;

    sha256_init(&ctx);
    sha256_update(&ctx, size, data);
    finish(hex, &ctx);
}

sl_status sl_sha256_file(char hex[SL_SHA256_HEX], FILE *file, const char *path, sl_error *err)
{
    struct sha256_ctx ctx;
    unsigned char buffer[65536];
    size_t n;

    sha256_init(&ctx);
    errno = 0;
    while ((n = fread(buffer, 1, sizeof buffer, file)) > 0)
        sha256_update(&ctx, n, buffer);
    if (ferror(file))
        return sl_fail_errno(err, errno != 0 ? errno : EIO, "file", path);
    finish(hex, &ctx);
    return SL_OK;
}
