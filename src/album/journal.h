/*
 * The album's memory: OUT_DIR/.squareleaf/journal, one JSON object a line:
 *
 * - {"names": {shot: page}} before the first page, and whenever shots get names.
 * - {"files": [{"path", "sha256"}]} before a page's files get their names: killed in between, the
 *   next run knows them for ours.
 * - a line a page, with its shot, after its files are on disk; later lines replace earlier ones of
 *   the same shot.
 *
 * A line that was cut short by a crash is dropped.
 */
#ifndef SL_ALBUM_JOURNAL_H
#define SL_ALBUM_JOURNAL_H

#include <jansson.h>

#include "squareleaf.h"

typedef struct sl_journal {
    json_t *by_shot;         /* shot name -> its latest line */
    json_t *names;           /* shot name -> its page's name, given for good */
    json_t *made;            /* output path in OUT_DIR -> {SHA-256: true}, all that we wrote */
    int     fd;              /* of the journal, appended to */
    int     lock;            /* held while it is open; the kernel frees it with the process */
    char   *path;
} sl_journal;

/*
 * Takes the lock and reads the journal; makes .squareleaf when it is not there.
 * SL_ERR_BUSY when another run holds the lock.
 */
sl_status sl_journal_open(sl_journal *out, const char *out_dir, sl_error *err);
void sl_journal_close(sl_journal *journal);

/* Adds a line and flushes it to disk; takes over `line`. */
sl_status sl_journal_add(sl_journal *journal, json_t *line, sl_error *err);

/* The latest line of a shot, borrowed; NULL when there is none. */
json_t *sl_journal_line(const sl_journal *journal, const char *shot);

/* Did we ever write that path with these bytes? */
bool sl_journal_made(const sl_journal *journal, const char *path, const char *sha256);

#endif
