/*
 * A picture of 12 Mpx is 9,000 pages of memory, each of which the system hands over by itself, when
 * it is first touched: 25 ms of a page's time. Where the system can, it is asked to hand over pages
 * of 2 MB.
 */
#define _DEFAULT_SOURCE      /* madvise() */

#include "base/large.h"

#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>

enum { LARGE = 1 << 21, PAGE = 1 << 12 };

void *sl_large_new(size_t count, size_t size)
{
    void *memory = calloc(count, size);

#ifdef MADV_HUGEPAGE
    if (memory != NULL && count * size >= LARGE) {
        const uintptr_t start = (uintptr_t)memory;
        const size_t skip = (size_t)(-start & (PAGE - 1));

        /* advice: nothing is lost where it is not taken */
        (void)madvise((char *)memory + skip, (count * size - skip) & ~(size_t)(PAGE - 1),
                      MADV_HUGEPAGE);
    }
#endif
    return memory;
}
