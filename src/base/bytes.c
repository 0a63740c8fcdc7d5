#include "base/bytes.h"

#include <stdlib.h>
#include <string.h>

void sl_bytes_add(sl_bytes *bytes, const void *data, size_t size)
{
    if (bytes->failed)
        return;
    if (size > bytes->room - bytes->size) {
        const size_t room = 2 * (bytes->size + size) + 256;
        unsigned char *grown = room > size ? realloc(bytes->data, room) : NULL;

        if (grown == NULL) {
            bytes->failed = true;
            return;
        }
        bytes->data = grown;
        bytes->room = room;
    }
    if (size > 0)
        memcpy(bytes->data + bytes->size, data, size);
    bytes->size += size;
}

void sl_bytes_text(sl_bytes *bytes, const char *text)
{
    sl_bytes_add(bytes, text, strlen(text));
}

void sl_bytes_be16(sl_bytes *bytes, unsigned value)
{
    const unsigned char b[2] = { (unsigned char)(value >> 8), (unsigned char)value };

    sl_bytes_add(bytes, b, sizeof b);
}

void sl_bytes_be32(sl_bytes *bytes, uint32_t value)
{
    sl_bytes_be16(bytes, value >> 16);
    sl_bytes_be16(bytes, value & 0xffff);
}

void sl_bytes_free(sl_bytes *bytes)
{
    free(bytes->data);
    *bytes = (sl_bytes){ NULL, 0, 0, false };
}
