/*
 * Reports that are written only when they would be other than they are: the journal notes what each
 * was made of, so that a run with nothing to do need not print 8,000 pages again to find out.
 */
#ifndef SL_ALBUM_SEAL_H
#define SL_ALBUM_SEAL_H

#include "album/work.h"
#include "base/sha256.h"

/* SHA-256 of a tree of values: trees with the same sum print the same text. */
void sl_seal_of(char hex[SL_SHA256_HEX], const json_t *tree);

/* Is OUT_DIR's file `rest` as we made it, and made of what has the sum `of`? */
bool sl_seal_stands(const sl_run *run, const char *rest, const char *of);

/*
 * Writes a report and gives it its name; the journal knows its bytes before that, so that they can
 * be told from what somebody changed later. Replaces what is there, but no shot.
 */
sl_status sl_seal_write(const sl_run *run, const char *rest, const char *of, const char *text,
                        sl_error *err);

#endif
