/* Two shots of one page. */
#ifndef SL_ALBUM_TWINS_H
#define SL_ALBUM_TWINS_H

#include <stdbool.h>

#include <jansson.h>

#include "album/journal.h"
#include "base/pool.h"
#include "squareleaf.h"

/*
 * Finds pages that were photographed twice: the same file under two names, or pages that look
 * alike, flat, whichever way up. Blank pages are never alike, nor is what most pages of the album
 * have on them. Each is `look`, same-page, and names the other; of a page to be photographed again
 * "replacement" names a good shot of it.
 * lines    of pages; "likeness" is the page's
 * out_dir  a page that was taken away, files and all, is no twin any more
 * limit    of the correlation over all cells, 0 .. 1
 * journal  keeps what was found for later runs; NULL: nothing is kept
 * pool     whose threads seek; may be NULL
 * Returns false when out of memory.
 */
bool sl_twins_find(json_t *lines, const char *out_dir, double limit, sl_journal *journal,
                   sl_pool *pool);

#endif
