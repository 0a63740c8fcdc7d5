/*
 * The album's memory: OUT_DIR/.squareleaf/journal, one JSON object a line. A line that was cut
 * short by a crash is dropped. There are six kinds:
 *   {"names": {"page-0001": "shot1.jpg", ...}, "folder": ...}  names given to shots, before the
 *       first of their pages is made: they do not depend on where a run was stopped. With
 *       "labels": {"NAME": "0001", ...} for pages whose names do not tell their labels; such a
 *       page's own line has its "label" too; with "name": the pattern, when it is not the usual one
 *   {"page": "page-0001", "shot": ..., "folder": ..., ...}  added after the page's files are on
 *       disk; replaces earlier lines of this page. A page whose shot is gone stays.
 *   {"files": [{"path": ..., "sha256": ..., "size": ...}, ...]}  files about to get their names:
 *       what a killed run leaves before its page's line is known for ours. "of", of a report: a
 *       sum of all that it was made of; "mtime": its time, ns, by which a later run knows it again
 *   {"settings": {...}, "order": "name", "expect": 0, "key": ...}  what a later run goes on with; the last one
 *       counts
 *   {"twins": [[0, 7, 0.97], ...], "of": ...}  the pages that seem to show one and the same, and a
 *       sum of all that were compared: until it is another they need not be compared again
 *   {"renumber": {"page-0002": "page-0003", ...}, "labels": ..., "name": ...}  pages that have new names from here on and are
 *       to be done again under them
 */
#ifndef SL_ALBUM_JOURNAL_H
#define SL_ALBUM_JOURNAL_H

#include <jansson.h>

#include "base/pool.h"
#include "squareleaf.h"

typedef struct sl_journal {
    json_t *by_page;         /* page name -> its latest line */
    json_t *made;            /* output path in OUT_DIR -> {SHA-256: what it was made of, or true},
                                all that we wrote */
    json_t *reports;         /* path -> its latest entry in "files", of those with "of" */
    json_t *settings;        /* the last line of settings, or NULL */
    json_t *by_key;          /* key of settings and optics -> settings */
    json_t *twins;           /* the last line of twins, or NULL */
    json_t *name;            /* the pattern of the pages' names; NULL: the usual one */
    int     fd;              /* of the journal, appended to; -1: it is only read, and added lines
                                are learnt and not written */
    int     lock;            /* held while it is open; the kernel frees it with the process */
    int     own_lock;        /* of a share */
    json_t *closing;         /* of a share: the line that closed it, shares.h */
    char   *path;
} sl_journal;

#define SL_JOURNAL_NONE { .fd = -1, .lock = -1, .own_lock = -1 }

/* Share `number` of `of`; { 0, 0 }: the whole album. */
typedef struct sl_share {
    unsigned number;
    unsigned of;
} sl_share;

/*
 * Takes the lock and reads the journal; makes .squareleaf when it is not there. A share reads the
 * album's journal and writes its own; shares may run at once, beside no run of the whole.
 * pool  whose threads read it; may be NULL
 * SL_ERR_BUSY when another run holds the lock.
 */
sl_status sl_journal_open(sl_journal *out, const char *out_dir, sl_share share, sl_pool *pool,
                          sl_error *err);

/*
 * Waits until no other share of OUT_DIR is in such a stretch; for what they do one after the
 * other. The descriptor to give to close(), or -1.
 */
int sl_journal_alone(const char *out_dir);
void sl_journal_close(sl_journal *journal);

/* Adds a line and flushes it to disk; takes over `line`. */
sl_status sl_journal_add(sl_journal *journal, json_t *line, sl_error *err);

/*
 * Reads OUT_DIR's journal and changes nothing: no lock, no line can be added. An OUT_DIR without
 * a journal is no error, the tables are then empty.
 */
sl_status sl_journal_read(sl_journal *out, const char *out_dir, sl_error *err);

/* The same of one file in a .squareleaf folder: a share's. */
sl_status sl_journal_read_file(sl_journal *out, const char *folder, const char *name,
                               sl_error *err);

/*
 * The last line of settings in OUT_DIR's journal, without a lock; NULL when there is none or no
 * journal. Owned by the caller.
 */
json_t *sl_journal_settings(const char *out_dir);

/* Did we ever write that path with these bytes? */
bool sl_journal_made(const sl_journal *journal, const char *path, const char *sha256);

/* What was noted last of the report at that path: {"sha256", "size", "mtime", ...}, or NULL. */
const json_t *sl_journal_report(const sl_journal *journal, const char *path);

/* What it was made of then, seal.h; NULL when that is not known. */
const char *sl_journal_made_of(const sl_journal *journal, const char *path, const char *sha256);

#endif
