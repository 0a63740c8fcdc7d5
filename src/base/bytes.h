/* Bytes that grow: files' headers, profiles and tags are built in them. */
#ifndef SL_BASE_BYTES_H
#define SL_BASE_BYTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Growing bytes; after a failed allocation `failed` is set and what is added is dropped. */
typedef struct sl_bytes {
    unsigned char *data;
    size_t         size;
    size_t         room;
    bool           failed;
} sl_bytes;

void sl_bytes_add(sl_bytes *bytes, const void *data, size_t size);
void sl_bytes_text(sl_bytes *bytes, const char *text);
void sl_bytes_be16(sl_bytes *bytes, unsigned value); /* the more significant byte first */
void sl_bytes_be32(sl_bytes *bytes, uint32_t value);
void sl_bytes_free(sl_bytes *bytes);

#endif
