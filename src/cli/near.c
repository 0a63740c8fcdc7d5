#include "cli/near.h"

#include <string.h>

/* Levenshtein's distance (Soviet Physics Doklady 10, 1966), for words of an option's length. */
size_t edit_distance(const char *a, const char *b)
{
    enum { MOST = 32 };
    size_t row[MOST + 1];
    const size_t n = strlen(b);

    if (n > MOST || strlen(a) > MOST)
        return MOST;
    for (size_t j = 0; j <= n; j++)
        row[j] = j;
    for (size_t i = 1; a[i - 1] != '\0'; i++) {
        size_t diagonal = row[0];

        row[0] = i;
        for (size_t j = 1; j <= n; j++) {
            const size_t swap = diagonal + (a[i - 1] != b[j - 1]);
            size_t best = row[j] + 1 < row[j - 1] + 1 ? row[j] + 1 : row[j - 1] + 1;

            if (swap < best)
                best = swap;
            diagonal = row[j];
            row[j] = best;
        }
    }
    return row[n];
}
