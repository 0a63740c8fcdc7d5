#include "album/faults.h"

#include <stdarg.h>
#include <stdio.h>

#include "album/work.h"

void sl_fault_add(json_t *faults, const char *code, double value, double limit, const char *unit,
                  const char *text, ...)
{
    char said[400];
    va_list args;

    va_start(args, text);
    (void)vsnprintf(said, sizeof said, text, args);
    va_end(args);
    json_array_append_new(faults, json_pack("{s:s, s:f, s:f, s:s, s:s}", "code", code, "value",
                                            value, "limit", limit, "unit", unit, "text", said));
}

/* ---- how many pages -------------------------------------------------------------------------- */

/* A page was found in the shot, be it good or not. */
static bool shows_a_page(const json_t *line)
{
    return sl_line_outcome(line) != SL_OUTCOME_FAILED
           && json_is_array(json_object_get(json_object_get(line, "report"), "corners"));
}

void sl_fault_page_count(json_t *faults, const json_t *lines, size_t expect)
{
    const size_t all = json_array_size(lines);
    size_t pages = 0;
    size_t i;
    const json_t *line;
    char empty[80] = "";

    if (expect == 0)
        return;
    json_array_foreach(lines, i, line)
        pages += shows_a_page(line);
    if (pages == expect)
        return;
    if (pages < all)
        (void)snprintf(empty, sizeof empty, " (%zu shot%s gave no page)", all - pages,
                       all - pages == 1 ? "" : "s");
    if (pages < expect)
        sl_fault_add(faults, "page-count", (double)pages, (double)expect, "pages",
                     "%zu pages are expected and %zu found%s: %zu missing. Leaf through the album "
                     "beside the pages, photograph what is missing and run again.",
                     expect, pages, empty, expect - pages);
    else
        sl_fault_add(faults, "page-count", (double)pages, (double)expect, "pages",
                     "%zu page%s expected and %zu found%s: %zu too many. Look for pages that "
                     "were photographed twice, or count the album again.",
                     expect, expect == 1 ? " is" : "s are", pages, empty, pages - expect);
}
