/*
 * What only the pages together can tell: faults of the whole album, and doubts about one page that
 * come from the others. All of it follows from the journal's lines and is found anew at the end of
 * each run, so that a run that was stopped and went on ends as one that was not.
 */
#ifndef SL_ALBUM_TOGETHER_H
#define SL_ALBUM_TOGETHER_H

#include <jansson.h>

#include "album/work.h"

/*
 * Faults of the album as an array of {"code", "value", "limit", "unit", "text"}, each said once;
 * NULL when out of memory. Owned by the caller.
 * lines  of the album's pages, by page name. A line whose verdict or reasons become others is
 *        replaced in the array by a changed copy; the journal's own stays as it is
 * whole  all shots were tried: else nothing can be said of how many pages there are
 */
json_t *sl_together_judge(json_t *lines, const sl_run *run, bool whole);

#endif
