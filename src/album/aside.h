/* Reports that somebody changed. */
#ifndef SL_ALBUM_ASIDE_H
#define SL_ALBUM_ASIDE_H

#include "album/work.h"

/*
 * Before new reports are written: a report.json or report.csv that is not as this program wrote it
 * (a spreadsheet's, with notes in it) gets another name, report-changed.csv or the next free one,
 * and that is told. Not with --force.
 */
sl_status sl_aside_reports(const sl_run *run, const sl_album_events *events, sl_error *err);

#endif
