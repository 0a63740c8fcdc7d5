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

static bool taken(const sl_work *work, size_t count, const sl_journal *journal, const char *name)
{
    if (json_object_get(journal->by_page, name) != NULL)
        return true;
    for (size_t i = 0; i < count; i++)
        if (strcmp(work[i].page, name) == 0)
            return true;
    return false;
}

/* The first free one of page-0012a, page-0012b, ... page-0012z, page-0012za, ... */
static void name_between(sl_work *work, size_t count, const sl_journal *journal, size_t at,
                         unsigned long number, int digits)
{
    char name[SL_PAGE_NAME];
    char letters[16] = "";

    for (size_t depth = 0; depth + 2 < sizeof letters; depth++) {
        for (char c = 'a'; c <= 'z'; c++) {
            letters[depth] = c;
            letters[depth + 1] = '\0';
            (void)snprintf(name, sizeof name, "page-%0*lu%s", digits, number, letters);
            if (!taken(work, count, journal, name)) {
                (void)snprintf(work[at].page, sizeof work[at].page, "%s", name);
                return;
            }
        }
    }
}

/* Digits of a page's number: of `most` pages, four at least. */
static int digits_for(unsigned long most)
{
    int digits = LEAST_DIGITS;

    for (unsigned long n = most; n >= 10000; n /= 10)
        digits++;
    return digits;
}

/* Notes the names of works that are no pages yet. */
static sl_status note_names(const sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    json_t *fresh = json_object();

    for (size_t i = 0; i < count; i++)
        if (work[i].line == NULL)
            json_object_set_new(fresh, work[i].page, json_string(work[i].shot));
    if (json_object_size(fresh) == 0) {
        json_decref(fresh);
        return SL_OK;
    }
    return sl_journal_add(run->journal,
                          json_pack("{s:o, s:s}", "names", fresh, "folder", run->shots_dir), err);
}

sl_status sl_names_give(sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    const sl_journal *journal = run->journal;
    int digits = LEAST_DIGITS;
    unsigned long highest = 0;
    size_t known = 0;        /* works up to the last one that was a page before */
    const char *page;
    json_t *line;

    json_object_foreach(journal->by_page, page, line) {
        int d = LEAST_DIGITS;
        const unsigned long n = number_of(page, &d);

        highest = n > highest ? n : highest;
        digits = d > digits ? d : digits;
    }
    if (highest == 0)
        digits = digits_for(count);
    for (size_t i = 0; i < count; i++) {
        const char *name = json_string_value(json_object_get(work[i].line, "page"));

        if (name != NULL) {
            (void)snprintf(work[i].page, sizeof work[i].page, "%s", name);
            known = i + 1;
        }
    }
    for (size_t i = 0; i < count; i++) {
        int d = digits;

        if (work[i].page[0] != '\0')
            continue;
        if (i < known) {
            const unsigned long n = i > 0 ? number_of(work[i - 1].page, &d) : 0;

            name_between(work, count, journal, i, n, d);
        } else {
            (void)snprintf(work[i].page, sizeof work[i].page, "page-%0*lu", digits, ++highest);
        }
    }
    return note_names(work, count, run, err);
}

sl_status sl_names_renew(sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    sl_journal *journal = run->journal;
    json_t *gone = json_copy(journal->by_page);
    json_t *names = json_object();
    const int digits = digits_for(json_object_size(journal->by_page) + count);
    unsigned long number = 0;
    sl_status st = SL_OK;

    if (gone == NULL || names == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    for (size_t i = 0; i < count; i++)
        if (work[i].line != NULL)
            json_object_del(gone, json_string_value(json_object_get(work[i].line, "page")));
    for (size_t i = 0; st == SL_OK && i < count; i++) {
        const char *was = json_string_value(json_object_get(work[i].line, "page"));

        do
            (void)snprintf(work[i].page, sizeof work[i].page, "page-%0*lu", digits, ++number);
        while (json_object_get(gone, work[i].page) != NULL);
        if (was != NULL && strcmp(was, work[i].page) != 0)
            json_object_set_new(names, was, json_string(work[i].page));
    }
    if (st == SL_OK && json_object_size(names) > 0)
        st = sl_journal_add(journal, json_pack("{s:O}", "renumber", names), err);
    for (size_t i = 0; st == SL_OK && i < count; i++) {
        if (work[i].line != NULL) {
            json_decref(work[i].line);
            work[i].line = json_incref(json_object_get(journal->by_page, work[i].page));
        }
    }
    if (st == SL_OK)
        st = note_names(work, count, run, err);
    json_decref(names);
    json_decref(gone);
    return st;
}
