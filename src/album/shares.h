/*
 * One album on several machines. A share, 2 of 4 say, names all pages as a whole run would and
 * makes every fourth of them. Its journal is .squareleaf/journal-2-of-4, beside the album's own,
 * which it reads and leaves alone; it writes no report. Gathering brings the shares' pages and
 * lines into the album's own journal, and writes the report.
 */
#ifndef SL_ALBUM_SHARES_H
#define SL_ALBUM_SHARES_H

#include "album/work.h"

/* Is this work, by its place, the share's? Of a whole run all are. */
bool sl_share_has(const sl_album_params *params, size_t place);

/*
 * Notes, at the end of a share, what gathering needs beside the pages: optics and skipped files.
 */
sl_status sl_share_close(const sl_run *run, const json_t *skipped, sl_error *err);

#endif
