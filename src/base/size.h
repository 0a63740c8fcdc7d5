/* Products of sizes, checked before anything is allocated. */
#ifndef SL_BASE_SIZE_H
#define SL_BASE_SIZE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

static inline bool sl_size_mul(size_t *out, size_t a, size_t b)
{
    if (b != 0 && a > SIZE_MAX / b)
        return false;        /* *out unchanged */
    *out = a * b;
    return true;
}

#endif
