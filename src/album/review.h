/* review.html: the album's report as a page to look through, and to say what is wrong. */
#ifndef SL_ALBUM_REVIEW_H
#define SL_ALBUM_REVIEW_H

#include "album/work.h"

/*
 * Writes OUT_DIR/review.html.
 * report     as in report.json
 * shots_dir  where the shots are, its real path as JSON holds it; NULL when it is not known
 * Of *run only out_dir, params->force, journal, mutex and the shots' ids are used.
 * SL_ERR_EXISTS when a review.html is there that is not ours.
 */
sl_status sl_review_write(const json_t *report, const char *shots_dir, const sl_run *run,
                          sl_error *err);

#endif
