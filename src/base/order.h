/* Rising order, and the middle of it. */
#ifndef SL_BASE_ORDER_H
#define SL_BASE_ORDER_H

#include <stdlib.h>

/* For qsort: doubles in rising order; none may be NAN. */
static inline int sl_by_double(const void *a, const void *b)
{
    const double p = *(const double *)a;
    const double q = *(const double *)b;

    return (p > q) - (p < q);
}

/* Of `count` values, which it sorts: of an even number the mean of the middle two; 0 for none. */
static inline double sl_median(double *value, size_t count)
{
    if (count == 0)
        return 0;
    qsort(value, count, sizeof *value, sl_by_double);
    return 0.5 * (value[(count - 1) / 2] + value[count / 2]);
}

#endif
