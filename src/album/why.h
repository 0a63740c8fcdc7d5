/* Why a page is to be done: for people, before it is done. */
#ifndef SL_ALBUM_WHY_H
#define SL_ALBUM_WHY_H

#include "album/work.h"

/* Room for any reason. */
enum { SL_WHY = 300 };

/*
 * One reason, the first that holds: new, never finished, failed before, asked for, renamed, the
 * shot is another, settings or optics (which) are, a correction is, a file is missing. False, and
 * text "", when the page stands as it is. Reads a shot again whose time stamp alone is another.
 */
bool sl_why(char text[SL_WHY], const sl_work *work, const sl_run *run);

/*
 * Adds to `text` the options that differ between those of a page's line and now, as "--ppi,
 * --margin", or "optics" when none does; each but once. Nothing when they are not known.
 */
void sl_why_settings(char text[SL_WHY], const json_t *line, const sl_run *run);

#endif
