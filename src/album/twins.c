/* Two shots of one page: told by equal files, and by likenesses of the flat pages (faces.h). */
#include "album/twins.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "album/amend.h"
#include "album/faces.h"
#include "album/likeness.h"
#include "album/naming.h"
#include "album/report.h"
#include "album/seal.h"
#include "album/work.h"

enum { NAMED = 2 };          /* of many twins so many are named */

/* What was found of one line. */
typedef struct twins {
    size_t count;
    size_t of[NAMED];        /* the first ones' lines */
    double alike[NAMED];     /* 2: the very same file */
    int    there;            /* its files: 1 are, -1 are not, 0 not looked for yet */
} twins;

static const char *text_of(const json_t *line, const char *key)
{
    const char *text = json_string_value(json_object_get(line, key));

    return text != NULL ? text : "";
}

static void note_one(twins *t, size_t other, double alike)
{
    for (size_t i = 0; i < t->count && i < NAMED; i++)
        if (t->of[i] == other)
            return;
    if (t->count < NAMED) {
        t->of[t->count] = other;
        t->alike[t->count] = alike;
    }
    t->count++;
}

static bool is_there(twins *t, const json_t *line, const char *out_dir)
{
    if (t->there == 0)
        t->there = sl_line_still_there(line, out_dir) ? 1 : -1;
    return t->there > 0;
}

static void note_pair(twins *all, const json_t *lines, const char *out_dir, size_t a, size_t b,
                      double alike)
{
    const char *shot_a = text_of(json_array_get(lines, a), "shot");
    const char *shot_b = text_of(json_array_get(lines, b), "shot");

    /* a flap open and a flap closed: two shots of one page that were meant */
    if (strcmp(shot_a, shot_b) != 0 && sl_shot_same_page(shot_a, shot_b))
        return;
    if (!is_there(&all[a], json_array_get(lines, a), out_dir)
        || !is_there(&all[b], json_array_get(lines, b), out_dir))
        return;
    note_one(&all[a], b, alike);
    note_one(&all[b], a, alike);
}

static void find_equal_files(twins *all, const json_t *lines, const char *out_dir)
{
    json_t *seen = json_object();
    size_t i;
    const json_t *line;

    json_array_foreach(lines, i, line) {
        const char *sha256 = text_of(line, "sha256");
        const json_t *first = json_object_get(seen, sha256);

        if (sha256[0] == '\0' || sl_line_outcome(line) == SL_OUTCOME_FAILED)
            continue;
        if (first != NULL)
            note_pair(all, lines, out_dir, (size_t)json_integer_value(first), i, 2);
        else
            json_object_set_new(seen, sha256, json_integer((json_int_t)i));
    }
    json_decref(seen);
}

/* ---- alike ----------------------------------------------------------------------------------- */

/* [a, b, alike] of the pages with a likeness; digits as the journal keeps them. */
static void take_pair(void *ctx, size_t a, size_t b, double alike)
{
    json_array_append_new(ctx, json_pack("[I, I, f]", (json_int_t)a, (json_int_t)b,
                                         round(alike * 1e9) / 1e9));
}

/* Those of `likeness` that are alike; NULL when out of memory. */
static json_t *seek_pairs(const json_t *likeness, double limit, sl_pool *pool)
{
    sl_faces *faces = sl_faces_new(json_array_size(likeness));
    json_t *pairs = json_array();
    bool done = faces != NULL && pairs != NULL;
    size_t i;
    const json_t *text;

    json_array_foreach(likeness, i, text)
        done = done && sl_faces_add(faces, json_string_value(text));
    done = done && sl_faces_pairs(faces, limit, pool, take_pair, pairs);
    sl_faces_free(faces);
    if (done)
        return pairs;
    json_decref(pairs);
    return NULL;
}

/* What decides about the pairs. */
static bool sum_of(char hex[SL_SHA256_HEX], json_t *likeness, double limit)
{
    json_t *all = json_pack("{s:s, s:f, s:O}", "program", SL_VERSION, "limit", limit, "of",
                            likeness);

    if (all == NULL)
        return false;
    sl_seal_of(hex, all);
    json_decref(all);
    return true;
}

/*
 * The same, or what an earlier run found of the same pages: to seek them among thousands is the most
 * of a run that has nothing to do. Pairs that cannot be noted are only sought again next time.
 */
static json_t *get_pairs(json_t *likeness, double limit, sl_journal *journal, sl_pool *pool)
{
    char of[SL_SHA256_HEX];
    json_t *pairs;

    if (journal == NULL)
        return seek_pairs(likeness, limit, pool);
    if (!sum_of(of, likeness, limit))
        return NULL;
    if (strcmp(sl_json_text(journal->twins, "of"), of) == 0)
        return json_incref(json_object_get(journal->twins, "twins"));
    pairs = seek_pairs(likeness, limit, pool);
    if (pairs != NULL)
        (void)sl_journal_add(journal, json_pack("{s:O, s:s}", "twins", pairs, "of", of), NULL);
    return pairs;
}

static bool find_alike(twins *all, const json_t *lines, const char *out_dir, double limit,
                       sl_journal *journal, sl_pool *pool)
{
    size_t *line_of = calloc(json_array_size(lines) + 1, sizeof *line_of);
    json_t *likeness = json_array();
    json_t *pairs = NULL;
    size_t count = 0;
    bool found;
    size_t i;
    const json_t *each;

    json_array_foreach(lines, i, each) {
        json_t *text = json_object_get(each, "likeness");

        if (line_of == NULL || sl_line_outcome(each) == SL_OUTCOME_FAILED
            || !sl_likeness_is(json_string_value(text)))
            continue;
        json_array_append(likeness, text);
        line_of[count++] = i;
    }
    if (line_of != NULL && json_array_size(likeness) == count)
        pairs = get_pairs(likeness, limit, journal, pool);
    found = pairs != NULL;
    json_array_foreach(pairs, i, each) {
        const json_int_t a = json_integer_value(json_array_get(each, 0));
        const json_int_t b = json_integer_value(json_array_get(each, 1));

        if (a >= 0 && b >= 0 && (size_t)a < count && (size_t)b < count)
            note_pair(all, lines, out_dir, line_of[a], line_of[b],
                      json_number_value(json_array_get(each, 2)));
    }
    json_decref(pairs);
    json_decref(likeness);
    free(line_of);
    return found;
}

/* ---- what is said ---------------------------------------------------------------------------- */

/* "page 13 (b.jpg)", "page 13 (b.jpg), page 14 (c.jpg) and 2 more" */
static void print_names(char *out, size_t size, const twins *t, const json_t *lines)
{
    size_t length = 0;

    out[0] = '\0';
    for (size_t i = 0; i < t->count && i < NAMED; i++) {
        const json_t *line = json_array_get(lines, t->of[i]);
        const char *before = i == 0 ? "" : t->count == NAMED ? " and " : ", ";
        char page[64];

        sl_line_short_page(page, sizeof page, line);
        length += (size_t)snprintf(out + length, size - length, "%s%s (%.60s)", before, page,
                                   text_of(line, "shot"));
    }
    if (t->count > NAMED)
        (void)snprintf(out + length, size - length, " and %zu more", t->count - NAMED);
}

/* The first twin that is a good page; SIZE_MAX when none is. */
static size_t good_one(const twins *t, const json_t *lines)
{
    for (size_t i = 0; i < t->count && i < NAMED; i++)
        if (sl_line_outcome(json_array_get(lines, t->of[i])) <= SL_OUTCOME_LOOK)
            return t->of[i];
    return SIZE_MAX;
}

static void tell(json_t *lines, const json_t *before, size_t index, const twins *t, double limit)
{
    const bool bad = sl_line_outcome(json_array_get(before, index)) == SL_OUTCOME_RESHOOT;
    const size_t good = good_one(t, before);
    const bool same_file = t->alike[0] > 1;
    const char *advice;
    char names[300];

    print_names(names, sizeof names, t, before);
    if (bad && good != SIZE_MAX)
        advice = "That shot can take this one's place.";
    else if (!bad && good == SIZE_MAX)
        advice = "That one is to be photographed again; this one can take its place.";
    else if (same_file)
        advice = "Leave one of the two out in review.html, or take the shot and its page away.";
    else
        advice = "Keep the better one and leave the other out in review.html, or take that shot "
                 "and its page away. If they are two pages, accept both.";
    sl_amend_add(lines, index, SL_CODE_SAME_PAGE, same_file ? 100 : 100 * t->alike[0],
                 100 * limit, "%", SL_LOOK,
                 same_file ? "This is the same file as %s. %s"
                           : "This seems to be the same page as %s. %s",
                 names, advice);
    if (bad && good != SIZE_MAX)
        json_object_set(json_array_get(lines, index), "replacement",
                        json_object_get(json_array_get(before, good), "page"));
}

bool sl_twins_find(json_t *lines, const char *out_dir, double limit,
                   sl_journal *journal, sl_pool *pool)
{
    const size_t count = json_array_size(lines);
    json_t *before = json_copy(lines);
    twins *all = calloc(count + 1, sizeof *all);
    bool found = all != NULL && before != NULL;

    if (found) {
        find_equal_files(all, before, out_dir);
        found = find_alike(all, before, out_dir, limit, journal, pool);
        for (size_t i = 0; found && i < count; i++)
            if (all[i].count > 0)
                tell(lines, before, i, &all[i], limit);
    }
    free(all);
    json_decref(before);
    return found;
}
