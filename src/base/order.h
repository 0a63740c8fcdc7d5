/* For qsort. */
#ifndef SL_BASE_ORDER_H
#define SL_BASE_ORDER_H

/* Doubles in rising order; none may be NAN. */
static inline int sl_by_double(const void *a, const void *b)
{
    const double p = *(const double *)a;
    const double q = *(const double *)b;

    return (p > q) - (p < q);
}

#endif
