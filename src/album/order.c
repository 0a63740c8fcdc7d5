#include "album/order.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "album/naming.h"
#include "base/error.h"
#include "base/text.h"

/* ---- dates ----------------------------------------------------------------------------------- */

static void read_date(void *ctx, size_t index)
{
    sl_folder *folder = ctx;
    sl_entry *entry = &folder->entry[index];
    const int fd = open(entry->path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
    FILE *file = fd >= 0 ? fdopen(fd, "rb") : NULL;

    if (file != NULL) {
        sl_shot_date(entry->date, file);
        (void)fclose(file);
    } else if (fd >= 0) {
        (void)close(fd);
    }
}

void sl_order_dates(sl_folder *folder, sl_pool *pool)
{
    sl_pool_run(pool, read_date, folder, folder->shots);
}

static int by_date(const void *a, const void *b)
{
    const sl_entry *p = a;
    const sl_entry *q = b;
    const bool dated = p->date[0] != '\0';
    int order;

    if (dated != (q->date[0] != '\0'))
        return dated ? -1 : 1;
    order = strcmp(p->date, q->date);
    return order != 0 ? order : sl_shot_order(p->name, q->name);
}

/* ---- rectos and versos ----------------------------------------------------------------------- */

/* Where each page begins among the shots, in start[0 .. pages]; how many there are. */
static size_t pages_of(size_t *start, const sl_folder *folder)
{
    size_t pages = 0;

    for (size_t i = 0; i < folder->shots; i++)
        if (i == 0 || !sl_shot_same_page(folder->entry[i - 1].name, folder->entry[i].name))
            start[pages++] = i;
    start[pages] = folder->shots;
    return pages;
}

static sl_status interleave(sl_folder *folder, bool reversed, sl_error *err)
{
    size_t *start = calloc(folder->shots + 1, sizeof *start);
    sl_entry *sorted = calloc(folder->shots + 1, sizeof *sorted);
    sl_status st = SL_OK;

    if (start == NULL || sorted == NULL) {
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    } else {
        const size_t pages = pages_of(start, folder);
        const size_t rectos = (pages + 1) / 2;
        size_t n = 0;

        for (size_t i = 0; i < pages; i++) {
            const size_t leaf = i / 2;
            const size_t page = i % 2 == 0 ? leaf
                                : reversed ? pages - 1 - leaf
                                           : rectos + leaf;

            for (size_t k = start[page]; k < start[page + 1]; k++)
                sorted[n++] = folder->entry[k];
        }
        memcpy(folder->entry, sorted, folder->shots * sizeof *sorted);
    }
    free(sorted);
    free(start);
    return st;
}

sl_status sl_order_shots(sl_folder *folder, sl_order order, bool reversed, sl_error *err)
{
    if (folder->shots < 2)
        return SL_OK;
    if (order == SL_ORDER_TIME)
        qsort(folder->entry, folder->shots, sizeof *folder->entry, by_date);
    return order == SL_ORDER_RECTOS_VERSOS ? interleave(folder, reversed, err) : SL_OK;
}

/* ---- doubts ---------------------------------------------------------------------------------- */

/* Where the times step back from one dated shot to the next by name. */
typedef struct steps {
    size_t count;
    size_t before;           /* the first one: these two shots */
    size_t behind;
    bool   closed;           /* the last shot was taken before the first: one circle, cut open */
} steps;

static steps steps_back(const sl_folder *folder)
{
    steps s = { 0, 0, 0, false };
    const sl_entry *e = folder->entry;
    size_t last = folder->shots;    /* none yet */
    size_t first = folder->shots;

    for (size_t i = 0; i < folder->shots; i++) {
        if (e[i].date[0] == '\0')
            continue;
        if (last < folder->shots && strcmp(e[last].date, e[i].date) > 0 && s.count++ == 0) {
            s.before = last;
            s.behind = i;
        }
        first = first < folder->shots ? first : i;
        last = i;
    }
    s.closed = last < folder->shots && strcmp(e[last].date, e[first].date) <= 0;
    return s;
}

/* The number that a counter gave: the last run of digits of a name. */
static unsigned long counted(const char *name)
{
    const char *dot = strrchr(name, '.');
    const char *end = dot != NULL ? dot : name + strlen(name);

    while (end > name && (end[-1] < '0' || end[-1] > '9'))
        end--;
    while (end > name && end[-1] >= '0' && end[-1] <= '9')
        end--;
    return strtoul(end, NULL, 10);
}

static void say_order(char *text, size_t room, const sl_folder *folder, const steps *s)
{
    /* cameras count to 9999 (DCF: CIPA DC-009, file numbers 0001 to 9999) */
    const bool wrapped = s->count == 1 && s->closed
                         && counted(folder->entry[s->behind].name)
                                > counted(folder->entry[s->before].name)
                         && counted(folder->entry[folder->shots - 1].name) >= 9900;
    char *before = sl_text_shown(folder->entry[s->before].name);
    char *behind = sl_text_shown(folder->entry[s->behind].name);

    if (before == NULL || behind == NULL)
        (void)snprintf(text, room, "Names and times of the shots disagree: --order time --renumber");
    else if (wrapped)
        (void)snprintf(text, room,
                       "The camera's counter began again: by name %.100s comes before %.100s, but "
                       "it was taken later; --order time (and --renumber, once there are pages) puts "
                       "them into the order in which they were taken",
                       before, behind);
    else
        (void)snprintf(text, room,
                       "Names and times disagree in %zu place%s: by name %.100s comes before "
                       "%.100s, but it was taken later; if the times are right, --order time (and "
                       "--renumber, once there are pages)",
                       s->count, s->count == 1 ? "" : "s", before, behind);
    free(behind);
    free(before);
}

bool sl_order_doubt(char *text, size_t room, const sl_folder *folder, sl_order order)
{
    if (order == SL_ORDER_RECTOS_VERSOS) {
        size_t *start = calloc(folder->shots + 1, sizeof *start);
        const size_t pages = start != NULL ? pages_of(start, folder) : 0;

        free(start);
        if (pages % 2 == 0)
            return false;
        (void)snprintf(text, room,
                       "%zu pages are no whole leaves: taken as %zu right-hand and %zu left-hand "
                       "ones; if one was left out or taken twice, all behind it are out of step",
                       pages, (pages + 1) / 2, pages / 2);
        return true;
    }
    if (order == SL_ORDER_NAME) {
        const steps s = steps_back(folder);

        if (s.count > 0)
            say_order(text, room, folder, &s);
        return s.count > 0;
    }
    return false;
}
