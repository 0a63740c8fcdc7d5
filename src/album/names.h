/* Page numbers that stay for good. */
#ifndef SL_ALBUM_NAMES_H
#define SL_ALBUM_NAMES_H

#include "album/work.h"

/*
 * Gives every work its page name, in order. A shot that the journal knows keeps its name; on a
 * first run the number is the place among all shots; a later shot behind the last page goes on
 * counting, one in between becomes page-0012a. A name is never given twice, not even when the
 * first one's shot is gone: its page is still there.
 *
 * The new names are journalled at once. A run that ends early may have done page 4 and not page
 * 3, and page 3 is no later shot.
 */
sl_status sl_names_give(sl_work *work, size_t count, sl_journal *journal, sl_error *err);

#endif
