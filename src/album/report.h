/* Reports as JSON; Jansson is known to this folder only. */
#ifndef SL_ALBUM_REPORT_H
#define SL_ALBUM_REPORT_H

#include <jansson.h>

#include "squareleaf.h"

/*
 * All figures of a page, design section 8; NULL when out of memory. Owned by the caller.
 * grid         N of N x N page-to-shot points, 0 for none
 * edge_points  at most, a side: an album of thousands of pages keeps a few
 */
json_t *sl_report_page(const sl_page *page, unsigned grid, size_t edge_points);

/* Settings that touch pixels or verdicts, in a fixed order: they are part of a page's key. */
json_t *sl_report_settings(const sl_settings *settings);

/*
 * The other way: takes from `from` what is there and fits, and leaves the rest of *settings as it
 * is. Of sl_report_settings() all but `decode` comes back.
 */
void sl_report_read_settings(sl_settings *settings, const json_t *from);

json_t *sl_report_optics(const sl_optics *optics);

/* The other way; false, and *optics of no use, when it is none. */
bool sl_report_read_optics(sl_optics *optics, const json_t *from);

/* A name that JSON can hold and a terminal can show: sl_text_shown(). */
json_t *sl_report_name(const char *name);

/* JSON has no infinity: what is not finite is null. */
json_t *sl_json_number(double value);
json_t *sl_json_numbers(const double *value, size_t count);
json_t *sl_json_points(const sl_point *point, size_t count);

/* The text under a key; "" when there is none. */
const char *sl_json_text(const json_t *object, const char *key);

/* Text with a final newline, numbers with 10 significant digits; NULL when out of memory. */
char *sl_report_text(const json_t *value, unsigned indent);

#endif
