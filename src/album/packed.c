#include "album/packed.h"

#include <stdlib.h>
#include <string.h>

#include "album/parse.h"
#include "album/report.h"

static const char *const of_a_report[] = { "params", "optics", "edges" };
static const char *const of_pictures[] = { "corner_at", "outline" };

enum { OF_A_REPORT = sizeof of_a_report / sizeof *of_a_report,
       OF_PICTURES = sizeof of_pictures / sizeof *of_pictures };

/* Digits as all of a report: what is opened prints as it would have been. */
static json_t *closed(const json_t *value)
{
    char *text = sl_report_text(value, 0);
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

static bool close_members(json_t *object, const char *const *key, size_t count)
{
    bool done = true;

    for (size_t i = 0; i < count; i++) {
        const json_t *value = json_object_get(object, key[i]);

        if (json_is_object(value) || json_is_array(value))
            done = json_object_set_new(object, key[i], closed(value)) == 0 && done;
    }
    return done;
}

static bool open_members(json_t *object, const char *const *key, size_t count)
{
    bool done = true;

    for (size_t i = 0; i < count; i++) {
        const json_t *value = json_object_get(object, key[i]);

        if (json_is_string(value))
            done = json_object_set_new(object, key[i], opened(value)) == 0 && done;
    }
    return done;
}

bool sl_packed_close(json_t *report, json_t *pictures)
{
    return close_members(report, of_a_report, OF_A_REPORT)
           && close_members(pictures, of_pictures, OF_PICTURES);
}

json_t *sl_packed_open(const json_t *page)
{
    json_t *out = json_copy((json_t *)page);
    json_t *pictures = json_copy(json_object_get(page, "review"));
    bool done = out != NULL && open_members(out, of_a_report, OF_A_REPORT);

    if (json_is_object(json_object_get(page, "review")))
        done = open_members(pictures, of_pictures, OF_PICTURES)
               && json_object_set(out, "review", pictures) == 0 && done;
    json_decref(pictures);
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
