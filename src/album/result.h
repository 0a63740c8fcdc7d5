/* What a run leaves: report.json, report.csv, and the same for the caller. */
#ifndef SL_ALBUM_RESULT_H
#define SL_ALBUM_RESULT_H

#include "album/folder.h"
#include "album/work.h"

/* A page's part of report.json: its journal line as people and programs want it. */
json_t *sl_result_page(const json_t *line);

/* The same as a plain value; its strings are the work's. */
sl_album_item sl_result_item(const sl_work *work, bool fresh);

/*
 * Writes report.json and report.csv, whole or not at all, and fills *out. The files tell of every
 * page of the journal, *out of this run's shots.
 */
sl_status sl_result_write(sl_album *out, const sl_work *work, size_t count,
                          const sl_folder *folder, const sl_run *run, sl_error *err);

#endif
