#include "bag/tree.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/error.h"
#include "base/file.h"

/* Deeper than any folder that people make; a loop of mounts ends here. */
enum { DEPTH_MOST = 64 };

/* Takes over `path`. */
static sl_status add(sl_tree *tree, char *path, const struct stat *st, sl_error *err)
{
    if ((tree->count & (tree->count + 1)) == 0) { /* one less than a power of two: full */
        sl_tree_file *grown = realloc(tree->file, 2 * (tree->count + 1) * sizeof *grown);

        if (grown == NULL) {
            free(path);
            return sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
        }
        tree->file = grown;
    }
    tree->file[tree->count++] = (sl_tree_file){ path, S_ISREG(st->st_mode),
                                                S_ISREG(st->st_mode) ? (uint64_t)st->st_size : 0 };
    return SL_OK;
}

/* below  the path of `folder` in the tree; "" for the tree's own */
static sl_status walk(sl_tree *tree, const char *folder, const char *below, const char *except,
                      int depth, sl_error *err)
{
    DIR *dir = opendir(folder);
    sl_status st = SL_OK;
    const struct dirent *entry;

    if (dir == NULL)
        return sl_fail_errno(err, errno, "bag", folder);
    if (depth > DEPTH_MOST)
        st = sl_fail(err, SL_ERR_LIMIT, "bag", "%s: more than %d folders in each other", folder,
                     DEPTH_MOST);
    while (st == SL_OK && (entry = readdir(dir)) != NULL) {
        const char *name = entry->d_name;
        struct stat info;
        char *path;
        char *inside;

        if (strcmp(name, ".") == 0 || strcmp(name, "..") == 0
            || (except != NULL && strcmp(name, except) == 0))
            continue;
        path = sl_path_join(folder, name);
        inside = *below != '\0' ? sl_path_join(below, name) : strdup(name);
        if (path == NULL || inside == NULL)
            st = sl_fail(err, SL_ERR_NOMEM, "bag", "out of memory");
        else if (lstat(path, &info) != 0)
            st = sl_fail_errno(err, errno, "bag", path);
        else if (S_ISDIR(info.st_mode))
            st = walk(tree, path, inside, NULL, depth + 1, err);
        else {
            st = add(tree, inside, &info, err);
            inside = NULL;
        }
        free(path);
        free(inside);
    }
    (void)closedir(dir);
    return st;
}

static int by_path(const void *a, const void *b)
{
    return strcmp(((const sl_tree_file *)a)->path, ((const sl_tree_file *)b)->path);
}

sl_status sl_tree_list(sl_tree *out, const char *folder, const char *except, sl_error *err)
{
    sl_tree tree = { NULL, 0 };
    const sl_status st = walk(&tree, folder, "", except, 0, err);

    if (st != SL_OK) {
        sl_tree_clear(&tree);
        return st;
    }
    if (tree.count > 0)
        qsort(tree.file, tree.count, sizeof *tree.file, by_path);
    *out = tree;
    return SL_OK;
}

void sl_tree_clear(sl_tree *tree)
{
    for (size_t i = 0; i < tree->count; i++)
        free(tree->file[i].path);
    free(tree->file);
    *tree = (sl_tree){ NULL, 0 };
}

const sl_tree_file *sl_tree_find(const sl_tree *tree, const char *path)
{
    const sl_tree_file key = { (char *)(uintptr_t)path, false, 0 };

    return tree->count > 0 ? bsearch(&key, tree->file, tree->count, sizeof *tree->file, by_path)
                           : NULL;
}

void sl_tree_remove(const char *folder)
{
    DIR *dir = opendir(folder);
    const struct dirent *entry;

    while (dir != NULL && (entry = readdir(dir)) != NULL) {
        struct stat info;
        char *path;

        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        path = sl_path_join(folder, entry->d_name);
        if (path != NULL && lstat(path, &info) == 0) {
            if (S_ISDIR(info.st_mode))
                sl_tree_remove(path);
            else
                (void)unlink(path);
        }
        free(path);
    }
    if (dir != NULL)
        (void)closedir(dir);
    (void)rmdir(folder);
}
