#include "album/names.h"

#include <stdlib.h>
#include <string.h>

#include "base/error.h"

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

static bool taken(const sl_work *work, size_t count, json_t *names, const char *name)
{
    const char *shot;
    json_t *page;

    for (size_t i = 0; i < count; i++)
        if (strcmp(work[i].page, name) == 0)
            return true;
    json_object_foreach(names, shot, page)
        if (strcmp(json_string_value(page), name) == 0)
            return true;
    return false;
}

/* The first free one of page-0012a, page-0012b, ... page-0012z, page-0012za, ... */
static void name_between(sl_work *work, size_t count, json_t *names, size_t at,
                         unsigned long number, int digits)
{
    char name[SL_PAGE_NAME];
    char letters[16] = "";

    for (size_t depth = 0; depth + 2 < sizeof letters; depth++) {
        for (char c = 'a'; c <= 'z'; c++) {
            letters[depth] = c;
            letters[depth + 1] = '\0';
            (void)snprintf(name, sizeof name, "page-%0*lu%s", digits, number, letters);
            if (!taken(work, count, names, name)) {
                (void)snprintf(work[at].page, sizeof work[at].page, "%s", name);
                return;
            }
        }
    }
}

/* Names that the journal knows, into the works; what the others count on from. */
static void recall(sl_work *work, size_t count, json_t *names, unsigned long *highest, int *digits,
                   size_t *known)
{
    const char *shot;
    json_t *page;

    json_object_foreach(names, shot, page) {
        int d = LEAST_DIGITS;
        const unsigned long n = number_of(json_string_value(page), &d);

        *highest = n > *highest ? n : *highest;
        *digits = d > *digits ? d : *digits;
    }
    for (size_t i = 0; i < count; i++) {
        const char *name = json_string_value(json_object_get(names, work[i].shot));

        if (name == NULL)
            continue;
        (void)snprintf(work[i].page, sizeof work[i].page, "%s", name);
        *known = i + 1;
    }
}

sl_status sl_names_give(sl_work *work, size_t count, sl_journal *journal, sl_error *err)
{
    json_t *fresh = json_object();
    int digits = LEAST_DIGITS;
    unsigned long highest = 0;
    size_t known = 0;            /* behind the last shot that has a name */

    if (fresh == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    recall(work, count, journal->names, &highest, &digits, &known);
    if (json_object_size(journal->names) == 0)
        for (size_t n = count; n >= 10000; n /= 10)
            digits++;
    for (size_t i = 0; i < count; i++) {
        int d = digits;

        if (work[i].page[0] != '\0')
            continue;
        if (i < known)
            name_between(work, count, journal->names, i,
                         i > 0 ? number_of(work[i - 1].page, &d) : 0, d);
        else
            (void)snprintf(work[i].page, sizeof work[i].page, "page-%0*lu", digits, ++highest);
        json_object_set_new(fresh, work[i].shot, json_string(work[i].page));
    }
    if (json_object_size(fresh) > 0)
        return sl_journal_add(journal, json_pack("{s:o}", "names", fresh), err);
    json_decref(fresh);
    return SL_OK;
}
