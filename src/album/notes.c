#include "album/notes.h"

#include <stdlib.h>
#include <string.h>

#include "album/folder.h"
#include "album/names.h"
#include "album/why.h"

enum { TEXT = 400, LISTED_MOST = 300 };

/* ---- lists of pages -------------------------------------------------------------------------- */

/* "1 to 8, 12a, 15": grows by one page's label after the other, in order. */
typedef struct list {
    char          text[TEXT];
    size_t        length;
    size_t        count;
    unsigned long number;    /* of the last page; 0 when it has a letter */
    bool          open;      /* the last page is the end of a stretch not yet written */
} list;

static void add_text(list *l, const char *before, unsigned long number, const char *letters)
{
    if (l->length < LISTED_MOST)
        l->length += (size_t)snprintf(l->text + l->length, TEXT - l->length, "%s%lu%s", before,
                                      number, letters);
}

static void close_stretch(list *l)
{
    if (l->open)
        add_text(l, " to ", l->number, "");
    l->open = false;
}

static void add_page(list *l, const char *label)
{
    char *letters;
    const unsigned long n = strtoul(label, &letters, 10);

    if (*letters == '\0' && l->number > 0 && n == l->number)
        return;              /* another state of it */
    l->count++;
    if (*letters == '\0' && l->number > 0 && n == l->number + 1) {
        l->number = n;
        l->open = true;
        return;
    }
    close_stretch(l);
    add_text(l, l->count == 1 ? "" : ", ", n, letters);
    l->number = *letters == '\0' ? n : 0;
}

/* Says nothing of an empty list. */
static void say(list *l, const sl_album_events *events, const char *before, const char *after)
{
    char text[TEXT + SL_WHY + 300];

    if (l->count == 0)
        return;
    close_stretch(l);
    (void)snprintf(text, sizeof text, "%s: page%s %s%s%s", before, l->count == 1 ? "" : "s",
                   l->text, l->length >= LISTED_MOST ? ", ..." : "", after);
    events->note(events->ctx, text);
}

/* ---- the sentences --------------------------------------------------------------------------- */

static bool is(const json_t *line, const char *key, const char *value)
{
    const char *text = json_string_value(json_object_get(line, key));

    return text != NULL && strcmp(text, value) == 0;
}

/* Was the page made with the album's settings of now, whatever was corrected? */
static bool same_album(const json_t *line, const sl_run *run)
{
    return is(line, json_object_get(line, "album_key") != NULL ? "album_key" : "key", run->key);
}

static bool was_made(const json_t *line)
{
    return json_array_size(json_object_get(line, "files")) > 0;
}

/* Does a file of the page have another size than we gave it? */
static bool was_edited(const json_t *line, const char *out_dir)
{
    bool edited = false;
    size_t i;
    json_t *file;

    json_array_foreach(json_object_get(line, "files"), i, file) {
        const char *rest = json_string_value(json_object_get(file, "path"));
        char *path = rest != NULL ? sl_path_join(out_dir, rest) : NULL;
        struct stat st;

        edited = edited || (path != NULL && stat(path, &st) == 0
                            && json_integer_value(json_object_get(file, "size")) != st.st_size);
        free(path);
    }
    return edited;
}

static int by_page(const void *a, const void *b)
{
    return sl_line_order(*(json_t *const *)a, *(json_t *const *)b);
}

/* Pages with files whose shot is none of the works. */
static void list_gone(list *l, const sl_work *work, size_t count, const json_t *by_name)
{
    json_t *gone = json_copy((json_t *)by_name);
    json_t **sorted = calloc(json_object_size(by_name) + 1, sizeof *sorted);
    const char *page;
    json_t *line;
    size_t n = 0;

    for (size_t i = 0; i < count; i++)
        json_object_del(gone, work[i].page);
    json_object_foreach(gone, page, line)
        if (sorted != NULL && was_made(line))
            sorted[n++] = line;
    if (n > 0)
        qsort(sorted, n, sizeof *sorted, by_page);
    for (size_t i = 0; i < n; i++)
        add_page(l, sl_line_label(sorted[i]));
    free(sorted);
    json_decref(gone);
}

/*
 * Do the shots come in another order than their pages? Told when names are new, which the journal
 * knows from then on, and with an order that a person asked for.
 */
static void say_order(const sl_work *work, size_t count, const sl_run *run,
                      const sl_album_events *events)
{
    const sl_work *last = NULL;
    bool news = run->params->order != SL_ORDER_NAME;
    bool crossed = false;

    for (size_t i = 0; i < count; i++) {
        if (work[i].line == NULL)
            continue;
        news = news || !is(work[i].line, "shot", work[i].shot);
        crossed = crossed || (last != NULL && sl_natural_order(last->label, work[i].label) > 0);
        last = &work[i];
    }
    if (news && crossed)
        events->note(events->ctx, "The shots now come in another order than their pages: pages "
                                  "keep their numbers, or --renumber gives new ones");
}

void sl_notes_say(const sl_work *work, size_t count, const sl_run *run,
                  const sl_album_events *events)
{
    list changed = { "", 0, 0, 0, false };
    list older = { "", 0, 0, 0, false };
    list edited = { "", 0, 0, 0, false };
    list gone = { "", 0, 0, 0, false };
    list moved = { "", 0, 0, 0, false };
    list retaken = { "", 0, 0, 0, false };
    list lost = { "", 0, 0, 0, false };
    char which[SL_WHY] = "";
    char after[SL_WHY + 4] = "";

    if (events == NULL || events->note == NULL)
        return;
    for (size_t i = 0; i < count; i++) {
        const json_t *line = work[i].line;

        if (work[i].elsewhere)
            continue;
        if (work[i].keep && !is(line, "program", SL_VERSION))
            add_page(&older, work[i].label);
        if (work[i].keep && was_edited(line, run->out_dir))
            add_page(&edited, work[i].label);
        if (!work[i].keep && !run->params->redo && was_made(line) && is(line, "key", work[i].key)) {
            /* one of another size is another picture: no need to read it */
            list *l = json_integer_value(json_object_get(line, "size")) != work[i].entry->stat.st_size
                          ? &retaken
                      : sl_work_may_stand(&work[i], run) ? &moved : &lost;

            if (l != &moved || !run->params->rehash)
                add_page(l, work[i].label);
        }
        if (!work[i].keep && !run->params->redo && was_made(line)
            && json_object_get(line, "key") != NULL && !same_album(line, run)) {
            add_page(&changed, work[i].label);
            sl_why_settings(which, line, run);
        }
    }
    list_gone(&gone, work, count, run->journal->by_page);
    if (*which != '\0')
        (void)snprintf(after, sizeof after, " (%s)", which);
    say(&changed, events,
        run->params->dry_run ? "To be done again, for settings or optics are others now"
                             : "Done again, for settings or optics are others now", after);
    say(&older, events, "Made by another version of this program and kept",
        "; --redo makes them again");
    say(&edited, events, "Kept as somebody changed them", "");
    say(&moved, events, "Shots with another place, name or time than before", "; those that are "
        "the same pictures are only compared, and their pages stay");
    say(&retaken, events, run->params->dry_run ? "To be done again, for their shots are others now"
                                               : "Done again, for their shots are others now", "");
    say(&lost, events, run->params->dry_run ? "To be done again, for files of theirs are missing"
                                            : "Done again, for files of theirs are missing", "");
    say_order(work, count, run, events);
    say(&gone, events, "Kept, though their shots are not in this folder", "");
}

/* ---- corrections ----------------------------------------------------------------------------- */

enum { REFUSALS_TOLD = 20 };

void sl_notes_refusals(size_t from, const sl_run *run, const sl_album_events *events)
{
    const sl_corrections *c = run->corrections;
    char text[TEXT + 300];

    if (events == NULL || events->note == NULL)
        return;
    for (size_t i = from; i < c->refusals; i++) {
        const sl_refusal *r = &c->refusal[i];

        if (i == from + REFUSALS_TOLD) {
            (void)snprintf(text, sizeof text, "Not applied: %zu more; report.json names them",
                           c->refusals - i);
            events->note(events->ctx, text);
            return;
        }
        (void)snprintf(text, sizeof text, "Not applied: %.200s: %s%s%s", r->page, r->field,
                       *r->field != '\0' ? " " : "", r->why);
        events->note(events->ctx, text);
    }
}

/* Was the page made, and is another now, for what a person said of it since? */
static bool was_corrected(const sl_work *work, const sl_run *run)
{
    const json_t *line = work->line;

    if (json_object_get(line, "left_out") != NULL)
        return true;         /* taken in again */
    if (json_object_get(line, "outcome") == NULL || is(line, "key", work->key))
        return false;
    return json_object_get(line, "key") != NULL ? same_album(line, run)
                                                : json_object_get(line, "replaced") != NULL;
}

void sl_notes_corrections(const sl_work *work, size_t count, size_t all, const sl_run *run,
                          const sl_album_events *events)
{
    const sl_corrections *c = run->corrections;
    list again = { "", 0, 0, 0, false };
    char text[TEXT + 300];

    if (events == NULL || events->note == NULL)
        return;
    if (c->path != NULL) {
        (void)snprintf(text, sizeof text, "Corrections: %.300s%s", c->path,
                       c->older > 0 ? " (the newest of several)" : "");
        events->note(events->ctx, text);
    }
    for (size_t i = 0; i < count; i++)
        if (!work[i].keep && work[i].line != NULL && !run->params->redo
            && was_corrected(&work[i], run))
            add_page(&again, work[i].label);
    say(&again, events, c->path != NULL ? "Done again, as corrected"
                                        : "Done again, with their new captions", "");
    for (size_t i = count; i < all; i++) {
        (void)snprintf(text, sizeof text, "No page is made of %.200s: %s", work[i].shot,
                       work[i].left_out);
        events->note(events->ctx, text);
    }
    sl_notes_refusals(0, run, events);
}
