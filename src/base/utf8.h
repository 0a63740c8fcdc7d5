/* UTF-8, RFC 3629. */
#ifndef SL_BASE_UTF8_H
#define SL_BASE_UTF8_H

#include <stddef.h>

/* Length of a well-formed sequence at p of `size` bytes, 0 when there is none. */
static inline size_t sl_utf8_length(const unsigned char *p, size_t size)
{
    const unsigned char first = size > 0 ? p[0] : 0xff;
    size_t n;

    if (first < 0x80)
        return 1;
    n = first >= 0xc2 && first <= 0xdf ? 2 : first >= 0xe0 && first <= 0xef ? 3
        : first >= 0xf0 && first <= 0xf4                                    ? 4
                                                                            : 0;
    if (n > size)
        return 0;
    for (size_t k = 1; k < n; k++)
        if ((p[k] & 0xc0) != 0x80)
            return 0;
    if ((first == 0xe0 && p[1] < 0xa0) || (first == 0xed && p[1] > 0x9f)
        || (first == 0xf0 && p[1] < 0x90) || (first == 0xf4 && p[1] > 0x8f))
        return 0;
    return n;
}

#endif
