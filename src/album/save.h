/* What may be written where. */
#ifndef SL_ALBUM_SAVE_H
#define SL_ALBUM_SAVE_H

#include "base/file.h"
#include "squareleaf.h"

/*
 * Begins a file. SL_ERR_EXISTS when it would replace the shot, by device and inode, or when
 * `path` is there without `force`, or when its folder is not there; else as sl_part_open().
 * shot_path  may be NULL
 */
sl_status sl_save_open(sl_part *part, const char *path, const char *shot_path, bool force,
                       sl_error *err);

/* Does the name end as cameras' raw files do (.dng, .cr2, .nef, ...)? */
bool sl_name_is_raw(const char *path);

#endif
