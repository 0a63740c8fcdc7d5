/* Files: shots are read whole and never written; pages appear whole or not at all. */
#ifndef SL_BASE_FILE_H
#define SL_BASE_FILE_H

#include <sys/types.h>

#include "squareleaf.h"

/*
 * A regular file's bytes, read once. Anything else (a folder, a FIFO, a device, a link to
 * nowhere) is an error at once: nothing is waited for.
 * data  out: owned by the caller, free(); NULL for an empty file
 * most  bytes; more is SL_ERR_LIMIT
 */
sl_status sl_file_read(void **data, size_t *size, const char *path, size_t most, sl_error *err);

/* folder/rest, owned by the caller; NULL when out of memory. */
char *sl_path_join(const char *folder, const char *rest);

/* Does folder/rest lie in the folder, whatever the folder is? */
bool sl_path_stays(const char *rest);

/* Which file it is, whatever its name. */
typedef struct sl_file_id {
    dev_t device;
    ino_t inode;
} sl_file_id;

/* False when there is no such file. Follows links. */
bool sl_file_identify(sl_file_id *id, const char *path);

/* A file in the making: PATH.part beside the target. */
typedef struct sl_part {
    FILE *file;              /* opened "w+b" */
    char *path;
    char *part;
} sl_part;

/*
 * Begins PATH.part, anew: what a killed run left under that name is unlinked, never written into,
 * so that a file which has another name too keeps its bytes.
 * keep  `count` files that may not be replaced, under whatever name: neither as PATH nor as
 *       PATH.part; NULL with 0
 * SL_ERR_EXISTS (one of `keep`), SL_ERR_IO (the folder is missing, PATH is a folder), and
 * SL_ERR_PERMISSION, SL_ERR_SPACE, SL_ERR_NOMEM. *part is empty on failure.
 */
sl_status sl_part_open(sl_part *part, const char *path, const sl_file_id *keep, size_t count,
                       sl_error *err);

/*
 * sl_part_open() for a file that a person named: SL_ERR_EXISTS too when `path` is there without
 * `force`, and when the folder above it is not there.
 */
sl_status sl_part_open_named(sl_part *part, const char *path, bool force, const sl_file_id *keep,
                             size_t count, sl_error *err);

/*
 * Writes all of it. The error is that of the call that failed; later a stream only knows that one
 * did. SL_ERR_SPACE, SL_ERR_IO.
 */
sl_status sl_part_write(sl_part *part, const void *data, size_t size, sl_error *err);

/*
 * Flushes the file to disk, renames it to its target and flushes the folder. On failure nothing
 * is left but what was there before. *part is empty afterwards either way.
 */
sl_status sl_part_commit(sl_part *part, sl_error *err);

/* Writes all of it and commits, or gives the file up. */
sl_status sl_part_save(sl_part *part, const void *data, size_t size, sl_error *err);

/* Brings the name of a new file or folder to disk. */
void sl_flush_folder_of(const char *path);

/* Gives the file up; accepts an empty part. */
void sl_part_abort(sl_part *part);

#endif
