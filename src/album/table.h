/* report.csv: one line a page, for a spreadsheet (RFC 4180). */
#ifndef SL_ALBUM_TABLE_H
#define SL_ALBUM_TABLE_H

#include "album/work.h"

/* NULL when out of memory. Owned by the caller. */
char *sl_table_text(const json_t *lines, const sl_corrections *corrections);

#endif
