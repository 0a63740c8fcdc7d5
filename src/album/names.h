/* Page numbers that stay for good. */
#ifndef SL_ALBUM_NAMES_H
#define SL_ALBUM_NAMES_H

#include "album/work.h"

/*
 * Gives every work its page name, in order. Works with a journal line keep theirs; on a first
 * run the number is the place among all shots; a later shot behind the last page goes on
 * counting, one in between becomes page-0012a. A name that a page of the journal has is never
 * given again, also when its shot is gone. The journal notes the new names.
 */
sl_status sl_names_give(sl_work *work, size_t count, const sl_run *run, sl_error *err);

/*
 * New names by place for all works, those of pages without a shot left out. The journal notes it,
 * so that a run that stops in between goes on with the new names. Each work's line is then the
 * one under its new name.
 */
sl_status sl_names_renew(sl_work *work, size_t count, const sl_run *run, sl_error *err);

#endif
