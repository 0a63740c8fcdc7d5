/* Which page of earlier runs is each shot's? A page is found again under whatever name. */
#ifndef SL_ALBUM_MATCH_H
#define SL_ALBUM_MATCH_H

#include "album/work.h"

/*
 * Gives each work that was a page before that page's journal line; no page to two works. A shot
 * is known again by, in this order: its name, size and time in the same folder; these in another
 * folder (the album moved); its bytes, by SHA-256 (it was renamed or copied); its name in the
 * same folder (it was taken once more).
 * SL_ERR_EXISTS when most of the good pages would be replaced by other pictures of the same
 * names, unless params->force: a camera that counts from 1 again has begun another album.
 */
sl_status sl_match_works(sl_work *work, size_t count, const sl_run *run, sl_error *err);

/* A folder's real path as the journal holds it; free(). */
sl_status sl_match_place(char **out, const char *shots_dir, sl_error *err);

#endif
