/* Page numbers that stay for good. */
#ifndef SL_ALBUM_NAMES_H
#define SL_ALBUM_NAMES_H

#include "album/work.h"

/*
 * Gives every work its page name, in order. Works with a journal line keep theirs; on a first
 * run the number is the place among all shots; a later shot behind the last page goes on
 * counting, one in between becomes page-0012a.
 */
void sl_names_give(sl_work *work, size_t count);

#endif
