/* Page numbers and names that stay for good. */
#ifndef SL_ALBUM_NAMES_H
#define SL_ALBUM_NAMES_H

#include "album/work.h"

/*
 * Gives every work its page's label and name, in order. Works with a journal line keep theirs; on
 * a first run the number is the place among all pages; a later shot behind the last page goes on
 * counting, one in between becomes 0012a. States of one page have one label. A name that a page of
 * the journal has is never given again, also when its shot is gone. The journal notes the new
 * names.
 * SL_ERR_ARG, before anything is noted: two pages of one name, a name that is too long, another
 * pattern than that of the pages which are there.
 */
sl_status sl_names_give(sl_work *work, size_t count, const sl_run *run, sl_error *err);

/*
 * New names by place for all works, those of pages without a shot left out. The journal notes it,
 * so that a run that stops in between goes on with the new names. Each work's line is then the
 * one under its new name. Errors as above, without the last.
 */
sl_status sl_names_renew(sl_work *work, size_t count, const sl_run *run, sl_error *err);

/* A page's label as its journal line has it: "0012a". */
const char *sl_line_label(const json_t *line);

/* A label for people: "12a". */
const char *sl_label_short(const char *label);

/* Lines in the order of their pages: by label, then by name. */
int sl_line_order(const json_t *a, const json_t *b);

#endif
