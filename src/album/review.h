/* review.html: the album's report as a page to look through, and to say what is wrong. */
#ifndef SL_ALBUM_REVIEW_H
#define SL_ALBUM_REVIEW_H

#include "album/work.h"
#include "base/sha256.h"

/*
 * A sum of all that review.html is made of, of what the report is made of (`of`) among it; with the
 * same sum it is the same file.
 */
sl_status sl_review_sum(char hex[SL_SHA256_HEX], const char *of, const char *shots_dir,
                        const sl_run *run, sl_error *err);

/*
 * Writes OUT_DIR/review.html.
 * report     as in report.json
 * of         its sum
 * shots_dir  where the shots are, its real path as JSON holds it; NULL when it is not known
 * Of *run only out_dir, params->force, journal, mutex and the shots' ids are used.
 * SL_ERR_EXISTS when a review.html is there that is not ours.
 */
sl_status sl_review_write(const json_t *report, const char *of, const char *shots_dir,
                          const sl_run *run, sl_error *err);

#endif
