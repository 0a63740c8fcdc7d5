/* What may be written where. */
#ifndef SL_ALBUM_SAVE_H
#define SL_ALBUM_SAVE_H

#include "squareleaf.h"

/*
 * SL_ERR_EXISTS when `path` is the shot itself, by device and inode, or is there without `force`.
 * shot_path  may be NULL
 */
sl_status sl_save_allowed(const char *path, const char *shot_path, bool force, sl_error *err);

#endif
