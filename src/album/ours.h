/* Files of OUT_DIR that are ours: known by the hashes in the journal, and never anybody else's. */
#ifndef SL_ALBUM_OURS_H
#define SL_ALBUM_OURS_H

#include "album/work.h"
#include "base/sha256.h"

/*
 * The same of OUT_DIR's file `rest`, at `path`. A report that has the size and the time that we left
 * it with is not read again, unless --rehash.
 */
sl_status sl_ours_sum(char hex[SL_SHA256_HEX], const sl_run *run, const char *rest,
                      const char *path);

/* The time of an open file that is written, ns, as sl_ours_sum() compares it; null: not known. */
json_t *sl_ours_time(FILE *file);

/* Is a file there that we made and nobody changed since? */
bool sl_ours_made(const sl_run *run, const char *rest, const char *path);

/* A file in the making. */
typedef struct sl_ours_file {
    char   *rest;            /* path in OUT_DIR */
    char   *path;
    sl_part part;
    const char *of;          /* what it is made of, seal.h; NULL: not told */
} sl_ours_file;

/*
 * SL_ERR_EXISTS when a file is in the way that is one of the shots or not ours (unless --force).
 * On failure nothing is to be closed.
 */
sl_status sl_ours_open(sl_ours_file *file, const char *rest, const sl_run *run, sl_error *err);

/*
 * Notes the files as ours and gives them their names, all of them.
 * told  gets {"path", "sha256", "size"} of each; may be NULL
 */
sl_status sl_ours_commit(sl_ours_file *file, size_t count, json_t *told, const sl_run *run,
                         sl_error *err);

/* Frees the names; a file without its name yet is given up. */
void sl_ours_close(sl_ours_file *file);

#endif
