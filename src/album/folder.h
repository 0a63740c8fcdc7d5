/* The folder of shots: which of its files are shots, and in what order. */
#ifndef SL_ALBUM_FOLDER_H
#define SL_ALBUM_FOLDER_H

#include <sys/stat.h>

#include "squareleaf.h"

typedef struct sl_entry {
    char       *name;        /* in the folder */
    char       *path;
    bool        is_shot;     /* a regular file with an image signature or ending */
    const char *why_not;     /* static: what a skipped one is */
    struct stat stat;        /* of a shot */
    char        date[20];    /* Exif; "" unknown or not asked for */
} sl_entry;

typedef struct sl_folder {
    sl_entry *entry;         /* shots first, in order; then what was skipped, by name */
    size_t    count;
    size_t    shots;
} sl_folder;

/*
 * Lists a folder, itself only. Nothing is waited for: pipes and devices are never opened.
 * SL_ERR_IO when it cannot be read; an empty one is no error.
 */
sl_status sl_folder_list(sl_folder *out, const char *path, sl_error *err);
/* Leaves out the files that `ready` does not allow: sl_album_params. */
void sl_folder_keep(sl_folder *folder, bool (*ready)(void *ctx, const char *name), void *ctx);
void sl_folder_clear(sl_folder *folder);

/*
 * Natural order: runs of digits compare as numbers, all else byte by byte without regard to
 * ASCII case; names that are equal so far by strcmp(). shot2 comes before shot10.
 */
int sl_natural_order(const char *a, const char *b);

/* The same of shots, without their endings first: leaf-2.jpg comes before leaf-2-back.jpg. */
int sl_shot_order(const char *a, const char *b);

#endif
