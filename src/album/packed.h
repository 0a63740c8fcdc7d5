/*
 * Long lists of points in the journal's lines: kept as one text each, their own JSON. A run with
 * nothing to do reads thousands of lines and looks at none of these points; they are opened where
 * they are told. Lines that have them as arrays, as earlier versions wrote them, do as well.
 *   {"edges": {"top": "[[30.1, 6.7], ...]", ...}}   of a page's report
 *   {"outline": "[[[26.8, 6.7], ...], ...]"}        of a page's small pictures, "review"
 */
#ifndef SL_ALBUM_PACKED_H
#define SL_ALBUM_PACKED_H

#include <stdbool.h>

#include <jansson.h>

/* Closes such lists in a report, or in what is told of small pictures. False: out of memory. */
bool sl_packed_close(json_t *object);

/*
 * A copy of a page's report, or of a skipped file's, as it is told, with its lists opened, those of
 * its "review" too. NULL when out of memory.
 */
json_t *sl_packed_open(const json_t *page);
json_t *sl_packed_open_each(const json_t *list);

#endif
