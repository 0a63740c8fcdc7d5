/* Corrections as they are read: each field is looked at by itself. */
#include "album/corrections.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/sha256.h"

enum { NAME_MOST = 500, TEXT_MOST = 8000, SIDE_LEAST = 8 };

/* ---- what is refused ------------------------------------------------------------------------- */

void sl_corrections_refuse(sl_corrections *c, const char *page, const char *field, const char *why)
{
    sl_refusal *more = realloc(c->refusal, (c->refusals + 1) * sizeof *more);
    sl_refusal r;

    if (more == NULL)
        return;
    c->refusal = more;
    r = (sl_refusal){ strdup(page), strdup(field), strdup(why) };
    if (r.page != NULL && r.field != NULL && r.why != NULL) {
        c->refusal[c->refusals++] = r;
    } else {
        free(r.page);
        free(r.field);
        free(r.why);
    }
}

/* Where the fields of one entry are taken from, and what is told of those that do not fit. */
typedef struct reader {
    sl_corrections *all;
    json_t         *entry;
    const char     *whose;   /* page, shot or SHA-256: the best that is known */
} reader;

/* Takes the field out of the entry: it is as if nobody had said it. */
static void refuse(reader *r, const char *field, const char *why)
{
    sl_corrections_refuse(r->all, r->whose, field, why);
    json_object_del(r->entry, field);
}

/* ---- fields ---------------------------------------------------------------------------------- */

static bool is_sha256(const char *text)
{
    return text != NULL && strlen(text) == 64 && strspn(text, "0123456789abcdef") == 64;
}

/* One line of text, or several: nothing that a terminal or a file could take for a command. */
static bool is_plain(const char *text, size_t most)
{
    if (strlen(text) > most)
        return false;
    for (const unsigned char *p = (const unsigned char *)text; *p != '\0'; p++)
        if ((*p < 0x20 && *p != '\n' && *p != '\t') || *p == 0x7f)
            return false;
    return true;
}

static const char *take_text(reader *r, const char *field, size_t most)
{
    const json_t *value = json_object_get(r->entry, field);
    const char *text = json_string_value(value);

    if (value == NULL)
        return NULL;
    if (text == NULL || !is_plain(text, most)) {
        refuse(r, field, text == NULL ? "is no text" : "is too long or has control characters");
        return NULL;
    }
    return text;
}

static bool take_bool(reader *r, const char *field)
{
    const json_t *value = json_object_get(r->entry, field);

    if (value != NULL && !json_is_boolean(value)) {
        refuse(r, field, "is neither true nor false");
        return false;
    }
    return json_is_true(value);
}

static bool take_point(sl_point *out, const json_t *pair)
{
    const json_t *x = json_array_get(pair, 0);
    const json_t *y = json_array_get(pair, 1);

    if (json_array_size(pair) != 2 || !json_is_number(x) || !json_is_number(y))
        return false;
    *out = (sl_point){ json_number_value(x), json_number_value(y) };
    return isfinite(out->x) && isfinite(out->y);
}

/* Does the walk round the corners always turn the same way, and never stand still? */
static bool is_convex(const sl_point corner[4])
{
    int turns = 0;

    for (int k = 0; k < 4; k++) {
        const sl_point a = corner[k];
        const sl_point b = corner[(k + 1) % 4];
        const sl_point c = corner[(k + 2) % 4];
        const double cross = (b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x);

        if (hypot(b.x - a.x, b.y - a.y) < SIDE_LEAST)
            return false;
        turns += cross > 0 ? 1 : cross < 0 ? -1 : 0;
    }
    return turns == 4 || turns == -4;
}

/* The upright shot's size as it was when the corners were set; false when it was not kept. */
static bool take_size(double size[2], const reader *r)
{
    const json_t *list = json_object_get(r->entry, "size");

    for (size_t i = 0; i < 2; i++)
        size[i] = json_number_value(json_array_get(list, i));
    return json_array_size(list) == 2 && size[0] > 0 && size[1] > 0;
}

static void take_corners(sl_correction *out, reader *r)
{
    const json_t *list = json_object_get(r->entry, "corners");
    sl_point corner[4] = { { 0, 0 } };
    double size[2];
    const bool sized = take_size(size, r);

    if (list == NULL)
        return;
    for (size_t i = 0; i < 4; i++) {
        if (json_array_size(list) != 4 || !take_point(&corner[i], json_array_get(list, i))) {
            refuse(r, "corners", "are not four points [x, y] in px");
            return;
        }
        /* a corner that the frame has cut off may lie beyond it, but not far */
        if (sized && (corner[i].x < -0.1 * size[0] || corner[i].x > 1.1 * size[0]
                      || corner[i].y < -0.1 * size[1] || corner[i].y > 1.1 * size[1])) {
            refuse(r, "corners", "lie outside the shot");
            return;
        }
    }
    if (!is_convex(corner)) {
        refuse(r, "corners", "do not go round a page: they must follow one another along its edge");
        return;
    }
    out->has_corners = true;
    for (int i = 0; i < 4; i++)
        out->corner[i] = corner[i];
}

static void take_turn(sl_correction *out, reader *r)
{
    const json_t *value = json_object_get(r->entry, "turn");
    const json_int_t turn = json_integer_value(value);

    if (value == NULL)
        return;
    if (!json_is_integer(value) || turn < 0 || turn > 270 || turn % 90 != 0) {
        refuse(r, "turn", "is none of 0, 90, 180, 270");
        return;
    }
    out->has_turn = true;
    out->turn_deg = (unsigned)turn;
}

static void take_page_size(sl_correction *out, reader *r)
{
    const char *text = take_text(r, "page_size", NAME_MOST);

    if (text != NULL && sl_page_size_parse(out->page_mm, text, NULL) != SL_OK)
        refuse(r, "page_size", "is no size like 8x10in, 210x297mm or a4");
}

/* Another shot, by SHA-256. */
static const char *take_shot(reader *r, const char *field, const char *own)
{
    const char *text = take_text(r, field, NAME_MOST);

    if (text == NULL)
        return NULL;
    if (!is_sha256(text)) {
        refuse(r, field, "is no SHA-256 of a shot");
        return NULL;
    }
    if (strcmp(text, own) == 0) {
        refuse(r, field, "is this shot itself");
        return NULL;
    }
    return text;
}

static bool is_text_or_absent(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);

    return value == NULL
           || (json_is_string(value) && is_plain(json_string_value(value), NAME_MOST));
}

static void take_word(sl_correction *out, reader *r)
{
    const json_t *word = json_object_get(r->entry, "word");
    const char *says = json_string_value(json_object_get(word, "says"));
    const char *outline = json_string_value(json_object_get(word, "outline"));

    if (word == NULL)
        return;
    if (says == NULL || (strcmp(says, "accepted") != 0 && strcmp(says, "refused") != 0)) {
        refuse(r, "word", "is neither accepted nor refused");
        return;
    }
    if (!is_sha256(outline)) {
        refuse(r, "word", "does not say which outline it is about");
        return;
    }
    if (!is_text_or_absent(word, "who") || !is_text_or_absent(word, "when")) {
        refuse(r, "word", "has a who or when that is no short text");
        return;
    }
    out->word = strcmp(says, "accepted") == 0 ? SL_WORD_ACCEPTED : SL_WORD_REFUSED;
    out->word_outline = outline;
}

static void take_checks(reader *r)
{
    json_t *checks = json_object_get(r->entry, "checks");
    size_t i;
    json_t *check;

    if (checks == NULL)
        return;
    if (!json_is_array(checks)) {
        refuse(r, "checks", "are no list");
        return;
    }
    json_array_foreach(checks, i, check) {
        const char *result = json_string_value(json_object_get(check, "result"));

        if (result == NULL || (strcmp(result, "good") != 0 && strcmp(result, "bad") != 0)
            || !is_text_or_absent(check, "who") || !is_text_or_absent(check, "when")
            || !is_text_or_absent(check, "note")) {
            refuse(r, "checks", "hold one that is neither good nor bad, or no short text");
            return;
        }
    }
}

static void take_entry(sl_correction *out, reader *r, const char *sha256)
{
    static const char *const changing[] = { "caption", "date", "place", "people" };
    const char **const words[] = { &out->words.caption, &out->words.date, &out->words.place,
                                   &out->words.people };

    *out = (sl_correction){ .shot_sha256 = sha256, .json = r->entry };
    out->shot = take_text(r, "shot", NAME_MOST);
    out->page = take_text(r, "page", NAME_MOST);
    out->shot = out->shot != NULL ? out->shot : "";
    out->page = out->page != NULL ? out->page : "";
    r->whose = *out->page != '\0' ? out->page : *out->shot != '\0' ? out->shot : sha256;
    out->exact = take_bool(r, "exact");
    take_corners(out, r);
    out->exact = out->exact && out->has_corners;
    take_turn(out, r);
    take_page_size(out, r);
    out->leave_out = take_bool(r, "leave_out");
    out->replaces = take_shot(r, "replaces", sha256);
    for (size_t i = 0; i < 4; i++)
        *words[i] = take_text(r, changing[i], TEXT_MOST);
    take_word(out, r);
    take_checks(r);
}

/* ---- the file -------------------------------------------------------------------------------- */

static int by_sha256(const void *a, const void *b)
{
    const sl_correction *p = a;
    const sl_correction *q = b;

    return strcmp(p->shot_sha256, q->shot_sha256);
}

static sl_status take_all(sl_corrections *out, json_t *shots, sl_error *err)
{
    const char *sha256;
    json_t *entry;

    out->item = calloc(json_object_size(shots) + 1, sizeof *out->item);
    if (out->item == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "corrections", "out of memory");
    json_object_foreach(shots, sha256, entry) {
        reader r = { out, entry, sha256 };
        json_t *own;

        if (!is_sha256(sha256) || !json_is_object(entry)) {
            sl_corrections_refuse(out, is_plain(sha256, NAME_MOST) ? sha256 : "an entry", "",
                                  "is no entry for the SHA-256 of a shot");
            continue;
        }
        /* the entry keeps its own name: the list of entries goes */
        own = json_string(sha256);
        json_object_set_new(entry, "sha256", own);
        take_entry(&out->item[out->count], &r, json_string_value(own));
        json_incref(entry);
        out->count++;
    }
    if (out->count > 1)
        qsort(out->item, out->count, sizeof *out->item, by_sha256);
    return SL_OK;
}

static void take_order(sl_corrections *out, json_t *order)
{
    json_t *seen = json_object();
    size_t i;
    const json_t *value;
    bool good = json_is_array(order);

    json_array_foreach(order, i, value) {
        const char *sha256 = json_string_value(value);

        good = good && is_sha256(sha256) && json_object_get(seen, sha256) == NULL
               && json_object_set_new(seen, sha256, json_true()) == 0;
    }
    json_decref(seen);
    if (good)
        out->order = json_incref(order);
    else if (order != NULL)
        sl_corrections_refuse(out, "the album", "order", "is no list of different shots");
}

sl_status sl_corrections_parse(sl_corrections *out, const char *bytes, size_t size,
                               const char *name, sl_error *err)
{
    json_error_t why = { .line = 0 };
    json_t *root = json_loadb(bytes != NULL ? bytes : "", size, JSON_REJECT_DUPLICATES, &why);
    const char *kind = json_string_value(json_object_get(root, "kind"));
    const json_t *schema = json_object_get(root, "schema");
    json_t *shots = json_object_get(root, "shots");
    sl_status st = SL_OK;

    if (root == NULL)
        st = sl_fail(err, SL_ERR_ARG, "corrections",
                     "%s cannot be read, line %d: %.80s; save it again from review.html, or take "
                     "it away",
                     name, why.line, why.text);
    else if (kind == NULL || strcmp(kind, "squareleaf corrections") != 0 || !json_is_object(shots))
        st = sl_fail(err, SL_ERR_ARG, "corrections",
                     "%s are no corrections as review.html saves them: take the file away", name);
    else if (!json_is_integer(schema) || json_integer_value(schema) != 1)
        st = sl_fail(err, SL_ERR_ARG, "corrections",
                     "%s was saved by a newer version of this program: use that", name);
    if (st == SL_OK)
        st = take_all(out, shots, err);
    if (st == SL_OK)
        take_order(out, json_object_get(root, "order"));
    json_decref(root);
    return st;
}

void sl_corrections_clear(sl_corrections *c)
{
    for (size_t i = 0; i < c->count; i++)
        json_decref(c->item[i].json);
    for (size_t i = 0; i < c->refusals; i++) {
        free(c->refusal[i].page);
        free(c->refusal[i].field);
        free(c->refusal[i].why);
    }
    json_decref(c->order);
    free(c->item);
    free(c->refusal);
    free(c->bytes);
    free(c->path);
    memset(c, 0, sizeof *c);
}

const sl_correction *sl_corrections_of(const sl_corrections *c, const char *shot_sha256)
{
    const sl_correction wanted = { .shot_sha256 = shot_sha256 };

    if (c == NULL || c->count == 0 || shot_sha256 == NULL)
        return NULL;
    return bsearch(&wanted, c->item, c->count, sizeof *c->item, by_sha256);
}

/* ---- what a correction does to a page -------------------------------------------------------- */

sl_settings sl_correction_settings(const sl_settings *settings, const sl_correction *c)
{
    sl_settings s = *settings;

    if (c != NULL && c->has_corners) {
        s.whole_frame = false;
        s.has_corners = true;
        s.exact = c->exact;
        memcpy(s.corners, c->corner, sizeof s.corners);
    }
    if (c != NULL && c->has_turn)
        s.turn_deg = c->turn_deg;
    if (c != NULL && c->page_mm[0] > 0)
        memcpy(s.page_mm, c->page_mm, sizeof s.page_mm);
    return s;
}

sl_status sl_correction_key(char hex[SL_SHA256_HEX], const char *key, const sl_correction *c,
                            sl_error *err)
{
    static const char *const touching[] = { "corners", "exact", "turn", "page_size", "leave_out",
                                            "replaces" }; /* words: words.c */
    json_t *part = json_object();
    char *text = NULL;

    for (size_t i = 0; c != NULL && i < sizeof touching / sizeof *touching; i++) {
        json_t *value = json_object_get(c->json, touching[i]);

        /* false and no text are as if nobody had said it */
        if (value != NULL && !json_is_false(value)
            && !(json_is_string(value) && json_string_length(value) == 0))
            json_object_set(part, touching[i], value);
    }
    if (json_object_size(part) == 0) {
        json_decref(part);
        memcpy(hex, key, SL_SHA256_HEX);
        return SL_OK;
    }
    json_object_set_new(part, "album", json_string(key));
    text = json_dumps(part, JSON_SORT_KEYS | JSON_REAL_PRECISION(12));
    json_decref(part);
    if (text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "corrections", "out of memory");
    sl_sha256(hex, text, strlen(text));
    free(text);
    return SL_OK;
}

/* ---- a person's word ------------------------------------------------------------------------- */

void sl_correction_outline_key(char hex[SL_SHA256_HEX], const json_t *report)
{
    /* ten digits, as reports are printed: a line read back from the journal gives the same */
    char *text = json_dumps(json_object_get(report, "corners"),
                            JSON_ENCODE_ANY | JSON_REAL_PRECISION(10));

    sl_sha256(hex, text != NULL ? text : "", text != NULL ? strlen(text) : 0);
    free(text);
}

bool sl_correction_word_stands(const sl_correction *c, const json_t *report)
{
    char key[SL_SHA256_HEX];

    if (c == NULL || c->word == SL_WORD_NONE || !json_is_object(report))
        return false;
    sl_correction_outline_key(key, report);
    return strcmp(key, c->word_outline) == 0;
}
