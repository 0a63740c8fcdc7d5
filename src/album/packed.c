#include "album/packed.h"

#include <stdlib.h>
#include <string.h>

#include "album/parse.h"
#include "album/report.h"

/* Digits as all of a report: what is opened prints as it would have been. */
static json_t *closed(const json_t *list)
{
    char *text = sl_report_text(list, 0);
    json_t *out = text != NULL ? json_stringn(text, strlen(text) - 1) : NULL; /* no line's end */

    free(text);
    return out;
}

static json_t *opened(const json_t *text)
{
    char *copy = strdup(json_string_value(text));
    json_t *out = copy != NULL ? sl_parse_line(copy) : NULL;

    free(copy);
    return out;
}

/* All strings of an object, or all arrays, the other way; false when out of memory. */
static bool turn_members(json_t *object, json_t *(*turn)(const json_t *), json_type from)
{
    bool done = true;
    const char *key;
    json_t *value;

    json_object_foreach(object, key, value)
        if (json_typeof(value) == from)
            done = json_object_set_new(object, key, turn(value)) == 0 && done;
    return done;
}

bool sl_packed_close(json_t *object)
{
    json_t *outline = json_object_get(object, "outline");

    if (json_is_array(outline) && json_object_set_new(object, "outline", closed(outline)) != 0)
        return false;
    return turn_members(json_object_get(object, "edges"), closed, JSON_ARRAY);
}

/* A copy in the place of object[key], to be changed; NULL when out of memory. */
static json_t *own_member(json_t *object, const char *key)
{
    json_t *own = json_copy(json_object_get(object, key));

    return own != NULL && json_object_set_new(object, key, own) == 0 ? own : NULL;
}

json_t *sl_packed_open(const json_t *page)
{
    json_t *out = json_copy((json_t *)page);
    bool done = out != NULL;

    if (done && json_is_object(json_object_get(page, "edges"))) {
        json_t *edges = own_member(out, "edges");

        done = edges != NULL && turn_members(edges, opened, JSON_STRING);
    }
    if (done && json_is_string(json_object_get(json_object_get(page, "review"), "outline"))) {
        json_t *review = own_member(out, "review");

        done = json_object_set_new(review, "outline",
                                   opened(json_object_get(review, "outline"))) == 0;
    }
    if (done)
        return out;
    json_decref(out);
    return NULL;
}

json_t *sl_packed_open_each(const json_t *list)
{
    json_t *out = json_array();
    size_t i;
    const json_t *page;

    json_array_foreach(list, i, page) {
        if (json_array_append_new(out, sl_packed_open(page)) != 0) {
            json_decref(out);
            return NULL;
        }
    }
    return out;
}
