/* All files below a folder. */
#ifndef SL_BAG_TREE_H
#define SL_BAG_TREE_H

#include <stdbool.h>

#include "squareleaf.h"

typedef struct sl_tree_file {
    char    *path;           /* below the folder, with / between */
    bool     is_plain;       /* a regular file; else a link, a pipe, a device */
    uint64_t size;           /* bytes, of a plain one */
} sl_tree_file;

typedef struct sl_tree {
    sl_tree_file *file;      /* by path, as strcmp() orders */
    size_t        count;
} sl_tree;

/*
 * Folders themselves are not listed, links are not followed.
 * except  the name of a folder right below `folder` that is left out; NULL for none
 */
sl_status sl_tree_list(sl_tree *out, const char *folder, const char *except, sl_error *err);
void sl_tree_clear(sl_tree *tree);

/* The file at a path, or NULL. */
const sl_tree_file *sl_tree_find(const sl_tree *tree, const char *path);

/* Removes a folder and all below it, as far as that can be done. Only for what we made. */
void sl_tree_remove(const char *folder);

#endif
