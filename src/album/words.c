#include "album/words.h"

#include <stdlib.h>
#include <string.h>

#include "base/error.h"

enum { WORDS = 4, LISTED_MOST = 20 };

static const char *const names[WORDS] = { "caption", "date", "place", "people" };

/* The four, to be walked through. */
static void spread(const char *to[WORDS], const sl_words *w)
{
    to[0] = w->caption;
    to[1] = w->date;
    to[2] = w->place;
    to[3] = w->people;
}

static bool said(const char *text)
{
    return text != NULL && *text != '\0';
}

void sl_words_give(sl_work *work, size_t count, const sl_run *run)
{
    static const sl_words nothing = { NULL, NULL, NULL, NULL };

    for (size_t i = 0; i < count; i++) {
        sl_work *w = &work[i];
        const sl_caption *row = sl_captions_of(run->captions, w->page, w->shot);
        const char *table[WORDS];
        const char *corrected[WORDS];
        const char *word[WORDS];

        spread(table, row != NULL ? &row->words : &nothing);
        spread(corrected, w->correction != NULL ? &w->correction->words : &nothing);
        w->overruled = false;
        for (size_t k = 0; k < WORDS; k++) {
            word[k] = said(table[k]) ? table[k] : said(corrected[k]) ? corrected[k] : NULL;
            w->overruled = w->overruled || (said(table[k]) && said(corrected[k])
                                            && strcmp(table[k], corrected[k]) != 0);
        }
        w->words = (sl_words){ word[0], word[1], word[2], word[3] };
    }
}

json_t *sl_words_json(const sl_words *words)
{
    const char *word[WORDS];
    json_t *all = json_object();

    spread(word, words);
    for (size_t k = 0; k < WORDS; k++)
        if (said(word[k]))
            json_object_set_new(all, names[k], json_string(word[k]));
    if (json_object_size(all) > 0)
        return all;
    json_decref(all);
    return NULL;
}

sl_status sl_words_key(char hex[SL_SHA256_HEX], const char *key, const sl_words *words,
                       sl_error *err)
{
    json_t *all = sl_words_json(words);
    char *text;

    if (all == NULL) {
        memmove(hex, key, SL_SHA256_HEX);
        return SL_OK;
    }
    json_object_set_new(all, "key", json_string(key));
    text = json_dumps(all, JSON_SORT_KEYS);
    json_decref(all);
    if (text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "captions", "out of memory");
    sl_sha256(hex, text, strlen(text));
    free(text);
    return SL_OK;
}

/* ---- what to say ----------------------------------------------------------------------------- */

static bool has_page(const sl_caption *row, const sl_work *work, size_t count, const sl_run *run)
{
    /* a page of an earlier batch, whose shots are not in this folder */
    if (json_object_get(run->journal->by_page, row->page) != NULL)
        return true;
    for (size_t i = 0; i < count; i++)
        if (sl_captions_of(run->captions, work[i].page, work[i].shot) == row)
            return true;
    return false;
}

static bool is_filled(const sl_caption *row)
{
    return said(row->words.caption) || said(row->words.date) || said(row->words.place)
           || said(row->words.people);
}

void sl_words_notes(const sl_work *work, size_t count, const sl_run *run,
                    const sl_album_events *events)
{
    const sl_captions *c = run->captions;
    char text[700];
    size_t overruled = 0;
    size_t listed = 0;
    int n;

    if (events == NULL || events->note == NULL || c == NULL || c->path == NULL)
        return;
    (void)snprintf(text, sizeof text, "Captions: %.300s%s%.300s%s", c->path,
                   c->other != NULL ? " (" : "", c->other != NULL ? c->other : "",
                   c->other != NULL ? " is older and not read)" : "");
    events->note(events->ctx, text);

    n = snprintf(text, sizeof text, "Captions win over corrections:");
    for (size_t i = 0; i < count; i++) {
        overruled += work[i].overruled;
        if (work[i].overruled && overruled <= LISTED_MOST)
            n += snprintf(text + n, sizeof text - (size_t)n, "%s %.24s", overruled > 1 ? "," : "",
                          work[i].page);
    }
    if (overruled > LISTED_MOST)
        (void)snprintf(text + n, sizeof text - (size_t)n, ", ...");
    if (overruled > 0)
        events->note(events->ctx, text);

    for (size_t i = 0; i < c->count && listed < LISTED_MOST; i++) {
        const sl_caption *row = &c->item[i];

        if (!is_filled(row) || has_page(row, work, count, run))
            continue;
        listed++;
        (void)snprintf(text, sizeof text, "Not used: row %zu of the captions: the album has no "
                       "page%s%.40s%s%.200s", row->row, *row->page != '\0' ? " " : "", row->page,
                       *row->shot != '\0' ? " of shot " : "", row->shot);
        events->note(events->ctx, text);
    }
}
