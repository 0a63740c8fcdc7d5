/* The k-th of a few values, without sorting the rest. */
#ifndef SL_BORDER_SELECT_H
#define SL_BORDER_SELECT_H

#include <stddef.h>

/*
 * sl_select(), sl_select_double(): the value that has k of the n before it in rising order,
 * 0 <= k < n; reorders them (Hoare, CACM 4(7), 1961, algorithm 65). No value may be NAN.
 */
#define SL_SELECT(name, type)                                  \
    static inline type name(type *value, ptrdiff_t n, ptrdiff_t k) \
    {                                                          \
        ptrdiff_t first = 0;                                   \
        ptrdiff_t last = n - 1;                                \
                                                               \
        while (first < last) {                                 \
            const type pivot = value[k];                       \
            ptrdiff_t i = first;                               \
            ptrdiff_t j = last;                                \
                                                               \
            while (i <= j) {                                   \
                while (value[i] < pivot)                       \
                    i++;                                       \
                while (value[j] > pivot)                       \
                    j--;                                       \
                if (i <= j) {                                  \
                    const type swap = value[i];                \
                                                               \
                    value[i++] = value[j];                     \
                    value[j--] = swap;                         \
                }                                              \
            }                                                  \
            if (j < k)                                         \
                first = i;                                     \
            if (k < i)                                         \
                last = j;                                      \
        }                                                      \
        return value[k];                                       \
    }

SL_SELECT(sl_select, float)
SL_SELECT(sl_select_double, double)

#endif
