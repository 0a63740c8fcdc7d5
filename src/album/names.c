#include "album/names.h"

#include <stdlib.h>
#include <string.h>

enum { LEAST_DIGITS = 4 };

/* Number of a page's name; its digits in *digits. 0 when it has none. */
static unsigned long number_of(const char *name, int *digits)
{
    const char *first = strchr(name, '-');
    char *end;
    unsigned long n;

    if (first == NULL)
        return 0;
    n = strtoul(first + 1, &end, 10);
    *digits = (int)(end - first - 1);
    return n;
}

static bool taken(const sl_work *work, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(work[i].page, name) == 0)
            return true;
    return false;
}

/* The first free one of page-0012a, page-0012b, ... page-0012z, page-0012za, ... */
static void name_between(sl_work *work, size_t count, size_t at, unsigned long number, int digits)
{
    char name[SL_PAGE_NAME];
    char letters[16] = "";

    for (size_t depth = 0; depth + 2 < sizeof letters; depth++) {
        for (char c = 'a'; c <= 'z'; c++) {
            letters[depth] = c;
            letters[depth + 1] = '\0';
            (void)snprintf(name, sizeof name, "page-%0*lu%s", digits, number, letters);
            if (!taken(work, count, name)) {
                (void)snprintf(work[at].page, sizeof work[at].page, "%s", name);
                return;
            }
        }
    }
}

void sl_names_give(sl_work *work, size_t count)
{
    int digits = LEAST_DIGITS;
    unsigned long highest = 0;
    size_t known = 0;

    for (size_t i = 0; i < count; i++) {
        const char *name = json_string_value(json_object_get(work[i].line, "page"));
        int d = LEAST_DIGITS;
        unsigned long n;

        if (name == NULL)
            continue;
        (void)snprintf(work[i].page, sizeof work[i].page, "%s", name);
        n = number_of(name, &d);
        highest = n > highest ? n : highest;
        digits = d > digits ? d : digits;
        known = i + 1;
    }
    if (known == 0)
        for (size_t n = count; n >= 10000; n /= 10)
            digits++;
    for (size_t i = 0; i < count; i++) {
        int d = digits;

        if (work[i].page[0] != '\0')
            continue;
        if (i < known)
            name_between(work, count, i, i > 0 ? number_of(work[i - 1].page, &d) : 0, d);
        else
            (void)snprintf(work[i].page, sizeof work[i].page, "page-%0*lu", digits, ++highest);
    }
}
