/*
 * What only report.json and review.html tell of a page is kept in its journal line as text, its own
 * JSON: "params", "optics" and "edges" of its report, "corner_at" and "outline" of its small
 * pictures. It is the most of a line; a run with nothing to do reads thousands of lines and asks for
 * none of it. Lines that have it as values, as earlier versions wrote them, do as well.
 */
#ifndef SL_ALBUM_PACKED_H
#define SL_ALBUM_PACKED_H

#include <stdbool.h>

#include <jansson.h>

/* Turns such values of a report, and of what is told of small pictures, into text; either may be
   NULL. False when out of memory. */
bool sl_packed_close(json_t *report, json_t *pictures);

/*
 * A copy of a page, or of a skipped file, as report.json has it: all its text is values again. NULL
 * when out of memory. The second: of each in a list.
 */
json_t *sl_packed_open(const json_t *page);
json_t *sl_packed_open_each(const json_t *list);

#endif
