/* Where corrections are looked for. */
#include <ctype.h>
#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "album/corrections.h"
#include "base/error.h"
#include "base/file.h"

/* Of 4,000 pages with captions a few MB. */
static const size_t FILE_MOST = (size_t)64 << 20;

/* corrections.json, corrections (1).json, corrections(1).json, corrections-1.json */
static bool is_name(const char *name)
{
    const char *p = name + strlen("corrections");
    size_t digits = 0;
    bool bracket;

    if (strncmp(name, "corrections", strlen("corrections")) != 0)
        return false;
    if (strcmp(p, ".json") == 0)
        return true;
    p += *p == ' ' || *p == '-';
    bracket = *p == '(';
    p += bracket;
    for (; isdigit((unsigned char)*p); p++)
        digits++;
    if (bracket && *p++ != ')')
        return false;
    return digits > 0 && strcmp(p, ".json") == 0;
}

static bool is_later(const struct timespec *a, const struct timespec *b)
{
    return a->tv_sec != b->tv_sec ? a->tv_sec > b->tv_sec : a->tv_nsec > b->tv_nsec;
}

/* The newest file of that kind so far, and how many there are. */
typedef struct choice {
    char           *path;
    struct timespec mtime;
    off_t           size;
    size_t          older;   /* not chosen, and not a copy of what is */
} choice;

static void consider(choice *best, char *path)
{
    struct stat st;

    if (path == NULL || stat(path, &st) != 0 || !S_ISREG(st.st_mode)) {
        free(path);
        return;
    }
    if (best->path == NULL || is_later(&st.st_mtim, &best->mtime)) {
        best->older += best->path != NULL;
        free(best->path);
        best->path = path;
        best->mtime = st.st_mtim;
        best->size = st.st_size;
        return;
    }
    /* a copy that we made has its original's time and size */
    best->older += is_later(&best->mtime, &st.st_mtim) || st.st_size != best->size;
    free(path);
}

static void search(choice *best, const char *folder)
{
    DIR *dir = opendir(folder);
    const struct dirent *d;

    if (dir == NULL)
        return;              /* OUT_DIR is not there before the first run */
    while ((d = readdir(dir)) != NULL)
        if (is_name(d->d_name))
            consider(best, sl_path_join(folder, d->d_name));
    (void)closedir(dir);
}

sl_status sl_corrections_read(sl_corrections *out, const char *path, const char *shots_dir,
                              const char *out_dir, sl_error *err)
{
    choice best = { .path = NULL };
    struct stat st;
    sl_status status;

    memset(out, 0, sizeof *out);
    if (path != NULL) {
        best.path = strdup(path);
        if (best.path != NULL && stat(path, &st) == 0)
            best.mtime = st.st_mtim;
    } else {
        search(&best, out_dir);
        if (shots_dir != NULL)
            search(&best, shots_dir);
        if (best.path == NULL)
            return SL_OK;
    }
    if (best.path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "corrections", "out of memory");
    out->path = best.path;
    out->mtime = best.mtime;
    out->older = best.older;
    status = sl_file_read(&out->bytes, &out->size, out->path, FILE_MOST, err);
    if (status == SL_OK)
        status = sl_corrections_parse(out, out->bytes, out->size, out->path, err);
    else if (path != NULL && status != SL_ERR_NOMEM && status != SL_ERR_PERMISSION) {
        status = SL_ERR_ARG; /* a name that was mistyped, not a broken disk */
        if (err != NULL)
            err->status = status;
    }
    if (status != SL_OK)
        sl_corrections_clear(out);
    return status;
}
