#include "album/names.h"

#include <stdlib.h>
#include <string.h>

#include "album/naming.h"
#include "base/error.h"

enum { LEAST_DIGITS = 4 };

/* ---- labels ---------------------------------------------------------------------------------- */

const char *sl_line_label(const json_t *line)
{
    const char *label = json_string_value(json_object_get(line, "label"));
    const char *page = json_string_value(json_object_get(line, "page"));
    const char *dash = page != NULL ? strchr(page, '-') : NULL;

    if (label != NULL)
        return label;
    return dash != NULL ? dash + 1 : page != NULL ? page : "";
}

const char *sl_label_short(const char *label)
{
    while (label[0] == '0' && label[1] >= '0' && label[1] <= '9')
        label++;
    return label;
}

int sl_line_order(const json_t *a, const json_t *b)
{
    const char *p = json_string_value(json_object_get(a, "page"));
    const char *q = json_string_value(json_object_get(b, "page"));
    const int order = sl_natural_order(sl_line_label(a), sl_line_label(b));

    return order != 0 || p == NULL || q == NULL ? order : sl_natural_order(p, q);
}

/* Number of a label; its digits in *digits. 0 when it has none. */
static unsigned long number_of(const char *label, int *digits)
{
    char *end;
    const unsigned long n = strtoul(label, &end, 10);

    *digits = (int)(end - label);
    return n;
}

/* Digits of a page's number: of `most` pages, four at least. */
static int digits_for(unsigned long most)
{
    int digits = LEAST_DIGITS;

    for (unsigned long n = most; n >= 10000; n /= 10)
        digits++;
    return digits;
}

/* ---- giving ---------------------------------------------------------------------------------- */

/* What is given away already. */
typedef struct giving {
    const sl_run *run;
    json_t       *names;     /* page name -> its shot */
    json_t       *labels;    /* label -> true */
    json_t       *pages;     /* stem of a shot -> label of its page */
    json_t       *states;    /* stem of shots that have states -> true */
} giving;

static void giving_clear(giving *g)
{
    json_decref(g->names);
    json_decref(g->labels);
    json_decref(g->pages);
    json_decref(g->states);
}

static sl_status giving_begin(giving *g, const sl_run *run, sl_error *err)
{
    *g = (giving){ run, json_object(), json_object(), json_object(), json_object() };
    return g->names != NULL && g->labels != NULL && g->pages != NULL && g->states != NULL
               ? SL_OK
               : sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
}

/* A shot's name without its state, as a key: its bytes need not be UTF-8. */
static void stem_key(char *key, size_t room, const char *shot)
{
    const sl_shot_parts parts = sl_shot_parts_of(shot);
    size_t n = 0;

    for (size_t i = 0; i < parts.stem_length && n + 3 < room; i++)
        n += (size_t)snprintf(key + n, room - n, "%02x", (unsigned char)parts.stem[i]);
    key[n] = '\0';
}

/* The label of the page that the shot is a state of; NULL when it is a page of its own. */
static const char *label_of_page(const giving *g, const char *shot)
{
    char key[600];

    stem_key(key, sizeof key, shot);
    if (sl_shot_parts_of(shot).state_length == 0 && json_object_get(g->states, key) == NULL)
        return NULL;
    return json_string_value(json_object_get(g->pages, key));
}

static void take(giving *g, const sl_work *w)
{
    char key[600];

    json_object_set_new(g->names, w->page, json_string(w->shot));
    json_object_set_new(g->labels, w->label, json_true());
    stem_key(key, sizeof key, w->entry->name);
    if (json_object_get(g->pages, key) == NULL)
        json_object_set_new(g->pages, key, json_string(w->label));
    if (sl_shot_parts_of(w->entry->name).state_length > 0)
        json_object_set_new(g->states, key, json_true());
}

/*
 * Names a work by its label. `joins`: the label is that of another state of the page; false in
 * *fits when there is no name for it beside that one.
 */
static sl_status name_work(giving *g, sl_work *w, bool joins, bool *fits, sl_error *err)
{
    const char *pattern = g->run->pattern;
    const char *other;
    sl_status st = sl_name_fill(w->page, pattern, w->label, w->entry->name, err);

    *fits = true;
    if (st != SL_OK)
        return st;
    other = json_string_value(json_object_get(g->names, w->page));
    if (other == NULL) {
        take(g, w);
        return SL_OK;
    }
    if (joins && strstr(pattern, "{state}") != NULL) {
        *fits = false;       /* the same state twice: two pages then */
        return SL_OK;
    }
    if (joins)
        return sl_fail(err, SL_ERR_ARG, "album",
                       "--name %s: %s and %s are states of one page: put {state} into it", pattern,
                       other, w->shot);
    return sl_fail(err, SL_ERR_ARG, "album",
                   "--name %s: %s and %s would both be called %s: put {page} into it", pattern,
                   other, w->shot, w->page);
}

/* Lets a shot join the page that it is a state of; false in *joined when there is none. */
static sl_status join_page(giving *g, sl_work *w, bool *joined, sl_error *err)
{
    const char *label = label_of_page(g, w->entry->name);

    *joined = false;
    if (label == NULL)
        return SL_OK;
    (void)snprintf(w->label, sizeof w->label, "%s", label);
    return name_work(g, w, true, joined, err);
}

/* The first free one of 0012a, 0012b, ... 0012z, 0012za, ... */
static void label_between(const giving *g, sl_work *w, unsigned long number, int digits)
{
    char letters[12] = "";

    for (size_t depth = 0; depth + 2 < sizeof letters; depth++) {
        for (char c = 'a'; c <= 'z'; c++) {
            letters[depth] = c;
            letters[depth + 1] = '\0';
            (void)snprintf(w->label, sizeof w->label, "%0*lu%s", digits, number, letters);
            if (json_object_get(g->labels, w->label) == NULL)
                return;
        }
    }
}

/* Does the label differ from what the page's name tells of itself? */
static bool label_is_news(const sl_work *w)
{
    return strncmp(w->page, "page-", 5) != 0 || strcmp(w->page + 5, w->label) != 0;
}

/* Notes the names of works that are no pages yet. */
static sl_status note_names(const sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    json_t *fresh = json_object();
    json_t *labels = json_object();
    json_t *line;

    for (size_t i = 0; i < count; i++) {
        if (work[i].line != NULL)
            continue;
        json_object_set_new(fresh, work[i].page, json_string(work[i].shot));
        if (label_is_news(&work[i]))
            json_object_set_new(labels, work[i].page, json_string(work[i].label));
    }
    if (json_object_size(fresh) == 0) {
        json_decref(labels);
        json_decref(fresh);
        return SL_OK;
    }
    line = json_pack("{s:o, s:s}", "names", fresh, "folder", run->shots_dir);
    if (json_object_size(labels) > 0)
        json_object_set(line, "labels", labels);
    if (strcmp(run->pattern, SL_NAME_PATTERN) != 0)
        json_object_set_new(line, "name", json_string(run->pattern));
    json_decref(labels);
    return sl_journal_add(run->journal, line, err);
}

/* A page keeps its name for good: so does the pattern, but for new names of all. */
static sl_status check_pattern(const sl_run *run, sl_error *err)
{
    const char *before = json_string_value(run->journal->name);

    if (json_object_size(run->journal->by_page) == 0)
        return SL_OK;
    before = before != NULL ? before : SL_NAME_PATTERN;
    if (strcmp(before, run->pattern) == 0)
        return SL_OK;
    return sl_fail(err, SL_ERR_ARG, "album",
                   "the pages of %s are named by --name %s, not %s: leave --name out, or let "
                   "--renumber give all of them new names",
                   run->out_dir, before, run->pattern);
}

/* Works of earlier runs, and what other pages of the journal are called. */
static size_t take_known(giving *g, sl_work *work, size_t count)
{
    size_t known = 0;
    const char *page;
    json_t *line;

    json_object_foreach(g->run->journal->by_page, page, line) {
        const char *shot = json_string_value(json_object_get(line, "shot"));

        json_object_set_new(g->names, page, json_string(shot != NULL ? shot : ""));
        json_object_set_new(g->labels, sl_line_label(line), json_true());
    }
    for (size_t i = 0; i < count; i++) {
        const char *name = json_string_value(json_object_get(work[i].line, "page"));

        if (name == NULL)
            continue;
        (void)snprintf(work[i].page, sizeof work[i].page, "%s", name);
        (void)snprintf(work[i].label, sizeof work[i].label, "%s", sl_line_label(work[i].line));
        take(g, &work[i]);
        known = i + 1;
    }
    return known;
}

sl_status sl_names_give(sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    giving g;
    int digits = LEAST_DIGITS;
    unsigned long highest = 0;
    size_t known;            /* works up to the last one that was a page before */
    const char *page;
    json_t *line;
    sl_status st = giving_begin(&g, run, err);

    if (st == SL_OK)
        st = check_pattern(run, err);
    json_object_foreach(run->journal->by_page, page, line) {
        int d = LEAST_DIGITS;
        const unsigned long n = number_of(sl_line_label(line), &d);

        highest = n > highest ? n : highest;
        digits = d > digits ? d : digits;
    }
    if (highest == 0)
        digits = digits_for(count);
    known = st == SL_OK ? take_known(&g, work, count) : 0;
    for (size_t i = 0; st == SL_OK && i < count; i++) {
        sl_work *w = &work[i];
        bool done = w->page[0] != '\0';
        int d = digits;

        if (!done)
            st = join_page(&g, w, &done, err);
        if (st != SL_OK || done)
            continue;
        if (i < known) {
            const unsigned long n = i > 0 ? number_of(work[i - 1].label, &d) : 0;

            label_between(&g, w, n, d);
        } else {
            (void)snprintf(w->label, sizeof w->label, "%0*lu", digits, ++highest);
        }
        st = name_work(&g, w, false, &done, err);
    }
    giving_clear(&g);
    return st == SL_OK ? note_names(work, count, run, err) : st;
}

/* ---- all anew -------------------------------------------------------------------------------- */

/* Names and labels by place, beside those of pages whose shots are gone. */
static sl_status name_anew(giving *g, sl_work *work, size_t count, sl_error *err)
{
    const json_t *by_page = g->run->journal->by_page;
    const int digits = digits_for(json_object_size(by_page) + count);
    json_t *gone = json_copy((json_t *)by_page);
    unsigned long number = 0;
    const char *page;
    json_t *line;
    sl_status st = SL_OK;

    for (size_t i = 0; i < count; i++)
        if (work[i].line != NULL)
            json_object_del(gone, json_string_value(json_object_get(work[i].line, "page")));
    json_object_foreach(gone, page, line) {
        json_object_set_new(g->names, page, json_string("a page whose shot is gone"));
        json_object_set_new(g->labels, sl_line_label(line), json_true());
    }
    for (size_t i = 0; st == SL_OK && i < count; i++) {
        sl_work *w = &work[i];
        bool done = false;

        st = join_page(g, w, &done, err);
        if (st != SL_OK || done)
            continue;
        do
            (void)snprintf(w->label, sizeof w->label, "%0*lu", digits, ++number);
        while (json_object_get(g->labels, w->label) != NULL);
        st = name_work(g, w, false, &done, err);
    }
    json_decref(gone);
    return st;
}

sl_status sl_names_renew(sl_work *work, size_t count, const sl_run *run, sl_error *err)
{
    sl_journal *journal = run->journal;
    json_t *names = json_object();
    json_t *labels = json_object();
    giving g;
    sl_status st = giving_begin(&g, run, err);

    if (st == SL_OK && (names == NULL || labels == NULL))
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    if (st == SL_OK)
        st = name_anew(&g, work, count, err);
    for (size_t i = 0; st == SL_OK && i < count; i++) {
        const char *was = json_string_value(json_object_get(work[i].line, "page"));

        if (was == NULL || strcmp(was, work[i].page) == 0)
            continue;
        json_object_set_new(names, was, json_string(work[i].page));
        if (label_is_news(&work[i]))
            json_object_set_new(labels, work[i].page, json_string(work[i].label));
    }
    if (st == SL_OK && json_object_size(names) > 0)
        st = sl_journal_add(journal, json_pack("{s:O, s:O, s:s}", "renumber", names, "labels",
                                               labels, "name", run->pattern), err);
    for (size_t i = 0; st == SL_OK && i < count; i++) {
        if (work[i].line != NULL) {
            json_decref(work[i].line);
            work[i].line = json_incref(json_object_get(journal->by_page, work[i].page));
        }
    }
    if (st == SL_OK)
        st = note_names(work, count, run, err);
    giving_clear(&g);
    json_decref(labels);
    json_decref(names);
    return st;
}
