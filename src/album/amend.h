/* What the pages together add to one page's reasons, or take from their weight. */
#ifndef SL_ALBUM_AMEND_H
#define SL_ALBUM_AMEND_H

#include <jansson.h>

#include "base/compiler.h"
#include "squareleaf.h"

/*
 * Both put a changed copy in the place of lines[index]: reasons, verdict and outcome; the line
 * itself, which is the journal's, stays as it is. A failed shot's line is left alone.
 */
void sl_amend_add(json_t *lines, size_t index, sl_code code, double value, double limit,
                  const char *unit, sl_verdict weight, const char *text, ...) SL_PRINTF(8, 9);

/* Reasons of this code that say `look` become remarks: the whole album's fault says it. */
void sl_amend_excuse(json_t *lines, size_t index, sl_code code);

/* False when the line's page was taken away: it had files, and none of them is there. */
bool sl_line_still_there(const json_t *line, const char *out_dir);

/* The line's reason of a code; NULL when it has none. */
const json_t *sl_line_reason(const json_t *line, sl_code code);

/* "page 5" from "page-0005", "page 12a" from "page-0012a", for sentences. */
void sl_line_short_page(char *out, size_t size, const json_t *line);

#endif
