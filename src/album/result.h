/* What a run leaves: report.json, report.csv, and the same for the caller. */
#ifndef SL_ALBUM_RESULT_H
#define SL_ALBUM_RESULT_H

#include "album/folder.h"
#include "album/work.h"

/* The same as one line of text without its end; NULL when out of memory. Owned by the caller. */
char *sl_result_json(const json_t *line, const sl_corrections *corrections);

/* The same as a plain value; its strings are the work's. */
sl_album_item sl_result_item(const sl_work *work, bool fresh);

/*
 * Writes report.json and report.csv, whole or not at all, and fills *out. The files tell of every
 * page of the journal, *out of this run's shots.
 * all  works, those that become no page included: they are behind the first `count`
 */
sl_status sl_result_write(sl_album *out, const sl_work *work, size_t count, size_t all,
                          const sl_folder *folder, sl_run *run, sl_error *err);

/*
 * Writes review.html for what sl_result_write() told of, unless it is there and as it would be.
 * shots_dir  where the shots are, its real path as JSON holds it
 * SL_ERR_EXISTS when a review.html is there that is not ours.
 */
sl_status sl_result_review(const sl_album *album, const char *shots_dir, const sl_run *run,
                           sl_error *err);

#endif
