#include "album/naming.h"

#include <stdlib.h>
#include <string.h>

#include "base/error.h"

/* ---- a shot's name --------------------------------------------------------------------------- */

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (unsigned char)c >= 0x80;
}

size_t sl_shot_bare(const char *shot)
{
    const char *dot = strrchr(shot, '.');

    return dot != NULL && dot != shot ? (size_t)(dot - shot) : strlen(shot);
}

sl_shot_parts sl_shot_parts_of(const char *shot)
{
    const size_t length = sl_shot_bare(shot);
    sl_shot_parts parts = { shot, length, shot + length, 0 };

    for (size_t i = length; i >= 4; i--) {
        if (shot[i - 3] != '-' || shot[i - 2] != '-')
            continue;
        if (is_letter(shot[i - 1]))
            parts = (sl_shot_parts){ shot, i - 3, shot + i - 1, length - i + 1 };
        break;
    }
    return parts;
}

bool sl_shot_same_page(const char *a, const char *b)
{
    const sl_shot_parts p = sl_shot_parts_of(a);
    const sl_shot_parts q = sl_shot_parts_of(b);

    return (p.state_length > 0 || q.state_length > 0) && p.stem_length == q.stem_length
           && memcmp(p.stem, q.stem, p.stem_length) == 0;
}

/* ---- letters --------------------------------------------------------------------------------- */

/*
 * U+00C0 to U+017F without their marks: the decompositions of Unicode's UnicodeData.txt, and for
 * letters that have none what they are commonly written as. Digits: two letters; '-': no letter.
 */
static const char latin[] =
    "aaaaaa0ceeeeiiiidnooooo-ouuuuy12aaaaaa0ceeeeiiiidnooooo-ouuuuy1y"
    "aaaaaaccccccccddddeeeeeeeeeegggggggghhhhiiiiiiiiii33jjkkklllllll"
    "lllnnnnnnnnnoooooo44rrrrrrssssssssttttttuuuuuuuuuuuuwwyyyzzzzzzs";
static const char two_letters[][3] = { "ae", "th", "ss", "ij", "oe" };

enum { LATIN_FIRST = 0xC0, LATIN_LAST = 0x17F };

_Static_assert(sizeof latin - 1 == LATIN_LAST - LATIN_FIRST + 1, "a letter for each");

/* The code point at `text`, its bytes in *used; 0 for what is no UTF-8 (RFC 3629). */
static unsigned long code_point(const char *text, size_t left, size_t *used)
{
    const unsigned char *b = (const unsigned char *)text;
    const size_t bytes = b[0] < 0x80 ? 1 : (b[0] & 0xE0) == 0xC0 ? 2 : (b[0] & 0xF0) == 0xE0 ? 3
                         : (b[0] & 0xF8) == 0xF0 ? 4 : 0;
    unsigned long point = bytes == 1 ? b[0] : bytes > 0 ? b[0] & (0x7Fu >> bytes) : 0;

    *used = 1;
    if (bytes == 0 || bytes > left)
        return 0;
    for (size_t i = 1; i < bytes; i++) {
        if ((b[i] & 0xC0) != 0x80)
            return 0;
        point = point << 6 | (b[i] & 0x3F);
    }
    *used = bytes;
    return point;
}

/* A name that grows, cut at its room; `length` goes on counting. */
typedef struct text {
    char  *out;
    size_t room;
    size_t length;
} text;

static void put(text *t, char c)
{
    if (t->length + 1 < t->room) {
        t->out[t->length] = c;
        t->out[t->length + 1] = '\0';
    }
    t->length++;
}

static char last_of(const text *t)
{
    return t->length > 0 && t->length < t->room ? t->out[t->length - 1] : '\0';
}

static void put_dash(text *t)
{
    if (t->length > 0 && last_of(t) != '-' && last_of(t) != '_')
        put(t, '-');
}

static void put_point(text *t, unsigned long point)
{
    if (point >= 'A' && point <= 'Z') {
        put(t, (char)(point - 'A' + 'a'));
    } else if ((point >= 'a' && point <= 'z') || (point >= '0' && point <= '9')) {
        put(t, (char)point);
    } else if (point == '_') {
        if (t->length > 0 && last_of(t) != '-' && last_of(t) != '_')
            put(t, '_');
    } else if (point >= LATIN_FIRST && point <= LATIN_LAST) {
        const char c = latin[point - LATIN_FIRST];

        if (c >= '0' && c <= '9')
            for (const char *p = two_letters[c - '0']; *p != '\0'; p++)
                put(t, *p);
        else if (c == '-')
            put_dash(t);
        else
            put(t, c);
    } else if (point < 0x300 || point > 0x36F) { /* marks that stand behind their letter go */
        put_dash(t);
    }
}

static void put_text(text *t, const char *from, size_t length)
{
    for (size_t i = 0; i < length;) {
        size_t used;
        const unsigned long point = code_point(from + i, length - i, &used);

        put_point(t, point);
        i += used;
    }
}

static void drop_last_dashes(text *t, size_t least)
{
    while (t->length > least && (last_of(t) == '-' || last_of(t) == '_'))
        t->out[--t->length] = '\0';
}

size_t sl_name_tame(char *out, size_t room, const char *from, size_t length)
{
    text t = { out, room, 0 };

    out[0] = '\0';
    put_text(&t, from, length);
    drop_last_dashes(&t, 0);
    return t.length;
}

/* ---- patterns -------------------------------------------------------------------------------- */

typedef enum part { PART_ALBUM = 0, PART_SHOT, PART_PAGE, PART_STATE, PARTS } part;

static const char *const part_names[PARTS] = { "{album}", "{shot}", "{page}", "{state}" };

/* Which part stands at `at`; PARTS when it is none. */
static part part_at(const char *at)
{
    int k = 0;

    while (k < PARTS && strncmp(at, part_names[k], strlen(part_names[k])) != 0)
        k++;
    return (part)k;
}

sl_status sl_name_check(const char *pattern, sl_error *err)
{
    bool tells = false;

    for (const char *p = pattern; *p != '\0'; p++) {
        const part k = part_at(p);

        if (*p != '{')
            continue;
        if (k == PARTS)
            return sl_fail(err, SL_ERR_ARG, "album",
                           "--name %s: there are {album}, {shot}, {page} and {state}, nothing "
                           "else in braces",
                           pattern);
        tells = tells || k == PART_SHOT || k == PART_PAGE;
    }
    if (!tells)
        return sl_fail(err, SL_ERR_ARG, "album",
                       "--name %s: without {page} or {shot} all pages have one name", pattern);
    return SL_OK;
}

char *sl_name_of_album(const char *pattern, const char *album)
{
    const size_t room = strlen(pattern) * (SL_NAME_MOST + 2) + 1;
    char name[SL_NAME_MOST + 2];
    char *out = malloc(room);
    size_t n = 0;

    (void)sl_name_tame(name, sizeof name, album, strlen(album));
    for (const char *p = pattern; out != NULL && *p != '\0';) {
        if (part_at(p) == PART_ALBUM) {
            n += (size_t)snprintf(out + n, room - n, "%s", name);
            p += strlen(part_names[PART_ALBUM]);
        } else {
            out[n++] = *p++;
        }
    }
    if (out != NULL)
        out[n] = '\0';
    return out;
}

/* Puts a part; an empty one takes what joins it to what is before it away too. */
static void put_part(text *t, const char *from, size_t length)
{
    const size_t before = t->length;

    put_text(t, from, length);
    if (t->length == before)
        drop_last_dashes(t, 0);
}

sl_status sl_name_fill(char *out, const char *pattern, const char *label, const char *shot,
                       sl_error *err)
{
    char name[8 * SL_NAME_MOST];
    text t = { name, sizeof name, 0 };
    const sl_shot_parts parts = sl_shot_parts_of(shot);

    name[0] = '\0';
    for (const char *p = pattern; *p != '\0';) {
        const part k = part_at(p);
        const size_t span = k < PARTS ? strlen(part_names[k]) : 1 + strcspn(p + 1, "{");

        if (k == PART_SHOT)
            put_part(&t, shot, sl_shot_bare(shot));
        else if (k == PART_PAGE)
            put_part(&t, label, strlen(label));
        else if (k == PART_ALBUM) /* filled in before, or empty */
            put_part(&t, "", 0);
        else if (k == PART_STATE)
            put_part(&t, parts.state, parts.state_length);
        else
            put_text(&t, p, span);
        p += span;
    }
    drop_last_dashes(&t, 0);
    if (t.length > SL_NAME_MOST)
        return sl_fail(err, SL_ERR_ARG, "album",
                       "--name %s: %s would be called %.60s...: %zu characters with its ending, at "
                       "most %d: choose a shorter pattern",
                       pattern, shot, name, t.length + 4, SL_NAME_MOST + 4);
    if (t.length == 0)
        return sl_fail(err, SL_ERR_ARG, "album",
                       "--name %s: nothing is left of %s in a-z and 0-9: put {page} into it",
                       pattern, shot);
    (void)snprintf(out, SL_NAME_MOST + 1, "%s", name);
    return SL_OK;
}
